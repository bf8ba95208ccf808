"""A project that a pass was made on: our work taken out of it, the editor's own taken up, remarks put in."""

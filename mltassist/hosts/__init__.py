"""One module per editor: its document read as a timeline, edits written back in its own form."""

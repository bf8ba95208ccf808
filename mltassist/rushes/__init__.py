"""What was shot: log sheets, moments that can be used, and the survey of a project."""

"""What was decided on a film and is remembered: named by what it is about, kept in a file beside it."""

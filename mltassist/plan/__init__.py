"""Pure planners: plain data in, a list of edits out."""

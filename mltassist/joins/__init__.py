"""Edits in speech: heard, judged, mended."""

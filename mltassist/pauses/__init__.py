"""Natural-sound pauses."""

"""Music under speech, and the loudness of the whole."""

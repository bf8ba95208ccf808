"""What the media files hold: streams, samples, loudness, speech."""

"""A whole season in one call: its projects found, worked on side by side, and taken up where they stopped."""

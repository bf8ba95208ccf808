"""What is on the timeline: plain, immutable data in integer frames."""

"""What is said in recordings, and when each word of it begins and ends."""

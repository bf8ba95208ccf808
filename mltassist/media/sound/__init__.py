"""What is heard in files and on a timeline, as arrays."""

"""What is seen in files, as arrays."""

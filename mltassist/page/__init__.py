"""What people look at: the page on which a plan is heard, seen and decided on, as a file or served."""

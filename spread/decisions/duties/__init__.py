"""What rule sets ask for, and by when."""

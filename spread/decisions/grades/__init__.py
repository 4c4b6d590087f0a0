"""What lists of doors promised, held against what was then found."""

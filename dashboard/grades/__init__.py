"""The page on which the lists are graded."""

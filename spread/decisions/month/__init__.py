"""A building between two days: what was done, whether it is getting better, and what comes next."""

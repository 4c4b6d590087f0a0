"""What to do next: standings, next doors and their reasons, each a pure function of what is known."""

"""The manager's week: what is due, the next doors, a round, sheets and files."""

"""The week: what is due on which day, which doors may be entered when, and who goes where."""

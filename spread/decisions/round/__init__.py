"""A round: which doors, in which order, in the time there is."""

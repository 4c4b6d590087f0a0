"""The page of the building's past and of what its log taught, in figures."""

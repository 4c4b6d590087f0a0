"""One step a module."""

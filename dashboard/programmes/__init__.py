"""Programmes compared for this building, on the screen."""

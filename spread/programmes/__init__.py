"""Programmes compared by simulation from the posterior."""

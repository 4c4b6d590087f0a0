"""Simulated buildings: the hidden truth run forward, and usual practice that leaves a log of it."""

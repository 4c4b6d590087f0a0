"""Which door next, why, and how to look there."""

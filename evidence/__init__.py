"""One set of numbers for all published buildings: targets, simulated studies and a joint fit.

Not part of the wheel. ``python -m evidence.fit --help``; what it rests on and shows: ``docs/evidence.md``.
"""

"""Textbook arithmetic of imperfect tests."""

from __future__ import annotations


def residual_after_clean(prior: float, sensitivity: float, looks: int) -> float:
    """Return the chance that a unit is still infested after clean looks in a row.

    ``prior``: chance before the first look, between 0 and 1; ``sensitivity``: chance that one look finds an
    infestation; ``looks``: clean looks, independent of one another. Raises ValueError when clean looks were
    impossible (certain infestation, perfect looks).
    """
    missed = prior * (1.0 - sensitivity) ** looks
    clean = missed + 1.0 - prior
    if clean <= 0.0:
        raise ValueError("a certain infestation cannot be missed by a perfect look")
    return missed / clean

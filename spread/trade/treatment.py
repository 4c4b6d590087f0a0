"""What a treatment visit does to a unit: eliminate, or knock down a level."""

from __future__ import annotations

import math

import numpy as np

from spread.errors import SpreadError
from spread.trade import seeing
from spread.trade.arrays import FloatArray
from spread.trade.biology import COUNT_CLASSES
from spread.trade.registry import TREATMENTS
from spread.trade.sources import judged

HEAVY_TYPICAL = judged(
    1000.0, 200.0, 3000.0, "bugs",
    "judgement: trial units held up to 1,428 bugs (doi 10.3390/insects4040731) and 3,025",
)  # fmt: skip
"""Bugs at the top of the usual heavy unit: how far the open class reaches."""


def drop_chance(method: str) -> FloatArray:
    """Return the chance that a visit that does not eliminate brings a unit down one level.

    Counts are taken as uniform on a log scale within a class, so the chance to cross the lower
    bound is the log reduction over the class's log width, at most 1.

    ``method``: one of :data:`spread.trade.registry.TREATMENTS`. Raises SpreadError for an unknown method.

    Returned: shape (4,): trace, low, moderate, heavy. 0 for trace: below it is only elimination.
    """
    _check(method)
    reduction = -math.log(1.0 - TREATMENTS[method].reduction.central)
    lower = [low for low, _ in COUNT_CLASSES]
    upper = [*lower[1:], HEAVY_TYPICAL.central]
    drop = [min(1.0, reduction / math.log(b / a)) for a, b in zip(lower, upper, strict=True)]
    return np.array([0.0, *drop[1:]])


def effect_matrix(method: str, shift: float = 0.0) -> FloatArray:
    """Return what one visit does to the level of a unit.

    ``method``: one of :data:`spread.trade.registry.TREATMENTS`; ``shift``: added to the log odds of
    elimination. Raises SpreadError for an unknown method.

    Returned: shape (5, 5); row = level before, column = level after; rows sum to 1, clear stays clear.
    """
    drop = drop_chance(method)
    matrix = np.eye(5)
    for level in range(1, 5):
        gone = TREATMENTS[method].elimination[level - 1].central
        gone = float(shifted(np.array(gone), shift)) if shift else gone
        matrix[level] = 0.0
        matrix[level, level - 1] = (1.0 - gone) * drop[level - 1]
        matrix[level, 0] += gone
        matrix[level, level] = 1.0 - matrix[level].sum()
    return matrix


def shifted(chance: FloatArray, by: float) -> FloatArray:
    """Return chances with their log odds moved."""
    return np.asarray(chance / (chance + (1.0 - chance) * math.exp(-by)))


def over_units(effect: FloatArray, resists: float = seeing.RESISTS.central) -> FloatArray:
    """Return the mean effect of a visit over units that resist treatment and units that do not.

    ``effect``: as of :func:`effect_matrix`; a programme does not know which units resist; ``resists``: their
    share.
    """
    lost = resists * (1.0 - seeing.RESIST_EFFECT)
    return (1.0 - lost) * effect + lost * np.eye(len(effect))


def _check(method: str) -> None:
    if method not in TREATMENTS:
        raise SpreadError(f"The treatment {method!r} is not known; expected one of {', '.join(TREATMENTS)}.")

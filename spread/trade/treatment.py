"""What a treatment visit does to a unit: eliminate, or knock down a level."""

from __future__ import annotations

import math
from types import MappingProxyType

import numpy as np

from spread.errors import SpreadError
from spread.trade.biology import COUNT_CLASSES
from spread.trade.sources import FloatArray, Sourced, sourced_row

_W12 = "Wang et al. 2012, doi 10.3390/insects3020402 (shares from memory)"
_S13 = "Singh et al. 2013, doi 10.3390/insects4040731"
_W14 = "Wang et al. 2014, doi 10.3390/insects5040849"
_A20 = "Abbar et al. 2020, doi 10.3390/insects11070443"
_C16 = (
    "Cooper 2016, doi 10.7282/T3NC638W: 96 % of units with 10 bugs or fewer were free after 22 weeks of traps"
)
_UNIT = "chance of elimination per visit"

ELIMINATION = MappingProxyType(
    {
        "steam-dust-encase": (
            Sourced(0.25, 0.10, 0.35, _UNIT, _C16, "C"),
            Sourced(0.20, 0.10, 0.35, _UNIT, f"{_W12}: 6 of 9 units in five visits, non-chemical", "C"),
            Sourced(0.12, 0.04, 0.20, _UNIT, f"{_W12}; {_A20}: 4 of 10 units in six visits", "C"),
            Sourced(0.05, 0.01, 0.12, _UNIT, f"{_S13}: 3 of 9 units in 13 visits, none of the heavy", "C"),
        ),
        "spray": sourced_row(
            (0.10, 0.08, 0.05, 0.02),
            (0.04, 0.03, 0.02, 0.005),
            (0.20, 0.15, 0.10, 0.06),
            unit=_UNIT,
            source=f"{_W12}: 2 of 6 units in five visits; {_W14}: 22 % in six visits; split judged",
            confidence="C",
        ),
        "whole-room-heat": sourced_row(
            (0.70,) * 4,
            (0.50,) * 4,
            (0.90,) * 4,
            unit=_UNIT,
            source="judgement: a competent heat treatment; no trial found",
            confidence="C",
        ),
        "combined": sourced_row(
            (0.25, 0.20, 0.14, 0.07),
            (0.10, 0.08, 0.05, 0.02),
            (0.40, 0.35, 0.25, 0.15),
            unit=_UNIT,
            source=f"judgement: as steam, dust and encasing, a little better where bugs are many ({_A20}; "
            "Singh et al. 2017, doi 10.3390/insects8030076)",
            confidence="C",
        ),
    }
)
"""Chance that one visit leaves no bug alive, by method: trace, low, moderate, heavy.
In trials 90-99 % fewer bugs were normal, none left in 10-26 weeks was 22-67 %."""

_CUT = "share of bugs gone per visit"
COUNT_REDUCTION = MappingProxyType(
    {
        "steam-dust-encase": Sourced(
            0.34, 0.23, 0.54, _CUT, f"{_S13}; {_A20}: -89 and -99 % in six visits", "B"
        ),
        "spray": Sourced(0.34, 0.23, 0.54, _CUT, f"{_W14}: about -92 % in six visits", "B"),
        "whole-room-heat": Sourced(0.90, 0.70, 0.98, _CUT, "judgement: where heat fails, few are left", "C"),
        "combined": Sourced(0.40, 0.23, 0.54, _CUT, f"judgement between 0.34 and {_A20}: -99 % in six", "C"),
    }
)
"""Bugs gone in one visit where some remain."""

HEAVY_TYPICAL = Sourced(
    1000.0,
    200.0,
    3000.0,
    "bugs",
    "judgement: trial units held up to 1,428 bugs (doi 10.3390/insects4040731) and 3,025",
    "C",
)
"""Bugs at the top of the usual heavy unit: how far the open class reaches."""

METHODS = tuple(ELIMINATION)
"""Methods of treatment, as the log spells them."""


def drop_chance(method: str) -> FloatArray:
    """Return the chance that a visit that does not eliminate brings a unit down one level.

    Counts are taken as uniform on a log scale within a class, so the chance to cross the lower
    bound is the log reduction over the class's log width, at most 1.

    Parameters
    ----------
    method
        One of :data:`METHODS`.

    Returns
    -------
    numpy.ndarray
        Shape (4,): trace, low, moderate, heavy. 0 for trace: below it is only elimination.

    Raises
    ------
    SpreadError
        For an unknown method.
    """
    _check(method)
    reduction = -math.log(1.0 - COUNT_REDUCTION[method].central)
    lower = [low for low, _ in COUNT_CLASSES]
    upper = [*lower[1:], HEAVY_TYPICAL.central]
    drop = [min(1.0, reduction / math.log(b / a)) for a, b in zip(lower, upper, strict=True)]
    return np.array([0.0, *drop[1:]])


def effect_matrix(method: str) -> FloatArray:
    """Return what one visit does to the level of a unit.

    Parameters
    ----------
    method
        One of :data:`METHODS`.

    Returns
    -------
    numpy.ndarray
        Shape (5, 5); row = level before, column = level after; rows sum to 1, clear stays clear.

    Raises
    ------
    SpreadError
        For an unknown method.
    """
    drop = drop_chance(method)
    matrix = np.eye(5)
    for level in range(1, 5):
        gone = ELIMINATION[method][level - 1].central
        matrix[level] = 0.0
        matrix[level, level - 1] = (1.0 - gone) * drop[level - 1]
        matrix[level, 0] += gone
        matrix[level, level] = 1.0 - matrix[level].sum()
    return matrix


def _check(method: str) -> None:
    if method not in ELIMINATION:
        raise SpreadError(f"The treatment {method!r} is not known; expected one of {', '.join(METHODS)}.")

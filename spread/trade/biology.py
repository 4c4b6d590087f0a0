"""Levels of infestation: bug counts, shedding, growth and dying out, by week."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from spread.errors import SpreadError
from spread.trade.arrays import FloatArray, centrals
from spread.trade.sources import Sourced, judged, sourced_row

LEVEL_NAMES = ("clear", "trace", "low", "moderate", "heavy")
"""Names of the levels, in the order of every array of this package."""

COUNT_CLASSES: tuple[tuple[int, int | None], ...] = ((1, 3), (4, 12), (13, 50), (51, None))
"""Fewest and most live bugs of trace, low, moderate and heavy; None is no upper bound.
The cut at 12 is that of Singh et al. 2017, doi 10.3390/insects8030076; the others are judgement."""

_BOUNDS = tuple(low for low, _ in COUNT_CLASSES)


def level_of_count(count: int) -> int:
    """Return the level (0 clear to 4 heavy) of a number of live bugs.

    ``count``: live bugs counted; 0 or more. Raises SpreadError when ``count`` is negative.
    """
    if count < 0:
        raise SpreadError(f"A count of bugs was {count}; expected 0 or more; write the bugs that were seen.")
    return sum(count >= bound for bound in _BOUNDS)


SHEDDING = sourced_row(
    (0.0, 0.043, 0.13, 0.44, 1.0),
    (0.0, 0.005, 0.02, 0.2, 1.0),
    (0.0, 0.1, 0.25, 0.7, 1.0),
    unit="share of a heavy unit's export",
    source="joint fit of 2026 (docs/evidence.md), hardly moved; export in proportion to bugs: zu Dohna et "
    "al. 2007 (PMC1948873, triatomines); 96 % of units with 10 bugs or fewer died out: "
    "Cooper 2016, doi 10.7282/T3NC638W",
    confidence="C",
    kind="fitted",
)
"""How much a unit exports at each level, against a heavy one."""


def shedding() -> FloatArray:
    """Return the export of each level against a heavy unit, shape (5,), from 0 to 1."""
    return centrals(SHEDDING)


GROWTH_PER_DAY = Sourced(
    0.0103, 0.0075, 0.0146, "per day",
    "joint fit of 2026 (docs/evidence.md), with what residents do against bugs in it: who knows, what looks "
    "find and how many units are heavy ask for so slow a rise. Laboratory ceiling 0.054: "
    "Polanco et al. 2011, doi 10.3390/insects2020173", "C", "fitted",
)  # fmt: skip
"""Exponential growth of an untreated infestation in an occupied unit at about 22-25 C."""

DECLINE_PER_WEEK = sourced_row(
    (0.069, 0.035, 0.029, 0.029),
    (0.048, 0.024, 0.012, 0.012),
    (0.091, 0.045, 0.069, 0.069),
    unit="chance per week",
    source="joint fit of 2026 (docs/evidence.md): dying out by chance, and residents' own efforts that no "
    "log shows (59 % of residents with bed bugs had applied insecticide themselves: Wang et al. 2016, J Med "
    "Entomol 53:639)",
    confidence="C",
    kind="fitted",
)
"""Chance that an untreated occupied unit falls one level in a week: from trace, low, moderate, heavy."""


def weeks_to_pass(growth_per_day: float = GROWTH_PER_DAY.central) -> FloatArray:
    """Return the weeks of growth between the lower bounds of the count classes, shape (3,).

    ``growth_per_day``: exponential growth rate, above 0. Raises SpreadError when ``growth_per_day`` is not
    above 0.
    """
    if not growth_per_day > 0:
        raise SpreadError(f"The growth rate was {growth_per_day}; expected a rate per day above 0.")
    return np.array([math.log(b / a) for a, b in pairwise(_BOUNDS)]) / (7.0 * growth_per_day)


def growth_matrix(
    growth_per_day: float = GROWTH_PER_DAY.central, decline: FloatArray | None = None
) -> FloatArray:
    """Return the weekly level changes of an untreated occupied unit.

    The chance of moving up is one over the weeks it takes to pass from a class's lower
    bound to the next. The first row is the identity: becoming infested is the spread
    model's affair.

    ``growth_per_day``: exponential growth rate, above 0; ``decline``: weekly chances to fall a level, trace
    first; :data:`DECLINE_PER_WEEK` if None. Raises SpreadError when the rate is not above 0, or so high that
    a level is passed within a week.

    Returned: shape (5, 5); row = level this week, column = level next week; rows sum to 1.
    """
    up = 1.0 / weeks_to_pass(growth_per_day)
    down = centrals(DECLINE_PER_WEEK) if decline is None else decline
    if np.any(up + down[:3] > 1.0):
        raise SpreadError(
            f"The growth rate was {growth_per_day} a day; expected one that keeps a level for a week or more."
        )
    matrix = np.eye(5)
    for level in range(1, 5):
        matrix[level, level - 1] = down[level - 1]
        if level < 4:
            matrix[level, level + 1] = up[level - 1]
        matrix[level, level] = 0.0
        matrix[level, level] = 1.0 - matrix[level].sum()
    return matrix


VACANT_HALF_LIFE = judged(
    8.0, 5.0, 13.0, "weeks",
    "judgement from survival in a vacated apartment, 57 d (marked large nymphs) to beyond 155 d (study "
    "end): Cooper et al. 2015, doi 10.1371/journal.pone.0136462",
)  # fmt: skip
"""Weeks in which half of the vacant units at a level have fallen to the next one down."""

LAST_SEEN_ALIVE_VACANT = Sourced(
    155.0, 155.0, 200.0, "days",
    "Cooper et al. 2015, doi 10.1371/journal.pone.0136462: unmarked bugs alive at the end of the study; "
    "the high end is judgement", "A",
)  # fmt: skip
"""Bugs were still alive in a vacant apartment after so many days: vacancy is never clearance."""

STARVATION_FIRST_INSTAR = Sourced(
    25.0, 13.8, 36.3, "days, mean survival",
    "Polanco et al. 2011, doi 10.3390/insects2020232 (range over strains; central is the middle of it)", "B",
)  # fmt: skip
STARVATION_ADULT = Sourced(
    92.0, 41.5, 142.6, "days, mean survival",
    "Polanco et al. 2011, doi 10.3390/insects2020232, fifth instars and adults (range over strains; "
    "central is the middle of it)", "B",
)  # fmt: skip


def vacant_matrix() -> FloatArray:
    """Return the weekly level changes of a vacant unit: no growth, a slow fall level by level.

    Returned: shape (5, 5); row = level this week, column = level next week; rows sum to 1.
    """
    drop = 1.0 - 0.5 ** (1.0 / VACANT_HALF_LIFE.central)
    matrix = np.eye(5)
    for level in range(1, 5):
        matrix[level, level - 1] = drop
        matrix[level, level] = 1.0 - drop
    return matrix

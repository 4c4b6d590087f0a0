"""When to come back: eggs hatch and nymphs grow up by the warmth of the room.

Rows of published ranges and no curve between them; in each the earliest day is by the coolest room of the
row and the last day by the warmest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from spread.trade.sources import judged

ROOM_CELSIUS = judged(
    23.0, 18.0, 28.0, "degrees C", "judgement: a heated home; laboratory figures are of 22-27 C"
)
"""Warmth of the rooms where nobody said it."""
LONGEST_DAYS = 35
"""Days after a treatment beyond which new adults may lay, however cool the room is thought to be
(Polanco et al. 2011, doi 10.3390/insects2020173: egg to adult in about 35 days)."""
NO_HATCH_CELSIUS = 14.0
"""Below about 13-14 C eggs do not hatch and wait (Johnson 1941, Usinger 1966; from memory)."""

_HATCH = "hatch in 6-10 days at room temperature, 6-17 as a range, up to 28 when cool (extension pages)"
_P11 = "Polanco et al. 2011, doi 10.3390/insects2020173: egg to adult in about 35 days"
_J41 = "Johnson 1941, Usinger 1966 (from memory)"
_TRIALS = "trials looked again every 14 days (doi 10.3390/insects8030076)"


@dataclass(frozen=True, slots=True)
class VisitDays:
    """Days after a treatment on which to come back."""

    least_celsius: float  #: The coolest room of this row
    earliest: int  #: The last eggs of the day of the treatment have hatched: a look sees what is left
    target: int  #: The day to aim for
    latest: int  #: Still on time
    limit: int  #: After it new adults may lay, and the count of days begins anew
    #: source, confidence: As in :class:`spread.trade.sources.Sourced`
    source: str
    confidence: str
    #: Whether the eggs of the day of the treatment are known to have hatched on the earliest day: no figure
    #: for rooms cooler than 18 C was found, and under 13-14 C none hatch
    hatched: bool = True


VISIT_DAYS = (
    VisitDays(
        26.1, 10, 14, 18, 21,
        f"{_J41}: hatch in 5-6 days at 27-28 C; a trade page: egg to adult in 21 days at 30 C (second-hand)",
        "C",
    ),
    VisitDays(23.0, 10, 14, 21, LONGEST_DAYS, f"{_HATCH}; {_J41}: 9-10 days at 23 C; {_P11}; {_TRIALS}", "B"),
    VisitDays(20.0, 14, 17, 24, LONGEST_DAYS, f"{_HATCH}; judgement between 18 and 23 C; {_P11}", "C"),
    VisitDays(18.0, 20, 21, 28, LONGEST_DAYS, f"{_J41}: hatch in about 20 days at 18 C; {_P11}", "C"),
    VisitDays(-math.inf, 28, 28, 35, LONGEST_DAYS,
        f"{_J41}: about 20 days at 18 C, none under 13-14 C; up to 28 days when cool (extension pages): how "
        "long it takes between is not known, so that day 28 is a day to come and no day to be sure by",
        "C", hatched=False,
    ),
)  # fmt: skip
"""Visit windows by the warmth of the room, warmest first."""


COOLEST_KNOWN = min(row.least_celsius for row in VISIT_DAYS if row.hatched)
"""Degrees C under which nobody knows when the last eggs have hatched."""


def visit_days(celsius: float = ROOM_CELSIUS.central) -> VisitDays:
    """Return the visit window for rooms of a temperature; raises ValueError when ``celsius`` is no number."""
    if not math.isfinite(celsius):
        raise ValueError(f"expected a temperature in degrees C, found {celsius}")
    return next(row for row in VISIT_DAYS if celsius >= row.least_celsius)

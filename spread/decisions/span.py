"""A date that is only known by chance: its median and 90 % interval, and what the window cuts off."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.weeks import monday_of

INTERVAL = 0.90  #: Probability that an interval of dates holds


@dataclass(frozen=True, slots=True)
class Span(Fact):
    """When something began, as far as the window lets us see."""

    #: low, median, high: Mondays: the 5 %, 50 % and 95 % points. None where the point lies before the window.
    low: dt.date | None
    median: dt.date | None
    high: dt.date | None
    window: dt.date  #: The window's first Monday
    before: float  #: Chance that it began before the window, 0 to 1


def span_of(chances: Floats, first_week: int) -> Span:
    """Return the span of a date by week.

    Parameters
    ----------
    chances
        Shape (T,): weight of each week of the window; column 0 means the window's first week or earlier.
        They need not sum to one, but must not all be 0.
    first_week : Week number of column 0
    """
    share = np.cumsum(chances) / chances.sum()
    tail = (1.0 - INTERVAL) / 2.0
    # A hair below the points: 0.05 of cumulated sums may read 0.0500000001.
    weeks = [int(np.searchsorted(share, point - 1e-9)) for point in (tail, 0.5, 1.0 - tail)]
    low, median, high = (monday_of(first_week + week) if week else None for week in weeks)
    return Span(low, median, high, monday_of(first_week), float(share[0]))

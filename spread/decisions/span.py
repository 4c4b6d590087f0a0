"""A date that is only known by chance: its median and 90 % interval, and what the window cuts off."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from spread.posterior.dynamics import Floats
from spread.weeks import monday_of, speak_date

INTERVAL = 0.90
"""Probability that an interval of dates holds."""


@dataclass(frozen=True, slots=True)
class Span:
    """When something began, as far as the window lets us see.

    Parameters
    ----------
    low, median, high
        Mondays as ISO days: the 5 %, 50 % and 95 % points. None where the point lies before the window.
    window
        The window's first Monday, ISO.
    before
        Chance that it began before the window, 0 to 1.
    words
        The same in words that go on after "It began": ``about Mon 4 May 2026 (90 % sure: ...)``.
    """

    low: str | None
    median: str | None
    high: str | None
    window: str
    before: float
    words: str


def span_of(chances: Floats, first_week: int) -> Span:
    """Return the span of a date by week.

    Parameters
    ----------
    chances
        Shape (T,): weight of each week of the window; column 0 means the window's first week or
        earlier. They need not sum to one, but must not all be 0.
    first_week
        Week number of column 0.
    """
    share = np.cumsum(chances) / chances.sum()
    tail = (1.0 - INTERVAL) / 2.0
    # A hair below the points: 0.05 of cumulated sums may read 0.0500000001.
    weeks = [int(np.searchsorted(share, point - 1e-9)) for point in (tail, 0.5, 1.0 - tail)]
    days = [monday_of(first_week + week) if week else None for week in weeks]
    window = monday_of(first_week)
    low, median, high = (day.isoformat() if day else None for day in days)
    return Span(low, median, high, window.isoformat(), float(share[0]), _words(days, window))


def _words(days: list[dt.date | None], window: dt.date) -> str:
    low, median, high = days
    start = speak_date(window)
    if high is None:
        return f"before {start}, when the window begins"
    about = f"before {start}" if median is None else f"about {speak_date(median)}"
    if low is None:
        since = "before then" if median is None else f"before {start}, when the window begins,"
        return f"{about} (90 % sure: from {since} to {speak_date(high)})"
    return f"{about} (90 % sure: between {speak_date(low)} and {speak_date(high)})"

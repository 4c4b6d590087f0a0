"""The building's past as the fit sees it: infested units by week, and when it began."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spread.decisions.doors.learned import quantiles
from spread.decisions.span import Span, span_of
from spread.decisions.view import View
from spread.facts import Fact
from spread.weeks import monday_of

POINTS = (0.05, 0.25, 0.5, 0.75, 0.95)  #: The 90 % band, the 50 % band and the median


@dataclass(frozen=True, slots=True)
class PastWeek(Fact):
    """Units infested in one week: Monday (ISO) and the :data:`POINTS`, low to high."""

    monday: str  #: ISO day
    #: low, lower, median, upper, high: Units infested at the :data:`POINTS`
    low: int
    lower: int
    median: int
    upper: int
    high: int


@dataclass(frozen=True, slots=True)
class Past(Fact):
    """A building through the weeks of the window."""

    weeks: tuple[PastWeek, ...]  #: Oldest first; the last holds the day of the answer
    units: int  #: How many units the building has
    #: When the first infestation of the window began, given that there was any; None if no draw has one
    first: Span | None
    before: float  #: Chance that some unit was infested when the window began
    none: float  #: Chance that no unit was infested in any week
    #: By week: chance that the first infestation of the window began in it; in the first, that it was there
    #: when the window began. With :attr:`none` they sum to one.
    began: tuple[float, ...]


def past_of(view: View) -> Past | None:
    """Return the building's past; None when the fit kept no totals."""
    posterior = view.posterior
    totals = posterior.counts
    if totals is None:
        return None
    w, width = posterior.weights, totals.shape[1]
    weeks = tuple(
        PastWeek(
            monday_of(posterior.first_week + t).isoformat(),
            *(int(v) for v in quantiles(totals[:, t].astype(np.float64), w, POINTS)),
        )
        for t in range(width)
    )
    any_week = totals > 0
    ever = any_week.any(axis=1)
    first = np.bincount(any_week.argmax(axis=1)[ever], weights=w[ever], minlength=width).astype(np.float64)
    span = span_of(first, posterior.first_week) if ever.any() else None
    none = float(w[~ever].sum())
    began = tuple(float(chance) for chance in first)
    return Past(weeks, len(posterior.units), span, float(first[0]), none, began)


def weekly_chances(view: View) -> dict[str, list[float]]:
    """Return the chance of each unit in each week of the window, oldest first, to four digits."""
    return {
        unit: [round(float(p), 4) for p in row]
        for unit, row in zip(view.posterior.units, view.posterior.weekly, strict=True)
    }

"""Trips of a crew: the visits of a week take crew-days, and every crew-day is a trip there and back.

The minutes at doors of a run are shared out over its weeks as its visits, and those of treating as its
treatment visits; so a price or a time changes trips without a new simulation.
"""

from __future__ import annotations

import numpy as np

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.kept import Kept
from spread.programmes.money import KINDS, Prices, tables_of_prices
from spread.programmes.rules import Whole

AT_DOORS = tuple(KINDS.index(kind) for kind in ("doors", "looks", "surveys"))
_JUST_FULL = 1e-9  #: A day that is full to the last digit needs no second one


def crew_days(kept: Kept, prices: Prices) -> Floats:
    """Return the days of a crew in every week, shape (R, W): one at least in a week with visits."""
    minutes = tables_of_prices(prices)[1]
    at_doors = kept.counts @ minutes[:, AT_DOORS].sum(axis=1)
    treating = kept.counts @ minutes[:, KINDS.index("treatment")]
    visits, treated = kept.visits.sum(axis=1), kept.treated.sum(axis=1)
    # Nothing is lost where nobody kept the weeks of the treatments.
    at_doors = at_doors + np.where(treated > 0, 0.0, treating)
    each = at_doors / np.maximum(visits, 1)
    more = treating / np.maximum(treated, 1)
    week = kept.visits * each[:, None] + kept.treated * more[:, None]
    days = np.ceil(week / (60.0 * prices.day_hours * prices.crew) - _JUST_FULL)
    return np.where(kept.visits > 0, np.maximum(days, 1.0), 0.0)


def with_trips(kept: Kept, prices: Prices) -> Whole:
    """Return the counts of every run with the trips of its crew, shape (R, columns).

    Where no week has visits, as in the counts of a log, trips are as they were counted.
    """
    counts = kept.counts.copy()
    trips = crew_days(kept, prices).sum(axis=1)
    counts[:, c.TRIPS] = np.where(kept.visits.any(axis=1), trips, counts[:, c.TRIPS])
    return counts


def crew_minutes(prices: Prices) -> float:
    """Return the minutes at doors that a crew has a week, all its people together; 0 is without end."""
    return prices.crew_days_a_week * prices.day_hours * 60.0 * prices.crew

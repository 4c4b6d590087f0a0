"""Scores of chances against what happened: counts with their intervals, and how far each chance was off."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from spread.posterior.dynamics import Floats

LEAST = 1e-6
"""Chances nearer to 0 or 1 count as this in the log score, which would otherwise be without bounds."""


def poisson_binomial(chances: Floats) -> Floats:
    """Return the chance of each number of events, 0 to n: independent events, each with its own chance.

    By convolution, one event after the other; exact.
    """
    told = np.ones(1)
    for chance in chances:
        told = with_event(told, float(chance))
    return told


def with_event(told: Floats, chance: float) -> Floats:
    """Return the chances of each number of events with one event more."""
    longer = np.append(told * (1.0 - chance), 0.0)
    longer[1:] += told * chance
    return longer


class Interval(NamedTuple):
    """The central interval of a count: its ends and the chance that it holds."""

    low: int
    high: int
    holds: float


def interval(told: Floats, share: float) -> Interval:
    """Return the central interval that holds a share at least: as much is cut off at either end at most.

    ``told``: chance of each number, from 0. A count is a whole number, so that the interval holds more than
    the share, of few events a good deal more.
    """
    below = np.cumsum(told)
    tail = 0.5 * (1.0 - share)
    low, high = (int(np.searchsorted(below, at - 1e-12)) for at in (tail, 1.0 - tail))
    high = min(high, len(told) - 1)
    return Interval(low, high, float(told[low : high + 1].sum()))


def brier(chances: Floats, made: Floats) -> float:
    """Return the mean squared distance of chances from what happened (Brier 1950)."""
    return float(np.mean((chances - made) ** 2))


def log_score(chances: Floats, made: Floats) -> float:
    """Return the mean of minus the log of the chance given to what happened (Good 1952); 0 is best."""
    given = np.clip(np.where(made > 0, chances, 1.0 - chances), LEAST, 1.0)
    return float(-np.log(given).mean())

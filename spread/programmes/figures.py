"""A figure over runs with its bands and its Monte Carlo error."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from spread.posterior.dynamics import Floats

BANDS = (0.05, 0.25, 0.5, 0.75, 0.95)  #: Shares of the runs under the ends of the bands and the median
RESAMPLES = 400  #: Resamples of a figure that is solved from means
WIDE = 1.96  #: Standard errors on each side of a mean that hold it nineteen times of twenty


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure over the runs."""

    #: mean, median: Of the runs
    mean: float
    median: float
    #: low50, high50, low90, high90: Ends of the bands that hold half and nine tenths of the runs
    low50: float
    high50: float
    low90: float
    high90: float
    #: Monte Carlo standard error of the mean: what more runs would shrink. Four times the runs halve it.
    error: float
    median_error: float  #: The same of the median

    @property
    def least(self) -> float:
        """Lower end of the interval that holds the mean of endlessly many runs nineteen times of twenty."""
        return self.mean - WIDE * self.error

    @property
    def most(self) -> float:
        """Its upper end."""
        return self.mean + WIDE * self.error


@dataclass(frozen=True, slots=True)
class Share:
    """A chance as a share of the runs, with its Monte Carlo standard error."""

    chance: float
    error: float


@dataclass(frozen=True, slots=True)
class Solved:
    """A figure solved from the means of paired runs: low and high hold nine tenths of resampled runs.

    ``value`` is None where the means give no answer, such as a cost for each week averted where none was.
    """

    value: float | None
    low: float | None
    high: float | None
    error: float | None


def figure(values: ArrayLike) -> Figure:
    """Return the figure of values of shape (R,); infinite ones (never) count as larger than all others."""
    x = np.asarray(values, dtype=np.float64)
    if not len(x):
        return Figure(*[math.nan] * 8)
    low90, low50, median, high50, high90 = (float(np.quantile(x, q, method="inverted_cdf")) for q in BANDS)
    finite = np.isfinite(x).all()
    mean = float(x.mean()) if finite else math.inf
    error = float(x.std(ddof=1) / math.sqrt(len(x))) if finite and len(x) > 1 else math.nan
    return Figure(mean, median, low50, high50, low90, high90, error, _median_error(x))


def _median_error(x: Floats) -> float:
    """Return the standard error of a median from the order statistics one standard error apart.

    The number of runs under the true median is binomial, so its standard error is half the root of the
    number of runs, and the values so far from the middle bound one of the median's (textbook).
    """
    if len(x) < 4:
        return math.nan
    half = 0.5 / math.sqrt(len(x))
    low, high = np.quantile(x, [max(0.0, 0.5 - half), min(1.0, 0.5 + half)], method="inverted_cdf")
    return float(high - low) / 2.0 if np.isfinite(high) else math.nan


def share(happened: ArrayLike) -> Share:
    """Return the share of true values; the error allows for a share that was not seen (Agresti and Coull)."""
    x = np.asarray(happened, dtype=bool)
    if not len(x):
        return Share(math.nan, math.nan)
    allowed = (x.sum() + 2.0) / (len(x) + 4.0)
    return Share(float(x.mean()), math.sqrt(allowed * (1.0 - allowed) / (len(x) + 4.0)))


def solved(solve: Callable[[NDArray[np.intp]], float | None], runs: int, seed: int = 6) -> Solved:
    """Return what ``solve`` gives of all runs, and its band over resampled runs.

    ``solve``: takes the numbers of the runs to use; None where the means give no answer; ``runs``: how many
    there are.
    """
    value = solve(np.arange(runs))
    if value is None or runs < 2:
        return Solved(value, None, None, None)
    rng = np.random.default_rng(seed)
    again = [solve(rng.integers(0, runs, runs)) for _ in range(RESAMPLES)]
    found = np.array([one for one in again if one is not None])
    if len(found) < 0.95 * RESAMPLES:
        return Solved(value, None, None, None)
    low, high = np.quantile(found, [0.05, 0.95])
    return Solved(value, float(low), float(high), float(found.std(ddof=1)))


def ratio(above: Floats, below: Floats) -> float | None:
    """Return the ratio of two means; None where the lower is not above nothing."""
    return float(above.mean() / below.mean()) if below.mean() > 1e-9 else None


def bands(paths: NDArray[np.int32]) -> Floats:
    """Return the ends of the bands and the median of each week, shape (5, weeks), from (R, weeks)."""
    return np.quantile(paths, BANDS, axis=0, method="inverted_cdf").astype(np.float64)

"""What buildings teach one another: a hierarchical model fitted from the draws of buildings fitted alone.

Each quantity of a building (the logarithm of a rate or of odds, the log odds of a share) is drawn around a
centre of the firm's own, with a spread between buildings. Buildings are fitted apart, under a known prior;
their draws, weighted by what the hierarchy says over that prior, give the likelihood of centre and spread,
and these are drawn by Metropolis steps (two stages as in Lunn et al. 2013, J. R. Stat. Soc. C 62:551-572,
from memory, with the first stage summed over and not sampled). Weights over all quantities of a building at
once are exact but need draws near the answer; where too few draws count, quantities are weighed one by one,
the answer is called rough, and another round of fits under it mends that.

Before any building is known a firm is believed what the literature says: three quarters of that variance are
the centre's, one quarter the buildings' (judgement).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CENTRE_SHARE, SPREAD_SHARE = 0.75, 0.25
"""Parts of the literature's variance: of the firm's centre, and expected between its buildings."""
LEAST_SPREAD = 0.05
"""Least spread between buildings, as a part of the literature's width."""
WARM, KEPT = 600, 2000
"""Steps thrown away, while their length adapts, and steps kept."""
LOOKED_AT = 40
"""Steps at which it is counted how many draws of a building count."""
EVERY = 10
"""One step of so many is kept for what each building says alone."""
ENOUGH = 30.0
"""Effective draws of the median building from which all quantities are weighed at once (judgement)."""


@dataclass(frozen=True)
class Quantity:
    """Something that buildings share.

    Parameters
    ----------
    name
        As in :class:`spread.trade.experience.Experience`.
    centre, width
        Mean and standard deviation that the literature gives it, on the scale of the draws.
    grid
        The values that it can take; None for any.
    """

    name: str
    centre: float
    width: float
    grid: Floats | None = None


@dataclass(frozen=True)
class Taught:
    """One building's draws.

    Parameters
    ----------
    key
        Of the building.
    values, log_prior
        Shape (draws, quantities): the draws on the scale of each quantity, and the logarithm of the prior
        density that they were drawn under; NaN where the building has no such quantity.
    """

    key: str
    values: Floats
    log_prior: Floats


@dataclass(frozen=True)
class Pooled:
    """Centres and spreads of a firm.

    Parameters
    ----------
    quantities
        What is shared, in the order of the arrays.
    keys
        The buildings, in the order of the arrays.
    centre, spread
        Shape (steps, quantities): draws.
    weights
        Shape (buildings, draws): how much each draw of a building counts once the others are known.
    effective
        Shape (buildings,): effective draws, all quantities at once.
    alone
        Shape (some steps, buildings, quantities): log likelihood of each building's draws under every
        so-manieth step, one quantity at a time.
    rough
        Whether quantities were weighed one by one because too few draws counted.
    """

    quantities: tuple[Quantity, ...]
    keys: tuple[str, ...]
    centre: Floats
    spread: Floats
    weights: Floats
    effective: Floats
    alone: Floats
    rough: bool

    @property
    def some(self) -> slice:
        """The steps of :attr:`alone`."""
        return slice(None, None, len(self.centre) // len(self.alone))

    @property
    def next_building(self) -> dict[str, tuple[float, float]]:
        """Mean and standard deviation of each quantity in one more building of the firm."""
        means = self.centre.mean(axis=0)
        widths = np.sqrt((self.spread**2).mean(axis=0) + self.centre.var(axis=0))
        return {
            one.name: (float(mean), float(width))
            for one, mean, width in zip(self.quantities, means, widths, strict=True)
        }


def pool(
    quantities: Sequence[Quantity], taught: Sequence[Taught], *, seed: int = 1, steps: int = KEPT
) -> Pooled:
    """Learn centres and spreads from buildings; all of them have as many draws.

    ``quantities``: what is shared; ``taught``: by whom; ``seed``, ``steps``: of the Metropolis steps.
    """
    given = _Given(tuple(quantities), taught)
    rng = np.random.default_rng(seed)
    first = given.walk(rng, steps, together=False)
    effective = given.effective(first)
    if np.median(effective) < ENOUGH:
        return given.result(first, effective, rough=True)
    second = given.walk(rng, steps, together=True, start=first)
    return given.result(second, given.effective(second), rough=False)


@dataclass
class _Walk:
    centre: Floats
    spread: Floats
    alone: Floats
    weights: Floats


class _Given:
    """What is given, and the likelihood that it makes."""

    def __init__(self, quantities: tuple[Quantity, ...], taught: Sequence[Taught]) -> None:
        self.quantities = quantities
        self.keys = tuple(one.key for one in taught)
        # By quantity first: each step looks at one quantity of all buildings.
        values = np.stack([one.values for one in taught]).transpose(2, 0, 1)
        self.known = np.isfinite(values[:, :, 0])
        self.values = np.ascontiguousarray(np.nan_to_num(values))
        priors = np.stack([one.log_prior for one in taught]).transpose(2, 0, 1)
        self.log_prior = np.ascontiguousarray(np.nan_to_num(priors))
        self.middle = np.array([one.centre for one in quantities])
        self.width = np.array([one.width for one in quantities])

    def column(self, q: int, centre: float, spread: float) -> Floats:
        """Return the log weights of one quantity, shape (buildings, draws)."""
        log = -0.5 * ((self.values[q] - centre) / spread) ** 2 - np.log(spread) - self.log_prior[q]
        grid = self.quantities[q].grid
        if grid is not None:
            # On a grid the hierarchy is a distribution over its points: it has to sum to one there.
            points = -0.5 * ((grid - centre) / spread) ** 2 - np.log(spread)
            log -= points.max() + np.log(np.exp(points - points.max()).sum())
        log[~self.known[q]] = 0.0
        return np.asarray(log)

    def log_prior_of(self, q: int, centre: float, spread: float) -> float:
        """Return the log prior of centre and spread, the latter by its logarithm."""
        width = self.width[q]
        if spread < LEAST_SPREAD * width:
            return -np.inf
        off = (centre - self.middle[q]) ** 2 / (CENTRE_SHARE * width**2)
        # A half normal whose mean square is the share.
        return float(-0.5 * (off + spread**2 / (SPREAD_SHARE * width**2)) + np.log(spread))

    def walk(
        self, rng: np.random.Generator, steps: int, *, together: bool, start: _Walk | None = None
    ) -> _Walk:
        """Draw centres and spreads by Metropolis steps, a quantity at a time.

        ``together``: whether a building's quantities are weighed at once; else each by itself.
        """
        number, buildings, draws = self.values.shape
        if start is None:
            centre, spread = self.middle.copy(), 0.5 * self.width
        else:
            centre, spread = start.centre.mean(axis=0), np.exp(np.log(start.spread).mean(axis=0))
        columns = np.stack([self.column(q, centre[q], spread[q]) for q in range(number)])
        all_of = columns.sum(axis=0)
        step = np.full(number, 1.0)
        kept_centre, kept_spread = np.empty((steps, number)), np.empty((steps, number))
        alone, weights = [], np.zeros((buildings, draws))
        single = np.stack([_log_mean(column) for column in columns], axis=1)
        told = _log_mean(all_of).sum()
        count = np.maximum(self.known.sum(axis=1), 1)
        for k in range(-WARM, steps):
            for q in range(number):
                reach = step[q] * np.hypot(spread[q], 0.2 * self.width[q]) * 1.5 / np.sqrt(count[q])
                new_centre = centre[q] + reach * rng.standard_normal()
                new_spread = spread[q] * np.exp(
                    step[q] * rng.standard_normal() / np.sqrt(1.0 + count[q] / 4.0)
                )
                odds = self.log_prior_of(q, new_centre, new_spread) - self.log_prior_of(
                    q, centre[q], spread[q]
                )
                luck, taken = np.log(rng.random()), False
                if np.isfinite(odds):
                    column = self.column(q, new_centre, new_spread)
                    moved, likely = all_of + (column - columns[q]), _log_mean(column)
                    gain = _log_mean(moved).sum() - told if together else (likely - single[:, q]).sum()
                    taken = bool(luck < odds + gain)
                if taken:
                    centre[q], spread[q], columns[q], single[:, q] = new_centre, new_spread, column, likely
                    all_of, told = moved, told + gain
                if k < 0:
                    step[q] = np.clip(
                        step[q] * np.exp((float(taken) - 0.3) / (1.0 + (k + WARM) / 30.0)), 0.01, 20
                    )
            if k >= 0:
                kept_centre[k], kept_spread[k] = centre, spread
                if k % EVERY == 0:
                    alone.append(single.copy())
                share = np.exp(all_of - all_of.max(axis=1, keepdims=True))
                weights += share / share.sum(axis=1, keepdims=True) / steps
        return _Walk(kept_centre, kept_spread, np.stack(alone), weights)

    def effective(self, walk: _Walk) -> Floats:
        """Return how many draws of each building count where all quantities are weighed, over steps."""
        found = []
        for k in np.linspace(0, len(walk.centre) - 1, LOOKED_AT).round().astype(np.int64):
            columns = (
                self.column(q, c, s)
                for q, (c, s) in enumerate(zip(walk.centre[k], walk.spread[k], strict=True))
            )
            log = np.sum(list(columns), axis=0)
            share = np.exp(log - log.max(axis=1, keepdims=True))
            found.append(share.sum(axis=1) ** 2 / (share**2).sum(axis=1))
        return np.asarray(np.mean(found, axis=0))

    def result(self, walk: _Walk, effective: Floats, *, rough: bool) -> Pooled:
        """Return what was learned."""
        return Pooled(
            self.quantities, self.keys, walk.centre, walk.spread, walk.weights, effective, walk.alone, rough
        )


def _log_mean(log: Floats) -> Floats:
    """Return the logarithm of the mean of exponentials, over the last axis.

    The logarithm of a mean of few draws falls short by half its relative variance, which many buildings would
    add up to a pull away from where draws are few: that half is put back.
    """
    top = log.max(axis=-1)
    share = np.exp(log - top[..., None])
    total = share.sum(axis=-1)
    short = 0.5 * (np.einsum("...k,...k->...", share, share) / total**2 - 1.0 / log.shape[-1])
    return np.asarray(top + np.log(total / log.shape[-1]) + short)


@dataclass(frozen=True)
class Departs:
    """A building that departs from what the others taught.

    ``factor``: its own quantity over the others' centre, as the log alone says; ``surprise``: standard
    deviations of what the others would let one expect.
    """

    key: str
    name: str
    factor: float
    surprise: float


def departing(pooled: Pooled, taught: Mapping[str, Taught], least: float = 3.0) -> tuple[Departs, ...]:
    """Return buildings that the others would not have led one to expect, the most surprising first.

    For each building centre and spread are learned from the others (steps weighed by what it alone adds), and
    its log by itself is what its draws say beyond their prior; both taken for normal.
    """
    found = []
    for b, key in enumerate(pooled.keys):
        one = taught[key]
        for q, quantity in enumerate(pooled.quantities):
            values = one.values[:, q]
            if not np.isfinite(values[0]):
                continue
            told = _log_alone(values, one.log_prior[:, q])
            if told is None:
                continue
            mean, variance = told
            without = -pooled.alone[:, b, q]
            share = np.exp(without - without.max())
            share /= share.sum()
            centres, spreads = pooled.centre[pooled.some, q], pooled.spread[pooled.some, q]
            centre = float(share @ centres)
            width = float(share @ (spreads**2 + (centres - centre) ** 2))
            surprise = (mean - centre) / np.sqrt(width + variance)
            if abs(surprise) >= least:
                found.append(Departs(key, quantity.name, float(np.exp(mean - centre)), float(surprise)))
    return tuple(sorted(found, key=lambda one: -abs(one.surprise)))


def _log_alone(values: Floats, log_prior: Floats) -> tuple[float, float] | None:
    """Return mean and variance of what a log says by itself; None where it says next to nothing.

    The draws are taken for normal, and a parabola through the log prior over them is taken out.
    """
    mean, variance = float(values.mean()), float(values.var())
    if variance <= 0.0:
        return None
    off = values - mean
    slope, curve = np.polyfit(off, log_prior, 2)[[1, 0]]
    precision = 1.0 / variance + 2.0 * curve
    if precision < 0.25 / variance:  # three quarters of what is known is the prior's
        return None
    return mean - float(slope) / precision, 1.0 / precision

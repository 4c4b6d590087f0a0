"""What buildings teach one another, in numbers alone: what is shared, what came of it, who departs from it.

Each quantity of a building (the logarithm of a rate or of odds, the log odds of a share) is drawn around a
centre of the firm's own, with a spread between buildings; :mod:`spread.firm.one_chain` learns both. A
building is held against the others by a fit of its own under the literature's wide prior: what its log says
beyond that prior is taken for normal.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CENTRE_SHARE, SPREAD_SHARE = 0.75, 0.25
"""Parts of the literature's variance: of the firm's centre, and expected between its buildings."""
LEAST_SPREAD, MOST_SPREAD = 0.05, 1.05
"""Bounds of the spread between buildings, as parts of the literature's width."""


@dataclass(frozen=True)
class Quantity:
    """Something that buildings share.

    ``name``: as in :class:`spread.trade.experience.Experience`; ``centre``, ``width``: mean and standard
    deviation that the literature gives it, on the scale of the draws; ``firm``: least standard
    deviation of a firm's own centre, where it is more than the usual part of the width.
    """

    name: str
    centre: float
    width: float
    firm: float = 0.0

    @property
    def apart(self) -> float:
        """Standard deviation of a firm's own centre around the literature's."""
        return max(self.firm, CENTRE_SHARE**0.5 * self.width)


@dataclass(frozen=True)
class Taught:
    """One building fitted alone.

    Parameters
    ----------
    key
        Of the building.
    mean, covariance
        Shapes (quantities,) and (quantities, quantities): of its draws. NaN where it has no such quantity.
    prior_mean, prior_sd
        Shape (quantities,): of the prior that they were drawn under.
    slope, curve
        Shape (quantities,): of the logarithm of that prior, its mean slope over the draws, and its mean
        curvature there downwards, so that a log which says nothing has one over the prior's variance.
    draws
        Shape (quantities,): how many independent draws they are worth.
    """

    key: str
    mean: Floats
    covariance: Floats
    prior_mean: Floats
    prior_sd: Floats
    slope: Floats
    curve: Floats
    draws: Floats


@dataclass(frozen=True)
class Pooled:
    """Centres and spreads of a firm.

    ``quantities``, ``keys``: what is shared, by whom, in the order of the arrays. ``centre``, ``spread``:
    shape (steps, quantities), draws. ``means``: shape (buildings, quantities), of each building once the
    others are known. ``taught``: shape (quantities,), whether the logs said anything of it; where they did
    not, centre and spread are those of the literature.
    """

    quantities: tuple[Quantity, ...]
    keys: tuple[str, ...]
    centre: Floats
    spread: Floats
    means: Floats
    taught: NDArray[np.bool_]

    @property
    def next_building(self) -> dict[str, tuple[float, float]]:
        """Mean and standard deviation, in one more building of the firm, of each quantity that was taught."""
        means = self.centre.mean(axis=0)
        widths = np.sqrt((self.spread**2).mean(axis=0) + self.centre.var(axis=0))
        found = zip(self.quantities, means, widths, self.taught, strict=True)
        return {one.name: (float(mean), float(width)) for one, mean, width, taught in found if taught}


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

    A building is held against centre and spread as the others have them: where it taught them too, steps are
    weighed by one over what it alone adds to them. Where three quarters of what is known of it are the
    prior's, nothing is said.
    """
    found = []
    for key, one in sorted(taught.items()):
        for q in np.flatnonzero(pooled.taught & np.isfinite(one.mean)):
            variance = float(one.covariance[q, q])
            precision = 1.0 / variance - float(one.curve[q])
            if precision < 0.25 / variance:
                continue
            mean = float(one.mean[q] - one.slope[q] / precision)
            centres, spreads = pooled.centre[:, q], pooled.spread[:, q]
            apart = spreads**2 + 1.0 / precision
            without = 0.5 * ((mean - centres) ** 2 / apart + np.log(apart)) * (key in pooled.keys)
            share = np.exp(without - without.max())
            share /= share.sum()
            centre = float(share @ centres)
            width = float(share @ (spreads**2 + (centres - centre) ** 2))
            surprise = (mean - centre) / np.sqrt(width + 1.0 / precision)
            if abs(surprise) >= least:
                name = pooled.quantities[q].name
                found.append(Departs(key, name, float(np.exp(mean - centre)), float(surprise)))
    return tuple(sorted(found, key=lambda one: -abs(one.surprise)))

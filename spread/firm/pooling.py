"""What buildings teach one another: a hierarchical model fitted from buildings that were fitted alone.

Each quantity of a building (the logarithm of a rate or of odds, the log odds of a share) is drawn around a
centre of the firm's own, with a spread between buildings. Buildings are fitted apart, under the literature's
wide prior; what a log says beyond that prior is its likelihood, taken for normal in all quantities together
(mean and covariance of the draws, with the prior's slope and curvature there taken out). Centres then
integrate out exactly; spreads are drawn by Metropolis steps, one quantity after the other.

Before any building is known a firm is believed what the literature says: three quarters of that variance are
the centre's, one quarter the buildings' (judgement).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CENTRE_SHARE, SPREAD_SHARE = 0.75, 0.25
"""Parts of the literature's variance: of the firm's centre, and expected between its buildings."""
LEAST_SPREAD, MOST_SPREAD = 0.05, 1.05
"""Bounds of the spread between buildings, as parts of the literature's width."""
HEARD = 2.0
"""Standard errors by which one log has to say something in a direction before it is heard."""
WARM, KEPT = 150, 600
"""Steps thrown away, while their length adapts, and steps kept."""
SURE = 3.0
"""Standard errors by which logs have to move a quantity, all together, before it counts as taught."""


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


def pool(
    quantities: Sequence[Quantity], taught: Sequence[Taught], *, seed: int = 1, steps: int = KEPT
) -> Pooled:
    """Learn centres and spreads from buildings.

    ``quantities``: what is shared; ``taught``: by whom; ``seed``, ``steps``: of the Metropolis steps.
    """
    told = _are_taught(taught, len(quantities))
    centre = np.array([one.centre for one in quantities])
    width = np.array([one.width for one in quantities])
    said = [_said(one, centre, width, told) for one in taught]
    walk = _Walk(np.stack([form for form, _ in said]), np.stack([pull for _, pull in said]), width)
    centres, spreads, means = walk.run(np.random.default_rng(seed), steps)
    keys = tuple(one.key for one in taught)
    return Pooled(tuple(quantities), keys, centres + centre, spreads, means + centre, told)


def overlaid(pooled: Pooled, joint: Pooled) -> Pooled:
    """Return what was pooled, with what one chain over the buildings says wherever it says it.

    The steps are then the fewer of both. Buildings that are not in ``joint`` keep their means.
    """
    steps = min(len(pooled.centre), len(joint.centre))
    means, taught = pooled.means.copy(), pooled.taught.copy()
    centre, spread = pooled.centre[-steps:].copy(), pooled.spread[-steps:].copy()
    rows = {key: b for b, key in enumerate(joint.keys)}
    places = {one.name: q for q, one in enumerate(joint.quantities)}
    for q, one in enumerate(pooled.quantities):
        if one.name not in places:
            continue
        k = places[one.name]
        centre[:, q], spread[:, q] = joint.centre[-steps:, k], joint.spread[-steps:, k]
        taught[q] = joint.taught[k]
        for b, key in enumerate(pooled.keys):
            if key in rows:
                means[b, q] = joint.means[rows[key], k]
    return replace(pooled, centre=centre, spread=spread, means=means, taught=taught)


def _are_taught(taught: Sequence[Taught], number: int) -> NDArray[np.bool_]:
    """Return of which quantities the logs, all together, say more than the noise of draws would."""
    found = np.zeros(number, dtype=bool)
    mean, prior, sd, draws = (
        np.stack([getattr(one, name) for one in taught])
        for name in ("mean", "prior_mean", "prior_sd", "draws")
    )
    variance = np.stack([one.covariance.diagonal() for one in taught])
    for q in range(number):
        known = np.isfinite(mean[:, q])
        count = known.sum()
        if not count:
            continue
        n = draws[known, q]
        off = ((mean - prior)[known, q] / sd[known, q]) ** 2 * n
        narrower = (1.0 - variance[known, q] / sd[known, q] ** 2).sum() / np.sqrt((2.0 / n).sum())
        found[q] = narrower > SURE or (off.sum() - count) / np.sqrt(2.0 * count) > SURE
    return found


def _said(one: Taught, centre: Floats, width: Floats, told: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Return precision and pull of a log's own likelihood, counted from the literature's centres."""
    known = np.isfinite(one.mean) & told
    form, pull = np.zeros((len(width), len(width))), np.zeros(len(width))
    if known.any():
        at = np.ix_(known, known)
        sd = np.sqrt(one.covariance[at].diagonal())
        ties = one.covariance[at] / np.outer(sd, sd)
        # Small correlations are noise of the draws, and their inverse would add it up.
        worth = np.sqrt(np.minimum.outer(one.draws[known], one.draws[known]))
        ties = np.where(np.abs(ties) * worth < SURE, 0.0, ties)
        np.fill_diagonal(ties, 1.0)
        while np.linalg.eigvalsh(ties)[0] < 0.05:
            ties = 0.9 * ties + 0.1 * np.eye(len(sd))
        precision = np.linalg.inv(ties * np.outer(sd, sd))
        form[at] = precision - np.diag(one.curve[known])
        # Over its own draws the slope of a posterior is nil: the log's is that of the prior turned round.
        pull[known] = form[at] @ (one.mean - centre)[known] - one.slope[known]
    return _heard(form, pull, width, float(np.median(one.draws[known])) if known.any() else 1.0)


def _heard(form: Floats, pull: Floats, width: Floats, draws: float) -> tuple[Floats, Floats]:
    """Return precision and pull without the directions in which they are no more than noise of the draws.

    Noise goes both ways, and so does what is dropped; what is left has no negative precision.
    """
    scaled, turns = np.linalg.eigh(form * np.outer(width, width))
    along = turns.T @ (pull * width)
    noise = HEARD * np.sqrt(2.0 / draws) * (1.0 + np.abs(scaled))
    heard = (np.abs(scaled) > noise) | (np.abs(along) > HEARD * np.sqrt((1.0 + np.abs(scaled)) / draws))
    scaled, along = np.where(heard, np.maximum(scaled, 0.0), 0.0), np.where(heard, along, 0.0)
    return turns @ np.diag(scaled) @ turns.T / np.outer(width, width), (turns @ along) / width


class _Walk:
    """Metropolis steps over spreads, with centres and buildings integrated out."""

    def __init__(self, form: Floats, pull: Floats, width: Floats) -> None:
        self.form, self.pull, self.width = form, pull, width
        self.prior = 1.0 / (CENTRE_SHARE * width**2)

    def run(self, rng: np.random.Generator, steps: int) -> tuple[Floats, Floats, Floats]:
        """Return draws of centres and spreads, and the mean of each building."""
        number = len(self.width)
        spread: Floats = 0.5 * self.width
        step = np.full(number, 0.7)
        centres, spreads = np.empty((steps, number)), np.empty((steps, number))
        means = np.zeros(self.pull.shape)
        for k in range(-WARM, steps):
            # From scratch in each round, so that rounding does not add up.
            whole = self.form + np.diag(spread**-2)
            cover: Floats = np.linalg.inv(whole).astype(np.float64)
            sizes = -0.5 * np.linalg.slogdet(whole)[1].sum()
            now = self._state(cover, spread) + sizes
            for q in range(number):
                new = spread.copy()
                new[q] *= np.exp(step[q] * rng.standard_normal())
                luck, taken = np.log(rng.random()), False
                if LEAST_SPREAD < new[q] / self.width[q] < MOST_SPREAD:
                    change = new[q] ** -2 - spread[q] ** -2
                    column, ratio = cover[:, :, q], 1.0 + change * cover[:, q, q]
                    # One entry changes: inverses and determinants follow from its column alone.
                    outer = column[:, :, None] * column[:, None, :]
                    moved = np.asarray(cover - (change / ratio)[:, None, None] * outer, dtype=np.float64)
                    others = sizes - 0.5 * np.log(ratio).sum()
                    then = self._state(moved, new) + others
                    taken = bool(luck < then - now)
                if taken:
                    spread, cover, sizes, now = new, moved, others, then
                if k < 0:
                    step[q] *= np.exp((float(taken) - 0.4) / (1.0 + (k + WARM) / 20.0))
                    step[q] = min(max(step[q], 0.05), 3.0)
            if k >= 0:
                centre = self._centre(cover, spread, rng)
                centres[k], spreads[k] = centre, spread
                means += np.einsum("bij,bj->bi", cover, self.pull + centre / spread**2) / steps
        return centres, spreads, means

    def _parts(self, cover: Floats, spread: Floats) -> tuple[Floats, Floats]:
        """Return precision and pull of the centres, given spreads."""
        tight = spread**-2
        precision = np.diag(self.prior + len(cover) * tight) - tight[:, None] * cover.sum(axis=0) * tight
        return precision, tight * np.einsum("bij,bj->i", cover, self.pull)

    def _state(self, cover: Floats, spread: Floats) -> float:
        """Return the log posterior of spreads by their logarithms, but for the buildings' determinants."""
        precision, pull = self._parts(cover, spread)
        own = 0.5 * np.einsum("bi,bij,bj->", self.pull, cover, self.pull)
        centres = 0.5 * pull @ np.linalg.solve(precision, pull) - 0.5 * np.linalg.slogdet(precision)[1]
        # A half normal whose mean square is the share.
        before = -0.5 * (spread**2 / (SPREAD_SHARE * self.width**2)).sum() + np.log(spread).sum()
        return float(own + centres + before - len(cover) * np.log(spread).sum())

    def _centre(self, cover: Floats, spread: Floats, rng: np.random.Generator) -> Floats:
        precision, pull = self._parts(cover, spread)
        root = np.linalg.cholesky(precision)
        return np.asarray(
            np.linalg.solve(precision, pull) + np.linalg.solve(root.T, rng.standard_normal(len(pull)))
        )


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

    A building is held against centre and spread as the others have them: steps are weighed by one over what
    it alone adds to them. Where three quarters of what is known of it are the prior's, nothing is said.
    """
    found = []
    for key in pooled.keys:
        one = taught[key]
        for q in np.flatnonzero(pooled.taught & np.isfinite(one.mean)):
            variance = float(one.covariance[q, q])
            precision = 1.0 / variance - float(one.curve[q])
            if precision < 0.25 / variance:
                continue
            mean = float(one.mean[q] - one.slope[q] / precision)
            centres, spreads = pooled.centre[:, q], pooled.spread[:, q]
            apart = spreads**2 + 1.0 / precision
            without = 0.5 * ((mean - centres) ** 2 / apart + np.log(apart))
            share = np.exp(without - without.max())
            share /= share.sum()
            centre = float(share @ centres)
            width = float(share @ (spreads**2 + (centres - centre) ** 2))
            surprise = (mean - centre) / np.sqrt(width + 1.0 / precision)
            if abs(surprise) >= least:
                name = pooled.quantities[q].name
                found.append(Departs(key, name, float(np.exp(mean - centre)), float(surprise)))
    return tuple(sorted(found, key=lambda one: -abs(one.surprise)))

"""Centres and spreads of a firm, drawn given what its buildings hold.

Where a centre is drawn, the building's own rates, readiness to report, odds of a find and share that resists
are integrated out: what is left of a building then is counts. Beliefs have the shape that a fit takes them
in: a Gamma distribution of rates, points of a grid for factors, a Beta distribution of shares.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from spread.firm.house import PLACES, House, pick
from spread.firm.pooled import share_of_moments
from spread.firm.pooling import LEAST_SPREAD, MOST_SPREAD, SPREAD_SHARE, Floats, Quantity
from spread.posterior.seeing import FACTORS, ODDS
from spread.trade.priors import RATES

CENTRES, SPREADS = 121, 20
"""Points of the grids that centres and spreads are drawn from."""
FAR_APART = 1.5
"""Largest spread between buildings, of a logarithm."""
DIFFER = np.geomspace(1.0, 6.0, 10)
DIFFER_LOG = -0.5 * np.log(DIFFER) ** 2
"""How many times as far as the literature has it a firm's buildings may differ in rates and reporting, one
number for all of them, and what is believed of it. Judgement: buildings that differ in what a log tells well
differ in the rest, too; were each believed alone, a centre would be that of the buildings with most bugs."""
SHIFTS = 48
"""Steps in which centres move with the rates of all buildings, a round."""
_STEPS = (0.1, 0.3, 0.8)
_MOST_HAZARD = 500.0
_REACH = 3.5
_SPAN = 2 * 1.6448536269514722


def spreads_of(one: Quantity) -> Floats:
    """Return the spreads between buildings that a firm may have, in even steps of the logarithm."""
    return np.geomspace(LEAST_SPREAD * one.width, max(MOST_SPREAD * one.width, FAR_APART), SPREADS)


def spread_log(one: Quantity) -> Floats:
    """Return the log chance of every spread, shape (factors, spreads), by how far a firm's buildings differ.

    Half normals whose mean square is the literature's share, times the factor's square.
    """
    spreads = spreads_of(one)
    factors = DIFFER[:, None] if one.firm else np.ones((len(DIFFER), 1))
    log = np.log(spreads) - 0.5 * spreads**2 / (SPREAD_SHARE * (factors * one.width) ** 2)
    log -= log.max(axis=1, keepdims=True)
    return np.asarray(log - np.log(np.exp(log).sum(axis=1, keepdims=True)))


class Shared:
    """Centre and spread of one quantity: a grid of both, and what buildings say at each of its points."""

    def __init__(self, one: Quantity) -> None:
        self.name = one.name
        self.centres = one.centre + one.apart * np.linspace(-_REACH, _REACH, CENTRES)
        self.spreads = spreads_of(one)
        self.step = float(self.centres[1] - self.centres[0])
        apart = (self.centres - one.centre) / one.apart
        self.around, self.between = -0.5 * apart**2, spread_log(one)
        if one.name in RATES:
            self.table = np.array([gamma_of(float(s)) for s in self.spreads])
        elif one.name.startswith("share:"):
            pairs = [[share_of_moments(float(c), float(s)) for s in self.spreads] for c in self.centres]
            self.table = np.array(pairs)
        else:
            points = np.log(ODDS if one.name.startswith("odds:") else FACTORS)
            log = -0.5 * ((points - self.centres[:, None, None]) / self.spreads[:, None]) ** 2
            log -= log.max(axis=-1, keepdims=True)
            self.table = log - np.log(np.exp(log).sum(axis=-1, keepdims=True))
            self.chances = np.exp(self.table)
        self.at = (CENTRES // 2, SPREADS // 2)

    def draw(self, houses: Sequence[House], factor: int, rng: np.random.Generator) -> None:
        """Draw the centre, then the spread, given what the buildings hold; ``factor``: place in DIFFER."""
        told, (row, column) = self.told(houses), self.at
        every = slice(None)
        log = self.around + self.log(told, every, slice(column, column + 1))[:, 0]
        row = pick(log, rng)
        log = self.between[factor] + self.log(told, slice(row, row + 1), every)[0]
        self.at = (row, pick(log, rng))

    def told(self, houses: Sequence[House]) -> Floats:
        """Return what the buildings say of it: counts and exposure, counts, or likelihoods; a row each."""
        if self.name in RATES:
            r = PLACES[self.name]
            told = np.array([(house.counts[r], house.exposed[r]) for house in houses])
            return told[told[:, 1] > 0.0]
        if self.name == "share:resist":
            return np.array([house.resist for house in houses])
        if self.name.startswith("report:"):
            said = [house.report[int(self.name == "report:heavy")] for house in houses]
        else:
            said = [house.odds[self.name] for house in houses if self.name in house.odds]
        logs = np.array(said).reshape(-1, self.chances.shape[-1])
        return np.asarray(np.exp(logs - logs.max(axis=1, keepdims=True)))

    def log(self, told: Floats, rows: slice, columns: slice) -> Floats:
        """Return the log likelihood, up to a constant, of some centres (rows) and spreads (columns)."""
        if self.name in RATES:
            counts, exposed = told.T
            return of_rates(counts, exposed, self.table[columns], self.centres[rows])
        if self.name == "share:resist":
            return of_shares(told, self.table[rows, columns])
        # What no building of a narrow belief could hold has no chance left in the grid.
        return np.asarray(np.log(self.chances[rows, columns] @ told.T + 1e-300).sum(axis=-1))

    @property
    def centre(self) -> float:
        """As drawn last."""
        return float(self.centres[self.at[0]])

    @property
    def spread(self) -> float:
        """As drawn last."""
        return float(self.spreads[self.at[1]])

    @property
    def prior(self) -> Floats:
        """What a building is believed of it, as its chain takes it."""
        if self.name in RATES:
            shape, median = self.table[self.at[1]]
            return np.array([shape, median / math.exp(self.centre)])
        return np.asarray(self.table[self.at])


def of_rates(counts: Floats, exposed: Floats, table: Floats, centres: Floats) -> Floats:
    """Return the log chance of counts at every centre and spread, rates integrated out."""
    shape, median = table.T
    rate = median / np.exp(centres)[:, None]
    below = np.arange(counts.max(initial=0.0))
    rising = np.log(shape[:, None] + below) @ (counts[:, None] > below).sum(axis=0)
    both = np.log(rate[:, :, None] + exposed)
    total = rising + len(counts) * shape * np.log(rate) - shape * both.sum(axis=-1) - both @ counts
    return np.asarray(total)


def of_shares(counts: Floats, table: Floats) -> Floats:
    """Return the same of how many have it and how many have not, shares integrated out."""
    total = np.zeros(table.shape[:-1])
    a, b = table[..., 0], table[..., 1]
    yes, no = counts.T.astype(np.int64)
    for strength, number, sign in ((a, yes, 1.0), (b, no, 1.0), (a + b, yes + no, -1.0)):
        for k in range(int(number.max(initial=0))):
            total += sign * (number > k).sum() * np.log(strength + k)
    return total


def shift(houses: Sequence[House], grids: Sequence[Shared], rng: np.random.Generator) -> None:
    """Move the centres of one or two rates, and those rates of all buildings with them (Metropolis).

    Who infested whom is summed over here. Given that, centres move by a hair a draw: what came through walls
    and what through floors hold on to one another.
    """
    places = {PLACES[grid.name]: grid for grid in grids if grid.name in RATES}
    if not places:
        return
    theta = np.stack([house.chain.theta[: house.rates] for house in houses])
    of = np.repeat(np.arange(len(houses)), [len(house.shares) for house in houses])
    shares = np.concatenate([house.shares for house in houses])
    clear, hit = np.concatenate([house.worth for house in houses]).T
    parts, room = shares[:, :-1] * theta[of], shares[:, -1]
    met = (theta * np.stack([house.exposed for house in houses])).sum(axis=0)

    def likely(by: Floats) -> float:
        hazard = np.minimum(parts @ by + room, _MOST_HAZARD)
        return float(np.log(np.expm1(hazard) * hit + clear).sum() - met @ by)

    by = np.ones(theta.shape[1])
    now = likely(by)
    for turn in range(SHIFTS):
        chosen = rng.permutation(list(places))[: 1 + turn % 2]
        step = _STEPS[turn // 2 % len(_STEPS)] * rng.standard_normal(len(chosen))
        steps = [round(one / places[r].step) for r, one in zip(chosen, step, strict=True)]
        rows = [places[r].at[0] + one for r, one in zip(chosen, steps, strict=True)]
        luck = np.log(rng.random())
        if not any(steps) or min(rows) < 0 or max(rows) >= CENTRES:
            continue
        new, gain = by.copy(), 0.0
        for r, one, row in zip(chosen, steps, rows, strict=True):
            new[r] *= math.exp(one * places[r].step)
            gain += places[r].around[row] - places[r].around[places[r].at[0]]
        then = likely(new)
        if luck < then - now + gain:
            by, now = new, then
            for r, row in zip(chosen, rows, strict=True):
                places[r].at = (row, places[r].at[1])
    for house in houses:
        house.chain.theta[: house.rates] *= by


@lru_cache(maxsize=4096)
def gamma_of(width: float) -> tuple[float, float]:
    """Return shape and median of the Gamma distribution of unit rate whose 90 % range is a log-normal's."""
    low, high = 0.5, 1e5
    for _ in range(40):
        shape = math.sqrt(low * high)
        at = math.log(shape) + np.linspace(-10.0, 10.0, 2001) / math.sqrt(shape)
        chance = np.exp(shape * (at - math.log(shape)) - np.exp(at) + shape)
        below = np.cumsum(chance) - 0.5 * chance
        five, half, most = np.interp(np.array([0.05, 0.5, 0.95]) * chance.sum(), below, at)
        low, high = (shape, high) if most - five > _SPAN * width else (low, shape)
    return shape, math.exp(half)

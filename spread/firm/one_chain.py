"""All buildings of a firm in one chain: what they teach one another, with nothing taken for normal.

Every building's own sweeps, then centres and spreads of the firm given what the buildings hold, then again.
Where a centre is drawn, the building's own rates, readiness to report, odds of a find and share that resists
are integrated out: what is left of a building then is counts. They are drawn anew right after it. Beliefs
have the shape that a fit takes them in: a Gamma distribution of rates, points of a grid for factors, a Beta
distribution of shares.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache

import numba as nb
import numpy as np

from spread.building import Building
from spread.firm.pooled import quantities_of, share_of_moments
from spread.firm.pooling import LEAST_SPREAD, MOST_SPREAD, SPREAD_SHARE, Floats, Pooled, Quantity
from spread.posterior import arrays
from spread.posterior.arrays import Model, State
from spread.posterior.chain import Learning, new_kept, run
from spread.posterior.chains import Ended, shifted, start_chains
from spread.posterior.compiling import CALLED
from spread.posterior.dynamics import LEVELS, network_of
from spread.posterior.fit import FitSettings
from spread.posterior.observations import build_evidence
from spread.posterior.rates import BROUGHT_IN, FIRST_ROUTE, MIXING, arrivals, exposures
from spread.posterior.room import LEAST_UNITS, NO_ROOM, belief
from spread.posterior.seeing import (
    FACTORS,
    FIRST_ODDS,
    LIGHT,
    ODDS,
    REPORTED,
    RESIST,
    SILENT,
    resisting,
    tail_length,
)
from spread.posterior.seeing_steps import MOST
from spread.session import dynamics_of, for_log
from spread.trade.priors import RATES
from spread.trade.seeing import NEVER_FACTOR

CENTRES, SPREADS = 121, 20
"""Points of the grids that centres and spreads are drawn from."""
EACH = 4
"""Rounds for a draw of the firm that is kept; a round is a sweep of every building, then the firm.

Given the rates a sweep draws paths anew that hardly remember the last ones: to sweep several times under one
centre gains nothing, and what moves slowly is the centre with all paths."""
WARM, KEPT = 100, 600
"""Draws of the firm thrown away, and kept."""
FAR_APART = 1.5
"""Largest spread between buildings, of a logarithm."""
DIFFER = np.geomspace(1.0, 6.0, 10)
DIFFER_LOG = -0.5 * np.log(DIFFER) ** 2
"""How many times as far as the literature has it a firm's buildings may differ in rates and reporting, one
number for all of them, and what is believed of it. Judgement: buildings that differ in what a log tells well
differ in the rest, too; were each believed alone, a centre would be that of the buildings with most bugs."""
TOLD, SURER = 0.5, 0.95
"""A quantity counts as taught where the logs leave at most this part of the variance of the firm's centre,
and its buildings, likelier than not, differ by less than the literature lets any one be off; or where one
more building is known to within this part of the literature's width."""
SHIFTS = 48
"""Steps in which centres move with the rates of all buildings, a draw of the firm."""
_STEPS = (0.1, 0.3, 0.8)
_MOST_HAZARD = 500.0
_REACH = 3.5
_SPAN = 2 * 1.6448536269514722


@nb.njit(**CALLED)
def counted(
    m: Model, s: State, theta: Floats, rng: np.random.Generator, counts: Floats, exposed: Floats
) -> None:
    """Write how many arrivals each rate is given, and its exposure, into ``counts`` and ``exposed``."""
    arrivals(m, s, theta, rng, counts)
    exposures(m, s, exposed)


@nb.njit(**CALLED)
def events_of(m: Model, s: State, shares: Floats, worth: Floats) -> None:
    """Write what each event of the paths says of the rates, whoever caused it.

    ``m``, ``s``: model and state; ``shares``: shape (events, rates + 1); written: the hazard by one of each
    rate, and last by a shared room; ``worth``: shape (events, 2); written: how likely what followed is where
    the unit stayed clear, and where it was infested.
    """
    shares[:] = 0.0
    n = 0
    for i in range(s.event_count.shape[0]):
        for e in range(s.event_count[i]):
            t = s.event_week[i, e]
            shares[n, BROUGHT_IN] = 1.0
            shares[n, MIXING] = m.openness[i, t] * s.shed[t] / len(m.members)
            shares[n, shares.shape[1] - 2] = m.moving[i, t]
            for k in range(m.indptr[i], m.indptr[i + 1]):
                j = m.indices[k]
                out = m.shedding[s.x[j, t]] * m.export[j, t] * m.openness[i, t]
                for r in range(m.exposure.shape[1]):
                    shares[n, FIRST_ROUTE + r] += out * m.exposure[k, r]
            if m.members[i]:
                for j in range(len(m.members)):
                    if m.members[j] and j != i:
                        out = m.shedding[s.x[j, t]] * m.export[j, t] * m.openness[i, t]
                        shares[n, shares.shape[1] - 1] += m.room[0] * out
            k = m.treated[i, t]
            y = s.x[i, t + 1]
            worth[n, 0] = m.effects[k, 0, y] if k >= 0 else 0.0
            worth[n, 1] = m.effects[k, 1, y] if k >= 0 else 1.0
            n += 1


@dataclass(frozen=True)
class Member:
    """A building of the firm: its key, itself, the seed of its chain, and where an earlier fit ended."""

    key: str
    building: Building
    seed: int
    warm: Ended | None = None


class _House:
    """One building in the chain."""

    def __init__(self, member: Member, on: dt.date, settings: FitSettings) -> None:
        building, warm = member.building, member.warm
        network, dynamics = network_of(building.contacts), dynamics_of(replace(building, experience=None))
        weeks = for_log(settings, building.log, on).weeks
        evidence = build_evidence(building.log.current, network.units, dynamics, on=on, weeks=weeks)
        assert evidence.seeing is not None
        assert evidence.names is not None
        self.names = evidence.names
        shape, rate = (np.array(part) for part in dynamics.rate_priors)
        room = belief() if dynamics.room and network.size >= LEAST_UNITS else NO_ROOM
        self.learning = Learning(shape, rate, evidence.seeing, room)
        model = arrays.assemble(network, dynamics, evidence)._replace(effects=resisting(evidence.effects))
        ends = () if warm is None else tuple(warm.ends)
        (self.chain,) = start_chains(
            model, dynamics, evidence, number=1, seed=member.seed, learning=self.learning,
            ends=tuple(shifted(one, evidence.first_week - warm.first_week, weeks) for one in ends)
            if warm
            else (),
            rates=warm.last_rates if warm else None,
        )  # fmt: skip
        self.rates = len(shape)
        self.tail = self.chain.theta[self.rates :][: tail_length(evidence.seeing)]
        self.counts, self.exposed = np.empty(self.rates + 1), np.empty(self.rates)
        treated = evidence.treated[:, :-1] >= 0
        self.shares, self.worth = np.empty((0, self.rates + 1)), np.empty((0, 2))
        self.visited = np.flatnonzero(treated.any(axis=1))
        self.kept = new_kept(1, *evidence.shape, len(self.chain.theta))
        self.report: Floats = np.zeros((2, len(FACTORS)))
        self.odds: dict[str, Floats] = {}
        self.resist = np.zeros(2)

    def sweep(self) -> None:
        """Run the building's own chain, and gather what it says of the firm's rates."""
        chain = self.chain
        run(chain.model, chain.state, chain.theta, self.learning, chain.rng, chain.sums, self.kept)
        counted(chain.model, chain.state, chain.theta[: self.rates], chain.rng, self.counts, self.exposed)
        events = int(chain.state.event_count.sum())
        self.shares, self.worth = np.empty((events, self.rates + 1)), np.empty((events, 2))
        events_of(chain.model, chain.state, self.shares, self.worth)

    def look_back(self) -> None:
        """Gather what the paths say of all that is no rate."""
        units = len(self.chain.state.x)
        flags = self.tail[len(self.tail) - units :][self.visited]
        self.resist[:] = flags.sum(), (1.0 - flags).sum()
        self.report = self._reporting(self.tail[len(self.tail) - 2 * units : len(self.tail) - units])
        self.odds = {f"odds:{name}": self._finding(k) for k, name in enumerate(self.names.methods)}

    def _reporting(self, never: Floats) -> Floats:
        """Return the log likelihood of the readiness to report, shape (2, grid)."""
        g, x = self.learning.seeing, self.chain.state.x
        code = (never.astype(np.int64)[:, None] * 3 + g.silence) * LEVELS + x
        said = np.bincount(code.ravel(), minlength=6 * LEVELS).reshape(2, 3, LEVELS)
        chance = np.minimum(g.report[1:, None] * FACTORS, MOST)
        out = np.zeros((LEVELS - 1, len(FACTORS)))
        for flag, factor in enumerate((1.0, NEVER_FACTOR)):
            out += said[flag, SILENT, 1:, None] * np.log1p(-factor * chance)
            out += said[flag, REPORTED, 1:, None] * np.log(factor * chance)
        return np.stack([out[:2].sum(axis=0), out[2:].sum(axis=0)])

    def _finding(self, method: int) -> Floats:
        """Return the log likelihood of a method's odds, shape (grid,)."""
        g = self.learning.seeing
        levels = self.chain.state.x[g.look_unit, g.look_week]
        k = np.flatnonzero((g.look_method == method) & (levels > 0))
        a, who = levels[k], g.look_who[k]
        people = self.tail[FIRST_ODDS + len(g.method_prior) :]
        other = np.where(who >= 0, people[np.maximum(who, 0)], 1.0) if g.people else np.ones(len(k))
        chance, odds = g.look_chance[k, a][:, None], other[:, None] * ODDS
        found = odds * chance / (1.0 - chance + odds * chance)
        copied = g.look_copied[k]
        found = (1.0 - copied[:, :1]) * found + copied[:, :1] * copied[:, 1:]
        share, rest = g.look_parts[k, a, 0][:, None], g.look_parts[k, a, 1][:, None]
        yes = np.maximum(found * share, g.floor) * rest
        no = np.maximum((1.0 - found) * share, g.floor)
        return np.asarray(np.log(np.where(g.look_found[k][:, None], yes, no)).sum(axis=0))

    def expect(self, firm: dict[str, Floats]) -> None:
        """Take the firm's centres and spreads as the priors of this building's rates."""
        shape, rate = self.learning.shape.copy(), self.learning.rate.copy()
        for name, prior in firm.items():
            if name in RATES:
                shape[_PLACES[name]], rate[_PLACES[name]] = prior
        self.learning = self.learning._replace(shape=shape, rate=rate)

    def draw(self, firm: dict[str, Floats]) -> None:
        """Draw the building's own rates; the next sweep puts them into its model."""
        self.expect(firm)
        shape, rate = self.learning.shape, self.learning.rate
        drawn = self.chain.rng.standard_gamma(shape + self.counts[:-1]) / (rate + self.exposed)
        self.chain.theta[: self.rates] = np.maximum(drawn, 1e-12)

    def believe(self, firm: dict[str, Floats]) -> None:
        """Take the firm's centres and spreads as this building's priors; draw anew what is no rate."""
        g, rng, tail = self.learning.seeing, self.chain.rng, self.tail
        factors, shares, odds = g.factor_prior.copy(), g.shares.copy(), g.method_prior.copy()
        for name, prior in firm.items():
            if name.startswith("report:"):
                part = int(name == "report:heavy")
                factors[part] = prior
                tail[LIGHT + part] = FACTORS[_pick(prior + self.report[part], rng)]
            elif name == "share:resist":
                shares[1] = prior
                yes, no = rng.standard_gamma(shares[1] + self.resist)
                tail[RESIST] = min(max(yes / (yes + no), 1e-9), 1.0 - 1e-9)
            elif name in self.odds:
                place = self.names.methods.index(name.removeprefix("odds:"))
                odds[place] = prior
                tail[FIRST_ODDS + place] = ODDS[_pick(prior + self.odds[name], rng)]
        seeing = g._replace(factor_prior=factors, shares=shares, method_prior=odds)
        self.learning = self.learning._replace(seeing=seeing)

    def now(self, name: str) -> float:
        """Return a quantity of the building as the chain has it; NaN where it has none such."""
        if name in RATES:
            return math.log(self.chain.theta[_PLACES[name]])
        if name.startswith("report:"):
            return math.log(self.tail[LIGHT + int(name == "report:heavy")])
        if name == "share:resist":
            return math.log(self.tail[RESIST] / (1.0 - self.tail[RESIST]))
        if name not in self.odds:
            return math.nan
        return math.log(self.tail[FIRST_ODDS + self.names.methods.index(name.removeprefix("odds:"))])


_PLACES = {name: r for r, name in enumerate(RATES)}


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

    def draw(self, houses: Sequence[_House], factor: int, rng: np.random.Generator) -> None:
        """Draw the centre, then the spread, given what the buildings hold; ``factor``: place in DIFFER."""
        told, (row, column) = self.told(houses), self.at
        every = slice(None)
        log = self.around + self.log(told, every, slice(column, column + 1))[:, 0]
        row = _pick(log, rng)
        log = self.between[factor] + self.log(told, slice(row, row + 1), every)[0]
        self.at = (row, _pick(log, rng))

    def told(self, houses: Sequence[_House]) -> Floats:
        """Return what the buildings say of it: counts and exposure, counts, or likelihoods; a row each."""
        if self.name in RATES:
            r = _PLACES[self.name]
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


def shift(houses: Sequence[_House], grids: Sequence[Shared], rng: np.random.Generator) -> None:
    """Move the centres of one or two rates, and those rates of all buildings with them (Metropolis).

    Who infested whom is summed over here. Given that, centres move by a hair a draw: what came through walls
    and what through floors hold on to one another.
    """
    places = {_PLACES[grid.name]: grid for grid in grids if grid.name in RATES}
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


def _pick(log: Floats, rng: np.random.Generator) -> int:
    share = np.cumsum(np.exp(log - log.max()))
    return int(np.searchsorted(share, rng.random() * share[-1], side="right"))


def together(
    members: Sequence[Member],
    on: dt.date,
    *,
    quantities: Sequence[Quantity] | None = None,
    settings: FitSettings | None = None,
    seed: int = 1,
    warm: int = WARM,
    kept: int = KEPT,
    tell: Callable[[float], None] | None = None,
) -> Pooled:
    """Fit buildings and their firm in one chain.

    Parameters
    ----------
    members
        The buildings; order changes nothing but the firm's own draws.
    on
        The day of the answers.
    quantities
        What they share; everything they have if None. What is not shared is believed as in general.
    settings
        Weeks of window and threads.
    seed
        Of the firm's draws.
    warm, kept
        Draws of the firm thrown away and kept, :data:`EACH` rounds apart.
    tell
        Called with the share that is done.
    """
    rng, settings = np.random.default_rng(seed), settings or FitSettings()
    houses = [
        _House(one, on, replace(settings, weeks=one.building.settings.history_weeks)) for one in members
    ]
    methods = sorted({method for house in houses for method in house.names.methods})
    shared = tuple(quantities_of(methods) if quantities is None else quantities)
    grids = [Shared(one) for one in shared]
    rates = [grid for grid in grids if grid.name in RATES]
    others = [grid for grid in grids if grid.name not in RATES]
    centre, spread = np.empty((2, kept, len(grids)))
    means, factor = np.zeros((len(houses), len(grids))), 0
    with ThreadPoolExecutor(max_workers=max(1, settings.workers)) as pool:
        for k in range(-warm, kept):
            for _ in range(EACH):
                list(pool.map(_House.sweep, houses))
                for grid in rates:
                    grid.draw(houses, factor, rng)
                firm = {grid.name: grid.prior for grid in rates}
                for house in houses:
                    house.draw(firm)
                shift(houses, rates, rng)
                firm = {grid.name: grid.prior for grid in rates}
                for house in houses:
                    house.expect(firm)
            # What is no rate mixes well without more.
            list(pool.map(_House.look_back, houses))
            for grid in others:
                grid.draw(houses, factor, rng)
            firm = {grid.name: grid.prior for grid in others}
            for house in houses:
                house.believe(firm)
            factor = _pick(DIFFER_LOG + np.sum([grid.between[:, grid.at[1]] for grid in grids], axis=0), rng)
            if k >= 0:
                centre[k], spread[k] = np.array([(grid.centre, grid.spread) for grid in grids]).T
                means += np.array([[house.now(grid.name) for grid in grids] for house in houses]) / kept
            if tell is not None:
                tell((k + warm + 1) / (warm + kept))
    means = np.where(np.isfinite(means), means, centre.mean(axis=0))
    apart, width = (np.array([getattr(one, name) for one in shared]) for name in ("apart", "width"))
    left, between = centre.var(axis=0), (spread**2).mean(axis=0)
    alike = np.median(spread, axis=0) < width
    told = (left < TOLD * apart**2) & alike | (left + between < (SURER * width) ** 2)
    return Pooled(shared, tuple(one.key for one in members), centre, spread, means, told)

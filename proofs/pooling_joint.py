"""All buildings of a firm in one chain: the joint fit that pooling is held against.

A sweep of the sampler in every building, then centres and spreads of the firm given what the buildings hold,
then again. Rates, readiness to report, odds of a find and the share that resists are integrated out where the
firm's centres are drawn: what is left of a building then is counts, so the chain moves fast. Nothing is
taken for normal here but the spread between buildings, as :mod:`spread.firm.pooling` says it, in the shape
that a fit takes it: a Gamma distribution of rates, points of a grid for factors, a Beta distribution of
shares.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numba as nb
import numpy as np
from scipy import special, stats

from spread.building import Building
from spread.firm.pooled import quantities_of, share_of_moments
from spread.firm.pooling import CENTRE_SHARE, LEAST_SPREAD, MOST_SPREAD, SPREAD_SHARE, Quantity
from spread.posterior import arrays
from spread.posterior.arrays import Model, State
from spread.posterior.chain import Learning, new_kept, run
from spread.posterior.chains import Chain, start_chains
from spread.posterior.compiling import CALLED
from spread.posterior.dynamics import LEVELS, Floats, network_of
from spread.posterior.fit import FitSettings
from spread.posterior.observations import build_evidence
from spread.posterior.rates import arrivals, exposures, set_rates
from spread.posterior.seeing import (
    FACTORS,
    FIRST_ODDS,
    ODDS,
    QUIET,
    SILENT,
    Names,
    Seeing,
    resisting,
)
from spread.posterior.seeing_steps import MOST
from spread.session import dynamics_of, for_log
from spread.trade.priors import RATES
from spread.trade.seeing import NEVER_FACTOR

CENTRES, SPREADS = 81, 24
"""Points of the grids that centres and spreads are drawn from."""
EACH = 4
"""Sweeps of every building between two draws of the firm's centres."""


@nb.njit(**CALLED)
def counted(
    m: Model, s: State, theta: Floats, rng: np.random.Generator, counts: Floats, exposed: Floats
) -> None:
    """Write how many arrivals each rate is given, and its exposure, into ``counts`` and ``exposed``."""
    arrivals(m, s, theta, rng, counts)
    exposures(m, s, exposed)


@lru_cache(maxsize=4096)
def gamma_shape(width: float) -> float:
    """Return the shape of a Gamma distribution whose 90 % range is as wide as that of a log-normal one."""
    low, high = 0.05, 1e5
    for _ in range(50):
        middle = (low * high) ** 0.5
        span = np.log(stats.gamma.ppf(0.95, middle) / stats.gamma.ppf(0.05, middle))
        low, high = (middle, high) if span > 2 * 1.6448536269514722 * width else (low, middle)
    return float((low * high) ** 0.5)


@lru_cache(maxsize=65536)
def beta_of(mean: float, width: float) -> tuple[float, float]:
    """Return :func:`spread.firm.pooled.share_of_moments`, remembered."""
    return share_of_moments(mean, width)


class House:
    """One building in the joint chain."""

    def __init__(self, building: Building, on: dt.date, settings: FitSettings, seed: int) -> None:
        network, dynamics = network_of(building.contacts), dynamics_of(building)
        weeks = for_log(settings, building.log, on).weeks
        evidence = build_evidence(building.log.current, network.units, dynamics, on=on, weeks=weeks)
        assert evidence.seeing is not None
        assert evidence.names is not None
        self.names: Names = evidence.names
        shape, rate = (np.array(part) for part in dynamics.rate_priors)
        self.learning = Learning(shape, rate, evidence.seeing)
        model = arrays.assemble(network, dynamics, evidence)._replace(effects=resisting(evidence.effects))
        (self.chain,) = start_chains(model, dynamics, evidence, number=1, seed=seed, learning=self.learning)
        self.rates = len(shape)
        self.counts, self.exposed = np.empty(self.rates), np.empty(self.rates)
        treated = evidence.treated[:, :-1] >= 0
        self.visited = treated.any(axis=1)

    def sweep(self, sweeps: int) -> None:
        """Run the product's own chain, and count what it holds."""
        chain: Chain = self.chain
        units, weeks = chain.state.x.shape
        run(
            chain.model, chain.state, chain.theta, self.learning, chain.rng, chain.sums,
            new_kept(sweeps, units, weeks, len(chain.theta)),
        )  # fmt: skip
        counted(chain.model, chain.state, chain.theta[: self.rates], chain.rng, self.counts, self.exposed)

    @property
    def tail(self) -> Floats:
        """What is learned beside the rates."""
        return self.chain.theta[self.rates :]

    def reporting(self) -> Floats:
        """Return the log likelihood of the readiness to report, shape (2, grid)."""
        g, x = self.learning.seeing, self.chain.state.x
        units = len(x)
        never = self.tail[len(self.tail) - 2 * units : len(self.tail) - units]
        out = np.zeros((2, len(FACTORS)))
        heard = g.silence != QUIET
        for a in range(1, LEVELS):
            chance = np.minimum(g.report[a] * FACTORS, MOST)
            for flag in (0, 1):
                here = heard & (x == a) & (never == flag)[:, None]
                silent = (g.silence[here] == SILENT).sum()
                p = chance * (NEVER_FACTOR if flag else 1.0)
                out[(a - 1) // 2] += silent * np.log1p(-p) + (here.sum() - silent) * np.log(p)
        return out

    def finding(self, method: int) -> Floats:
        """Return the log likelihood of a method's odds, shape (grid,)."""
        g: Seeing = self.learning.seeing
        levels = self.chain.state.x[g.look_unit, g.look_week]
        k = np.flatnonzero((g.look_method == method) & (levels > 0))
        a = levels[k]
        who = g.look_who[k]
        first = FIRST_ODDS + len(g.method_prior)
        other = np.where(who >= 0, self.tail[first + np.maximum(who, 0)] if g.people else 1.0, 1.0)
        chance, odds = g.look_chance[k, a][:, None], other[:, None] * ODDS
        found = odds * chance / (1.0 - chance + odds * chance)
        copied = g.look_copied[k]
        found = (1.0 - copied[:, :1]) * found + copied[:, :1] * copied[:, 1:]
        share, rest = g.look_parts[k, a, 0][:, None], g.look_parts[k, a, 1][:, None]
        yes = np.maximum(found * share, g.floor) * rest
        no = np.maximum((1.0 - found) * share, g.floor)
        return np.asarray(np.log(np.where(g.look_found[k][:, None], yes, no)).sum(axis=0))

    def resisting(self) -> tuple[float, float]:
        """Return how many treated units resist, and how many do not."""
        flags = self.tail[len(self.tail) - len(self.visited) :][self.visited]
        return float(flags.sum()), float(len(flags) - flags.sum())

    def believe(self, firm: dict[str, tuple[float, float]]) -> None:
        """Take the firm's centres and spreads as this building's priors, and draw its rates anew."""
        shape, rate = self.learning.shape.copy(), self.learning.rate.copy()
        g = self.learning.seeing
        factors, shares, odds = g.factor_prior.copy(), g.shares.copy(), g.method_prior.copy()
        for name, (centre, spread) in firm.items():
            if name in RATES:
                r = list(RATES).index(name)
                shape[r] = gamma_shape(spread)
                rate[r] = stats_median(shape[r]) / np.exp(centre)
            elif name.startswith("report:"):
                factors[int(name == "report:heavy")] = on_grid(FACTORS, centre, spread)
            elif name == "share:resist":
                shares[1] = beta_of(centre, spread)
            elif name.removeprefix("odds:") in self.names.methods:
                place = self.names.methods.index(name.removeprefix("odds:"))
                odds[place] = on_grid(ODDS, centre, spread)
        seeing = g._replace(factor_prior=factors, shares=shares, method_prior=odds)
        self.learning = Learning(shape, rate, seeing)
        chain = self.chain
        drawn = chain.rng.standard_gamma(shape + self.counts) / (rate + self.exposed)
        chain.theta[: self.rates] = np.maximum(drawn, 1e-12)
        set_rates(chain.model, chain.state, chain.theta[: self.rates])


@lru_cache(maxsize=4096)
def stats_median(shape: float) -> float:
    """Return the median of a Gamma distribution of unit rate."""
    return float(stats.gamma.ppf(0.5, shape))


def on_grid(points: Floats, centre: float, spread: float) -> Floats:
    """Return log chances of the points of a grid."""
    log = -0.5 * ((np.log(points) - centre) / spread) ** 2
    return np.asarray(log - special.logsumexp(log))


@dataclass(frozen=True)
class Joint:
    """Draws of a firm's centres and spreads, shape (draws, quantities), and each building's values."""

    quantities: tuple[Quantity, ...]
    centre: Floats
    spread: Floats
    rates: Floats  # (draws, buildings, rates): logarithms


class Firm:
    """Centres and spreads, drawn from grids given what the buildings hold."""

    def __init__(self, quantities: Sequence[Quantity]) -> None:
        self.quantities = tuple(quantities)
        self.now = {one.name: (one.centre, 0.5 * one.width) for one in quantities}

    def draw(self, houses: Sequence[House], rng: np.random.Generator) -> None:
        """Draw every centre given its spread, then the spread."""
        counts = np.stack([house.counts for house in houses])
        exposed = np.stack([house.exposed for house in houses])
        reports = np.stack([house.reporting() for house in houses])
        resist = np.array([house.resisting() for house in houses])
        for one in self.quantities:
            name = one.name
            if name in RATES:
                r = list(RATES).index(name)
                self._step(one, rng, _Rates(counts[:, r], exposed[:, r]))
            elif name.startswith("report:"):
                self._step(one, rng, _Points(FACTORS, reports[:, int(name == "report:heavy")]))
            elif name == "share:resist":
                self._step(one, rng, _Shares(resist))
            else:
                method = name.removeprefix("odds:")
                have = [house for house in houses if method in house.names.methods]
                logs = np.stack([house.finding(house.names.methods.index(method)) for house in have])
                self._step(one, rng, _Points(ODDS, logs))

    def _step(self, one: Quantity, rng: np.random.Generator, of: _Rates | _Points | _Shares) -> None:
        centre, spread = self.now[one.name]
        middles = one.centre + one.width * np.linspace(-4.0, 4.0, CENTRES)
        log = np.array([of.log(c, spread) for c in middles])
        log -= 0.5 * (middles - one.centre) ** 2 / (CENTRE_SHARE * one.width**2)
        centre = float(middles[_pick(log, rng)])
        widths = one.width * np.geomspace(LEAST_SPREAD, MOST_SPREAD, SPREADS)
        log = np.array([of.log(centre, float(s)) for s in widths])
        log += np.log(widths) - 0.5 * widths**2 / (SPREAD_SHARE * one.width**2)
        self.now[one.name] = (centre, float(widths[_pick(log, rng)]))


def _pick(log: Floats, rng: np.random.Generator) -> int:
    share = np.exp(log - log.max())
    return int(np.searchsorted(np.cumsum(share), rng.random() * share.sum()))


@dataclass(frozen=True)
class _Rates:
    counts: Floats
    exposed: Floats

    def log(self, centre: float, spread: float) -> float:
        k = gamma_shape(spread)
        rate = stats_median(k) / np.exp(centre)
        some = self.counts > 0
        rising = special.gammaln(k + self.counts[some]) - special.gammaln(k)
        total = rising.sum() + len(self.counts) * k * np.log(rate)
        return float(total - ((k + self.counts) * np.log(rate + self.exposed)).sum())


@dataclass(frozen=True)
class _Points:
    points: Floats
    logs: Floats  # (buildings, points)

    def log(self, centre: float, spread: float) -> float:
        return float(special.logsumexp(self.logs + on_grid(self.points, centre, spread), axis=1).sum())


@dataclass(frozen=True)
class _Shares:
    counts: Floats  # (buildings, 2)

    def log(self, centre: float, spread: float) -> float:
        a, b = beta_of(centre, spread)
        yes, no = self.counts.T
        return float((special.betaln(a + yes, b + no) - special.betaln(a, b)).sum())


def joint(
    buildings: Sequence[Building],
    on: dt.date,
    *,
    seed: int = 1,
    warm: int = 200,
    kept: int = 800,
    window: int = 104,
) -> Joint:
    """Fit buildings and their firm in one chain; ``kept``: draws of the firm, :data:`EACH` sweeps apart."""
    rng = np.random.default_rng(seed)
    settings = replace(FitSettings(), weeks=window)
    houses = [House(one, on, settings, seed * 10_007 + k) for k, one in enumerate(buildings)]
    methods = sorted({method for house in houses for method in house.names.methods})
    firm = Firm(quantities_of(methods))
    centres, spreads, rates = [], [], []
    for k in range(-warm, kept):
        for house in houses:
            house.sweep(EACH)
        firm.draw(houses, rng)
        for house in houses:
            house.believe(firm.now)
        if k >= 0:
            now = np.array([firm.now[one.name] for one in firm.quantities])
            centres.append(now[:, 0])
            spreads.append(now[:, 1])
            rates.append([np.log(house.chain.theta[: house.rates]) for house in houses])
    return Joint(firm.quantities, np.array(centres), np.array(spreads), np.array(rates))

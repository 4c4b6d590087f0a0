"""A building in the chain over its firm: its own sweeps, and what they say of the firm."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace

import numba as nb
import numpy as np

from spread.building import Building
from spread.firm.pooling import Floats
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

PLACES = {name: r for r, name in enumerate(RATES)}
"""Where each rate stands among the parameters."""


def pick(log: Floats, rng: np.random.Generator) -> int:
    """Return a place drawn with chances that are the exponentials of ``log``, up to a factor."""
    share = np.cumsum(np.exp(log - log.max()))
    return int(np.searchsorted(share, rng.random() * share[-1], side="right"))


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


class House:
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
                shape[PLACES[name]], rate[PLACES[name]] = prior
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
                tail[LIGHT + part] = FACTORS[pick(prior + self.report[part], rng)]
            elif name == "share:resist":
                shares[1] = prior
                yes, no = rng.standard_gamma(shares[1] + self.resist)
                tail[RESIST] = min(max(yes / (yes + no), 1e-9), 1.0 - 1e-9)
            elif name in self.odds:
                place = self.names.methods.index(name.removeprefix("odds:"))
                odds[place] = prior
                tail[FIRST_ODDS + place] = ODDS[pick(prior + self.odds[name], rng)]
        seeing = g._replace(factor_prior=factors, shares=shares, method_prior=odds)
        self.learning = self.learning._replace(seeing=seeing)

    def now(self, name: str) -> float:
        """Return a quantity of the building as the chain has it; NaN where it has none such."""
        if name in RATES:
            return math.log(self.chain.theta[PLACES[name]])
        if name.startswith("report:"):
            return math.log(self.tail[LIGHT + int(name == "report:heavy")])
        if name == "share:resist":
            return math.log(self.tail[RESIST] / (1.0 - self.tail[RESIST]))
        if name not in self.odds:
            return math.nan
        return math.log(self.tail[FIRST_ODDS + self.names.methods.index(name.removeprefix("odds:"))])

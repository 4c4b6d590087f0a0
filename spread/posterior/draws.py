"""The answer of a fit: chances, joint draws, and how they move with the next door."""

from __future__ import annotations

import datetime as dt
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spread.posterior.arrays import Levels
from spread.posterior.checks import Check
from spread.posterior.diagnostics import Diagnostics
from spread.posterior.dynamics import LEVELS, Dynamics, Floats, Network
from spread.posterior.growing import grow, step
from spread.posterior.looks import look_likelihood
from spread.posterior.observations import Conditions, Evidence, report_likelihood
from spread.posterior.rates import Blame
from spread.posterior.room import Shared
from spread.posterior.seeing import Names, Odds, Seeing, Traits, odds_of
from spread.records.kinds import Record
from spread.trade import treatment
from spread.weeks import monday_of, week_of

REFIT_BELOW = 0.10  #: Share of the draws that must stay effective; under it the model is fitted again


@dataclass(frozen=True)
class Posterior:
    """Who is infested on a day, as far as the log can tell."""

    units: tuple[str, ...]  #: Unit codes in array order
    on: dt.date  #: The day of the answer
    first_week: int  #: Week number of the first column of ``weekly``
    levels: Floats  #: Shape (N, levels): chance of each level now
    weekly: Floats  #: Shape (N, T): chance of being infested in each week, given everything known at the fit
    shedding: Floats  #: Shape (N, T): what each unit is expected to shed in each week, 1 for a heavy unit
    draws: Levels  #: Shape (K, N): joint draws of the levels now
    log_weights: Floats  #: Shape (K,): log weights of the draws; zeros straight after a fit
    diagnostics: Diagnostics  #: Of the fit
    seed: int  #: Of the fit
    ends: tuple[Levels, ...] = ()  #: Last joint path (N, T) of each chain, to start the next fit from
    last_rates: Floats | None = None  #: Shape (chains, rates): where the rates of each chain ended
    #: Shape (K, rates): draws of the rates, in the order of :mod:`spread.posterior.rates`
    rates: Floats | None = None
    traits: Traits | None = None  #: Who reports, finds and resists (:mod:`spread.posterior.seeing`)
    names: Names | None = None  #: Whose odds ``traits`` has
    shared: Shared | None = None  #: A shared room that no plan shows (:mod:`spread.posterior.room`)
    prior: Seeing | None = None  #: What was believed of them before
    checks: tuple[Check, ...] = ()  #: The log held against what the fit expects of it
    totals: NDArray[np.int32] | None = None  #: Shape (K, T): units infested in each week of each draw
    blame: Blame | None = None  #: Chances of where today's infestations came from and when they began
    dynamics: Dynamics | None = None  #: The dynamics of the fit with the mean of the learned rates
    conditions: Conditions | None = None  #: Who lives where on the day of the fit
    #: Levels and shares of draws (both (N, levels)) that later answers of the day move on from
    anchor: tuple[Floats, Floats] | None = None
    late: bool = False  #: Whether something was recorded that only a refit can take in, such as an old event
    index: dict[str, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "index", {unit: i for i, unit in enumerate(self.units)})

    @property
    def chance(self) -> Floats:
        """Shape (N,): chance that each unit is infested now."""
        return np.asarray(1.0 - self.levels[:, 0])

    @cached_property
    def odds(self) -> Odds:
        """What was learned of who finds."""
        return odds_of(self.traits, self.names)

    @property
    def weights(self) -> Floats:
        """Shape (K,): weights of the draws, summing to one."""
        raw = np.exp(self.log_weights - self.log_weights.max())
        return np.asarray(raw / raw.sum())

    @property
    def effective_share(self) -> float:
        """Share of the draws that still count: 1 after a fit, less after surprising answers."""
        w = self.weights
        return float(1.0 / (len(w) * (w**2).sum()))

    @property
    def needs_refit(self) -> bool:
        """Whether the draws are worn out (:data:`REFIT_BELOW`) or something waits for a refit."""
        return self.late or self.effective_share < REFIT_BELOW

    def infested_count(self, share: float = 0.9) -> tuple[int, int, int]:
        """Return low, median and high of the number of units infested now.

        The interval is the shortest that holds the share, the lower of two equals: a count is a
        whole number, so equal tails would hold a good deal more than was asked for.

        ``share``: probability that the interval holds, at least.
        """
        return shortest((self.draws > 0).sum(axis=1), self.weights, share)

    @cached_property
    def counts(self) -> NDArray[np.int64] | None:
        """Shape (K, T): units infested in each week of each draw, the last as the draws stand now.

        None when the fit kept no totals.
        """
        if self.totals is None:
            return None
        missing = self.weekly.shape[1] - self.totals.shape[1]
        counts = np.pad(self.totals, ((0, 0), (0, missing)), mode="edge").astype(np.int64)
        # The draws have since lived on and taken in answers and treatments: the last week is as they say.
        counts[:, -1] = (self.draws > 0).sum(axis=1)
        return counts

    def trail(self, unit: str) -> tuple[tuple[dt.date, float], ...]:
        """Return (Monday, chance) of every week of the window for one unit, oldest first."""
        row = self.weekly[self.index[unit]]
        return tuple((monday_of(self.first_week + t), float(p)) for t, p in enumerate(row))

    def update(
        self,
        record: Record,
        network: Network,
        dynamics: Dynamics,
        *,
        treated_before: bool = False,
        reported_already: bool = False,
        last: Record | None = None,
    ) -> Posterior:
        """Take in one new record at once, by weighting the joint draws.

        The draws are grown for the days since :attr:`on`, weighted by the record's likelihood
        and, after a treatment, moved by its effect. Every other unit's chance moves with them;
        a record that says nothing of levels leaves every chance as it is.

        Parameters
        ----------
        record : Something that happened on :attr:`on` or later
        network, dynamics : Those of the fit
        treated_before : Whether the unit was treated before this look (old stains then count for less)
        reported_already
            Whether the unit was reported earlier in the same week: a second report then adds nothing.
        last
            The look before this one with which it may share a miss
            (:func:`spread.posterior.looks.last_looks`).
        """
        i = self.index[record.unit]
        if record.supersedes or record.when < self.on:
            return replace(self, late=True)
        # The id makes two treatments of one day independent.
        rng = np.random.default_rng(
            [self.seed, record.when.toordinal(), i, len(self.draws), zlib.crc32(record.id.encode())]
        )
        grown = self._grown(record.when, network, dynamics, rng)
        draws, log_weights = grown.draws, grown.log_weights
        if record.is_look:
            odds = self.odds.of_record(record)
            likelihood = look_likelihood(record, treated_before=treated_before, last=last, odds=odds)
            log_weights = log_weights + np.log(likelihood)[draws[:, i]]
        elif record.is_complaint and not reported_already:
            empty = self.conditions is not None and bool(self.conditions.vacant[i])
            heard = report_likelihood([record], vacant=empty)
            heard[0] *= 1.0 if empty else self.odds.nothing
            log_weights = log_weights + np.log(heard)[draws[:, i]]
        late = self.late or record.kind == "turnover"
        moved = replace(grown, log_weights=log_weights, late=late)
        if record.kind == "treatment":
            return moved._treated({i: treatment.effect_matrix(record.method)}, rng)._with_last_week(dynamics)
        levels, shares = grown._anchored()
        return replace(moved, levels=_carried(levels, shares, moved._shares()))._with_last_week(dynamics)

    def _grown(
        self, on: dt.date, network: Network, dynamics: Dynamics, rng: np.random.Generator
    ) -> Posterior:
        """Let the draws live until ``on``."""
        days = (on - self.on).days
        if not days:
            return self
        draws = grow(self.draws, network, dynamics, self.conditions, days=days, shared=self.shared, rng=rng)
        grown = replace(self, on=on, draws=draws)
        levels = _carried(self.levels, self._shares(), grown._shares())
        return replace(grown, levels=levels, anchor=(levels, grown._shares()))

    def _treated(self, effects: Mapping[int, Floats], rng: np.random.Generator) -> Posterior:
        """Apply a treatment's effect (levels, levels) to the units named by their index.

        A unit that may resist treatment gets the mean effect at the chance that it does.
        """
        levels, draws = self.levels.copy(), self.draws.copy()
        for i, whole in effects.items():
            resists = 0.0 if self.traits is None else float(self.traits.resist[i])
            effect = treatment.over_units(whole, resists)
            levels[i] = levels[i] @ effect
            draws[:, i] = step(effect[draws[:, i]], rng)
        treated = replace(self, levels=levels, draws=draws)
        return replace(treated, anchor=(levels, treated._shares()))

    def _anchored(self) -> tuple[Floats, Floats]:
        """Return levels and the draws' shares of them at one moment, from which answers move on.

        Moving from one anchor, and not from answer to answer, lets the order of a day's answers
        change nothing.
        """
        return self.anchor or (self.levels, self._shares())

    def _shares(self) -> Floats:
        """Return the weighted share of draws at each level, shape (N, levels)."""
        w = self.weights
        return np.stack([w @ (self.draws == a) for a in range(LEVELS)], axis=1)

    def _with_last_week(self, dynamics: Dynamics) -> Posterior:
        """Bring the last week in line with the levels, adding weeks that have passed since."""
        levels = self.levels
        passed = max(0, week_of(self.on) - self.first_week - self.weekly.shape[1] + 1)
        weekly = np.pad(self.weekly, ((0, 0), (0, passed)), mode="edge")
        shedding = np.pad(self.shedding, ((0, 0), (0, passed)), mode="edge")
        weekly[:, -1] = 1.0 - levels[:, 0]
        shedding[:, -1] = levels @ dynamics.shedding
        if self.conditions is not None:
            shedding[:, -1] *= self.conditions.export
        return replace(self, weekly=weekly, shedding=shedding)


def shortest(counts: NDArray[np.integer[Any]], weights: Floats, share: float = 0.9) -> tuple[int, int, int]:
    """Return low, median and high of a number that each draw counts; see :meth:`Posterior.infested_count`."""
    chance = np.bincount(counts, weights=weights)
    below = np.concatenate([[0.0], np.cumsum(chance)])
    # For each lower end the first upper end that holds enough; a hair less forgives rounding.
    upper = np.searchsorted(below, below[:-1] + share - 1e-9)
    reachable = np.flatnonzero(upper < len(below))
    low = int(reachable[np.argmin((upper - np.arange(len(upper)))[reachable])])
    return low, int(np.searchsorted(below[1:], 0.5)), int(upper[low] - 1)


def _carried(levels: Floats, before: Floats, after: Floats) -> Floats:
    """Move the smooth levels of a fit as the frequencies of its draws moved, shapes (N, levels).

    What falls falls in proportion, what rises leaves its complement in proportion: so a record
    that moves no draw moves no figure, and no ratio to a rare level is taken.
    """
    falls = np.divide(after, before, out=np.zeros_like(after), where=before > 0)
    rises = np.divide(1.0 - after, 1.0 - before, out=np.zeros_like(after), where=before < 1)
    moved = np.where(after <= before, levels * falls, 1.0 - (1.0 - levels) * rises)
    moved = np.where(after == before, levels, np.clip(moved, 0.0, 1.0))
    return np.asarray(moved / moved.sum(axis=1, keepdims=True))


def finish(posterior: Posterior, evidence: Evidence, dynamics: Dynamics) -> Posterior:
    """Make a fresh fit ready for answers.

    Treatments of the last week act at its end in the model, but they are done: they are applied here.

    ``posterior``: as the chains gave it; ``evidence``, ``dynamics``: of the fit.
    """
    rng = np.random.default_rng([posterior.seed, posterior.on.toordinal()])
    treated = np.flatnonzero(evidence.treated[:, -1] >= 0)
    effects = {int(i): evidence.effects[evidence.treated[i, -1]] for i in treated}
    ready = posterior._treated(effects, rng)
    return ready._with_last_week(dynamics)

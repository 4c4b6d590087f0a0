"""Simulated buildings: the very process that the sampler assumes, run forward.

Two ways to run it: :func:`simulate` for many replicates at once, and :class:`World`, which
stands still between weeks so that somebody can look, treat and write a log. Both take their
weekly step from :func:`advance`.

In :class:`World` every kind of decision has a random stream of its own, and every unit and
week its own numbers in it. So two programmes that start alike meet the same luck: a unit that
both look at in a week gives both the same answer if its level is the same, whatever else they did.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Dynamics, Floats, Network
from spread.posterior.looks import GRADE_OF_NOTHING
from spread.records.kinds import LEVELS as GRADES
from spread.records.kinds import MONITORS, Record
from spread.trade import biology, detection, treatment
from spread.trade.registry import LOOKING
from spread.weeks import monday_of

Levels = NDArray[np.int8]
Bools = NDArray[np.bool_]

STREAMS = ("spread", "growth", "reports", "looks", "access", "treatment", "turnover")
"""The kinds of decision that have a random stream of their own."""


def pressure_weights(network: Network, dynamics: Dynamics) -> Floats:
    """Return the weekly hazard from each heavy unit upon each other, shape (N, N); row is the source."""
    weights = network.dense(dynamics.rates) + dynamics.mixing / max(1, network.size)
    np.fill_diagonal(weights, 0.0)
    return weights


def advance(
    levels: Levels,
    weights: Floats,
    dynamics: Dynamics,
    *,
    introduction: Floats | float,
    openness: Floats | float,
    export: Floats | float,
    vacant: Bools | None,
    spread_luck: Floats,
    growth_luck: Floats,
) -> Levels:
    """Return the levels a week later, before any treatment acts.

    Parameters
    ----------
    levels : Shape (R, N): replicates, units
    weights : From :func:`pressure_weights`
    introduction, openness, export, vacant
        Shape (N,) or (R, N) or one value: of this week, as in
        :class:`spread.posterior.observations.Evidence`. ``vacant`` None is all occupied.
    spread_luck, growth_luck : Shape (R, N): uniform numbers for clear and for infested units
    """
    hazard = introduction + openness * ((dynamics.shedding[levels] * export) @ weights)
    after = (spread_luck < -np.expm1(-hazard)).astype(np.int8)
    infested = np.nonzero(levels > 0)
    empty = np.zeros(len(infested[0]), dtype=np.intp)
    if vacant is not None:
        empty = np.broadcast_to(vacant, levels.shape)[infested].astype(np.intp)
    reach = np.cumsum(dynamics.growth, axis=2)[empty, levels[infested]]
    after[infested] = _pick(reach, growth_luck[infested])
    return after


def _pick(cumulative: Floats, luck: Floats | float) -> Levels:
    """Return the level that each uniform number falls on, from rows of cumulated chances."""
    return (np.asarray(luck)[..., None] > cumulative[..., :-1]).sum(axis=-1).astype(np.int8)


def simulate(
    network: Network,
    dynamics: Dynamics,
    *,
    weeks: int,
    rng: np.random.Generator,
    start: NDArray[np.integer] | None = None,
    replicates: int = 1,
    introduction: Floats | None = None,
    openness: Floats | None = None,
    export: Floats | None = None,
    vacant: Bools | None = None,
    treated: NDArray[np.integer] | None = None,
    effects: Floats | None = None,
    end_hazard: float = 0.0,
) -> Levels:
    """Run the process forward.

    Raises ValueError when ``treated`` is given without ``effects``.

    Returned: shape (replicates, N, weeks).

    Parameters
    ----------
    network, dynamics : Contacts and rates
    weeks : Columns of the answer; the first is the start
    rng : The only source of randomness
    start : Shape (N,) or (replicates, N); None draws from :attr:`Dynamics.start`
    replicates : Independent runs, done side by side
    introduction, openness, export, vacant, treated, effects
        As in :class:`spread.posterior.observations.Evidence`, the first five of shape (N, weeks); None is
        brought-in only, 1, 1, occupied and untreated. Column ``t`` acts on the step from week ``t`` to
        the next; a treatment acts at the end of its week.
    end_hazard
        Hazard per week at which an infested unit is freed by somebody, whatever its level: a crude
        stand-in for control in buildings of which no log was published.
    """
    if treated is not None and effects is None:
        raise ValueError("treated needs effects: what each treatment does")
    size = network.size
    weights = pressure_weights(network, dynamics)
    out = np.empty((replicates, size, weeks), dtype=np.int8)
    if start is None:
        now = _pick(np.cumsum(dynamics.start), rng.random((replicates, size)))
    else:
        now = np.broadcast_to(np.asarray(start, dtype=np.int8), (replicates, size)).copy()
    freed = -math.expm1(-end_hazard)
    for t in range(weeks):
        out[:, :, t] = now
        if t == weeks - 1:
            break
        after = advance(
            now,
            weights,
            dynamics,
            introduction=dynamics.brought_in if introduction is None else introduction[:, t],
            openness=1.0 if openness is None else openness[:, t],
            export=1.0 if export is None else export[:, t],
            vacant=None if vacant is None else vacant[:, t],
            spread_luck=rng.random((replicates, size)),
            growth_luck=rng.random((replicates, size)),
        )
        if freed > 0.0:
            after[(now > 0) & (rng.random((replicates, size)) < freed)] = 0
        if treated is not None and effects is not None:
            for i in np.flatnonzero(treated[:, t] >= 0):
                reach = np.cumsum(effects[treated[i, t]], axis=1)
                after[:, i] = _pick(reach[after[:, i]], rng.random(replicates))
        now = after
    return out


@dataclass(frozen=True)
class Nature:
    """What looks find, who reports and what treatments do: the trade's numbers, or those of another world."""

    find: Callable[[str, int | None], Floats] = detection.sensitivity
    """Chance of a find by level, of a method and the days of a period."""
    report: Callable[[], Floats] = detection.report_chance
    effect: Callable[[str], Floats] = treatment.effect_matrix


class World:
    """A building that lives week by week and can be looked at, treated, moved out of and into.

    Within a week everything sees the level the week began with, and a treatment acts at its end
    (in :meth:`step`); a look on a later day of the same week makes it act before that look. Both as
    :mod:`spread.posterior.observations` reads a log.

    Parameters
    ----------
    network, dynamics : Contacts and rates
    rng : Split into one stream a kind of decision (:data:`STREAMS`); not drawn from itself
    week : Number of the first week (:mod:`spread.weeks`)
    start : Shape (N,): levels in the first week; None draws from :attr:`Dynamics.start`
    report_spread
        Residents differ: each unit's reporting chance is multiplied by a gamma number of mean 1 and this
        coefficient of variation, drawn once. 0: all alike, as the sampler assumes.
    nature : What is found, reported and ended; the trade's numbers if None

    Attributes
    ----------
    levels
        Shape (N,): hidden levels in the current week.
    week
        Number of the current week.
    vacant
        Shape (N,): whether nobody lives there.
    ended
        Shape (N,): hidden levels of the week that ended last.
    """

    def __init__(
        self,
        network: Network,
        dynamics: Dynamics,
        *,
        rng: np.random.Generator,
        week: int = 0,
        start: NDArray[np.integer] | None = None,
        report_spread: float = 0.0,
        nature: Nature | None = None,
    ) -> None:
        self.network = network
        self.nature = nature or Nature()
        self.dynamics = dynamics
        self.week = week
        self.vacant: Bools = np.zeros(network.size, dtype=bool)
        self._streams = dict(zip(STREAMS, rng.spawn(len(STREAMS)), strict=True))
        first = self._streams["growth"].random(network.size)
        drawn = _pick(np.cumsum(dynamics.start), first)
        self.levels: Levels = drawn if start is None else np.array(start, dtype=np.int8)
        self.willing = self._reporting_habits(report_spread)
        self._weights = pressure_weights(network, dynamics)
        self._weeks_vacant = np.zeros(network.size, dtype=np.int64)
        self._moved_in = np.zeros(network.size, dtype=bool)
        self.ended: Levels = self.levels.copy()
        self._treated: dict[int, list[tuple[dt.date, str]]] = {}
        self._seeds: dict[str, NDArray[np.uint64]] = {}
        self._private: dict[tuple[str, int], np.random.Generator] = {}
        self._deal()

    def _reporting_habits(self, spread: float) -> Floats:
        draws = self._streams["reports"].standard_gamma(1.0 / spread**2 if spread else 1.0, self.network.size)
        return np.asarray(draws * spread**2) if spread else np.ones(self.network.size)

    def _deal(self) -> None:
        """Give every unit its numbers of the week, in every stream."""
        for kind, stream in self._streams.items():
            self._seeds[kind] = stream.integers(0, 2**63, self.network.size, dtype=np.uint64)
        self._private.clear()

    def luck(self, kind: str, unit: str) -> np.random.Generator:
        """Return the generator of one unit, kind of decision and week; asked again, it goes on."""
        key = (kind, self.network.index[unit])
        if key not in self._private:
            self._private[key] = np.random.default_rng(int(self._seeds[kind][key[1]]))
        return self._private[key]

    def uniform(self, kind: str) -> Floats:
        """Return a uniform number of this week for every unit, shape (N,); asked again, the same."""
        return np.asarray((self._seeds[kind] >> np.uint64(10)) / 2.0**53)

    def level_of(self, unit: str) -> int:
        """Return the hidden level of a unit, 0 to 4."""
        return int(self.levels[self.network.index[unit]])

    def move_out(self, unit: str) -> None:
        """Let the people of a unit leave; it stands empty from this week on."""
        i = self.network.index[unit]
        self.vacant[i] = True
        self._weeks_vacant[i] = 0

    def move_in(self, unit: str) -> None:
        """Let people move in this week, with what they may bring."""
        i = self.network.index[unit]
        self.vacant[i] = False
        self._moved_in[i] = True

    def treat(self, unit: str, method: str, *, when: dt.date | None = None) -> None:
        """Treat a unit this week (on its Monday if no day is given).

        Several methods act one after the other in the order of their names.
        """
        self._treated.setdefault(self.network.index[unit], []).append((when or monday_of(self.week), method))

    def _act(self, i: int, methods: Iterable[str], levels: Levels) -> None:
        """Let treatments work on one unit."""
        rng = self.luck("treatment", self.network.units[i])
        for method in sorted(methods):
            levels[i] = _pick(np.cumsum(self.nature.effect(method)[levels[i]]), rng.random())

    def _act_before(self, i: int, day: dt.date) -> None:
        """Let the treatments of earlier days of the week work before a look."""
        earlier = [method for when, method in self._treated.get(i, ()) if when < day]
        if earlier:
            self._act(i, earlier, self.levels)
            self._treated[i] = [(when, method) for when, method in self._treated[i] if when >= day]

    def nobody_opens(self, unit: str, chance: float) -> bool:
        """Return whether a knock this week finds nobody home."""
        return bool(self.luck("access", unit).random() < chance)

    def reports(self) -> list[str]:
        """Return the units whose residents (or, if empty, staff) report bugs this week."""
        chance = np.where(
            self.vacant,
            detection.vacant_report_chance()[self.levels],
            self.nature.report()[self.levels] * self.willing,
        )
        return [self.network.units[i] for i in np.flatnonzero(self.uniform("reports") < chance)]

    def look(
        self,
        unit: str,
        method: str,
        *,
        when: dt.date | None = None,
        id: str = "look",  # noqa: A002  (the record's own word)
        days: int | None = None,
        by: str = "",
        unsure: bool = False,
    ) -> Record:
        """Look at a unit and write down what the look gives.

        Find, false find and grade are drawn from the tables that
        :func:`spread.posterior.looks.look_likelihood` reads.

        Parameters
        ----------
        unit, method : Where and how
        when : The day; the week's Monday if not given
        id, by : As in :class:`~spread.records.kinds.Record`
        days : Length of a monitor period
        unsure
            Whether some looks end unsure (:func:`spread.trade.detection.unsure_chance`). The likelihood
            of a yes or a no leaves those out, so this departs from it a little.
        """
        rng = self.luck("looks", unit)
        draws = rng.random(3)
        day = when or monday_of(self.week)
        self._act_before(self.network.index[unit], day)
        level = self.level_of(unit)
        sign = LOOKING[method].usual_sign
        evidence = frozenset({sign} if sign else ())
        chances = self.nature.find(method, days)
        chances[0] = detection.false_positive(method, evidence, treated_before=False)
        kind = "monitor" if method in MONITORS else "inspection"
        if unsure and draws[2] < detection.unsure_chance()[level]:
            return Record(id, day, unit, kind, method, "unsure", days=days, by=by)
        if draws[0] >= chances[level]:
            return Record(id, day, unit, kind, method, "no", days=days, by=by)
        if "live" not in evidence:
            return Record(id, day, unit, kind, method, "yes", evidence=evidence, days=days, by=by)
        grades = GRADE_OF_NOTHING if level == 0 else detection.GRADE_GIVEN_LEVEL[level - 1]
        grade = int(_pick(np.cumsum(grades), draws[1]))
        signs = {"eggs": 0.3, "skins": 0.5, "stains": 0.6} if kind == "inspection" else {"skins": 0.15}
        seen = evidence | {sign for sign, share in signs.items() if level > 1 and rng.random() < share}
        return Record(id, day, unit, kind, method, "yes", GRADES[grade], _count(grade, rng), seen, days, by)

    def step(self) -> None:
        """Let a week pass: spread and growth first, then the week's treatments."""
        d = self.dynamics
        fresh = self.vacant & (self._weeks_vacant < d.vacant_source_weeks)
        after = advance(
            self.levels[None],
            self._weights,
            d,
            introduction=d.brought_in + d.move_in * self._moved_in,
            openness=np.where(self.vacant, d.vacant_target, 1.0),
            export=np.where(fresh, d.vacant_source, 1.0),
            vacant=self.vacant,
            spread_luck=self.uniform("spread")[None],
            growth_luck=self.uniform("growth")[None],
        )[0]
        for i, treatments in self._treated.items():
            self._act(i, (method for _, method in treatments), after)
        self.ended, self.levels = self.levels, after
        self._weeks_vacant = np.where(self.vacant, self._weeks_vacant + 1, 0)
        self._moved_in[:] = False
        self._treated.clear()
        self.week += 1
        self._deal()


def _count(grade: int, rng: np.random.Generator) -> int:
    """Return a count of bugs inside the class of a grade (0 trace to 3 heavy), even on a log scale."""
    low, high = biology.COUNT_CLASSES[grade]
    top = high or 200
    return min(top, int(low * ((top + 1) / low) ** rng.random()))

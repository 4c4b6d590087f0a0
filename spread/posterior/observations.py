"""Records turned into what the sampler reads: likelihoods, treatments, occupancy.

Every record multiplies a likelihood into its unit and week (``model.md`` 4). Silence is
evidence too: an occupied unit that nobody reported in a finished week is a little more
likely to be clear. Three rules keep that from being over-read:

- weeks before the first record of the log say nothing, for nobody was keeping it;
- after a report, a find or a treatment the unit is already in hand, so silence says
  nothing for :data:`REPORT_HOLD_WEEKS`;
- the running week says nothing until it is over.

A treatment acts at the end of its week. A look on a later day of that week saw what the treatment
left, so the treatment, and what came before it, then counts as done at the end of the week before.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import LEVELS, Dynamics, Floats
from spread.posterior.looks import Look, last_looks, take_apart
from spread.posterior.seeing import QUIET, REPORTED, SILENT, Names, Seeing, gather
from spread.records.kinds import FROM_A_LIST, Record
from spread.records.repeats import repeats
from spread.trade import detection, treatment
from spread.weeks import week_of

REPORT_HOLD_WEEKS = 8
"""Weeks after a report, find or treatment in which silence is no evidence (judgement, no source)."""

WEEK_FLOOR = 1e-12
"""Least likelihood of a level in one week, relative to the likeliest level, all its records together."""


class Conditions(NamedTuple):
    """What holds for each unit in one week; arrays of shape (N,), meanings as in :class:`Evidence`."""

    vacant: NDArray[np.bool_]
    introduction: Floats
    openness: Floats
    export: Floats


@dataclass(frozen=True)
class Evidence:
    """What is known of ``N`` units over ``T`` weeks."""

    first_week: int  #: Week number of column 0; the last column holds the day ``on``
    likelihood: Floats  #: Shape (N, T, levels), all positive
    treated: NDArray[np.int64]  #: Shape (N, T): index into ``effects``, or -1 for a week without treatment
    effects: Floats  #: Shape (kinds, levels, levels): what a treatment does at the end of its week
    vacant: NDArray[np.bool_]  #: Shape (N, T): whether nobody lives there
    introduction: Floats  #: Shape (N, T): hazard from outside, brought in and moved in
    openness: Floats  #: Shape (N, T): factor on the pressure upon the unit
    export: Floats  #: Shape (N, T): factor on what the unit sheds
    seeing: Seeing | None = None  #: What else a log teaches: who reports, finds and resists
    names: Names | None = None  #: Whose odds ``seeing`` has

    @property
    def now(self) -> Conditions:
        """What holds for each unit in the last week."""
        return Conditions(
            self.vacant[:, -1], self.introduction[:, -1], self.openness[:, -1], self.export[:, -1]
        )

    @property
    def shape(self) -> tuple[int, int]:
        """Units and weeks."""
        return self.treated.shape[0], self.treated.shape[1]


def report_likelihood(records: Sequence[Record], *, vacant: bool) -> Floats:
    """Return P(reported in a week | level), shape (levels,), for that week's reports.

    Several reports in a week count once: they come from the same household and day.
    """
    chance = (detection.vacant_report_chance() if vacant else detection.report_chance()).copy()
    chance[0] *= min(detection.report_false_factor(record.evidence) for record in records)
    return np.asarray(chance, dtype=np.float64)


def build_evidence(
    records: Iterable[Record], units: Sequence[str], dynamics: Dynamics, *, on: dt.date, weeks: int = 104
) -> Evidence:
    """Gather the current records of a building into arrays.

    Parameters
    ----------
    records : Current records (corrections applied); those after ``on`` are left out
    units : Unit codes in array order
    dynamics : For the hazards that occupancy changes
    on : The day the answer is for
    weeks
        Length ``T`` of the window. Older records still tell whether a unit was treated before, whether it
        stands empty and when the log began.
    """
    index = {unit: i for i, unit in enumerate(units)}
    # Whoever moves in does so after the last ones moved out, if both are logged for one day.
    past = sorted(
        (r for r in records if r.when <= on and r.unit in index),
        key=lambda r: (r.when, r.kind, r.method == "moved-in", r.method, r.id),
    )
    again = repeats(past)
    past = [record for record in past if record.id not in again]
    last = week_of(on)
    first = last - weeks + 1
    shape = (len(units), weeks)

    vacant, fresh, moved_in = _occupancy(past, index, first, weeks, dynamics.vacant_source_weeks)
    introduction = np.full(shape, dynamics.brought_in)
    introduction[moved_in] += dynamics.move_in
    openness = np.where(vacant, dynamics.vacant_target, 1.0)
    export = np.ones(shape)
    export[fresh] = dynamics.vacant_source

    likelihood = np.ones((*shape, LEVELS))
    silence_counts = np.zeros(shape, dtype=bool)
    begun = next((r for r in past if not (r.kind == "turnover" and r.by == FROM_A_LIST)), None)
    if begun is not None:
        silence_counts[:, max(0, week_of(begun.when) - first) : weeks - 1] = True
    treated_on: dict[int, dt.date] = {}
    plans: dict[tuple[int, int], list[str]] = {}
    reports: dict[tuple[int, int], list[Record]] = {}
    looked_after = _treatments_looked_after(past)
    looks: list[tuple[int, int, Record, Look]] = []
    before = last_looks(past)
    for record in past:
        i, t = index[record.unit], week_of(record.when) - first
        if record.when <= looked_after.get((record.unit, week_of(record.when)), dt.date.min):
            t -= 1
        if record.kind == "treatment":
            treated_on.setdefault(i, record.when)
            if t >= 0:
                plans.setdefault((i, t), []).append(record.method)
        elif record.is_look and t >= 0:
            earlier = i in treated_on and treated_on[i] < record.when
            look = take_apart(record, treated_before=earlier, last=before.get(record.id))
            looks.append((i, t, record, look))
        elif record.is_complaint and t >= 0:
            reports.setdefault((i, t), []).append(record)
        if record.kind == "treatment" or record.is_complaint or record.found == "yes":
            silence_counts[i, max(0, t) : max(0, t + REPORT_HOLD_WEEKS)] = False
    static, said = _hear(reports, silence_counts, vacant, likelihood)
    treated, effects = _effects(plans, shape)
    # Where levels never report, as benchmarks try, there is no readiness to learn.
    learned = gather(looks, static, said, len(effects), dynamics.start, dynamics.believed)
    seeing, names = learned if detection.report_chance().all() else (None, None)
    for i, t, _, look in looks:
        likelihood[i, t] *= look.likelihood()
    # Hundreds of contradictory rows in one week must not underflow to an undefined posterior.
    likelihood = np.maximum(likelihood, WEEK_FLOOR * likelihood.max(axis=2, keepdims=True))
    return Evidence(
        first, likelihood, treated, effects, vacant, introduction, openness, export, seeing, names
    )


def _hear(
    reports: dict[tuple[int, int], list[Record]],
    silence_counts: NDArray[np.bool_],
    vacant: NDArray[np.bool_],
    likelihood: Floats,
) -> tuple[Floats, NDArray[np.int8]]:
    """Multiply reports and silence into ``likelihood``; return it without what is learned, and where."""
    chance = detection.report_chance()
    said = np.where(silence_counts & ~vacant, SILENT, QUIET).astype(np.int8)
    likelihood[silence_counts & vacant] *= 1.0 - detection.vacant_report_chance()
    static = likelihood.copy()
    likelihood[said == SILENT] *= 1.0 - chance
    for (i, t), rows in reports.items():
        heard = report_likelihood(rows, vacant=bool(vacant[i, t]))
        likelihood[i, t] *= heard
        if vacant[i, t]:
            static[i, t] *= heard
        else:
            said[i, t] = REPORTED
            static[i, t, 0] *= heard[0] / max(chance[0], 1e-12)
    return static, said


def _treatments_looked_after(past: Sequence[Record]) -> dict[tuple[str, int], dt.date]:
    """Return, by unit and week, the day of the last treatment that was looked after later in the week."""
    treated: dict[tuple[str, int], dt.date] = {}
    days: dict[tuple[str, int], dt.date] = {}
    for record in past:
        where = (record.unit, week_of(record.when))
        if record.kind == "treatment":
            treated[where] = record.when
        elif record.is_look and where in treated and treated[where] < record.when:
            days[where] = treated[where]
    return days


def _occupancy(
    past: Sequence[Record], index: dict[str, int], first: int, weeks: int, newly: int
) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which unit-weeks stand empty, which have done so for less than ``newly`` weeks, and move-ins."""
    vacant = np.zeros((len(index), weeks), dtype=bool)
    fresh = np.zeros_like(vacant)
    moved_in = np.zeros_like(vacant)
    for record in past:
        if record.kind != "turnover":
            continue
        i, t = index[record.unit], week_of(record.when) - first
        left = record.method == "moved-out"
        vacant[i, max(0, t) :] = left
        fresh[i, max(0, t) : max(0, t + newly)] = left
        if not left and t >= 0:
            moved_in[i, t] = True
    return vacant, fresh, moved_in


def _effects(
    plans: dict[tuple[int, int], list[str]], shape: tuple[int, int]
) -> tuple[NDArray[np.int64], Floats]:
    """Return the treatment index of every unit-week and the distinct effects.

    Several treatments in one week act one after the other in the order of their names, so
    that the order of the rows changes nothing.
    """
    treated = np.full(shape, -1, dtype=np.int64)
    kinds: dict[tuple[str, ...], int] = {}
    for where, methods in plans.items():
        treated[where] = kinds.setdefault(tuple(sorted(methods)), len(kinds))
    effects = [reduce(np.matmul, map(treatment.effect_matrix, names)) for names in kinds]
    return treated, np.array(effects or [np.eye(LEVELS)])

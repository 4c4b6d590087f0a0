"""What a log says of the months of an accepted programme, counted as its runs were counted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from spread.decisions.month.change import answers
from spread.decisions.standing import Standing, is_find, old_signs, standing_of
from spread.decisions.view import View
from spread.posterior.draws import shortest
from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.accepted import COUNTED, Accepted, counted, paid_so_far
from spread.programmes.rules import RELAPSE_WEEKS
from spread.programmes.spent import counted_work
from spread.records.kinds import Record
from spread.records.repeats import repeats
from spread.weeks import week_of


@dataclass(frozen=True)
class Actual:
    """The months of an accepted programme that are over, M of them, as the log has them today."""

    #: By quantity of :data:`spread.programmes.accepted.COUNTED`: up to the end of each month
    counts: Mapping[str, NDArray[np.int64]]
    paid: tuple[float, ...]  #: By the accepted fees or prices, up to the end of each month
    #: Number infested at the end of each month, draw by draw; empty where the fit does not reach back so far
    infested: tuple[NDArray[np.int64], ...]
    weights: Floats  #: Of the draws
    settled: bool  #: Whether the chains of the fit agree
    looked: int  #: Units looked at since the acceptance with an answer that proves something
    #: prepared, unprepared: Treatment visits whose home was ready, and was not, by month and of those where
    #: somebody said
    prepared: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    unprepared: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))

    @property
    def months(self) -> int:
        """How many months are over."""
        return len(self.paid)

    def band(self, month: int) -> tuple[int, int, int] | None:
        """Return low, middle and high of the number infested at the end of a month; 90 % between the ends."""
        draws = self.infested[month - 1]
        return shortest(draws, self.weights) if len(draws) else None


def actual_of(view: View, accepted: Accepted) -> Actual:
    """Return what a building's log says of an accepted programme, as known on the day of the view."""
    days = [accepted.day(month) for month in range(1, accepted.over(view.on) + 1)]
    again = repeats(view.log.current)
    rows = {unit: [r for r in view.log.of(unit, view.on) if r.id not in again] for unit in view.network.units}
    since, work = accepted.on + dt.timedelta(days=1), _once_a_day(rows)
    by_month, reports = np.zeros((len(days), c.WIDTH), np.int64), np.zeros(len(days), np.int64)
    events = [(row, *_signs(row, own)) for own in rows.values() for row in own if row.when >= since]
    visits = _visits(rows, since)
    for month, until in enumerate(days):
        counts = counted_work(work, since, until, encase=accepted.encases)
        counts[c.VISITS] = sum(day <= until for _, day in visits)
        for row, find, relapse, complaint in events:
            if row.when <= until:
                counts[c.FINDS] += find
                counts[c.RELAPSES] += relapse
                reports[month] += complaint
                counts[c.MOVE_INS] += row.kind == "turnover" and row.method != "moved-out"
        shut = {(r.unit, r.when, r.method) for own in rows.values() for r in own if r.kind == "no-access"}
        for _, day, method in shut:
            counts[c.REFUSALS if method == "refused" else c.SHUT_DOORS] += since <= day <= until
        by_month[month] = counts
    treated = [r for own in rows.values() for r in own if r.kind == "treatment" and r.when >= since]
    said = [(r.when, r.job.prepared) for r in treated if r.job is not None and r.job.prepared]
    ready, not_ready = (
        np.array([sum(day <= until and (how == "yes") == want for day, how in said) for until in days], int)
        for want in (True, False)
    )
    return Actual(
        {name: counted(by_month, name) for name in COUNTED} | {"reports": reports},
        tuple(paid_so_far(counts, accepted.ends[month], accepted) for month, counts in enumerate(by_month)),
        tuple(_infested(view, day) for day in days),
        view.posterior.weights,
        view.posterior.diagnostics.good,
        len({r.unit for own in rows.values() for r in own if r.when >= since and answers(r)}),
        ready,
        not_ready,
    )


def _infested(view: View, day: dt.date) -> NDArray[np.int64]:
    counts, place = view.posterior.counts, week_of(day) - view.posterior.first_week
    if counts is None or place < 0:
        return np.zeros(0, np.int64)
    return np.asarray(counts[:, min(place, counts.shape[1] - 1)], dtype=np.int64)


def _once_a_day(rows: Mapping[str, Sequence[Record]]) -> list[Record]:
    """Return all rows, a second treatment of a unit on one day left out: a run counts visits."""
    seen: set[tuple[str, dt.date]] = set()
    found = []
    for own in rows.values():
        for row in own:
            if row.kind == "treatment":
                if (row.unit, row.when) in seen:
                    continue
                seen.add((row.unit, row.when))
            found.append(row)
    return found


def _visits(rows: Mapping[str, Sequence[Record]], since: dt.date) -> set[tuple[str, dt.date]]:
    """Return the days on which somebody stood at each door; a monitor is set and read."""
    visits = set()
    for unit, own in rows.items():
        for row in own:
            if row.is_look or row.kind in ("treatment", "no-access"):
                visits |= {(unit, row.when), (unit, row.began)}
    return {visit for visit in visits if visit[1] >= since}


def _signs(row: Record, own: Sequence[Record]) -> tuple[bool, bool, bool]:
    """Return whether a row finds what was not known of, whether again, and whether it is a new report.

    A unit under treatment is found once: its next find is of the same course, and a complaint of it is in
    hand, as runs have it.
    """
    find = is_find(row) and row.id not in old_signs(own)
    if not (find or row.is_complaint):
        return False, False, False
    before: Standing = standing_of([r for r in own if (r.when, r.id) < (row.when, row.id)], row.when)
    if before.status != "look":
        return False, False, False
    course = before.last_treatment
    again = find and course is not None and before.last_look is not None
    again &= before.last_look is not None and (row.when - before.last_look.when).days <= 7 * RELAPSE_WEEKS
    return find, again, row.is_complaint

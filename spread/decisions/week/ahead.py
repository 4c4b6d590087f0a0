"""A manager's week: what is late, what falls due on which day, and what has no date. Pure.

Duties of the rule set, notices of entry that go before them, and visits of the follow-up come together
by day; what is the same for several units is one line with all of them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal

from spread.decisions.case.followup import FollowUp
from spread.decisions.duties.deadlines import When, day_of
from spread.decisions.duties.owed import Duty
from spread.facts import Fact

DAYS = 7  #: Today and the six days after it


@dataclass(frozen=True, slots=True)
class Owed(Fact):
    """One thing to do, in all the units that it is owed in on one day."""

    kind: Literal["duty", "notice", "visit"]  #: ``duty``, ``notice`` (of entry, before a duty) or ``visit``
    #: The duty or the visit of each unit, in plan order; all of one rule and day, or of one kind of visit
    units: tuple[Duty | FollowUp, ...]


@dataclass(frozen=True, slots=True)
class Week:
    """What a manager has to see to."""

    on: dt.date  #: The first day
    late: tuple[Owed, ...]  #: What should have been done before it
    #: Every day of the week with what falls due on it, which may be nothing
    days: tuple[tuple[dt.date, tuple[Owed, ...]], ...]
    undated: tuple[Owed, ...]  #: Duties to which the rule gives no date
    later: int  #: How many duties and visits fall due after the week

    @property
    def empty(self) -> bool:
        """Whether nothing is late, due or undated."""
        return not (self.late or self.undated or any(owed for _, owed in self.days))


def week_ahead(
    owed: Iterable[Duty],
    visits: Iterable[FollowUp],
    on: dt.date,
    index: Callable[[str], int] = hash,
    *,
    days: int = DAYS,
) -> Week:
    """Bring duties and visits together by day.

    Returned: a duty is late from the day after its due day; a visit from the day after its window. A visit
    whose window opens in the week stands on the day to aim for, or on the nearest day of the week.

    Parameters
    ----------
    owed : Duties of a day (:func:`spread.decisions.duties.owed.duties`); those done are left out
    visits : Follow-up of units (:func:`spread.decisions.case.followup.followups`)
    on : The first day
    index : Place of a unit in the building, for the order within a line
    days : Length of the week
    """
    last = on + dt.timedelta(days=days - 1)
    found: dict[tuple[dt.date | None, bool], list[Owed]] = {}
    later = 0

    def put(day: dt.date | None, one: Owed, *, late: bool = False) -> int:
        if day is not None and day > last and not late:
            return 1
        found.setdefault((None if late else day, late), []).append(one)
        return 0

    for duty in owed:
        if duty.status == "done":
            continue
        later += put(_day(duty.due), Owed("duty", (duty,)), late=duty.late)
        if duty.notice_by is not None and not duty.notice_proof and on <= duty.notice_by <= last:
            put(duty.notice_by, Owed("notice", (duty,)))
    for one in visits:
        if one.visit is not None:
            late = one.visit.status == "overdue"
            aim = one.visit.target if one.visit.earliest > last else min(one.visit.target, last)
            later += put(max(on, aim), Owed("visit", (one,)), late=late)
    lines = {key: _joined(same, index) for key, same in found.items()}
    week = [on + dt.timedelta(days=ahead) for ahead in range(days)]
    return Week(
        on=on,
        late=lines.get((None, True), ()),
        days=tuple((day, lines.get((day, False), ())) for day in week),
        undated=lines.get((None, False), ()),
        later=later,
    )


def _day(due: When | None) -> dt.date | None:
    return None if due is None else day_of(due)


def _asks(owed: Owed) -> tuple[object, ...]:
    """Return what lines of one day have in common where they are the same thing to do."""
    first = owed.units[0]
    if isinstance(first, FollowUp):
        return owed.kind, first.visit and first.visit.kind
    asked = first.deadline if owed.kind == "duty" else (first.notice, first.deadline.origin)
    return owed.kind, asked, first.due if owed.kind == "duty" else first.notice_by


def _joined(same: Iterable[Owed], index: Callable[[str], int]) -> tuple[Owed, ...]:
    """Join lines that ask for the same by the same day and rule, in their order."""
    lines: dict[tuple[object, ...], Owed] = {}
    for one in same:
        known = lines.get(_asks(one))
        lines[_asks(one)] = one if known is None else replace(known, units=known.units + one.units)
    return tuple(
        replace(line, units=tuple(sorted(line.units, key=lambda one: index(one.unit))))
        for line in lines.values()
    )

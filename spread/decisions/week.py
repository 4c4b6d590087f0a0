"""A manager's week: what is late, what falls due on which day, and what has no date. Pure.

Duties of the rule set, notices of entry that go before them, and visits of the follow-up come together
by day; what is the same for several units is one line with all of them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from spread.decisions.case.followup import FollowUp
from spread.decisions.case.visits import KINDS as VISITS
from spread.decisions.case.visits import days_late
from spread.decisions.duties.deadlines import When, day_of
from spread.decisions.duties.owed import Duty
from spread.trade.rule_set import STEPS
from spread.weeks import speak_date

DAYS = 7
"""Today and the six days after it."""


@dataclass(frozen=True, slots=True)
class UnitOwed:
    """One unit of a line.

    Parameters
    ----------
    unit
        Unit code.
    why
        Why it is owed there, in a sentence.
    state
        What stands in the way or how late it is; empty if neither.
    """

    unit: str
    why: str
    state: str = ""


@dataclass(frozen=True, slots=True)
class Owed:
    """One thing to do, in all the units that it is owed in on one day.

    Parameters
    ----------
    kind
        ``duty``, ``notice`` or ``visit``.
    title
        What to do.
    units
        Where.
    by
        Until when, in words; empty where there is no date.
    rule
        How the rule says it, and where it stands; empty for a visit, which no rule set asks for.
    """

    kind: str
    title: str
    units: tuple[UnitOwed, ...]
    by: str = ""
    rule: str = ""


@dataclass(frozen=True, slots=True)
class Week:
    """What a manager has to see to.

    Parameters
    ----------
    on
        The first day.
    late
        What should have been done before it.
    days
        Every day of the week with what falls due on it, which may be nothing.
    undated
        Duties to which the rule gives no date.
    later
        How many duties and visits fall due after the week.
    """

    on: dt.date
    late: tuple[Owed, ...]
    days: tuple[tuple[dt.date, tuple[Owed, ...]], ...]
    undated: tuple[Owed, ...]
    later: int

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

    Parameters
    ----------
    owed
        Duties of a day (:func:`spread.decisions.duties.owed.duties`); those done are left out.
    visits
        Follow-up of units (:func:`spread.decisions.case.followup.followups`).
    on
        The first day.
    index
        Place of a unit in the building, for the order within a line.
    days
        Length of the week.

    Returns
    -------
    Week
        A duty is late from the day after its due day; a visit from the day after its window. A visit whose
        window opens in the week stands on the day to aim for, or on the nearest day of the week.
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
        later += put(_day(duty.due), _duty(duty, on), late=duty.late)
        if duty.notice_by is not None and not duty.notice_proof and on <= duty.notice_by <= last:
            put(duty.notice_by, _notice(duty))
    for one in visits:
        if one.visit is not None:
            late = one.visit.status == "overdue"
            aim = one.visit.target if one.visit.earliest > last else min(one.visit.target, last)
            later += put(max(on, aim), _visit(one, on), late=late)
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


def _duty(duty: Duty, on: dt.date) -> Owed:
    step = STEPS[duty.step]
    title = step[0].upper() + step[1:] + (" neighbours" if duty.of == "neighbours" else "")
    by = "" if duty.due is None else _by(duty.due)
    told = ", ".join(filter(None, [duty.when_words, duty.who and f"by {duty.who}"]))
    rule = f"{told[:1].upper()}{told[1:]}. {duty.origin}."
    place = f"{duty.place}; " if duty.place else ""
    where = UnitOwed(duty.unit, f"{place}{duty.because_words}", _state(duty, on))
    return Owed("duty", title, (where,), by, rule)


def _by(due: When) -> str:
    return speak_date(day_of(due)) + (f", {due:%H:%M}" if isinstance(due, dt.datetime) else "")


def _state(duty: Duty, on: dt.date) -> str:
    parts = []
    if duty.late and duty.due is not None:
        parts.append(days_late((on - day_of(duty.due)).days))
    if duty.attempts:
        tried = "once" if len(duty.attempts) == 1 else f"{len(duty.attempts)} times"
        parts.append(f"tried {tried} without access")
    if duty.notice and not duty.notice_proof:
        parts.append(
            f"notice of entry {duty.notice}"
            if duty.notice_by is None or duty.notice_by >= on
            else f"no notice of entry on record; the notice was due by {speak_date(duty.notice_by)}"
        )
    return ", ".join(parts)


def _notice(duty: Duty) -> Owed:
    step = STEPS[duty.step]
    by = "" if duty.notice_by is None else speak_date(duty.notice_by)
    due = "" if duty.due is None else f" by {_by(duty.due)}"
    why = UnitOwed(duty.unit, f"to {step}{due}")
    rule = f"{duty.notice[:1].upper()}{duty.notice[1:]} entry. {duty.origin}."
    return Owed("notice", "Give notice of entry", (why,), by, rule)


def _visit(one: FollowUp, on: dt.date) -> Owed:
    visit = one.visit
    assert visit is not None
    title = VISITS[visit.kind]
    window = f"on time from {speak_date(visit.earliest)} to {speak_date(visit.latest)}"
    state = days_late((on - visit.latest).days) if visit.status == "overdue" else ""
    why = f"{one.title}; {window}"
    return Owed("visit", title[0].upper() + title[1:], (UnitOwed(one.unit, why, state),))


def _joined(same: Iterable[Owed], index: Callable[[str], int]) -> tuple[Owed, ...]:
    """Join lines that ask for the same by the same day and rule; duties first, then notices and visits."""
    lines: dict[tuple[str, str, str, str], Owed] = {}
    for one in same:
        key = (one.kind, one.title, one.by, one.rule)
        known = lines.get(key)
        lines[key] = one if known is None else replace(known, units=known.units + one.units)
    return tuple(
        replace(line, units=tuple(sorted(line.units, key=lambda unit: index(unit.unit))))
        for line in lines.values()
    )

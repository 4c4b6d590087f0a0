"""A line of the week in words: what to do, by when, in which units, and what stands in the way."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from spread.decisions.case.followup import FollowUp
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import Duty
from spread.decisions.week.ahead import Owed
from spread.words import duties
from spread.words.followup import title, visit_kind
from spread.words.voice import Voice, upper


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of a line: why it is owed there, and what stands in the way or how late it is."""

    unit: str
    why: str
    state: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to do; ``by`` is empty where there is no date, ``rule`` where no rule asks for it."""

    title: str
    units: tuple[Unit, ...]
    by: str = ""
    rule: str = ""


def line(owed: Owed, on: dt.date, voice: Voice, *, sources: bool = True) -> Line:
    """Return one thing to do in words, as of a day; ``sources``: with where each rule stands."""
    first = owed.units[0]
    if isinstance(first, FollowUp):
        visits = [one for one in owed.units if isinstance(one, FollowUp)]
        kind = visit_kind(first.visit.kind, voice) if first.visit else ""
        return Line(upper(kind), tuple(_visit(one, on, voice) for one in visits))
    found = [one for one in owed.units if isinstance(one, Duty)]
    origin = duties.origin(first.deadline.origin, voice)
    if owed.kind == "duty":
        rule = f"{upper(duties.terms(first.deadline, voice))}." + (f" {origin}." if sources else "")
        by = "" if first.due is None else duties.moment(first.due, voice)
        units = tuple(Unit(one.unit, duties.reason(one, voice), _state(one, on, voice)) for one in found)
        return Line(duties.asked(first.deadline, voice), units, by, rule)
    assert first.notice is not None
    ahead = duties.span(first.notice.lead, voice)
    rule = (
        voice.text("At least {span} before entry. {origin}.", span=ahead, origin=origin)
        if sources
        else voice.text("At least {span} before entry.", span=ahead)
    )
    by = "" if first.notice_by is None else voice.day(first.notice_by)
    return Line(
        voice.text("Give notice of entry"), tuple(Unit(one.unit, _to(one, voice)) for one in found), by, rule
    )


def _to(duty: Duty, voice: Voice) -> str:
    step = duties.step_name(duty.step, voice)
    if duty.due is None:
        return voice.text("to {step}", step=step)
    return voice.text("to {step} by {day}", step=step, day=duties.moment(duty.due, voice))


def _state(duty: Duty, on: dt.date, voice: Voice) -> str:
    parts = []
    if duty.late and duty.due is not None:
        parts.append(duties.late((on - day_of(duty.due)).days, voice))
    if duty.attempts:
        parts.append(duties.tried(len(duty.attempts), voice))
    if duty.notice and not duty.notice_proof:
        if duty.notice_by is None or duty.notice_by >= on:
            ahead = duties.span(duty.notice.lead, voice)
            parts.append(voice.text("notice of entry at least {span} before", span=ahead))
        else:
            day = voice.day(duty.notice_by)
            parts.append(voice.text("no notice of entry on record; the notice was due by {day}", day=day))
    return ", ".join(parts)


def _visit(one: FollowUp, on: dt.date, voice: Voice) -> Unit:
    visit = one.visit
    assert visit is not None
    window = voice.text(
        "on time from {first} to {last}", first=voice.day(visit.earliest), last=voice.day(visit.latest)
    )
    overdue = visit.status == "overdue"
    return Unit(
        one.unit,
        f"{title(one, voice)}; {window}",
        duties.late((on - visit.latest).days, voice) if overdue else "",
    )

"""When the next visit of a unit in follow-up is due, and how late it is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from spread.decisions.case.clearance import DAY_EARLY, Count, Sign, warmth
from spread.decisions.standing import is_find, standing_of, untreated_since
from spread.facts import Fact
from spread.records.kinds import Record
from spread.trade.clearance import WATCH_VISITS, ClearanceRule
from spread.trade.development import NO_HATCH_CELSIUS, visit_days
from spread.trade.registry import BY_EYE

SOON_DAYS = 7  #: Days to aim for where a sign asks for somebody (judgement, no source)
DOUBLING_DAYS = 14
"""The latest day for it: untreated bugs double in about 13 days in the laboratory
(Polanco et al. 2011, doi 10.3390/insects2020173)."""
WATCH_SLACK = 14  #: Days around a visit of the watch that are on time (judgement)

KINDS = ("treat", "confirm", "after-treatment", "next-visit", "watch")  #: What somebody comes for
STATUSES = ("overdue", "due", "coming")


@dataclass(frozen=True, slots=True)
class Visit(Fact):
    """The next visit of one unit."""

    kind: str  #: One of :data:`KINDS`
    after: dt.date  #: The day it counts from
    #: earliest, target, latest: The window, in days of the calendar; on time from the first to the last of
    #: them
    earliest: dt.date
    target: dt.date
    latest: dt.date
    limit: dt.date | None  #: After this day new adults may lay; None where that is not what the window is for
    status: str  #: ``overdue`` (the window is past), ``due`` (it is open) or ``coming``
    why: str  #: ``not-treated``, ``nobody-looked``, ``period``, ``after-treatment`` or ``watch``
    days: int = 0  #: Days of the step from ``after`` to ``target`` that a period or the watch asks for
    sign: Sign | None = None  #: What nobody has looked after, or the treatment that it counts from
    #: celsius, too_cool: Warmth of the rooms after a treatment; the warmth under which eggs wait, where they
    #: are cooler
    celsius: float = 0.0
    too_cool: float | None = None
    hatched: bool = True  #: Whether its eggs are known to have hatched on the first day of the window
    day_number: int | None = None  #: Days since the treatment, where new adults may lay by now; else None
    until: dt.date | None = None  #: Last day of the watch
    #: The visit that was owed before a row that is no visit, where its days were earlier (they hold) or it
    #: was on the lists (it stays there)
    before: Visit | None = None


def visit_after(
    count: Count,
    state: str,
    records: Sequence[Record],
    on: dt.date,
    rule: ClearanceRule,
    until: dt.date | None,
) -> Visit | None:
    """Return the next visit of a unit in follow-up; None when nobody has to come.

    Parameters
    ----------
    count : What the unit has towards clearance
    state : Its state (:data:`spread.decisions.case.followup.STATES`)
    records : Its current records up to ``on``
    rule : The clearance rule: days of a period, warmth of the room
    until : Last day of the watch, or None
    """
    seen = _last_visit(records, count.since)
    if state in ("cleared", "watch over"):
        return _watch(count, seen, on, until)
    if state == "infested":
        find = standing_of(records, on).last_find
        found = count.since if find is None else untreated_since(records, find).when
        return _soon("treat", found, on, "not-treated")
    if state == "not cleared" and (seen is not None or count.sign.kind in ("find", "treatment")):
        return None
    if seen is None and count.sign.kind != "treatment":
        return replace(_soon("confirm", count.since, on, "nobody-looked"), sign=count.sign)
    if seen is None:
        treated = standing_of(records, on).last_treatment
        return _after_treatment(count, on, warmth(treated, rule))
    step = rule.period_days
    window = (step - DAY_EARLY, step, step + step // 2)
    again = replace(_window("next-visit", seen, window, None, on, "period"), days=step)
    # Clearance that a chance takes back puts nothing off: near the end of the watch its visit is sooner.
    watch = _watch(count, seen, on, until)
    return again if watch is None else no_later(again, watch, on)


def is_visit(record: Record) -> bool:
    """Whether a row is a visit of the follow-up: a treatment, a monitor read, a look by eye, or a find.

    Anything else, a report, an alert, a note, a dog's no, tells something and puts no visit off.
    """
    by_eye = record.kind == "inspection" and record.method in BY_EYE
    return record.kind in ("treatment", "monitor") or by_eye or is_find(record)


def no_later(visit: Visit, owed: Visit, on: dt.date) -> Visit:
    """Return a visit whose days are no later than those of one that was owed before it."""
    if owed.target >= visit.target and owed.latest >= visit.latest:
        return visit
    earliest, target, latest = (
        min(visit.earliest, owed.earliest), min(visit.target, owed.target), min(visit.latest, owed.latest)
    )  # fmt: skip
    return replace(
        visit,
        earliest=earliest,
        target=target,
        latest=latest,
        status=_status(earliest, latest, on),
        before=owed,
    )


def _after_treatment(count: Count, on: dt.date, celsius: float) -> Visit:
    days = visit_days(celsius)
    limit = count.since + dt.timedelta(days=days.limit)
    window = (days.earliest, days.target, days.latest)
    return replace(
        _window("after-treatment", count.since, window, limit, on, "after-treatment"),
        sign=count.sign,
        celsius=celsius,
        too_cool=NO_HATCH_CELSIUS if celsius < NO_HATCH_CELSIUS else None,
        hatched=days.hatched,
        day_number=(on - count.since).days if on > limit else None,
    )


def _watch(count: Count, seen: dt.date | None, on: dt.date, until: dt.date | None) -> Visit | None:
    if count.met_on is None or until is None or on > until:
        return None
    last = max(seen or count.met_on, count.met_on)
    months = (last - count.met_on).days / 30.44
    step = next(days for most, days in WATCH_VISITS if months < most)
    target = min(last + dt.timedelta(days=step), until)
    slack = dt.timedelta(days=WATCH_SLACK)
    window = (max(target - slack, last), target, target + slack)
    return replace(_made("watch", last, window, None, on, "watch"), days=step, until=until)


def _soon(kind: str, since: dt.date, on: dt.date, why: str) -> Visit:
    return _window(kind, since, (0, SOON_DAYS, DOUBLING_DAYS), None, on, why)


def _window(
    kind: str, after: dt.date, days: tuple[int, int, int], limit: dt.date | None, on: dt.date, why: str
) -> Visit:
    window = (
        after + dt.timedelta(days=days[0]),
        after + dt.timedelta(days=days[1]),
        after + dt.timedelta(days=days[2]),
    )
    return _made(kind, after, window, limit, on, why)


def _made(
    kind: str,
    after: dt.date,
    window: tuple[dt.date, dt.date, dt.date],
    limit: dt.date | None,
    on: dt.date,
    why: str,
) -> Visit:
    earliest, target, latest = window
    return Visit(kind, after, earliest, target, latest, limit, _status(earliest, latest, on), why)


def _status(earliest: dt.date, latest: dt.date, on: dt.date) -> str:
    return "overdue" if on > latest else "due" if on >= earliest else "coming"


def _last_visit(records: Sequence[Record], since: dt.date) -> dt.date | None:
    """Return the day of the last look by eye or end of a monitor period after a day."""
    days = [
        row.when
        for row in records
        if row.when > since and (row.kind == "monitor" or (row.kind == "inspection" and row.method in BY_EYE))
    ]
    return max(days, default=None)

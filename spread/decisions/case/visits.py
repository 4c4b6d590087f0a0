"""When the next visit of a unit in follow-up is due, and how late it is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from spread.decisions.case.clearance import DAY_EARLY, Count
from spread.records.kinds import Record
from spread.trade.clearance import WATCH_VISITS, ClearanceRule
from spread.trade.development import NO_HATCH_CELSIUS, visit_days
from spread.trade.registry import BY_EYE
from spread.weeks import speak_date

SOON_DAYS = 7
"""Days to aim for where a sign asks for somebody (judgement, no source)."""
DOUBLING_DAYS = 14
"""The latest day for it: untreated bugs double in about 13 days in the laboratory
(Polanco et al. 2011, doi 10.3390/insects2020173)."""
WATCH_SLACK = 14
"""Days around a visit of the watch that are on time (judgement)."""

KINDS = {
    "treat": "treat",
    "confirm": "look, because of a sign",
    "after-treatment": "look after the treatment",
    "next-visit": "visit again",
    "watch": "look, to keep watch",
}
STATUSES = ("overdue", "due", "coming")


@dataclass(frozen=True, slots=True)
class Visit:
    """The next visit of one unit.

    Parameters
    ----------
    kind
        One of :data:`KINDS`.
    after
        The day it counts from.
    earliest, target, latest
        The window, in days of the calendar; on time from the first to the last of them.
    limit
        After this day new adults may lay; None where that is not what the window is for.
    status
        ``overdue`` (the window is past), ``due`` (it is open) or ``coming``.
    words
        Why then, in a sentence.
    """

    kind: str
    after: dt.date
    earliest: dt.date
    target: dt.date
    latest: dt.date
    limit: dt.date | None
    status: str
    words: str


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
    count
        What the unit has towards clearance.
    state
        Its state (:data:`spread.decisions.case.followup.STATES`).
    records
        Its current records up to ``on``.
    on
        The day.
    rule
        The clearance rule: days of a period, warmth of the room.
    until
        Last day of the watch, or None.
    """
    seen = _last_visit(records, count.since)
    if state in ("cleared", "watch over"):
        return _watch(count, seen, on, until)
    if state == "infested":
        found = count.found_on or count.since
        return _soon("treat", found, on, f"The find of {speak_date(found)} has not been treated.")
    if state == "not cleared" and (seen is not None or count.sign in ("find", "treatment")):
        return None
    if seen is None and count.sign != "treatment":
        return _soon("confirm", count.since, on, f"Nobody has looked since {count.since_words}.")
    if seen is None:
        return _after_treatment(count, on, rule)
    step = rule.period_days
    return _window(
        "next-visit",
        seen,
        (step - DAY_EARLY, step, step + step // 2),
        None,
        on,
        f"{step} days after the visit of {speak_date(seen)}.",
    )


def window_words(visit: Visit, on: dt.date) -> str:
    """Return when a visit is on time and how late it is, such as ``due now: Mon 5 ... to Mon 12 ...``."""
    window = f"{speak_date(visit.earliest)} to {speak_date(visit.latest)}"
    if visit.status == "overdue":
        return f"{days_late((on - visit.latest).days)}: the window was {window}"
    if visit.status == "due":
        return f"due now: {window}"
    return f"coming: {window}"


def days_late(days: int) -> str:
    """Return ``1 day late``."""
    return f"{days} day{'' if days == 1 else 's'} late"


def _after_treatment(count: Count, on: dt.date, rule: ClearanceRule) -> Visit:
    days = visit_days(rule.room_celsius)
    words = (
        f"{days.earliest} to {days.latest} days after {count.since_words}: by then its eggs have hatched, "
        f"and new adults do not lay yet (rooms at {rule.room_celsius:g} C)."
    )
    if rule.room_celsius < NO_HATCH_CELSIUS:
        words += f" Below {NO_HATCH_CELSIUS:g} C eggs wait and do not hatch: warm the rooms first."
    limit = count.since + dt.timedelta(days=days.limit)
    if on > limit:
        words += f" It is day {(on - count.since).days}: new adults may lay, so take it as a fresh start."
    return _window(
        "after-treatment", count.since, (days.earliest, days.target, days.latest), limit, on, words
    )


def _watch(count: Count, seen: dt.date | None, on: dt.date, until: dt.date | None) -> Visit | None:
    if count.met_on is None or until is None or on > until:
        return None
    last = max(seen or count.met_on, count.met_on)
    months = (last - count.met_on).days / 30.44
    step = next(days for most, days in WATCH_VISITS if months < most)
    target = min(last + dt.timedelta(days=step), until)
    slack = dt.timedelta(days=WATCH_SLACK)
    words = f"{step} days after the visit of {speak_date(last)}, to keep watch until {speak_date(until)}."
    return _made("watch", last, (max(target - slack, last), target, target + slack), None, on, words)


def _soon(kind: str, since: dt.date, on: dt.date, words: str) -> Visit:
    return _window(kind, since, (0, SOON_DAYS, DOUBLING_DAYS), None, on, words)


def _window(
    kind: str, after: dt.date, days: tuple[int, int, int], limit: dt.date | None, on: dt.date, words: str
) -> Visit:
    window = (
        after + dt.timedelta(days=days[0]),
        after + dt.timedelta(days=days[1]),
        after + dt.timedelta(days=days[2]),
    )
    return _made(kind, after, window, limit, on, words)


def _made(
    kind: str,
    after: dt.date,
    window: tuple[dt.date, dt.date, dt.date],
    limit: dt.date | None,
    on: dt.date,
    words: str,
) -> Visit:
    earliest, target, latest = window
    status = "overdue" if on > latest else "due" if on >= earliest else "coming"
    return Visit(kind, after, earliest, target, latest, limit, status, words)


def _last_visit(records: Sequence[Record], since: dt.date) -> dt.date | None:
    """Return the day of the last look by eye or end of a monitor period after a day."""
    days = [
        row.when
        for row in records
        if row.when > since and (row.kind == "monitor" or (row.kind == "inspection" and row.method in BY_EYE))
    ]
    return max(days, default=None)

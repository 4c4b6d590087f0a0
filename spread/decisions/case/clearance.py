"""What the records of a unit have towards clearance, and what they lack.

Counting begins anew with every sign: a find, a treatment, a report, an alert, a look that could not tell.
What is counted is short: clean periods of the rule's monitors, clean looks by eye, encasements seen intact.
All else, a dog's no, a resident's no, an empty unit, is not looked at here, so it can clear nothing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from spread.decisions.standing import Standing, is_find, standing_of
from spread.decisions.words import joined, number_words
from spread.records.kinds import Record
from spread.trade.biology import LEVEL_NAMES, level_of_count
from spread.trade.clearance import ClearanceRule
from spread.trade.development import visit_days
from spread.trade.registry import BY_EYE, MONITORS
from spread.weeks import speak_date

DAY_EARLY = 1
"""A period may end a day early, as a visit may (as in :mod:`spread.decisions.standing`)."""
TRAP, COVER = "interceptors", "encasement"
"""Codes of the room sheet whose state is read."""
EPISODE_DAYS = 365
"""Finds this long before the last find or treatment belong to the same infestation (judgement)."""
_HEAVY = LEVEL_NAMES.index("heavy")


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing that clearance still asks for.

    Parameters
    ----------
    code
        ``treatment``, ``periods``, ``first-look``, ``looks``, ``last-look``, ``encasements``, ``chance`` or
        ``figures``.
    words
        What is missing, in words that can follow "it lacks".
    """

    code: str
    words: str


@dataclass(frozen=True, slots=True)
class Count:
    """What one unit has towards clearance by its records.

    Parameters
    ----------
    since
        The last sign: everything before it counts for nothing.
    since_words
        What it was, such as ``the treatment of Wed 1 May 2024``.
    sign
        ``find``, ``treatment``, ``report``, ``alert`` or ``unsure``.
    found_on
        The day of the last find, or None.
    periods, looks
        Days on which clean periods ended and clean looks by eye were made.
    needed
        Clean periods that are asked for.
    why_more
        Why more than the usual number are asked for, or empty.
    notes
        Periods and looks that were not counted, and why.
    lacks
        What the records lack; empty when they have all.
    met_on
        The day from which they have all, or None.
    """

    since: dt.date
    since_words: str
    sign: str
    found_on: dt.date | None
    periods: tuple[dt.date, ...]
    looks: tuple[dt.date, ...]
    needed: int
    why_more: str
    notes: tuple[str, ...]
    lacks: tuple[Lack, ...]
    met_on: dt.date | None


def count_of(records: Sequence[Record], on: dt.date, rule: ClearanceRule) -> Count | None:
    """Return what a unit's current records have towards clearance; None where nothing was ever known.

    Parameters
    ----------
    records
        Current records of one unit, in any order.
    on
        Later records are left out.
    rule
        The clearance rule.
    """
    rows = sorted((r for r in records if r.when <= on), key=lambda r: (r.when, r.id))
    standing = standing_of(rows, on)
    if standing.last_find is None and standing.last_treatment is None:
        return None
    sign, row = _last_sign(rows, standing)
    since = row.when
    after = [r for r in rows if r.when > since]
    notes: list[str] = []
    periods, displaced = _periods(after, since, rule, notes)
    looks = _looks(after, standing, rule, notes)
    heavy = _was_heavy(rows, standing)
    needed = max(rule.periods, rule.heavy_periods) if heavy or displaced else rule.periods
    reasons = ["the infestation was heavy"] * heavy + ["traps were displaced"] * displaced
    lacks, met = _lacks(rows, after, standing, rule, periods, looks, needed)
    return Count(
        since=since,
        since_words=f"{_SIGNS[sign]} of {speak_date(since)}",
        sign=sign,
        found_on=standing.last_find.when if standing.last_find else None,
        periods=tuple(periods),
        looks=tuple(looks),
        needed=needed,
        why_more=joined(reasons) if needed > rule.periods else "",
        notes=tuple(notes),
        lacks=tuple(lacks),
        met_on=max(met) if met and not lacks else None,
    )


_SIGNS = {
    "find": "the find",
    "treatment": "the treatment",
    "report": "the report",
    "alert": "the alert",
    "unsure": "the look that could not tell",
}


def _last_sign(rows: Sequence[Record], standing: Standing) -> tuple[str, Record]:
    """Return the latest sign of bugs, or the treatment if that is later or of the same day."""
    unsure = next((r for r in reversed(rows) if r.is_look and r.found == "unsure"), None)
    signs = {
        "unsure": unsure,
        "alert": standing.last_alert,
        "report": standing.last_report,
        "find": standing.last_find,
        "treatment": standing.last_treatment,
    }
    known = [(name, row) for name, row in signs.items() if row is not None]
    latest = max(row.when for _, row in known)
    return next((name, row) for name, row in reversed(known) if row.when == latest)


def _periods(
    after: Sequence[Record], since: dt.date, rule: ClearanceRule, notes: list[str]
) -> tuple[list[dt.date], bool]:
    """Return the ends of the clean periods since a day, and whether traps were displaced in any."""
    ends: list[dt.date] = []
    last, displaced = since, False
    for row in after:
        if row.kind != "monitor" or row.found != "no":
            continue
        ended = f"The period to {speak_date(row.when)} is not counted"
        if row.method not in rule.monitors:
            notes.append(f"{ended}: {_monitor_words(row.method)} do not count for a period.")
        elif row.days is None:
            notes.append(f"{ended}: its days are not written.")
        elif row.days < rule.period_days - DAY_EARLY:
            notes.append(f"{ended}: {row.days} days are fewer than {rule.period_days}.")
        elif row.began < last:
            what = "the one before it had ended" if ends else "the last sign"
            notes.append(f"{ended}: it began before {what}.")
        elif _displaced(row):
            displaced = True
            notes.append(f"{ended}: traps were displaced or missing.")
        else:
            ends.append(row.when)
            last = row.when
    return ends, displaced


def _displaced(row: Record) -> bool:
    return any(one.state == "displaced" or (one.state == "missing" and one.item == TRAP) for one in row.items)


def _monitor_words(method: str) -> str:
    return MONITORS[method].several if method in MONITORS else "these traps"


def _looks(
    after: Sequence[Record], standing: Standing, rule: ClearanceRule, notes: list[str]
) -> list[dt.date]:
    """Return the days of clean looks by eye that came late enough for eggs to have hatched."""
    treated = standing.last_treatment
    earliest = visit_days(rule.room_celsius).earliest
    days = []
    for row in after:
        if row.kind != "inspection" or row.method not in BY_EYE or row.found != "no":
            continue
        if treated is not None and (row.when - treated.when).days < earliest:
            notes.append(
                f"The look of {speak_date(row.when)} is not counted: "
                f"eggs may hatch up to {earliest} days after the treatment."
            )
        else:
            days.append(row.when)
    return sorted(set(days))


def _was_heavy(rows: Sequence[Record], standing: Standing) -> bool:
    marks = [r.when for r in (standing.last_find, standing.last_treatment) if r is not None]
    first = max(marks) - dt.timedelta(days=EPISODE_DAYS)
    return any(
        is_find(row)
        and row.when >= first
        and (row.level == "heavy" or (row.count is not None and level_of_count(row.count) == _HEAVY))
        for row in rows
    )


def _lacks(
    rows: Sequence[Record],
    after: Sequence[Record],
    standing: Standing,
    rule: ClearanceRule,
    periods: Sequence[dt.date],
    looks: Sequence[dt.date],
    needed: int,
) -> tuple[list[Lack], list[dt.date]]:
    """Return what is missing, and the days from which each part was there."""
    lacks: list[Lack] = []
    met: list[dt.date] = []
    find, treated = standing.last_find, standing.last_treatment
    if treated is None or (find is not None and treated.when < find.when):
        lacks.append(Lack("treatment", "a treatment since the last find, or a row that corrects the find"))
    end = periods[needed - 1] if len(periods) >= needed else None
    if end is None:
        more = needed - len(periods)
        lacks.append(
            Lack(
                "periods",
                f"{number_words(more)} {'more ' if periods else ''}clean "
                f"{rule.period_days}-day period{'s' if more > 1 else ''} ({len(periods)} of {needed})",
            )
        )
    else:
        met.append(end)
    lack, day = _look_lack(looks, end, rule)
    if lack is not None:
        lacks.append(lack)
    if day is not None:
        met.append(day)
    if rule.encasements:
        lack, day = _cover_lack(rows, treated)
        if lack is not None:
            lacks.append(lack)
        if day is not None:
            met.append(day)
    return lacks, met


def _look_lack(
    looks: Sequence[dt.date], end: dt.date | None, rule: ClearanceRule
) -> tuple[Lack | None, dt.date | None]:
    """Return what the looks lack: one early, one at the end of the last period, the rest between."""
    apart = dt.timedelta(days=rule.period_days - DAY_EARLY)
    if not looks:
        return Lack("first-look", f"clean looks by eye (none of {number_words(rule.looks)})"), None
    late = next((d for d in looks if end is not None and d >= end and d >= looks[0] + apart), None)
    if late is None:
        when = "at the end of the last period" if end is None else f"on or after {speak_date(end)}"
        return Lack("last-look", f"a clean look by eye {when}, a period after the first"), None
    enough = next((d for i, d in enumerate(looks, 1) if i >= rule.looks and d >= late), None)
    if enough is None:
        more = rule.looks - len(looks)
        return Lack("looks", f"{number_words(more)} more clean look{'s' if more > 1 else ''} by eye"), None
    return None, enough


def _cover_lack(rows: Sequence[Record], treated: Record | None) -> tuple[Lack | None, dt.date | None]:
    """Return what the encasements lack: the latest word on each since the treatment has to be intact.

    How a treatment left them comes after what a look of the same day saw.
    """
    latest: dict[str, tuple[dt.date, str]] = {}
    for row in sorted(rows, key=lambda row: (row.when, row.kind == "treatment")):
        if treated is None or row.when < treated.when:
            continue
        for one in row.items:
            if one.item == COVER and one.state:
                known = latest.get(one.place)
                worse = known is not None and known[0] == row.when and known[1] != "intact"
                if not worse or row.kind == "treatment":
                    latest[one.place] = (row.when, one.state)
    if not latest:
        return Lack("encasements", "a record since the treatment that the encasements are intact"), None
    bad = [(place, day, state) for place, (day, state) in latest.items() if state != "intact"]
    if bad:
        said = [f"{state}{f' at {place}' if place else ''} on {speak_date(day)}" for place, day, state in bad]
        return Lack("encasements", f"intact encasements ({joined(said)})"), None
    return None, max(day for day, _ in latest.values())

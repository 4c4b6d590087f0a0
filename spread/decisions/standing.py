"""Where a unit stands by its records alone: to look at, to treat, or to visit again."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from spread.records.kinds import Record
from spread.records.looked import seen_as
from spread.trade.registry import HEARSAY, UNCONFIRMED

CLEAR_LOOKS = 2
"""Clear looks after the last find or treatment that put a unit back on the list of doors to look at.
That is not the same as cleared, which asks for more (a later rule)."""
DAYS_BETWEEN = 13
"""Days two clear looks must lie apart to count as two: a fortnight, a day early allowed
(trials looked again every 14 days, doi 10.3390/insects8030076)."""


OLD_SIGNS = frozenset({"stains", "skins", "dead"})
"""What outlasts the bugs that left it; a treatment leaves it behind (as in
:data:`spread.trade.methods.false_finds.OLD_SIGNS`)."""
OLD_AFTER = 90
"""Days after a treatment from which such signs alone may be old (judgement: eggs have long hatched, and bugs
that survived have had time to be seen by the looks since)."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What the records of one unit add up to."""

    status: str  #: ``look``, ``treat`` or ``revisit``
    #: last_find, last_treatment, last_look, last_report, last_alert: The latest of each, or None. A find is
    #: confirmed evidence (not a dog's alert alone, nor :func:`old_signs`); a look is any inspection or
    #: monitor, found or not, save a clean one whose items leave the sleeping places out; a report that says
    #: nothing was seen is none; an alert is a look with signs that confirm nothing.
    last_find: Record | None = None
    last_treatment: Record | None = None
    last_look: Record | None = None
    last_report: Record | None = None
    last_alert: Record | None = None
    clear_since: int = 0  #: Clear looks, a fortnight apart, since the last find or treatment
    shut: int = 0  #: No-access records on days after the last look
    moved_in: dt.date | None = None  #: The last day somebody moved in, or None
    vacant: bool = False  #: Whether the unit stands empty


def standing_of(records: Sequence[Record], on: dt.date) -> Standing:
    """Read a unit's standing from its current records up to ``on``.

    ``records``: the unit's current records, in any order; ``on``: later records are left out.
    """
    rows = sorted((r for r in records if r.when <= on), key=lambda r: (r.when, r.id))
    old = old_signs(rows)
    find = _last(rows, lambda r: is_find(r) and r.id not in old)
    treated = _last(rows, lambda r: r.kind == "treatment")
    look = _last(rows, lambda r: r.is_look and bool(seen_as(r)))
    clear = _clear_looks(rows, [r.when for r in (find, treated) if r])
    if (find is None and treated is None) or clear >= CLEAR_LOOKS:
        status = "look"
    elif find is not None and (treated is None or treated.when < find.when):
        status = "treat"
    else:
        status = "revisit"
    turnover = _last(rows, lambda r: r.kind == "turnover")
    moved_in = _last(rows, lambda r: r.kind == "turnover" and r.method != "moved-out")
    return Standing(
        status=status,
        last_find=find,
        last_treatment=treated,
        last_look=look,
        last_report=_last(rows, lambda r: r.is_complaint),
        last_alert=_last(rows, lambda r: r.is_look and r.found == "yes" and (not is_find(r) or r.id in old)),
        clear_since=clear,
        shut=sum(r.kind == "no-access" for r in rows[_after(rows, look.when) if look else 0 :]),
        moved_in=moved_in.when if moved_in else None,
        vacant=turnover is not None and turnover.method == "moved-out",
    )


def is_find(record: Record) -> bool:
    """Whether a record confirms an infestation: signs of bugs seen or caught, not an alert or hearsay.

    A dog's alert is confirmed by live bugs or eggs seen at that visit. An interview never is: what a
    resident says was seen is still the resident's word.
    """
    if not record.is_look or record.found != "yes" or record.method in HEARSAY:
        return False
    if record.method in UNCONFIRMED:
        return bool(record.evidence & {"live", "eggs"})
    return not record.evidence or bool(record.evidence - {"alert", "bites", "dead"})


def untreated_since(records: Sequence[Record], find: Record) -> Record:
    """Return the first find of those that were not treated up to ``find``: what is owed counts from it.

    Finds that two clear looks set aside, and those before a treatment, are over.

    Parameters
    ----------
    records
        The unit's current records, in any order.
    find
        A find among them, with no treatment after it.
    """
    while True:
        before = standing_of(records, find.when - dt.timedelta(days=1))
        if before.status != "treat" or before.last_find is None:
            return find
        find = before.last_find


def old_signs(rows: Sequence[Record]) -> frozenset[str]:
    """Return the ids of looks that came upon nothing but signs that may be old, which confirm no infestation.

    Stains and skins outlast a treatment. Where that lies :data:`OLD_AFTER` days back and the unit had its
    :data:`CLEAR_LOOKS` since, a look with such signs alone, no bug counted and no more than a trace, asks to
    be confirmed, as an alert does; it clears nothing and is not dismissed.

    ``rows``: current rows of one unit by day.
    """
    found: set[str] = set()
    treated: Record | None = None
    marks: list[dt.date] = []
    for place, row in enumerate(rows):
        if row.kind == "treatment":
            treated = row
            marks.append(row.when)
        elif is_find(row):
            signs_alone = bool(row.evidence) and row.evidence <= OLD_SIGNS and not row.count
            signs_alone &= row.level in ("", "trace")
            long_ago = treated is not None and (row.when - treated.when).days >= OLD_AFTER
            if signs_alone and long_ago and _clear_looks(rows[:place], marks) >= CLEAR_LOOKS:
                found.add(row.id)
            else:
                marks.append(row.when)
    return frozenset(found)


def _clear_looks(rows: Sequence[Record], marks: Sequence[dt.date]) -> int:
    """Count clear looks a fortnight apart after the latest of ``marks``; a later find is among the marks.

    A monitor period counts when it began after the mark: before it, it watched other bugs. What was looked at
    when the home was of another extent counts for nothing here.
    """
    if not marks:
        return 0
    since, count, last = max(marks), 0, None
    for row in rows[_after(rows, since) :]:
        clear = row.is_look and row.found == "no" and seen_as(row) and row.method not in UNCONFIRMED
        clear = clear and not row.was  # of a home of another extent
        if clear and row.began >= since and (last is None or (row.when - last).days >= DAYS_BETWEEN):
            count, last = count + 1, row.when
    return count


def _after(rows: Sequence[Record], day: dt.date) -> int:
    """Return the place of the first row after a day, among rows by day."""
    return bisect_right(rows, day, key=lambda row: row.when)


def _last(rows: Sequence[Record], wanted: Callable[[Record], bool]) -> Record | None:
    return next((row for row in reversed(rows) if wanted(row)), None)

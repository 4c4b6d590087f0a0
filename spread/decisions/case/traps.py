"""Traps as things that stand somewhere: set on a day, read, taken up; days come from these dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from spread.facts import Fact
from spread.records.kinds import Record
from spread.trade.methods.monitors import INTERCEPTORS

SET, UP = "traps-set", "traps-taken-up"


@dataclass(frozen=True, slots=True)
class Traps(Fact):
    """The traps of a unit on a day.

    Parameters
    ----------
    places
        Where each stands, such as ``bed 1 leg 2``; empty where none do.
    set_on
        The day on which they were set, or None.
    read_on
        The last day on which they were read since, or None.
    days
        Days since they were read, or set.
    displaced
        Places that were displaced or missing when they were last read.
    """

    places: tuple[str, ...] = ()
    set_on: dt.date | None = None
    read_on: dt.date | None = None
    days: int = 0
    displaced: tuple[str, ...] = ()


def traps_of(records: Sequence[Record], on: dt.date) -> Traps:
    """Return the traps that stand in a unit on a day, by its current records."""
    rows = sorted((r for r in records if r.when <= on), key=lambda r: (r.when, r.method == SET, r.id))
    places: dict[str, None] = {}
    set_on = read_on = None
    displaced: tuple[str, ...] = ()
    for row in rows:
        if row.kind == "note" and row.method == SET:
            # More traps beside those that stand: the period of all begins when the last were set.
            places |= dict.fromkeys(one.place for one in row.items)
            set_on, read_on, displaced = row.when, None, ()
        elif row.kind == "note" and row.method == UP:
            gone = {one.place for one in row.items} or set(places)
            places = {place: None for place in places if place not in gone}
            set_on = set_on if places else None
        elif row.kind == "monitor" and row.method == INTERCEPTORS.key and set_on is not None:
            read_on = row.when
            moved = (one for one in row.items if one.item == INTERCEPTORS.item)
            displaced = tuple(one.place for one in moved if one.state in ("displaced", "missing"))
    if set_on is None:
        return Traps()
    return Traps(tuple(places), set_on, read_on, (on - (read_on or set_on)).days, displaced)


def stood(records: Sequence[Record], period: Record) -> bool:
    """Whether a period lies within the days on which traps stood.

    True where the log kept no such days yet: it has none, or its first are of the period's last day or later.
    """
    steps = [r for r in records if r.kind == "note" and r.method in (SET, UP)]
    if any(r.method == UP and not r.items and period.began <= r.when < period.when for r in steps):
        return False
    first = min((r.when for r in steps if r.method == SET), default=None)
    if first is None or period.when <= first:
        return True
    return traps_of(steps, period.began).set_on is not None

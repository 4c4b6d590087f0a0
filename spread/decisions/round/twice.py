"""Doors that several people answered on one day: every answer is kept, and who gave them learns of it."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from spread.facts import Fact
from spread.records.kinds import Record
from spread.records.log import Log

TOLD = dt.timedelta(days=7)
"""For how long it is told (judgement)."""


@dataclass(frozen=True, slots=True)
class AnsweredTwice(Fact):
    """A door with answers of more than one person on one day; ``differ`` where they do not say the same."""

    unit: str
    when: dt.date
    differ: bool
    rows: tuple[Record, ...]


def door_answers(log: Log, since: dt.date) -> list[Record]:
    """Return what was answered at doors since a day, oldest first: looks, and that nobody let them in.

    Rows that were corrected or taken back do not count. However long the log is, only its end is read.
    """
    late = itertools.takewhile(lambda row: row.when >= since, reversed(log.current))
    return [row for row in late if row.kind in ("inspection", "no-access")][::-1]


def answered_twice(log: Log, on: dt.date) -> tuple[AnsweredTwice, ...]:
    """Return the doors that several people answered on one day of the last week, latest first.

    What one person answers on one day is no conflict: a
    second knock, or a closer look. Where rows do not say whose they are, only looks that differ in what they
    found are one.
    """
    doors: dict[tuple[dt.date, str], list[Record]] = {}
    for row in door_answers(log, on - TOLD):
        doors.setdefault((row.when, row.unit), []).append(row)
    found = []
    for (when, unit), rows in reversed(doors.items()):
        people = {row.by for row in rows}
        if len(people - {""}) > 1 or ("" in people and _found_differ(rows)):
            differ = len({(row.kind == "no-access", row.found, row.level) for row in rows}) > 1
            found.append(AnsweredTwice(unit, when, differ, tuple(rows)))
    return tuple(found)


def _found_differ(rows: Sequence[Record]) -> bool:
    return len({row.found for row in rows if row.kind == "inspection"}) > 1

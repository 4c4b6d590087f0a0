"""Doors that several people answered on one day: every answer is kept, and who gave them learns of it."""

from __future__ import annotations

import datetime as dt
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


def is_door_answer(row: Record) -> bool:
    """Say whether a row is what somebody answered at a door: a look, or that nobody let them in."""
    return row.kind in ("inspection", "no-access")


def answered_twice(log: Log, on: dt.date) -> tuple[AnsweredTwice, ...]:
    """Return the doors that several people answered on one day of the last week, latest first.

    Rows that were corrected or taken back do not count. What one person answers on one day is no conflict: a
    second knock, or a closer look. Where rows do not say whose they are, only looks that differ in what they
    found are one.
    """
    doors: dict[tuple[dt.date, str], list[Record]] = {}
    for row in reversed(log.current):  # by day: the last week is at the end
        if row.when < on - TOLD:
            break
        if is_door_answer(row):
            doors.setdefault((row.when, row.unit), []).insert(0, row)
    found = []
    for (when, unit), rows in doors.items():
        people = {row.by for row in rows}
        if len(people - {""}) > 1 or ("" in people and _found_differ(rows)):
            differ = len({(row.kind == "no-access", row.found, row.level) for row in rows}) > 1
            found.append(AnsweredTwice(unit, when, differ, tuple(rows)))
    return tuple(found)


def _found_differ(rows: Sequence[Record]) -> bool:
    return len({row.found for row in rows if row.kind == "inspection"}) > 1

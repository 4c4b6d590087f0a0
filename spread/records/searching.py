"""Finding rows of a log: by unit, kind, days, who wrote them, and words."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from spread.records.kinds import Record
from spread.records.log import Log


@dataclass(frozen=True, slots=True)
class Search:
    """What is looked for; what is empty asks for nothing."""

    unit: str = ""  #: The code, in capitals or not
    kind: str = ""  #: One of :data:`spread.records.kinds.KINDS`
    since: dt.date | None = None
    until: dt.date | None = None  #: since, until: First and last day
    by: str = ""  #: Work code of who wrote it
    text: str = ""  #: Words that stand in note, method or signs, each of them
    corrected: bool = False  #: Whether rows that a later one corrects are found too


def found(log: Log, search: Search) -> list[Record]:
    """Return the rows that a search finds, the newest day first."""
    words = search.text.lower().split()
    rows = [
        row
        for row in (log.rows if search.corrected else log.current)
        if (not search.unit or row.unit.lower() == search.unit.lower())
        and (not search.kind or row.kind == search.kind)
        and (search.since is None or row.when >= search.since)
        and (search.until is None or row.when <= search.until)
        and (not search.by or row.by.lower() == search.by.lower())
        and all(word in _text(row) for word in words)
    ]
    return sorted(rows, key=lambda row: (row.when, row.id), reverse=True)


def _text(row: Record) -> str:
    return " ".join((row.id, row.note, row.method, row.found, row.level, *sorted(row.evidence))).lower()

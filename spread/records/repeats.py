"""Rows that say again what another row says: one look written down twice is one look."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from spread.records.kinds import Record

ONCE = ("report", "inspection", "monitor", "treatment", "turnover")
"""Kinds whose repetition is a slip. Two knocks of one day, and two notes, are two."""


def repeats(records: Iterable[Record]) -> dict[str, str]:
    """Return the rows that repeat another but for id and note: their id, and the id of the first.

    Parameters
    ----------
    records
        Current rows in the order of the log.
    """
    first: dict[Record, str] = {}
    again = {}
    for record in records:
        if record.kind not in ONCE:
            continue
        before = first.setdefault(replace(record, id="", note="", supersedes=""), record.id)
        if before != record.id:
            again[record.id] = before
    return again

"""What recording a row did: the facts that whoever recorded it is told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from spread.facts import Fact
from spread.records.kinds import Record

NOTICED = 0.01
"""A chance that moved by less is not worth a word."""
MOST_MOVED = 3


@dataclass(frozen=True, slots=True)
class KeptBefore(Fact):
    """The row was recorded already; nothing changed."""


@dataclass(frozen=True, slots=True)
class KeptForLater(Fact):
    """The row is of a day that the session has not reached yet."""

    when: dt.date


@dataclass(frozen=True, slots=True)
class Moved(Fact):
    """A unit's chance before a row and with it."""

    unit: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Kept(Fact):
    """The row counts now.

    Parameters
    ----------
    here
        What it did to its own unit.
    others
        The other units that it moved most, if any was moved by :data:`NOTICED`.
    taken_back
        Whether it takes another row back.
    refitting
        Whether the log is being fitted again, so that these figures are not the last.
    """

    here: Moved
    others: tuple[Moved, ...]
    taken_back: bool
    refitting: bool


def what_it_did(
    record: Record, before: Mapping[str, float], after: Mapping[str, float], *, refitting: bool
) -> Kept:
    """Return what a row did, from the chances before it and with it."""
    moves = [Moved(unit, before[unit], after[unit]) for unit in after]
    moves.sort(key=lambda one: -abs(one.after - one.before))
    others = [m for m in moves if m.unit != record.unit and abs(m.after - m.before) >= NOTICED]
    return Kept(
        Moved(record.unit, before[record.unit], after[record.unit]),
        tuple(others[:MOST_MOVED]),
        bool(record.supersedes) and record.kind == "note",
        refitting,
    )

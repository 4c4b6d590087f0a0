"""How each of many buildings stands, what an hour there averts, and where a unit of a code is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from spread.records.summaries import Owed, Summary, Worth

HOUR = 60.0


@dataclass(frozen=True, slots=True)
class Kept:
    """A building as it is kept, without opening it.

    Parameters
    ----------
    key, name
        By which it is opened, and what it is called.
    summary
        What its last fit said; None where nothing is kept.
    rows, last
        Rows of its log now, and the day of the latest of them.
    taken_in
        The day on which its log was last written.
    problem
        Why it cannot be read; empty where it can.
    """

    key: str
    name: str
    summary: Summary | None = None
    rows: int = 0
    last: dt.date | None = None
    taken_in: dt.date | None = None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """A building of many on a day.

    Parameters
    ----------
    kept
        What is kept of it.
    late, soon
        Visits and looks that are owed and past their last day, and the others, by their day to aim for.
    newer
        Rows recorded since its figures were made.
    averted
        Infested weeks that an hour at its next doors is expected to avert; None where nothing is kept.
    """

    kept: Kept
    late: tuple[Owed, ...]
    soon: tuple[Owed, ...]
    newer: int
    averted: float | None

    @property
    def next_day(self) -> dt.date | None:
        """The day to aim for of the next visit that is not late; None where there is none."""
        return self.soon[0].target if self.soon else None


def standing_of(kept: Kept, on: dt.date) -> Standing:
    """Return how a building stands on a day, by what is kept of it."""
    told = kept.summary
    if told is None:
        return Standing(kept, (), (), kept.rows, None)
    late = tuple(one for one in told.owed if one.latest < on)
    soon = sorted((one for one in told.owed if one.latest >= on), key=lambda one: one.target)
    return Standing(kept, late, tuple(soon), max(0, kept.rows - told.rows), averted_in(told.doors, HOUR))


def ranked(kept: Iterable[Kept], on: dt.date) -> tuple[Standing, ...]:
    """Return buildings by what an hour there averts, most first; those of which nothing is kept come last."""
    stood = [standing_of(one, on) for one in kept]
    stood.sort(key=lambda one: (one.averted is None, -(one.averted or 0.0), one.kept.name, one.kept.key))
    return tuple(stood)


def averted_in(doors: Sequence[Worth], minutes: float) -> float:
    """Return what the first doors avert in some minutes, the last of them in part."""
    averted = 0.0
    for door in doors:
        if minutes <= 0.0:
            break
        averted += door.averted * min(1.0, minutes / door.minutes if door.minutes > 0.0 else 1.0)
        minutes -= door.minutes
    return averted


@dataclass(frozen=True, slots=True)
class Found:
    """A unit that was looked for: its building, its code and its chance as last said."""

    kept: Kept
    unit: str
    chance: float


def units_called(kept: Iterable[Kept], code: str, most: int = 50) -> tuple[Found, ...]:
    """Return the units of a code in any building, and those whose code begins so; exact ones first."""
    wanted = code.strip().casefold()
    if not wanted:
        return ()
    found = [
        Found(one, unit, chance)
        for one in kept
        if one.summary is not None
        for unit, chance in one.summary.chances.items()
        if unit.casefold().startswith(wanted)
    ]
    found.sort(key=lambda one: (one.unit.casefold() != wanted, one.kept.name, one.unit))
    return tuple(found[:most])

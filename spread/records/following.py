"""Records follow their homes through a plan that changes; the log itself is never rewritten.

What a code meant on a day, and which unit of today that is, follows from the plan's changes. A home that was
renamed is the same home. One that was parted or joined is not, and its records say what they can say:

- **Signs** (finds, alerts, looks that could not tell, complaints) follow to every unit that the home became
or became a
  part of. A find in a home that was parted says that at least one part was infested, not which: each part is
  held for it until it has been looked at itself.
- **Clean looks and periods** of a home of another extent clear nothing and count towards no follow-up. The
chances
  still weigh them where they were looks at all of the unit; of one part of a unit, only where they answer a
  sign of that part while no other part had one open.
- **Treatments** of a home that was parted were treatments of each part. That of one part of a unit stands
only where
  no sign of another part was left untreated; else it is a note. A part that stood empty makes no empty unit.

So a change can raise what is asked of a unit and can never settle anything.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from spread.plan.changes import UNITS_CHANGE, Change
from spread.records.kinds import Record
from spread.records.log import Log

Part = tuple[int, str]
"""A home as it was joined with another: at which change, and its code then."""


@dataclass(frozen=True, slots=True)
class Home:
    """What a code of a day became.

    ``unit``: its code today. ``other``: whether the unit of today is of another extent. ``parts``: what it
    was a part of, one by one; empty where all of the unit was meant.
    """

    unit: str
    other: bool = False
    parts: tuple[Part, ...] = ()


class Homes:
    """What codes meant and mean: a plan's units today, and its changes.

    ``changes``: as the plan has them. ``units``: codes of the plan today.
    """

    def __init__(self, changes: Iterable[Change], units: Collection[str]) -> None:
        dated = sorted((c for c in changes if c.step in UNITS_CHANGE), key=lambda change: change.on)  # stable
        self._steps = tuple(dated)
        self._units = units
        former = {code for change in dated for code in (*change.begins, *change.ends)}
        self.codes = frozenset({*units, *former})
        self._known: dict[tuple[str, int], tuple[Home, ...]] = {}
        self._last: tuple[Log, Log] | None = None

    def of(self, code: str, day: dt.date) -> tuple[Home, ...]:
        """Return what a code of a day became: one home or more; none where it is gone, or nobody knows it."""
        if not self._steps:
            return (Home(code),)
        place = sum(change.on <= day for change in self._steps)
        if (code, place) not in self._known:
            self._known[code, place] = tuple(self._walked(code, self._begin(code, place)))
        return self._known[code, place]

    def _begin(self, code: str, place: int) -> int:
        """Return the change from which to follow a code that somebody wrote between two changes.

        A code that meant nothing then meant what it had been last: people go on writing an old number. One
        that was to come only later is taken for that.
        """
        events = [k for k, change in enumerate(self._steps) if code in (*change.begins, *change.ends)]
        before = [k for k in events if k < place]
        if before:
            last = before[-1]
            return place if code in self._steps[last].begins else last
        if events and code not in self._steps[events[0]].ends:
            return events[0] + 1
        return place

    def _walked(self, code: str, begin: int) -> Iterable[Home]:
        states = [Home(code)]
        for place in range(begin, len(self._steps)):
            change = self._steps[place]
            states = [after for state in states for after in _through(state, place, change)]
        found: dict[
            str, Home
        ] = {}  # parted and joined again, a home has two ways to one unit: a row counts once
        for one in states:
            if one.unit in self._units:
                found.setdefault(one.unit, one)
        return found.values()

    def follow(self, log: Log) -> Log:
        """Return a log with every row at the unit of today that it is about; itself where nothing changed."""
        if not self._steps:
            return log
        if self._last is None or self._last[0] is not log:
            self._last = log, self._followed(log)
        return self._last[1]

    def _followed(self, log: Log) -> Log:
        last = self._last
        if last is not None and len(last[0]) < len(log) and log.rows[: len(last[0])] == last[0].rows:
            more = log.rows[len(last[0]) :]
            mixed = {row.unit for row in last[1].rows if row.was}
            plain = all(
                self.of(row.unit, row.when) == (Home(row.unit),) and not row.supersedes for row in more
            )
            if plain and not mixed & {row.unit for row in more}:
                return last[1].longer(more)
        corrected = {row.supersedes for row in log.rows}
        rows: list[tuple[Record, Home]] = []
        for row in log.rows:
            for home in self.of(row.unit, row.when):
                was = row.unit if home.other else ""
                moved = replace(row, unit=home.unit, was=was) if (home.unit, was) != (row.unit, "") else row
                rows.append((moved, home))
        joined: dict[str, list[tuple[Record, Home]]] = {}
        for row, home in rows:
            if row.id not in corrected:
                joined.setdefault(home.unit, []).append((row, home))
        return Log([_weighed(row, home, joined.get(home.unit, ())) for row, home in rows], log.file)

    def lost(self, log: Log) -> tuple[Record, ...]:
        """Return the rows of homes that are gone; the log keeps them, and they speak of no unit of today."""
        return tuple(row for row in log.current if not self.of(row.unit, row.when))

    def today(self, code: str) -> tuple[str, ...]:
        """Return the units of today that a code of the settings names: it may be older than the changes."""
        if code in self._units or not self._steps:
            return (code,)
        return tuple(dict.fromkeys(home.unit for home in self.of(code, dt.date.min))) or (code,)


def _through(state: Home, place: int, change: Change) -> list[Home]:
    """Return what a home is after a change."""
    if state.unit not in change.ends:
        return [state]
    if change.step == "rename":
        return [replace(state, unit=change.begins[0])]
    if change.step == "split":
        return [Home(code, True, state.parts) for code in change.begins]
    if change.step == "merge":
        return [Home(change.begins[0], True, (*state.parts, (place, state.unit)))]
    return []


def _weighed(row: Record, home: Home, others: Sequence[tuple[Record, Home]]) -> Record:
    """Return a row of one part of a unit as what it says of the whole."""
    if not home.parts or _is_sign(row):
        return row
    if row.kind == "turnover" and row.method == "moved-out":
        return _as_note(row)
    clean = row.is_look
    if row.kind != "treatment" and not clean:
        return row
    signs = [(one, at) for one, at in others if _is_sign(one) and one.when <= row.when]
    own = [one for one, at in signs if _covers(home, at)]
    # A sign of another part has to be answered there before this row can speak of the whole.
    answered = all(
        _covers(home, at)
        or any(
            other.kind == "treatment" and _covers(by, at) and one.when <= other.when <= row.when
            for other, by in others
        )
        for one, at in signs
    )
    if answered and (own or not clean):
        return row
    return replace(row, rests=True) if clean else _as_note(row)


def _covers(home: Home, sign: Home) -> bool:
    """Whether what was done in a home was done where a sign was: there, or in all of what it had become."""
    return not home.parts or home.parts[0] in sign.parts


def _is_sign(row: Record) -> bool:
    return row.is_complaint or (row.is_look and row.found != "no")


def _as_note(row: Record) -> Record:
    """Return a row that is shown and counts for nothing, in the words of the log."""
    said = " ".join(word for word in (row.kind, row.method, row.found, row.note) if word)
    told = Record(row.id, row.when, row.unit, "note", by=row.by, supersedes=row.supersedes, was=row.was)
    return replace(told, note=f"{row.was} - {said}")

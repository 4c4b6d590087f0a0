"""The shortest way to clear a unit: which further clean answers, on which days, from when at the earliest.

There is no second rule here. Clean rows that nobody has written yet are laid beside those of the log, and
the clearance rule itself (:func:`spread.decisions.case.clearance.count_of`) is asked what it makes of them: a
trap is read on the first day on which the rule counts its period, and a look that it does without is dropped.
Nothing here clears anything: every one of these answers has yet to be given, and to be clean.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from spread.decisions.case.clearance import COVER, TRAP, Count, count_of
from spread.decisions.case.followup import FollowUp
from spread.decisions.case.traps import SET, UP, traps_of
from spread.decisions.view import View
from spread.decisions.week.entry import Entry
from spread.facts import Fact
from spread.records.kinds import Finding, Record
from spread.records.looked import sleeping_places
from spread.trade.clearance import ClearanceRule
from spread.trade.registry import BY_EYE, TREATMENTS
from spread.trade.room import COVERED, SLEEPING_ROWS

FAR = 90
"""Days after the last trap reading in which looks are tried: longer than eggs take, and two looks apart."""
_LONGEST = 40  #: Days that a period is tried for; the longest of a rule has 28
TREAT, SET_TRAPS, READ, LOOK = "treat", "set-traps", "read-traps", "look"
ACTS = (TREAT, SET_TRAPS, READ, LOOK)  #: What is done at a visit, in this order


@dataclass(frozen=True, slots=True)
class CleanVisit(Fact):
    """One visit on the way: its first possible day, and what is done, of :data:`ACTS`."""

    day: dt.date
    acts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WayToClear(Fact):
    """The shortest further evidence with which the records of a unit would have all that the rule asks for.

    Parameters
    ----------
    unit
        Unit code.
    visits
        In order; empty where the records have all and the chance alone is lacking.
    covers
        Whether the first of the looks has to see the encasements intact.
    earliest
        The first day on which the records may have all; None where they have, and where no day can be named.
    stopped
        Why no day can be named: ``cool`` (nobody knows when the last eggs hatch in rooms that cool) or
        ``unknown``; empty otherwise.
    traps_since
        The day since which traps stand unread by what is on record, or on which they are set on the way;
        None where no reading is lacking.
    refused
        The day of a refusal after which entry has to be arranged first; None where nothing was refused.
    chance, most, settled
        The model's chance today, the most that clearance allows, and whether the chance is settled.
    """

    unit: str
    visits: tuple[CleanVisit, ...] = ()
    covers: bool = False
    earliest: dt.date | None = None
    stopped: str = ""
    traps_since: dt.date | None = None
    refused: dt.date | None = None
    chance: float = 1.0
    most: float = 0.0
    settled: bool = True

    def times(self, act: str) -> int:
        """At how many visits something of :data:`ACTS` is done."""
        return sum(act in visit.acts for visit in self.visits)


def ways_to_clear(view: View, entries: Mapping[str, Entry]) -> dict[str, WayToClear]:
    """Return the shortest way of every unit that is followed and not cleared, in plan order.

    ``entries``: when each unit may lawfully be entered (:func:`spread.decisions.week.entry.entries_of`).
    """
    settled, rule = view.posterior.diagnostics.good, view.clearance
    found = {}
    for unit, one in view.followups.items():
        if not _is_followed(one):
            continue
        way = view.log.worked_out(unit, view.on, way_by_records, unit, view.on, rule, entries[unit])
        found[unit] = replace(way, chance=one.chance, most=one.threshold, settled=settled)
    return found


def _is_followed(one: FollowUp) -> bool:
    """Whether something is still lacking; what was closed and watched to the end is a door like any other."""
    if one.sign is None or one.state in ("cleared", "watch over"):
        return False
    return one.met_on is None or one.state != "looked-for"


def way_by_records(
    records: Sequence[Record], unit: str, on: dt.date, rule: ClearanceRule, entry: Entry | None = None
) -> WayToClear:
    """Return the shortest way by the records, which still lacks the chance (:func:`ways_to_clear`).

    Parameters
    ----------
    records
        The unit's current records, in any order; those after ``on`` are left out.
    unit, on, rule
        Unit code, the first day on which anything can be done, and the clearance rule.
    entry
        When the unit may lawfully be entered; None where every day is lawful.
    """
    rows = [row for row in records if row.when <= on]
    count = count_of(rows, on, rule)
    if count is None or count.met_on is not None:
        return WayToClear(unit)
    way = _Way(rows, unit, count, rule, entry)
    begin = next(way.lawful(on))
    if _lacks(count, "treatment"):
        way.add(TREAT, Record("", begin, unit, "treatment", next(iter(TREATMENTS))))
    since = None
    if _lacks(way.count(), "periods"):
        since = _stand_since(rows, on, rule, count)
        if since is None:
            since = begin
            way.set_traps(begin)
        since = max(since, way.count().since)
        way.read(since, begin)
    refused = entry.refused if entry is not None else None
    looks, covers = way.looks(begin)
    if looks is None:
        cool = any(note.why == "cool" for note in way.tried.notes)
        return WayToClear(unit, stopped="cool" if cool else "unknown", refused=refused)
    days: dict[dt.date, set[str]] = {}
    for day, act in (*way.acts, *((day, LOOK) for day in looks)):
        days.setdefault(day, set()).add(act)
    visits = tuple(CleanVisit(day, tuple(act for act in ACTS if act in days[day])) for day in sorted(days))
    earliest = visits[-1].day if visits else None
    return WayToClear(unit, visits, covers, earliest, traps_since=since, refused=refused)


class _Way:
    """The rows of a unit with those that nobody has written yet beside them."""

    def __init__(
        self, rows: Sequence[Record], unit: str, count: Count, rule: ClearanceRule, entry: Entry | None
    ) -> None:
        self.rows, self.unit, self.rule, self.entry = list(rows), unit, rule, entry
        self.acts: list[tuple[dt.date, str]] = []
        self.tried = count
        self._steps = any(row.kind == "note" and row.method == SET for row in rows)
        inside = [row for row in rows if row.is_look or row.kind == "treatment"]
        self._places = sleeping_places(inside)
        beds = {place for kind, place in self._places if kind in COVERED}
        told = {one.place for row in inside for one in row.items if one.item == COVER}
        self._covers = tuple(Finding(COVER, state="intact", place=place) for place in sorted(beds | told))
        seen = [(item, place) for kind, place in self._places for item in SLEEPING_ROWS[kind]]
        # Where bugs ever were is looked at again: the rule asks for those of this infestation.
        seen += [
            (one.item, one.place)
            for row in inside
            for one in row.items
            if one.evidence and one.item not in (TRAP, COVER)
        ]
        self._items = tuple(Finding(item, place=place) for item, place in dict.fromkeys(seen))

    def lawful(self, since: dt.date) -> Iterator[dt.date]:
        """Yield the days from one on on which the unit may be entered, with a notice that is given today."""
        day, entry = since, self.entry
        while True:
            if entry is None or day >= entry.again or entry.lawful_on(day):
                yield day
            day += dt.timedelta(days=1)

    def count(self, more: Sequence[Record] = (), on: dt.date = dt.date.max) -> Count:
        """Return what the rule makes of the rows and some more."""
        told = count_of([*self.rows, *more], on, self.rule)
        assert told is not None  # a find or a treatment is among the rows
        return told

    def add(self, act: str, row: Record) -> None:
        """Take a row in, as done on its day."""
        self.rows.append(row)
        self.acts.append((row.when, act))

    def set_traps(self, day: dt.date) -> None:
        """Set traps; a log that keeps no such rows is given none, as the rule would ask for all of them."""
        if self._steps:
            spots = tuple(Finding(TRAP, place=place) for _, place in self._places)
            self.rows.append(Record("", day, self.unit, "note", SET, items=spots))
        self.acts.append((day, SET_TRAPS))

    def read(self, since: dt.date, begin: dt.date) -> None:
        """Read traps that stand since a day, each time on the first lawful day that the rule counts."""
        while _lacks(count := self.count(), "periods"):
            for day in self.lawful(max(since, begin)):
                days = (day - since).days
                row = Record("", day, self.unit, "monitor", self.rule.monitors[0], "no", days=days)
                if len(self.count([row]).periods) > len(count.periods):
                    break
                if days > _LONGEST:
                    return
            self.add(READ, row)
            since = day

    def looks(self, begin: dt.date) -> tuple[list[dt.date] | None, bool]:
        """Return the days of the fewest looks that end soonest, and whether covers have to be seen.

        A look on every day is what there can be most of: the day on which the rule is met with all of them
        is the earliest. Then those are dropped that it is met without, those that need a visit of their own
        first, and the later ones before the earlier. None where even all of them do not do.
        """
        last = max([begin, *(day for day, _ in self.acts)]) + dt.timedelta(days=FAR)
        days = []
        for day in self.lawful(begin):
            if day > last:
                break
            days.append(day)
        self.tried = self.count(self._looked(days))
        met = self.tried.met_on
        if met is None:
            return None, False
        days = [day for day in days if day <= met]

        def does(some: Collection[dt.date], *, covers: bool = True) -> bool:
            return self.count(self._looked(some, covers=covers), met).met_on is not None

        visits = {day for day, _ in self.acts} | {met}
        kept = [day for day in days if day in visits]
        if not does(kept):
            kept = days
        for day in sorted(kept, key=lambda day: (day not in visits, day), reverse=True):
            if does([one for one in kept if one != day]):
                kept = [one for one in kept if one != day]
        return kept, not does(kept, covers=False)

    def _looked(self, days: Collection[dt.date], *, covers: bool = True) -> list[Record]:
        """Return clean looks at everything; the first of them sees the covers, whose last sight counts."""
        made: list[Record] = []
        for day in sorted(days):
            items = (*self._items, *self._covers) if covers and not made else self._items
            made.append(Record("", day, self.unit, "inspection", BY_EYE[0], "no", items=items))
        return made


def _lacks(count: Count, code: str) -> bool:
    return any(lack.code == code for lack in count.lacks)


def _stand_since(rows: Sequence[Record], on: dt.date, rule: ClearanceRule, count: Count) -> dt.date | None:
    """Return the day since which traps stand and were not read, by what is on record; None where none do.

    Where a log keeps no rows of traps set, a reading since the last find or treatment says that they stand.
    """
    if any(row.kind == "note" and row.method == SET for row in rows):
        traps = traps_of(rows, on)
        return traps.read_on or traps.set_on
    treated = max((row.when for row in rows if row.kind == "treatment"), default=None)
    marks = [day for day in (count.found_on, treated) if day is not None]
    read = [
        row.when
        for row in rows
        if row.kind == "monitor" and row.method in rule.monitors and row.when > max(marks)
    ]
    last = max(read, default=None)
    gone = any(row.method == UP and last is not None and row.when >= last for row in rows)
    return None if gone else last

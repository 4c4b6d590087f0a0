"""Records of one unit that do not go together: named, so that somebody can look at them again.

Nothing is thrown away for it: the model weighs every record. But a slip of the keyboard, a wrong unit
or a visit nobody wrote down shows itself here first.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from spread.decisions.standing import is_find
from spread.facts import Fact
from spread.records.kinds import Record
from spread.records.log import Log
from spread.records.repeats import repeats
from spread.trade import detection
from spread.trade.biology import LEVEL_NAMES
from spread.trade.registry import HEARSAY, LOOKING, UNCONFIRMED

WEEK = dt.timedelta(days=7)
FORTNIGHT = dt.timedelta(days=14)
UNLIKELY = 0.10
"""Clear looks contradict a find beside them when looks like these would all miss such an infestation
with at most this chance (judgement)."""


@dataclass(frozen=True, slots=True)
class ClearAndFind(Fact):
    """Clear looks and a find within a week; looks like these would all miss it with the chance ``missed``."""

    looks: int
    level: str
    missed: float


@dataclass(frozen=True, slots=True)
class Repeated(Fact):
    """Rows that say the same but for id and note; they count once."""


@dataclass(frozen=True, slots=True)
class FindThenClear(Fact):
    """A find by a thorough look and a clear look so many days later with no treatment between."""

    days: int


@dataclass(frozen=True, slots=True)
class ReportWhileEmpty(Fact):
    """A report from a unit that stands empty by the log."""


@dataclass(frozen=True, slots=True)
class TreatedUnfound(Fact):
    """A treatment of a unit where no find is on record."""


@dataclass(frozen=True, slots=True)
class MonitorOverTreatment(Fact):
    """Monitors that stood from a day across a treatment."""

    began: dt.date


Contradiction = (
    Repeated | ClearAndFind | FindThenClear | ReportWhileEmpty | TreatedUnfound | MonitorOverTreatment
)


@dataclass(frozen=True, slots=True)
class Noted(Fact):
    """A record of a doubt: its id, its day and what it is. Nothing about people."""

    id: str
    when: dt.date
    kind: str
    method: str
    found: str
    is_look: bool


@dataclass(frozen=True, slots=True)
class Doubt(Fact):
    """Records of one unit that do not go together."""

    unit: str  #: Unit code
    what: Contradiction  #: What does not go together
    records: tuple[Noted, ...]  #: The records, oldest first

    @property
    def kind(self) -> str:
        """The kind of what does not go together, such as ``clear-and-find``."""
        return self.what.fact

    @property
    def dates(self) -> tuple[str, ...]:
        """Days of the records, ISO, oldest first."""
        return tuple(row.when.isoformat() for row in self.records)

    @property
    def rows(self) -> tuple[str, ...]:
        """Ids of the records, in the same order."""
        return tuple(row.id for row in self.records)


def doubts_of(log: Log, units: Sequence[str], on: dt.date | None = None) -> tuple[Doubt, ...]:
    """Return what does not go together in every unit, in the order of the units.

    ``log``: the whole log; corrected rows are left out; ``units``: unit codes; ``on``: later records are left
    out; None for all.
    """
    return tuple(doubt for unit in units for doubt in doubts_in(log.of(unit), on))


def doubts_in(records: Sequence[Record], on: dt.date | None = None) -> tuple[Doubt, ...]:
    """Return what does not go together in the current records of one unit, newest first."""
    rows = sorted((r for r in records if on is None or r.when <= on), key=lambda r: (r.when, r.id))
    doubts = [doubt for search in _SEARCHES for doubt in search(rows)]
    told: set[tuple[str, ...]] = set()
    kept = []
    for doubt in doubts:
        # A clear look soon after a find may break two rules; it is told once, by the first.
        if not any(set(doubt.rows) <= set(other) for other in told):
            told.add(doubt.rows)
            kept.append(doubt)
    return tuple(sorted(kept, key=lambda doubt: doubt.dates[-1], reverse=True))


def _clear_and_find(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find clear looks within a week of a find that looks like these would hardly all have missed."""
    for find in filter(is_find, rows):
        level = LEVEL_NAMES.index(find.level or "low")
        clear = [
            row
            for row in rows
            if _is_clear(row) and abs(row.when - find.when) <= WEEK and not _treated(rows, row, find)
        ]
        missed = 1.0
        for row in clear:
            missed *= 1.0 - float(detection.sensitivity(row.method, row.days)[level])
        if clear and missed <= UNLIKELY:
            yield _doubt(ClearAndFind(len(clear), find.level, missed), [*clear, find])


def _find_then_clear(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find a thorough look's find with a clear look within a fortnight and no treatment between."""
    for find in rows:
        if not is_find(find) or not LOOKING[find.method].thorough:
            continue
        after = [
            row
            for row in rows
            if _is_clear(row)
            and row.method not in UNCONFIRMED
            and find.when < row.when <= find.when + FORTNIGHT
            and not _treated(rows, row, find)
        ]
        if after:
            yield _doubt(FindThenClear((after[0].when - find.when).days), [find, after[0]])


def _report_while_empty(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find reports from a unit where nobody lives."""
    out: Record | None = None
    for row in rows:
        if row.kind == "turnover":
            out = row if row.method == "moved-out" else None
        elif out is not None and row.is_complaint and row.when > out.when:
            yield _doubt(ReportWhileEmpty(), [out, row])


def _treated_unfound(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find the first treatment of a unit where nothing was found before."""
    treated = next((row for row in rows if row.kind == "treatment"), None)
    if treated is not None and not any(is_find(row) and row.when <= treated.when for row in rows):
        yield _doubt(TreatedUnfound(), [treated])


def _monitor_over_treatment(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find monitor periods that a treatment falls into."""
    for monitor in rows:
        if monitor.kind != "monitor":
            continue
        for row in rows:
            if row.kind == "treatment" and monitor.began < row.when < monitor.when:
                yield _doubt(MonitorOverTreatment(monitor.began), [row, monitor])


def _repeated(rows: Sequence[Record]) -> Iterator[Doubt]:
    """Find rows that repeat another but for id and note."""
    by_id = {row.id: row for row in rows}
    copies: dict[str, list[Record]] = {}
    for row, first in repeats(rows).items():
        copies.setdefault(first, [by_id[first]]).append(by_id[row])
    for same in copies.values():
        yield _doubt(Repeated(), same)


_SEARCHES: tuple[Callable[[Sequence[Record]], Iterator[Doubt]], ...] = (
    _repeated, _clear_and_find, _find_then_clear, _report_while_empty, _treated_unfound,
    _monitor_over_treatment,
)  # fmt: skip


def _is_clear(row: Record) -> bool:
    return row.is_look and row.found == "no" and row.method not in HEARSAY


def _treated(rows: Sequence[Record], one: Record, other: Record) -> bool:
    """Return whether a treatment lies between two records (their days included)."""
    first, last = sorted((one.when, other.when))
    return any(row.kind == "treatment" and first <= row.when <= last for row in rows)


def _doubt(what: Contradiction, rows: Sequence[Record]) -> Doubt:
    ordered = sorted(rows, key=lambda row: (row.when, row.id))
    noted = (Noted(r.id, r.when, r.kind, r.method, r.found, r.is_look) for r in ordered)
    return Doubt(ordered[0].unit, what, tuple(noted))

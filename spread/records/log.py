"""The log of a building: all rows, and those that stand after corrections."""

from __future__ import annotations

import datetime as dt
import threading
from bisect import bisect_left, bisect_right, insort
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import islice
from typing import Any, Concatenate, ParamSpec, TypeVar

from spread.errors import Problem, RecordError
from spread.records.kinds import Record
from spread.records.parse import as_problems
from spread.records.repeats import repeats
from spread.records.sense import Wrong, guess, shown

P = ParamSpec("P")
T = TypeVar("T")
_FEW = 2000  # among more ids than this, looking for one of similar spelling takes too long


class Log:
    """Everything that was recorded in a building. Built by the store; its rows are valid.

    A log never changes. A longer one shares with it what is long: the list of all rows, of which each log
    sees its own beginning, and the rows of every unit that the new rows do not touch, together with what was
    worked out from them (:meth:`worked_out`). A row costs little, however long the log is.
    """

    def __init__(self, rows: Sequence[Record] = (), file: str = "records.csv") -> None:
        self.file = file
        self._all = _Rows(rows)
        self._count = len(rows)

    def __len__(self) -> int:
        return self._count

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Log):
            return NotImplemented
        same = self._all is other._all and self._count == other._count
        return same or (self._count == other._count and self.rows == other.rows)

    def __hash__(self) -> int:
        return hash(self.rows)

    def __repr__(self) -> str:
        return f"Log({self._count} rows, {len(self.current)} current, {len(self._units)} units)"

    @cached_property
    def rows(self) -> tuple[Record, ...]:
        """Every row, in the order of the file."""
        return tuple(islice(self._all.rows, self._count))

    @cached_property
    def by_id(self) -> Mapping[str, Record]:
        """Every row by its id."""
        return _ById(self._all, self._count)

    @cached_property
    def current(self) -> tuple[Record, ...]:
        """Rows that no other row supersedes, sorted by day and then id.

        A row that supersedes another stands in its place; superseded by a ``note``, a row is
        withdrawn. The order of rows in the file does not matter.
        """
        return tuple(sorted((row for unit in self._units.values() for row in unit.rows), key=_by_day))

    @cached_property
    def _units(self) -> dict[str, _OfUnit]:
        units: dict[str, list[Record]] = {}
        for row in islice(self._all.rows, self._count):
            if not self.corrected_by(row.id):
                units.setdefault(row.unit, []).append(row)
        return {unit: _OfUnit(sorted(rows, key=_by_day)) for unit, rows in units.items()}

    def corrected_by(self, id_: str) -> str:
        """Return the id of the row that corrects a row; empty where none does."""
        place = self._all.corrected.get(id_, self._count)
        return self._all.rows[place].id if place < self._count else ""

    def of(self, unit: str, until: dt.date | None = None) -> tuple[Record, ...]:
        """Return the current rows of a unit, newest last; empty for a unit without any.

        Parameters
        ----------
        unit
            Unit code.
        until
            The last day that counts; None for all days.
        """
        kept = self._units.get(unit)
        return () if kept is None else kept.until(until)

    def on_day(self, day: dt.date) -> Iterator[Record]:
        """Yield the current rows of one day."""
        for unit in self._units.values():
            for row in reversed(unit.until(day)):
                if row.when != day:
                    break
                yield row

    def worked_out(
        self,
        unit: str,
        until: dt.date | None,
        function: Callable[Concatenate[Sequence[Record], P], T],
        *args: P.args,
        **options: P.kwargs,
    ) -> T:
        """Return what a function says of a unit's current rows, worked out once for these very rows.

        A row that repeats another but for id and note is left out (:mod:`spread.records.repeats`): what is
        worked out counts it once.

        Kept with the rows themselves, so that a row of another unit leaves it as it is and one of this unit
        drops it. For each function the last answer alone is kept: other arguments are worked out anew.

        Parameters
        ----------
        unit, until
            Which rows; see :meth:`of`.
        function
            A function of its arguments alone, at the top level of a module. Nobody changes what it returns.
        *args, **options
            Its arguments after the rows.
        """
        kept = self._units.get(unit)
        if kept is None:
            return function((), *args, **options)
        asked = (until, args, options)
        told = kept.told.get(function)
        if told is None or told[0] != asked:
            told = kept.told[function] = (asked, function(kept.counted(until), *args, **options))
        answer: T = told[1]
        return answer

    def with_row(self, record: Record) -> Log:
        """Return the log with one row more; this log itself if it holds that very row already.

        The record's own words are not checked again: it comes from the store or from
        :func:`spread.records.parse.record_from_fields`.

        Raises RecordError when the id is taken by a different row, or the row supersedes one that is unknown,
        superseded already, or itself.
        """
        known = self.by_id.get(record.id)
        if known == record:
            return self
        wrong: list[Wrong] = [] if known is None else [taken_id(record.id)]
        if record.supersedes == record.id:
            wrong.append(
                ("supersedes", f"row {shown(record.id)} supersedes itself", "name the row that it corrects")
            )
        elif record.supersedes:
            if record.supersedes not in self.by_id:
                wrong.append(_no_such_row(record.supersedes, self.by_id))
            if by := self.corrected_by(record.supersedes):
                wrong.append(_corrected_twice(record.supersedes, by))
        if wrong:
            raise RecordError(as_problems(wrong, self.file, f"row {shown(record.id)}"))
        return self.longer([record])

    def longer(self, more: Sequence[Record]) -> Log:
        """Return the log with rows at its end that were weighed against it beforehand."""
        log = Log(file=self.file)
        log._all, log._count = self._all.after(self._count, more), self._count + len(more)
        touched: dict[str, list[Record]] = {}
        for row in more:
            insort(touched.setdefault(row.unit, list(self.of(row.unit))), row, key=_by_day)
        for row in more:
            old = log.by_id.get(row.supersedes)
            if old is not None:
                rows = touched.setdefault(old.unit, list(self.of(old.unit)))
                place = bisect_left(rows, _by_day(old), key=_by_day)
                if rows[place : place + 1] == [old]:  # where more was not weighed well it is gone already
                    del rows[place]
        units = self._units | {unit: _OfUnit(rows) for unit, rows in touched.items()}
        log.__dict__["_units"] = {unit: kept for unit, kept in units.items() if kept.rows}
        return log


class _Rows:
    """All rows of a log and of the longer ones that grew out of it; only ever appended to."""

    def __init__(self, rows: Sequence[Record]) -> None:
        self.rows: list[Record] = []
        self.places: dict[str, int] = {}
        self.corrected: dict[str, int] = {}
        self._lock = threading.Lock()
        self._add(rows)

    def after(self, count: int, more: Sequence[Record]) -> _Rows:
        """Return the rows of a log with more behind them: these, or a copy where they went on otherwise."""
        with self._lock:
            if len(self.rows) == count:
                self._add(more)
                return self
        return _Rows([*islice(self.rows, count), *more])

    def _add(self, more: Sequence[Record]) -> None:
        for place, row in enumerate(more, start=len(self.rows)):
            self.places.setdefault(row.id, place)
            if row.supersedes:
                self.corrected.setdefault(row.supersedes, place)
            self.rows.append(row)


class _ById(Mapping[str, Record]):
    def __init__(self, rows: _Rows, count: int) -> None:
        self._rows, self._count = rows, count

    def __getitem__(self, id_: str) -> Record:
        place = self._rows.places[id_]
        if place >= self._count:
            raise KeyError(id_)
        return self._rows.rows[place]

    def __iter__(self) -> Iterator[str]:
        return (id_ for id_, place in list(self._rows.places.items()) if place < self._count)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class _OfUnit:
    """The current rows of one unit by day, and what was worked out from them."""

    def __init__(self, rows: Sequence[Record]) -> None:
        self.rows = tuple(rows)
        self.told: dict[Callable[..., Any], tuple[object, Any]] = {}

    def counted(self, day: dt.date | None) -> tuple[Record, ...]:
        if not self._again:
            return self.until(day)
        return tuple(row for row in self.until(day) if row.id not in self._again)

    @cached_property
    def _again(self) -> dict[str, str]:
        return repeats(self.rows)

    def until(self, day: dt.date | None) -> tuple[Record, ...]:
        if day is None or not self.rows or self.rows[-1].when <= day:
            return self.rows
        return self.rows[: bisect_right(self.rows, day, key=lambda row: row.when)]


def _by_day(row: Record) -> tuple[dt.date, str]:
    return row.when, row.id


def taken_id(id_: str) -> Wrong:
    """Return what is wrong with a second, different row of one id."""
    return (
        "id",
        f"id {shown(id_)} is taken by a row that says something else",
        "give the new row an id of its own, and name the old one in supersedes if it corrects it",
    )


def chain_problems(
    rows: Sequence[Record], ids: Collection[str], place: Callable[[Record], str], file: str
) -> list[Problem]:
    """Return what is wrong with the corrections among rows.

    ``rows``: valid rows, each id once; ``ids``: every id of the file, those of bad rows too, so that one bad
    row is not blamed twice; ``place``: where a row stands, in words; ``file``: how messages name the file.
    """
    problems: list[Problem] = []
    corrected_by: dict[str, Record] = {}
    for row in rows:
        if not row.supersedes:
            continue
        if row.supersedes not in ids:
            problems += as_problems([_no_such_row(row.supersedes, ids)], file, place(row))
        elif row.supersedes in corrected_by:
            first = corrected_by[row.supersedes]
            problems += as_problems([_corrected_twice(row.supersedes, first.id)], file, place(row))
        else:
            corrected_by[row.supersedes] = row
    for circle in _circles({row.id: row.supersedes for row in rows if row.supersedes}):
        row = next(row for row in rows if row.id in circle)
        what = f"rows {', '.join(shown(id_) for id_ in circle)} supersede each other in a circle"
        problems += as_problems(
            [("supersedes", what, "let the oldest of them supersede nothing")], file, place(row)
        )
    return problems


def _circles(corrects: Mapping[str, str]) -> list[list[str]]:
    """Return every circle of corrections once; each row corrects at most one other."""
    circles: list[list[str]] = []
    done: set[str] = set()
    for start in corrects:
        path: dict[str, None] = {}
        at = start
        while at in corrects and at not in done and at not in path:
            path[at] = None
            at = corrects[at]
        if at in path:
            trail = list(path)
            circles.append(trail[trail.index(at) :])
        done.update(path)
    return circles


def _no_such_row(id_: str, ids: Collection[str]) -> Wrong:
    otherwise = "name a row of this log"
    fix = guess(id_, ids, otherwise) if len(ids) <= _FEW else otherwise
    return ("supersedes", f"there is no row {shown(id_)}", fix)


def _corrected_twice(id_: str, by: str) -> Wrong:
    return (
        "supersedes",
        f"row {shown(id_)} is superseded by row {shown(by)} already",
        f"supersede {shown(by)} instead",
    )

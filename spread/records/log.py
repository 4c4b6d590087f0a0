"""The log of a building: all rows, and those that stand after corrections."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, insort
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from spread.errors import Problem, RecordError
from spread.records.kinds import Record
from spread.records.parse import as_problems
from spread.records.sense import Wrong, guess, shown

_FEW = 2000  # among more ids than this, looking for one of similar spelling takes too long


@dataclass(frozen=True)
class Log:
    """Everything that was recorded in a building. Built by the store; its rows are valid."""

    rows: tuple[Record, ...] = ()  #: Every row once, in the order of the file, superseded ones too
    file: str = field(default="records.csv", compare=False)  #: How messages name the file

    def __len__(self) -> int:
        return len(self.rows)

    def __repr__(self) -> str:
        return f"Log({len(self.rows)} rows, {len(self.current)} current, {len(self._by_unit)} units)"

    @cached_property
    def by_id(self) -> Mapping[str, Record]:
        """Every row by its id."""
        return {row.id: row for row in self.rows}

    @cached_property
    def current(self) -> tuple[Record, ...]:
        """Rows that no other row supersedes, sorted by day and then id.

        A row that supersedes another stands in its place; superseded by a ``note``, a row is
        withdrawn. The order of rows in the file does not matter.
        """
        return tuple(sorted((row for row in self.rows if row.id not in self._corrected), key=_by_day))

    @cached_property
    def _corrected(self) -> Mapping[str, str]:
        """The id of the row that corrects it, by the id of each row that is corrected."""
        return {row.supersedes: row.id for row in self.rows if row.supersedes}

    @cached_property
    def _by_unit(self) -> Mapping[str, tuple[Record, ...]]:
        units: dict[str, list[Record]] = {}
        for row in self.current:
            units.setdefault(row.unit, []).append(row)
        return {unit: tuple(rows) for unit, rows in units.items()}

    def of(self, unit: str) -> tuple[Record, ...]:
        """Return the current rows of a unit, newest last; empty for a unit without any."""
        return self._by_unit.get(unit, ())

    def with_row(self, record: Record) -> Log:
        """Return the log with one row more; this log itself if it holds that very row already.

        The record's own words are not checked again: it comes from the store or from
        :func:`spread.records.parse.record_from_fields`. What this log has worked out is carried over and not
        worked out anew, so that a row costs little however long the log is.

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
            if record.supersedes in self._corrected:
                wrong.append(_corrected_twice(record.supersedes, self._corrected[record.supersedes]))
        if wrong:
            raise RecordError(as_problems(wrong, self.file, f"row {shown(record.id)}"))
        return self._longer(record)

    def _longer(self, record: Record) -> Log:
        longer = Log((*self.rows, record), self.file)
        current, by_unit = list(self.current), dict(self._by_unit)
        old = self.by_id.get(record.supersedes)
        if old is not None:
            del current[bisect_left(current, _by_day(old), key=_by_day)]
            by_unit[old.unit] = tuple(row for row in by_unit[old.unit] if row.id != old.id)
        insort(current, record, key=_by_day)
        of_unit = list(by_unit.get(record.unit, ()))
        insort(of_unit, record, key=_by_day)
        by_unit[record.unit] = tuple(of_unit)
        corrected = (
            {**self._corrected, record.supersedes: record.id} if record.supersedes else self._corrected
        )
        longer.__dict__.update(
            by_id={**self.by_id, record.id: record},
            current=tuple(current),
            _by_unit={unit: rows for unit, rows in by_unit.items() if rows},
            _corrected=corrected,
        )
        return longer


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

"""The log of one building in an office: rows are added and never changed, each chained to the one before."""

from __future__ import annotations

import datetime as dt
import hashlib
import threading
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from sqlalchemy import ColumnElement, Connection, Engine, delete, insert, select
from sqlalchemy.exc import SQLAlchemyError

from spread.errors import Problem, RecordError
from spread.office.connecting import shown, writing
from spread.office.promises import OfficePromises
from spread.office.tables import building, building_file, log_row, photograph
from spread.office.texts import office_programmes
from spread.records.cells import to_fields
from spread.records.folder import Trouble
from spread.records.items import finding_problems
from spread.records.jobs import job_problems
from spread.records.journal import text_of, text_of_fields
from spread.records.kinds import ALL_FIELDS, Record
from spread.records.log import Log, chain_problems
from spread.records.parse import as_problems, record_from_fields
from spread.records.sense import shown as quoted

_START = "0" * 32
_RENAMED = {"when": "day", "by": "by_whom"}


class OfficeStore:
    """The log of one building of an office; see :class:`spread.records.store.Store`.

    Parameters
    ----------
    engine
        An open office.
    key
        The building.
    units
        Unit codes of its plan.

    Raises
    ------
    RecordError
        When the office has no such building, or a row cannot be read with this plan.
    """

    def __init__(self, engine: Engine, key: str, units: Collection[str]) -> None:
        self.file = f"{shown(str(engine.url))}#{key}"
        self.promises = OfficePromises(engine, key)
        self.programmes = office_programmes(engine, key)
        self._engine, self._key, self._units = engine, key, units
        self._lock = threading.RLock()
        self._log = Log(file=self.file)
        self._place, self._head = 0, _START
        with engine.connect() as connection:
            if connection.scalar(select(building.c.key).where(building.c.key == key)) is None:
                raise RecordError(Problem(self.file, "", "the office has no such building", "see its list"))
            self._catch_up(connection)

    @property
    def log(self) -> Log:
        """Everything recorded, as last looked at."""
        return self._log

    @property
    def trouble(self) -> Trouble | None:
        """None: the database refuses that rows are changed or taken out."""
        return None

    @property
    def identity(self) -> str:
        """The building's key and the moment at which this office took it in."""
        with self._engine.connect() as connection:
            added = connection.scalar(select(building.c.added).where(building.c.key == self._key))
        return f"{self._key} {added}"

    def refresh(self) -> bool:
        """Take in what other programs did; return whether anything changed."""
        with self._lock, self._told(), self._engine.connect() as connection:
            return self._catch_up(connection)

    def append(self, record: Record, *, today: dt.date | None = None) -> bool:
        """Add a row; it is on the disk when this returns. Return whether it was new."""
        if wrong := [*finding_problems(record.items), *job_problems(record.job)]:
            raise RecordError(as_problems(wrong, self.file, "new row"))
        fields = to_fields(record)
        record = record_from_fields(fields, self._units, file=self.file, where="new row", today=today)
        with self._lock, self._told(), writing(self._engine) as connection:
            self._take_turn(connection)
            longer = self._log.with_row(record)
            if longer is self._log:
                return False
            place, head = insert_rows(connection, self._key, [record], self._place, self._head)
        with self._lock:
            self._log, self._place, self._head = longer, place, head
        return True

    def extend(self, records: Sequence[Record]) -> None:
        """Add rows of elsewhere, all of them or none."""
        with self._lock:
            with self._told(), writing(self._engine) as connection:
                self._take_turn(connection)
                fresh = [row for row in records if row.id not in self._log.by_id]
                longer = self._log.longer(fresh)
                problems = chain_problems(
                    longer.rows, longer.by_id.keys(), lambda row: f"row {quoted(row.id)}", self.file
                )
                if problems:
                    raise RecordError(problems)
                place, head = insert_rows(connection, self._key, fresh, self._place, self._head)
            self._log, self._place, self._head = longer, place, head

    def put_back(self) -> int:
        """Return 0: nothing is ever gone."""
        return 0

    def accept(self, *, why: str = "") -> int:
        """Return 0: there is nothing to take as it is."""
        return 0

    def beside(self, name: str) -> bytes:
        """Return a file of the building, as the office holds it now; empty where there is none."""
        wanted = select(building_file.c.data).where(*self._file(name))
        with self._told(), self._engine.connect() as connection:
            return bytes(connection.scalar(wanted) or b"")

    def keep_beside(self, name: str, text: str | bytes) -> None:
        """Keep a file of the building in the office, new or instead of the one of that name."""
        with self._told(), writing(self._engine) as connection:
            self._wait(connection)
            connection.execute(delete(building_file).where(*self._file(name)))
            data = text.encode() if isinstance(text, str) else text
            line = insert(building_file).values(building=self._key, name=name, data=data)
            connection.execute(line)

    def _file(self, name: str) -> tuple[ColumnElement[bool], ...]:
        return building_file.c.building == self._key, building_file.c.name == name

    def photograph(self, name: str) -> bytes | None:
        """Return a photograph by the name that a row has for it; None where none is kept."""
        wanted = select(photograph.c.data).where(
            photograph.c.building == self._key, photograph.c.name == name
        )
        with self._told(), self._engine.connect() as connection:
            data = connection.scalar(wanted)
        return None if data is None else bytes(data)

    def keep_photograph(self, name: str, data: bytes) -> bool:
        """Keep a photograph once; return whether it was new. What is kept under a name stays."""
        with self._told(), writing(self._engine) as connection:
            self._wait(connection)
            return keep_photographs(connection, self._key, {name: data}) > 0

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Say in a sentence what the database refuses.

        Whether a row was kept cannot be known where the connection broke: it is sent again with its id.
        """
        try:
            yield
        except SQLAlchemyError as error:
            reason = str(getattr(error, "orig", None) or error).strip().splitlines()[0][:200]
            what = f"the office cannot be read or written ({reason})"
            raise RecordError(Problem(self.file, "", what, "try again when it can be reached")) from None

    def _take_turn(self, connection: Connection) -> None:
        """Wait until no other writer of the building is at it, and read what they have added."""
        self._wait(connection)
        self._catch_up(connection)

    def _wait(self, connection: Connection) -> None:
        line = select(building.c.key).where(building.c.key == self._key)
        connection.execute(line.with_for_update() if self._engine.dialect.name != "sqlite" else line)

    def _catch_up(self, connection: Connection) -> bool:
        after = select(log_row).where(log_row.c.building == self._key, log_row.c.place > self._place)
        rows = connection.execute(after.order_by(log_row.c.place)).mappings().all()
        if not rows:
            return False
        self._log = self._log.longer([self._record(row) for row in rows])
        self._place, self._head = int(rows[-1]["place"]), str(rows[-1]["hash"])
        return True

    def _record(self, row: Mapping[Any, Any]) -> Record:
        where = f"row {quoted(str(row['id']))}"
        return record_from_fields(_fields(row), self._units, file=self.file, where=where)


def verify(engine: Engine, key: str) -> tuple[int, int]:
    """Walk the chain of a building's whole log.

    Returns
    -------
    rows, broken
        How many rows there are, and the place of the first that does not follow from the row before it, or 0.
    """
    head, count = _START, 0
    rows = select(log_row).where(log_row.c.building == key).order_by(log_row.c.place)
    broken = 0
    with engine.connect() as connection:
        for row in connection.execute(rows).mappings():
            count += 1
            head = _hash(head, text_of_fields(_fields(row)))
            if not broken and (row["place"] != count or row["hash"] != head):
                broken = count
    return count, broken


def insert_rows(
    connection: Connection, key: str, records: Sequence[Record], place: int = 0, head: str = _START
) -> tuple[int, str]:
    """Add rows after the last one, whose place and hash are given; return the new last one's."""
    now, lines = dt.datetime.now(dt.UTC), []
    for record in records:
        place, head = place + 1, _hash(head, text_of(record))
        fields = dict.fromkeys(_COLUMNS, "") | to_fields(record)
        lines.append(
            {_RENAMED.get(name, name): text for name, text in fields.items()}
            | {"day": record.when, "count": record.count, "days": record.days}
            | {"building": key, "place": place, "hash": head, "written": now}
        )
    if lines:
        connection.execute(insert(log_row), lines)
    return place, head


def keep_photographs(connection: Connection, key: str, named: Mapping[str, bytes]) -> int:
    """Add photographs of a building that are not kept yet; return how many were new."""
    wanted = select(photograph.c.name).where(photograph.c.building == key)
    kept = {str(name) for name in connection.scalars(wanted)}
    lines = [
        {"building": key, "name": name, "data": data} for name, data in named.items() if name not in kept
    ]
    if lines:
        connection.execute(insert(photograph), lines)
    return len(lines)


def _fields(row: Mapping[Any, Any]) -> dict[str, str]:
    """Return the text of a row of the table by field."""
    names = {**{name: name for name in _COLUMNS}, **_RENAMED}
    return {field: _text(row[column]) for field, column in names.items()}


_COLUMNS = tuple(name for name in ALL_FIELDS if name not in _RENAMED)


def _text(value: object) -> str:
    if value is None:
        return ""
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def _hash(before: str, text: str) -> str:
    return hashlib.blake2b(f"{before}{text}".encode(), digest_size=16).hexdigest()

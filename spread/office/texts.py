"""Texts of one kind of one building in an office, added and never changed: lists, accepted programmes."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterable, Mapping

from sqlalchemy import Connection, Engine, Table, func, insert, select
from sqlalchemy.exc import SQLAlchemyError

from spread.errors import RecordError
from spread.office.connecting import shown, writing
from spread.office.tables import building, programme_row
from spread.records.texts import Text

Line = tuple[Text, Mapping[str, object]]
"""A text, and what its table has besides in columns of its own."""


class OfficeTexts:
    """The texts of a building of an office; see :class:`spread.records.texts.Texts`.

    ``engine``: an open office; ``key``: the building; ``table``: where they stand; ``what``: what a text is
    called where it cannot be kept.
    """

    def __init__(self, engine: Engine, key: str, table: Table, what: str) -> None:
        self._engine, self._key, self._table, self._what = engine, key, table, what
        self._lock = threading.Lock()
        self._known: dict[str, str] = {}
        self._place = 0

    def keep(self, text: Text, **columns: object) -> None:
        """Keep a text; it is on the disk when this returns. ``columns``: what the table has besides."""
        with self._lock:
            if text.id in self._known:
                return
            try:
                with writing(self._engine) as connection:
                    # Whoever else is at the building waits: the places stay without a gap.
                    line = select(building.c.key).where(building.c.key == self._key)
                    connection.execute(
                        line.with_for_update() if self._engine.dialect.name != "sqlite" else line
                    )
                    self._catch_up(connection)
                    if text.id not in self._known:
                        insert_texts(connection, self._table, self._key, [(text, columns)])
            except SQLAlchemyError as error:
                reason = str(getattr(error, "orig", None) or error).strip().splitlines()[0][:200]
                file = f"{shown(str(self._engine.url))}#{self._key}"
                what = f"{self._what} could not be kept ({reason})"
                raise RecordError.at(file, "", what, "see whether the office can be written") from None

    def all(self) -> tuple[Text, ...]:
        """Return every text in the order in which they were kept; empty where the office cannot be read."""
        with self._lock:
            try:
                with self._engine.connect() as connection:
                    self._catch_up(connection)
            except SQLAlchemyError:
                return ()
            return tuple(Text(id_, body) for id_, body in self._known.items())

    @property
    def broken(self) -> bool:
        """False: the database refuses that lines are changed."""
        return False

    def _catch_up(self, connection: Connection) -> None:
        of = self._table.c
        after = select(of.place, of.id, of.body).where(of.building == self._key, of.place > self._place)
        for place, id_, body in connection.execute(after.order_by(of.place)):
            self._known[str(id_)] = str(body)
            self._place = int(place)


def insert_texts(connection: Connection, table: Table, key: str, lines: Iterable[Line]) -> None:
    """Add texts after the last one of the building."""
    last = select(func.max(table.c.place)).where(table.c.building == key)
    place, now = connection.scalar(last) or 0, dt.datetime.now(dt.UTC)
    rows = [
        {"building": key, "place": place + k, "id": text.id, "body": text.body, "written": now, **columns}
        for k, (text, columns) in enumerate(lines, start=1)
    ]
    if rows:
        connection.execute(insert(table), rows)


def office_programmes(engine: Engine, key: str) -> OfficeTexts:
    """Return the accepted programmes of a building of an office."""
    return OfficeTexts(engine, key, programme_row, "the programme")

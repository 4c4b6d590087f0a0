"""The lists of one building in an office: what they promised, added and never changed."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterable

from sqlalchemy import Connection, Engine, func, insert, select
from sqlalchemy.exc import SQLAlchemyError

from spread.errors import RecordError
from spread.office.connecting import shown, writing
from spread.office.tables import building, promise_row
from spread.records.promises import Promise, promise_of_text, text_of_promise


class OfficePromises:
    """The lists of a building of an office; see :class:`spread.records.promises.Promises`.

    Parameters
    ----------
    engine
        An open office.
    key
        The building.
    """

    def __init__(self, engine: Engine, key: str) -> None:
        self._engine, self._key = engine, key
        self._lock = threading.Lock()
        self._known: dict[str, Promise | None] = {}
        self._place = 0

    def keep(self, promise: Promise) -> None:
        """Keep a list; it is on the disk when this returns."""
        with self._lock:
            if promise.id in self._known:
                return
            try:
                with writing(self._engine) as connection:
                    # Whoever else is at the building waits: the places stay without a gap.
                    line = select(building.c.key).where(building.c.key == self._key)
                    connection.execute(
                        line.with_for_update() if self._engine.dialect.name != "sqlite" else line
                    )
                    self._catch_up(connection)
                    if promise.id not in self._known:
                        insert_promises(connection, self._key, [promise])
            except SQLAlchemyError as error:
                reason = str(getattr(error, "orig", None) or error).strip().splitlines()[0][:200]
                file = f"{shown(str(self._engine.url))}#{self._key}"
                what = f"the list could not be kept ({reason})"
                raise RecordError.at(file, "", what, "see whether the office can be written") from None

    def all(self) -> tuple[Promise, ...]:
        """Return every list that can be read, in the order in which they were made."""
        with self._lock:
            try:
                with self._engine.connect() as connection:
                    self._catch_up(connection)
            except SQLAlchemyError:
                return ()
            return tuple(one for one in self._known.values() if one is not None)

    @property
    def can_keep(self) -> bool:
        """True: only trying tells."""
        return True

    @property
    def broken(self) -> int:
        """How many lines cannot be read."""
        return sum(one is None for one in self._known.values())

    def _catch_up(self, connection: Connection) -> None:
        table = promise_row.c
        after = select(table.place, table.id, table.body).where(
            table.building == self._key, table.place > self._place
        )
        for place, id_, body in connection.execute(after.order_by(table.place)):
            self._known[str(id_)] = promise_of_text(str(body))
            self._place = int(place)


def insert_promises(connection: Connection, key: str, promises: Iterable[Promise]) -> None:
    """Add lists after the last one of the building."""
    last = select(func.max(promise_row.c.place)).where(promise_row.c.building == key)
    place, now = connection.scalar(last) or 0, dt.datetime.now(dt.UTC)
    rows = [
        {
            "building": key, "place": place + k, "id": one.id, "day": one.on, "made_by": one.made_by,
            "method": one.method, "body": text_of_promise(one), "written": now,
        }
        for k, one in enumerate(promises, start=1)
    ]  # fmt: skip
    if rows:
        connection.execute(insert(promise_row), rows)

"""The lists of one building in an office: what they promised, added and never changed."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection, Engine

from spread.office.tables import promise_row
from spread.office.texts import Line, OfficeTexts, insert_texts
from spread.records.promises import Promise, promise_of_text, text_of_promise
from spread.records.texts import Text


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
        self._texts = OfficeTexts(engine, key, promise_row, "the list")
        self._known: dict[str, Promise | None] = {}

    def keep(self, promise: Promise) -> None:
        """Keep a list; it is on the disk when this returns."""
        text, columns = _line(promise)
        self._texts.keep(text, **columns)

    def all(self) -> tuple[Promise, ...]:
        """Return every list that can be read, in the order in which they were made."""
        for id_, body in self._texts.all():
            if id_ not in self._known:
                self._known[id_] = promise_of_text(body)
        return tuple(one for one in self._known.values() if one is not None)

    @property
    def can_keep(self) -> bool:
        """True: only trying tells."""
        return True

    @property
    def broken(self) -> int:
        """How many lines cannot be read."""
        return sum(one is None for one in self._known.values())


def insert_promises(connection: Connection, key: str, promises: Iterable[Promise]) -> None:
    """Add lists after the last one of the building."""
    insert_texts(connection, promise_row, key, map(_line, promises))


def _line(promise: Promise) -> Line:
    columns = {"day": promise.on, "made_by": promise.made_by, "method": promise.method}
    return Text(promise.id, text_of_promise(promise)), columns

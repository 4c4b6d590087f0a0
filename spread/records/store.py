"""Where a log is kept: what every store can do, and the log of one file by itself."""

from __future__ import annotations

import datetime as dt
import secrets
import time
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Protocol

from spread.records.disk import lock_of, read_bytes, turn
from spread.records.folder import FolderStore, Trouble
from spread.records.kinds import Record
from spread.records.log import Log
from spread.records.promises import Promises
from spread.records.table import read_table
from spread.records.texts import Texts

__all__ = ["FolderStore", "Log", "Store", "Trouble", "append_record", "new_id", "read_log"]

_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"  # no i, l, o, u: ids get read out over the telephone


class Store(Protocol):
    """Where the log of one building is kept; work with a building does not know which kind it has.

    Safe in several threads, and beside other programs at the same store. What each does is told at
    :class:`~spread.records.folder.FolderStore`.
    """

    @property
    def log(self) -> Log:
        """Everything known."""

    @property
    def trouble(self) -> Trouble | None:
        """What is the matter with what is kept; None where all is well."""

    @property
    def promises(self) -> Promises:
        """The lists of doors that were made."""

    @property
    def programmes(self) -> Texts:
        """The programmes that were accepted."""

    @property
    def identity(self) -> str:
        """An id that no other building has, a copy of this one neither."""

    def refresh(self) -> bool:
        """Take in what other programs did; return whether anything changed."""

    def append(self, record: Record, *, today: dt.date | None = None) -> bool:
        """Add a row; return whether it was new."""

    def extend(self, records: Sequence[Record]) -> None:
        """Add rows of elsewhere, all of them or none."""

    def put_back(self) -> int:
        """Put rows back that were known and are gone; return how many."""

    def accept(self, *, why: str = "") -> int:
        """Take what is kept as it is; return how many known rows are let go or changed."""

    def beside(self, name: str) -> bytes:
        """Return a file that is kept beside the log; empty where there is none."""

    def keep_beside(self, name: str, text: str | bytes) -> None:
        """Keep a file beside the log, whole or not at all, for what is no record and must outlive us."""

    def photograph(self, name: str) -> bytes | None:
        """Return a photograph by the name that a row has for it; None where none is kept."""

    def keep_photograph(self, name: str, data: bytes) -> bool:
        """Keep a photograph once; return whether it was new. What is kept under a name stays."""


def read_log(
    path: str | Path, units: Collection[str], *, shown_as: str | None = None, today: dt.date | None = None
) -> Log:
    """Return the log in a file; an empty log where the file is missing or empty.

    Raises RecordError with every problem of the file, each with its line and field.

    Parameters
    ----------
    path : The building's ``records.csv``
    units : Unit codes of the plan
    shown_as : How messages name the file; its name if None
    today : Rows dated more than a day after it are refused; None leaves that check out
    """
    path = Path(path)
    file = shown_as or path.name
    data = read_bytes(path, file)
    if data and not data.endswith(b"\n") and lock_of(path).exists():
        # Perhaps a row is being written this moment: look again when no writer is at it.
        with turn(path, file):
            data = read_bytes(path, file)
    return read_table(data, units, file=file, today=today)


def append_record(
    path: str | Path,
    record: Record,
    units: Collection[str],
    *,
    shown_as: str | None = None,
    today: dt.date | None = None,
) -> tuple[Log, bool]:
    """Add a row to the log, safely beside other threads and processes.

    The row is on the disk when this returns. A row that the file holds already is not added
    again, so a caller who does not know whether an attempt went through repeats it with the same
    id. A file that ends in half a line is refused and left as it is. A file that lacks a column
    which the row needs is written anew beside itself and put in its place in one step, so that it
    is never seen or left half widened.

    Raises RecordError with every problem of the row, or of the file; the file is then unchanged.

    Returned: the log with the row in it, and whether the row was new.

    Parameters
    ----------
    path : The building's ``records.csv``; made with its header if it is missing
    record : The row, its id given by the caller, for instance from :func:`new_id`
    units : Unit codes of the plan
    shown_as : How messages name the file; its name if None
    today : Rows dated more than a day after it are refused; None leaves that check out
    """
    store = FolderStore(path, units, shown_as=shown_as)
    new = store.append(record, today=today)
    return store.log, new


def new_id() -> str:
    """Return an id that no other row has: 16 characters that sort by the time they were made.

    A letter comes first so that no spreadsheet takes it for a number; then microseconds since 1970
    in 11 and chance in 4 characters of 5 bits.
    """
    number = time.time_ns() // 1000 << 20 | secrets.randbits(20)
    return "r" + "".join(_ALPHABET[number >> shift & 31] for shift in range(70, -1, -5))

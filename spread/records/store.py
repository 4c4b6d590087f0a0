"""The log on disk: read it, and add one row so that nothing can be lost or glued together."""

from __future__ import annotations

import datetime as dt
import secrets
import time
from collections.abc import Collection
from pathlib import Path

from spread.errors import Problem, RecordError
from spread.records.cells import columns_for, header, to_fields, to_line
from spread.records.disk import append_bytes, lock_of, read_bytes, replace_bytes, turn
from spread.records.items import finding_problems
from spread.records.kinds import Record
from spread.records.log import Log
from spread.records.parse import as_problems, record_from_fields
from spread.records.table import SIZE_LIMIT, header_of, read_table, widened

__all__ = ["Log", "append_record", "new_id", "read_log"]

_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"  # no i, l, o, u: ids get read out over the telephone


def read_log(
    path: str | Path, units: Collection[str], *, shown_as: str | None = None, today: dt.date | None = None
) -> Log:
    """Return the log in a file; an empty log where the file is missing or empty.

    Parameters
    ----------
    path
        The building's ``records.csv``.
    units
        Unit codes of the plan.
    shown_as
        How messages name the file; its name if None.
    today
        Rows dated more than a day after it are refused; None leaves that check out.

    Raises
    ------
    RecordError
        With every problem of the file, each with its line and field.
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

    Parameters
    ----------
    path
        The building's ``records.csv``; made with its header if it is missing.
    record
        The row, its id given by the caller, for instance from :func:`new_id`.
    units
        Unit codes of the plan.
    shown_as
        How messages name the file; its name if None.
    today
        Rows dated more than a day after it are refused; None leaves that check out.

    Returns
    -------
    log, new
        The log with the row in it, and whether the row was new.

    Raises
    ------
    RecordError
        With every problem of the row, or of the file; the file is then unchanged.
    """
    path = Path(path)
    file = shown_as or path.name
    if wrong := finding_problems(record.items):
        raise RecordError(as_problems(wrong, file, "new row"))
    # Through the same door as a row of the file: what is written can be read, and means the same.
    record = record_from_fields(to_fields(record), units, file=file, where="new row", today=today)
    fields = to_fields(record)
    with turn(path, file):
        data = read_bytes(path, file)
        log = read_table(data, units, file=file, today=today)
        longer = log.with_row(record)
        if longer is log:
            return log, False
        had = header_of(data)
        columns = columns_for(fields, had)
        line = to_line(fields, columns).encode("utf-8")
        whole = widened(data, columns[len(had) :]) if had and columns != had else b""
        if not had:
            line = header(columns).encode("utf-8") + line
        elif not (whole or data).endswith((b"\n", b"\r")):
            line = b"\n" + line
        if len(whole or data) + len(line) > SIZE_LIMIT:
            raise RecordError(Problem(file, "", "the file is full", "start a new one and keep this"))
        if whole:
            replace_bytes(path, whole + line, file)
        else:
            append_bytes(path, line, len(data), file)
        return longer, True


def new_id() -> str:
    """Return an id that no other row has: 16 characters that sort by the time they were made.

    A letter comes first so that no spreadsheet takes it for a number; then microseconds since 1970
    in 11 and chance in 4 characters of 5 bits.
    """
    number = time.time_ns() // 1000 << 20 | secrets.randbits(20)
    return "r" + "".join(_ALPHABET[number >> shift & 31] for shift in range(70, -1, -5))

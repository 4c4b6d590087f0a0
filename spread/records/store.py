"""The log on disk: read it, and add one row so that nothing can be lost or glued together."""

from __future__ import annotations

import datetime as dt
import os
import secrets
import shutil
import time
from collections.abc import Collection
from pathlib import Path

from spread.errors import Problem, RecordError
from spread.records.cells import columns_for, header, to_fields, to_line
from spread.records.items import finding_problems
from spread.records.kinds import Record
from spread.records.lock import hold
from spread.records.log import Log
from spread.records.parse import as_problems, record_from_fields
from spread.records.table import SIZE_LIMIT, header_of, read_table, widened

__all__ = ["Log", "append_record", "new_id", "read_log"]

_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"  # no i, l, o, u: ids get read out over the telephone
_PATIENCE = 30.0


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
    data = _read_bytes(path, file)
    lock = _lock_of(path)
    if data and not data.endswith(b"\n") and lock.exists():
        # Perhaps a row is being written this moment: look again when no writer is at it.
        try:
            with hold(lock, _PATIENCE):
                data = _read_bytes(path, file)
        except OSError as error:
            raise _no_turn(file, error) from None
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
    try:
        with hold(_lock_of(path), _PATIENCE):
            data = _read_bytes(path, file)
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
                _replace(path, whole + line, file)
            else:
                _write(path, line, len(data), file)
            return longer, True
    except OSError as error:
        raise _no_turn(file, error) from None


def new_id() -> str:
    """Return an id that no other row has: 16 characters that sort by the time they were made.

    A letter comes first so that no spreadsheet takes it for a number; then microseconds since 1970
    in 11 and chance in 4 characters of 5 bits.
    """
    number = time.time_ns() // 1000 << 20 | secrets.randbits(20)
    return "r" + "".join(_ALPHABET[number >> shift & 31] for shift in range(70, -1, -5))


def _lock_of(path: Path) -> Path:
    return path.with_name(path.name + ".lock")


def _read_bytes(path: Path, file: str) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(SIZE_LIMIT + 1)
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise RecordError(
            Problem(file, "", f"the file cannot be read ({error.strerror})", "check it")
        ) from None


def _write(path: Path, line: bytes, size: int, file: str) -> None:
    """Append ``line`` in one write and wait for the disk; on failure cut the file back to ``size``."""
    is_new = not path.exists()
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0), 0o666)
    try:
        try:
            written = os.write(handle, line)
            os.fsync(handle)
            why = "only a part of the row fits"
        except OSError as error:
            written, why = -1, str(error.strerror)
        if written != len(line):
            os.ftruncate(handle, size)
            what = f"the row could not be written and was not kept ({why})"
            raise RecordError(Problem(file, "", what, "make room on the disk and try again"))
    finally:
        os.close(handle)
    if is_new:
        _keep_name(path)


def _replace(path: Path, data: bytes, file: str) -> None:
    """Write the whole file anew beside itself, wait for the disk, and put it in its place in one step."""
    fresh = path.with_name(path.name + ".new")
    try:
        with fresh.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        shutil.copymode(path, fresh)
        fresh.replace(path)
    except OSError as error:
        fresh.unlink(missing_ok=True)
        what = f"the row could not be written and was not kept ({error.strerror})"
        raise RecordError(Problem(file, "", what, "make room on the disk and try again")) from None
    _keep_name(path)


def _keep_name(path: Path) -> None:
    """Wait until the folder is on the disk: only then is the name of a new file."""
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _no_turn(file: str, error: OSError) -> RecordError:
    if isinstance(error, TimeoutError):
        what, fix = f"another program has been writing for {_PATIENCE:.0f} seconds", "close it and try again"
    else:
        what, fix = (
            f"the file cannot be written ({error.strerror})",
            "check that the folder exists and is yours",
        )
    return RecordError(Problem(file, "", what, fix))

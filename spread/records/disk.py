"""The bytes of a log on the disk: one writer at a time, and no row half written."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from spread.errors import Problem, RecordError
from spread.records.lock import hold
from spread.records.table import SIZE_LIMIT

PATIENCE = 30.0  #: Seconds to wait for another writer


def lock_of(path: Path) -> Path:
    """Return the lock file of a log."""
    return path.with_name(path.name + ".lock")


@contextmanager
def turn(path: Path, file: str, patience: float = PATIENCE) -> Iterator[None]:
    """Hold a log's lock for the length of the block.

    ``path``: the log; ``file``: how messages name it. Raises RecordError when another program holds it for
    ``patience`` seconds, or the folder cannot be written.
    """
    try:
        with hold(lock_of(path), patience):
            yield
    except OSError as error:
        raise _no_turn(file, error, patience) from None


def read_bytes(path: Path, file: str) -> bytes:
    """Return what a log holds, and one byte more than may be read where it is too large; empty if missing.

    Raises RecordError when the file cannot be read.
    """
    try:
        with path.open("rb") as stream:
            return stream.read(SIZE_LIMIT + 1)
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise RecordError(
            Problem(file, "", f"the file cannot be read ({error.strerror})", "check it")
        ) from None


def append_bytes(path: Path, line: bytes, size: int, file: str) -> None:
    """Append ``line`` in one write and wait for the disk; on failure cut the file back to ``size``.

    Raises
    ------
    RecordError
        When not the whole line could be written.
    OSError
        When the file cannot be opened.
    """
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


def replace_bytes(path: Path, data: bytes, file: str) -> None:
    """Write the whole file anew beside itself, wait for the disk, and put it in its place in one step.

    Raises RecordError when it cannot be written; the old file is then as it was.
    """
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


def _no_turn(file: str, error: OSError, patience: float) -> RecordError:
    if isinstance(error, TimeoutError):
        what, fix = f"another program has been writing for {patience:.0f} seconds", "close it and try again"
    else:
        what, fix = (
            f"the file cannot be written ({error.strerror})",
            "check that the folder exists and is yours",
        )
    return RecordError(Problem(file, "", what, fix))

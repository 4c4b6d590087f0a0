"""One writer at a time, across threads and processes."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def hold(path: Path, patience: float = 30.0) -> Iterator[None]:
    """Hold the lock file ``path`` for the length of the block.

    The system lets go of the lock when a process dies, so a crash leaves nothing to tidy. The file
    itself stays: removing it would let two writers hold two different files of one name.

    ``path``: the lock file; made if it is missing; ``patience``: seconds to wait for another writer.

    Raises
    ------
    TimeoutError
        When another writer held the lock all that time.
    OSError
        When the lock file cannot be made.
    """
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    try:
        give_up = time.monotonic() + patience
        while not _take(handle):
            if time.monotonic() > give_up:
                raise TimeoutError(str(path))
            time.sleep(0.005)
        yield
    finally:
        os.close(handle)  # closing lets go of it


if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> bool:
        os.lseek(handle, 0, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _take(handle: int) -> bool:
        # flock and not lockf: it belongs to the open file, so it also parts threads of one process.
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

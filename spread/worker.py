"""Reading what a stranger sent in a process of its own, which may be ended when it takes too much."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from importlib import import_module

from spread.errors import Problem, SpreadError

SECONDS = 20
"""Longest time that a file may take to be read."""
MEGABYTES = 700
"""Most memory that reading may take, where the system can hold a process to it."""
_BAD = 3
_SMALLER = "keep only the sheet that is needed, or save it as CSV"


def in_worker(
    reader: str, data: bytes, *words: str, seconds: float = SECONDS, smaller: str = _SMALLER
) -> object:
    """Read a file in a process of its own.

    Parameters
    ----------
    reader
        Module and function, as ``spread.plan.spreadsheet:rows_of``; called with the data and the words, and
        returns something that JSON can hold.
    data
        The whole file.
    words
        More for the reader; the first is how messages name the file.
    seconds
        Longest time.
    smaller
        What to do about a file that takes too much.

    Raises
    ------
    SpreadError
        What the reader raised; or one sentence when it took too long or too much.
    """
    command = [sys.executable, "-c", f"from spread.worker import serve; serve({reader!r}, {words!r})"]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    file = words[0] if words else "the file"
    try:
        done = subprocess.run(
            command, input=data, capture_output=True, timeout=seconds, env=environment, check=False
        )
    except subprocess.TimeoutExpired:
        what = f"it takes more than {seconds:.0f} seconds to read"
        raise SpreadError(Problem(file, "", what, smaller)) from None
    if done.returncode == _BAD:
        raise SpreadError([Problem(*parts) for parts in json.loads(done.stdout)])
    if done.returncode:
        what = "it takes too much memory to read, or is spoilt"
        raise SpreadError(Problem(file, "", what, smaller))
    return json.loads(done.stdout)


def serve(reader: str, words: tuple[str, ...]) -> None:
    """Run a reader on standard input; the other side of :func:`in_worker`."""
    try:
        import resource  # noqa: PLC0415 - not on every system

        resource.setrlimit(resource.RLIMIT_AS, (MEGABYTES * 1_000_000,) * 2)
    except (ImportError, ValueError, OSError):
        pass
    module, _, function = reader.partition(":")
    try:
        result = getattr(import_module(module), function)(sys.stdin.buffer.read(), *words)
        text = json.dumps(result)
    except SpreadError as error:
        parts = [(one.file, one.where, one.what, one.fix) for one in error.problems]
        sys.stdout.write(json.dumps(parts or [(words[0], "", str(error), "")]))
        sys.exit(_BAD)
    sys.stdout.write(text)

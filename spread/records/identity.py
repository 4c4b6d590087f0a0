"""Which building a folder is: a chance id beside its log, by which a copy is told from a folder that moved.

Phones keep answers by it. A copied folder brings the file along, but not the place on the disk that the file
names; it gets an id of its own the first time that it is asked. A folder that is moved keeps its id.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from pathlib import Path

from spread.errors import SpreadError
from spread.files import write_whole
from spread.records.disk import turn

SUFFIX = ".id"


def identity_of(log: Path) -> str:
    """Return the id of the building whose log this is; made when it is first asked for.

    Where the folder cannot be written, the id is worked out of its place.

    Parameters
    ----------
    log
        The building's ``records.csv``; it need not be there.
    """
    here = _place(log.parent)
    path = log.with_name(log.name + SUFFIX)
    try:
        with turn(log, log.name):
            kept = _kept(path)
            if kept.get("place") == here:
                return str(kept["id"])
            known = str(kept["id"]) if _is_same(kept.get("place"), here) else secrets.token_hex(16)
            write_whole(path, json.dumps({"id": known, "place": here}) + "\n")
            return known
    except SpreadError:
        return hashlib.sha256(json.dumps(here).encode()).hexdigest()[:32]


def _place(folder: Path) -> list[object]:
    stat = folder.stat()
    return [stat.st_ino, stat.st_dev, str(folder.resolve())]


def _kept(path: Path) -> dict[str, object]:
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return kept if isinstance(kept, dict) and isinstance(kept.get("id"), str) else {}


def _is_same(before: object, here: list[object]) -> bool:
    """Say whether a folder is the one that an id was made for.

    The inode must be the same, and the path or the disk: a disk may get another number at the next start of
    the machine, and a folder may be moved on its disk.
    """
    if not isinstance(before, list) or len(before) != len(here):
        return False
    return before[0] == here[0] and (before[1] == here[1] or before[2] == here[2])

"""A folder of buildings' folders, read without opening any of them."""

from __future__ import annotations

import csv
import datetime as dt
import re
import tomllib
from pathlib import Path

from spread.errors import SpreadError
from spread.portfolio.standing import Kept
from spread.records.summaries import file_of, summary_of_text

SETTINGS_FILE, LOG_FILE = "building.toml", "records.csv"
PEOPLE_FILE = "people.json"
_PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
"""Names of folders that are the same in an address."""


def is_many(folder: Path) -> bool:
    """Whether a folder is none of a building but holds some."""
    return (
        folder.is_dir() and not (folder / SETTINGS_FILE).exists() and any(folder.glob(f"*/{SETTINGS_FILE}"))
    )


def folders_in(folder: Path) -> dict[str, Path]:
    """Return the buildings' folders in a folder, by name.

    Raises SpreadError where there is none.
    """
    if not folder.is_dir():
        fix = "name the folder that holds the buildings' folders"
        raise SpreadError.at(folder.name or str(folder), "", "there is no such folder", fix)
    found = {path.parent.name: path.parent for path in sorted(folder.glob(f"*/{SETTINGS_FILE}"))}
    if not found:
        fix = f"put folders with a {SETTINGS_FILE} into it, or name the folder that holds them"
        raise SpreadError.at(folder.name or str(folder), "", "it holds no building's folder", fix)
    return found


def read_many(folder: Path) -> tuple[Kept, ...]:
    """Return what is kept of every building in a folder; raises SpreadError where there is none."""
    return tuple(read_kept(key, path) for key, path in folders_in(folder).items())


def read_kept(key: str, folder: Path) -> Kept:
    """Return what is kept of one building; what cannot be read is told in its ``problem``."""
    if not _PLAIN.fullmatch(key):
        return Kept(key, key, problem="Name its folder with letters, digits, dots, - and _ to open it here.")
    try:
        name = str(tomllib.loads((folder / SETTINGS_FILE).read_text(encoding="utf-8-sig")).get("name", key))
        rows, last, written = _log(folder / LOG_FILE)
        kept = folder / file_of(LOG_FILE)
        summary = summary_of_text(kept.read_bytes()) if kept.exists() else None
    except (OSError, ValueError, csv.Error) as error:
        return Kept(key, key, problem=f"It cannot be read: {str(error).splitlines()[0][:120]}.")
    return Kept(key, name, summary, rows, last, written)


def _log(path: Path) -> tuple[int, dt.date | None, dt.date | None]:
    """Return how many rows a log has, the last day among them, and the day it was last written."""
    if not path.exists():
        return 0, None, None
    with path.open(newline="", encoding="utf-8-sig") as file:
        lines = csv.reader(file)
        head = next(lines, [])
        place = head.index("when") if "when" in head else -1
        days = [line[place] if 0 <= place < len(line) else "" for line in lines if line]
    known = max(filter(_is_day, set(days)), default="")
    written = dt.date.fromtimestamp(path.stat().st_mtime) if days else None
    return len(days), dt.date.fromisoformat(known) if known else None, written


def _is_day(text: str) -> bool:
    try:
        dt.date.fromisoformat(text)
    except ValueError:
        return False
    return True

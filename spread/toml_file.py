"""Reading a TOML file that somebody may have edited, with one sentence for what is wrong."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Collection
from pathlib import Path
from typing import Any

from spread.errors import SettingsError

LARGEST_FILE = 1_000_000
"""Bytes that are read unless the reader says otherwise; a longer file is something else."""
TEXT_IN_QUOTES = "put texts in quotes, and start tables with [name]"
"""What to do where a file is not TOML, unless its reader knows better."""


def read_toml(
    path: Path,
    *,
    largest: int = LARGEST_FILE,
    too_large: str = "keep it to words",
    shown_as: str | None = None,
    missing: str = "check the path",
    fix: str = TEXT_IN_QUOTES,
) -> dict[str, Any]:
    """Read a TOML file as UTF-8.

    ``largest``: bytes; a longer file is something else. ``too_large``: what to do where it is longer.
    ``shown_as``: how messages name the file; its name if None. ``missing``: what to do where there is no such
    file. ``fix``: what to do where it is not TOML. Returns its tables and values. Raises SettingsError when
    it cannot be read or is not TOML.
    """
    file = shown_as or path.name
    try:
        if path.stat().st_size > largest:
            large = f"{largest / 1e6:g} MB" if largest >= 1_000_000 else f"{largest / 1e3:g} kB"
            raise SettingsError.at(file, "", f"it is larger than {large}", too_large)
        data = path.read_bytes()
    except FileNotFoundError:
        raise SettingsError.at(file, "", "there is no such file", missing) from None
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise SettingsError.at(
            file, "", f"it cannot be read ({why})", "check that it is a file you may open"
        ) from None
    return parse_toml(data, file, fix=fix)


def parse_toml(data: bytes | str, file: str, *, fix: str = TEXT_IN_QUOTES) -> dict[str, Any]:
    """Turn the content of a TOML file into tables; see :func:`read_toml`."""
    try:
        return tomllib.loads(data if isinstance(data, str) else data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise SettingsError.at(
            file, f"byte {error.start + 1}", "it is not UTF-8 text", "save it as UTF-8"
        ) from None
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        why = str(error) if isinstance(error, tomllib.TOMLDecodeError) else "nested or long beyond use"
        raise SettingsError.at(file, "", f"it is not TOML ({why})", fix) from None


def near(word: str, known: Collection[str]) -> str:
    """Return an instruction that names the nearest known word, or all of them."""
    close = difflib.get_close_matches(word.lower(), sorted(known), n=1, cutoff=0.6)
    return f"write {close[0]!r} if that is meant" if close else f"use one of {', '.join(known)}"

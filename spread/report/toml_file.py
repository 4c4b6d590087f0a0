"""Reading a TOML file of words that somebody may have edited, with one sentence for what is wrong."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Collection
from pathlib import Path
from typing import Any

from spread.errors import Problem, SettingsError

LARGEST_FILE = 1_000_000
"""Bytes; a longer file is something else."""


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file as UTF-8.

    Raises
    ------
    SettingsError
        When it cannot be read or is not TOML.
    """
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise SettingsError(Problem(path.name, "", "it is larger than 1 MB", "keep it to words"))
        data = path.read_bytes()
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise SettingsError(
            Problem(path.name, "", f"it cannot be read ({why})", "check that it is a file you may open")
        ) from None
    return parse_toml(data, path.name)


def parse_toml(data: bytes, file: str) -> dict[str, Any]:
    """Turn the bytes of a TOML file into tables; see :func:`read_toml`."""
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise SettingsError(
            Problem(file, f"byte {error.start + 1}", "it is not UTF-8 text", "save it as UTF-8")
        ) from None
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        reason = str(error) if isinstance(error, tomllib.TOMLDecodeError) else "nested or long beyond use"
        fix = 'write lines such as phone = "555 0100", text in quotes'
        raise SettingsError(Problem(file, "", f"it is not TOML ({reason})", fix)) from None


def near(word: str, known: Collection[str]) -> str:
    """Return an instruction that names the nearest known word, or all of them."""
    close = difflib.get_close_matches(word.lower(), sorted(known), n=1, cutoff=0.6)
    return f"write {close[0]!r} if that is meant" if close else f"use one of {', '.join(known)}"

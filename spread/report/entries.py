"""Entries of a TOML file that are a few words each, such as a name or a phone number."""

from __future__ import annotations

from collections.abc import Sequence

from spread.errors import Problem
from spread.toml_file import near

LONGEST = 400
"""Letters of one entry; more does not fit on a notice."""


def entry_problem(
    file: str, where: str, key: str, value: object, known: Sequence[str], near_to: Sequence[str] = ()
) -> Problem | None:
    """Return what is wrong with an entry, or None.

    ``file``, ``where``: as in a :class:`~spread.errors.Problem`. ``key``, ``value``: the entry. ``known``:
    Keys that it may have. ``near_to``: keys to guess at for an unknown one; ``known`` if empty.
    """
    if key not in known:
        return Problem(file, where, "it is not known", near(key, near_to or known))
    if not isinstance(value, str):
        return Problem(file, where, "it is not a text", f'put it in quotes, as in {key} = "..."')
    if len(value) > LONGEST:
        return Problem(file, where, f"it has {len(value)} letters", f"keep it to {LONGEST}")
    return None


def one_line(words: object) -> str:
    """Return the words of an entry with single spaces."""
    return " ".join(str(words).split())

"""Unit codes as people write them: the same code in other clothes, or a question. Never a guess at a home."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Mapping

_WORDS = re.compile(r"^(apartment|apt|unit|flat|suite|room|ste|no|nr)\b|[\s.#_-]")


def bare(code: str) -> str:
    """Return what is left of a code without words, spaces and marks: ``Apt. #304-B`` gives ``304b``.

    Leading zeros stay: ``0304`` may be another door than ``304``.
    """
    text = code.strip().casefold()
    while (shorter := _WORDS.sub("", text)) != text:
        text = shorter
    return text


def by_bare_code(units: Collection[str]) -> Mapping[str, str]:
    """Return the units of a plan by their bare code, without those that share one."""
    found: dict[str, list[str]] = {}
    for unit in units:
        found.setdefault(bare(unit), []).append(unit)
    return {code: of[0] for code, of in found.items() if len(of) == 1}


def home_of(written: str, units: Collection[str], known: Mapping[str, str]) -> str:
    """Return the unit of the plan that a code is, in other clothes at most; empty if it is none.

    ``known``: what :func:`by_bare_code` gave for those units.
    """
    return written if written in units else known.get(bare(written), "")


def near(code: str, units: Collection[str]) -> tuple[str, ...]:
    """Return up to three units that a code may be a slip for, the nearest first."""
    alike = {bare(unit): unit for unit in units}
    swapped = bare(code).translate(str.maketrans("oil", "011"))
    if swapped in alike:
        return (alike[swapped],)
    return tuple(alike[one] for one in difflib.get_close_matches(bare(code), alike, n=3, cutoff=0.6))

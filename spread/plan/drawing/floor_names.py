"""Floor names: which are the same, and which lies above which."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence

from spread.plan.drawing.listed import NaturalKey, natural_key

_WORDS = re.compile(r"\b(floor|level|storey|story|flr|lvl|fl)\b|[\s._]")
_NAMED = {
    "sb": -50.0, "subbasement": -50.0, "sub-basement": -50.0,
    "b": -1.0, "bsmt": -1.0, "basement": -1.0, "cellar": -1.0, "lower": -0.5, "lg": -0.5, "lowerground": -0.5,
    "g": 0.0, "gf": 0.0, "gr": 0.0, "ground": 0.0, "main": 0.1, "l": 0.2, "lobby": 0.2, "ug": 0.3,
    "upperground": 0.3, "m": 0.5, "mezz": 0.5, "mezzanine": 0.5, "roof": 20_000.0,
}  # fmt: skip


def _plain(name: str) -> str:
    text = _WORDS.sub("", name.strip().casefold())
    return re.sub(r"^(\d+)(st|nd|rd|th)$", r"\1", text)


def floor_number(name: str) -> str:
    """Return the number in a floor's name without leading zeros, or empty: ``"L04"`` gives ``"4"``."""
    found = re.search(r"\d+", name)
    return str(int(found.group())) if found else ""


def floor_height(name: str) -> tuple[float, NaturalKey]:
    """Return a key that sorts floors from the lowest: basements, ground, 1, 2, ..., penthouse."""
    text = _plain(name)
    level = 5_000.0
    if text in _NAMED:
        level = _NAMED[text]
    elif match := re.fullmatch(r"(?:ph|penthouse)-?(\d*)", text):
        level = 10_000.0 + int(match.group(1) or 0)
    elif match := re.fullmatch(r"(?:b|basement|-)(\d+)", text):
        level = -float(match.group(1))
    elif match := re.fullmatch(r"[a-z]{0,2}-?(\d+)([a-z]?)", text):
        level = int(match.group(1)) + (0.5 if match.group(2) else 0.0)
    return level, natural_key(name)


def same_floor(name: str) -> str:
    """Return what two spellings of one floor share: ``"01"``, ``"1"`` and ``"Floor 1"`` are the same."""
    text = _plain(name)
    return str(int(text)) if text.isdecimal() else text


def infer_floors(names: Iterable[str]) -> tuple[str, ...]:
    """Return the floors of a list, lowest first, each in its commonest spelling."""
    spellings: dict[str, Counter[str]] = {}
    for name in names:
        spellings.setdefault(same_floor(name), Counter())[name] += 1
    common = [min(seen, key=lambda name: (-seen[name], name)) for seen in spellings.values()]
    return tuple(sorted(common, key=floor_height))


def match_floor(name: str, floors: Sequence[str]) -> str | None:
    """Return the floor among ``floors`` that ``name`` means, or None."""
    if name in floors:
        return name
    return next((floor for floor in floors if same_floor(floor) == same_floor(name)), None)

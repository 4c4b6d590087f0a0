"""Which rooms are one unit, and how units are called."""

from __future__ import annotations

import os.path
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from spread.outlines.found import Room

BY_ZONE, BY_DOORS, EACH = "by zone", "by the doors between them", "each room is one"
GATHERED = (BY_ZONE, BY_DOORS, EACH)
"""How rooms may be gathered into units."""


@dataclass(frozen=True, slots=True)
class Home:
    """A unit, or a part of one on some floors: its code, or none, and its rooms by place in the list."""

    code: str
    rooms: tuple[int, ...]


def shared(names: Iterable[str]) -> str:
    """Return the code that names of rooms share: ``A101`` and ``A104`` are of ``A``; empty if none.

    What follows letters is the room's own number; a number alone is kept whole: ``101.1`` and ``101.2`` are
    of ``101``.
    """
    several = list(names)
    start = os.path.commonprefix(several)  # noqa: RUF071 - of texts, not of paths
    if len(several) > 1 and re.match(r"\d", min(several, key=len)[len(start) :]):
        start = re.sub(r"(?<=[A-Za-z])\d+$", "", start)
        start = "" if len(start) == 1 and start.isdigit() else start  # ``10`` and ``12`` share nothing
    return start.strip(" .-_/")


def likely(rooms: Sequence[Room], parts: Sequence[Sequence[int]]) -> str:
    """Return how rooms may be gathered: by zones where most have one, by doors where these join rooms."""
    every = [n for part in parts for n in part]
    zoned = sum(bool(rooms[n].group) for n in every)
    if every and zoned * 2 > len(every):
        return BY_ZONE
    return BY_DOORS if len(every) > len(parts) else EACH


def gathered(how: str, rooms: Sequence[Room], parts: Sequence[Sequence[int]]) -> list[Home]:
    """Return the homes; a room without a zone is one of its own there."""
    every = sorted(n for part in parts for n in part)
    if how == BY_DOORS:
        return [Home(shared(rooms[n].name for n in part), tuple(part)) for part in parts]
    if how == EACH:
        return [Home(rooms[n].name, (n,)) for n in every]
    zones: dict[str, list[int]] = {}
    for n in every:
        zones.setdefault(rooms[n].group or rooms[n].name, []).append(n)
    return [Home(code, tuple(of)) for code, of in zones.items()]


def numbered(homes: Sequence[Home], rooms: Sequence[Room], floors: Sequence[str]) -> list[Home]:
    """Return homes with a number for those that have no code: their floor, and 01 and on from the west."""
    taken = {home.code for home in homes}
    west = sorted(range(len(homes)), key=lambda n: _corner(homes[n], rooms))
    named = list(homes)
    for n in west:
        if not named[n].code:
            floor = floors[min(rooms[room].levels[0] for room in named[n].rooms)]
            count = 1
            while f"{floor}{count:02d}" in taken:
                count += 1
            named[n] = replace(named[n], code=f"{floor}{count:02d}")
            taken.add(named[n].code)
    return named


def _corner(home: Home, rooms: Sequence[Room]) -> tuple[float, float]:
    bounds = [outline.bounds for n in home.rooms if (outline := rooms[n].outline) is not None]
    return min((round(b[0], 1), round(b[1], 1)) for b in bounds) if bounds else (0.0, 0.0)

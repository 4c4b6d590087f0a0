"""Which rooms of a file are one unit, with what a person must say of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from spread.errors import PlanError, Problem
from spread.outlines.asking import ABOVE, NO_CODE, TWICE, UNITS, Asker
from spread.outlines.codes import EACH, GATHERED, Home, gathered, likely, numbered
from spread.outlines.columns import NUMBERED
from spread.outlines.found import Found
from spread.outlines.kinds import HOME, LEFT_OUT, homes, ways

ONE_UNIT, FLOOR_FIRST = "one unit over its floors", "a unit on each, the floor before its code"
ROOMS_OF_ONE, MISTAKE = "rooms of one unit", "a mistake in the file"


def units_of(
    found: Found, kinds: Mapping[int, str], floors: Mapping[int, str], asker: Asker, file: str
) -> list[Home]:
    """Return a home for each code; while questions are open, what is suggested.

    ``kinds``: what each room is. ``floors``: names by level. Raises PlanError with every code that was said
    to stand twice by mistake.
    """
    every = [n for n, kind in kinds.items() if kind == HOME]
    parts = homes(ways(found), every)
    how = EACH
    if found.layers is None and (found.doors or any(found.rooms[n].group for n in every)):
        zones = {found.rooms[n].group for n in every if found.rooms[n].group}
        shown = [f"{len(parts)} by doors", f"{len(zones)} zones", f"{len(every)} rooms"]
        may_be = likely(found.rooms, parts)
        how = asker.choose(UNITS, GATHERED, may_be, times=len(every), examples=shown)
    units = gathered(how, found.rooms, parts)
    if how != EACH:
        units = _without_clash(found, units)
    bare = [home for home in units if not home.code]
    if bare:
        shown = [", ".join(found.rooms[n].name or found.rooms[n].place for n in home.rooms) for home in bare]
        told = asker.choose(NO_CODE, (NUMBERED, LEFT_OUT), NUMBERED, times=len(bare), examples=shown)
        units = [home for home in units if home.code] if told == LEFT_OUT else units
    names = [floors.get(n, "") for n in range(len(found.levels))]
    return _one_for_each_code(found, numbered(units, found.rooms, names), names, asker, file)


def _without_clash(found: Found, units: Sequence[Home]) -> list[Home]:
    """Take the code from homes that share it on a floor: what their rooms' names share is no code then."""
    seen: dict[tuple[str, int], set[int]] = {}
    for place, home in enumerate(units):
        for level in _levels(found, home):
            seen.setdefault((home.code, level), set()).add(place)
    clash = {place for of in seen.values() if len(of) > 1 for place in of}
    return [replace(home, code="") if n in clash else home for n, home in enumerate(units)]


def _levels(found: Found, home: Home) -> list[int]:
    return sorted({level for n in home.rooms for level in found.rooms[n].levels})


def _one_for_each_code(
    found: Found, units: Sequence[Home], floors: Sequence[str], asker: Asker, file: str
) -> list[Home]:
    """Join the parts of a code on a floor, and over floors, as a person said."""
    by_code: dict[str, list[Home]] = {}
    for home in units:
        by_code.setdefault(home.code, []).append(home)
    levels = {code: [n for home in of for n in _levels(found, home)] for code, of in by_code.items()}
    twice = [code for code, on in levels.items() if len(on) > len(set(on))]
    above = [code for code, on in levels.items() if len(by_code[code]) > 1 and len(set(on)) > 1]
    shown = {code: _places(found, by_code[code]) for code in (*twice, *above)}
    if twice:
        some = [f"{code}: {shown[code]}" for code in twice]
        told = asker.choose(TWICE, (ROOMS_OF_ONE, MISTAKE), "", times=len(twice), examples=some)
        if told == MISTAKE:
            fix = "give each home a code of its own in the file"
            whats = {code: f"it is there twice on one floor: {shown[code]}" for code in twice}
            raise PlanError(Problem(file, f"unit {code!r}", what, fix) for code, what in whats.items())
    over = ONE_UNIT
    if above:
        entered = {n for door in found.doors for n in door.rooms}
        all_entered = all(entered & set(home.rooms) for code in above for home in by_code[code])
        may_be = FLOOR_FIRST if len(above) == len(by_code) > 1 and all_entered else ONE_UNIT
        some = [f"{code}: {shown[code]}" for code in above]
        options = (ONE_UNIT, FLOOR_FIRST)
        over = asker.choose(ABOVE, options, may_be, times=len(above), examples=some, quiet=False)
    made: dict[str, list[int]] = {}
    for home in units:
        first = over == FLOOR_FIRST and home.code in above
        code = f"{floors[_levels(found, home)[0]]}-{home.code}" if first else home.code
        made.setdefault(code, []).extend(home.rooms)
    return [Home(code, tuple(of)) for code, of in made.items()]


def _places(found: Found, of: Sequence[Home]) -> str:
    rooms = [found.rooms[n] for home in of for n in home.rooms]
    several = len(found.levels) > 1
    places = [
        f"{r.place} on {found.levels[r.levels[0]]}" if several and " on " not in r.place else r.place
        for r in rooms
    ]
    return ", ".join(places[:4])

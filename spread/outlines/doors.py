"""The doors of units: to hallways and stairs, else to the outside, else put into a wall, which is said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from spread.errors import Problem
from spread.outlines.codes import Home
from spread.outlines.found import Found
from spread.outlines.kinds import COMMON, HALLWAY, STAIR
from spread.plan.losses import TOUCH
from spread.plan.model import Shape

_LEAST_WALL = 0.5  # metres of a wall that a door may stand in

Placed = tuple[str, str, Point]
"""Unit, floor and place of a door."""


@dataclass
class _Sorted:
    """Doors by unit: to what all people walk on, or to nothing that is drawn; and from home to home."""

    inner: dict[str, list[Placed]] = field(default_factory=dict)
    outer: dict[str, list[Placed]] = field(default_factory=dict)
    between: list[str] = field(default_factory=list)


def doors_of(
    found: Found,
    kinds: Mapping[int, str],
    homes: Sequence[Home],
    floors: Mapping[int, str],
    units: Mapping[str, Mapping[str, Shape]],
    halls: Mapping[str, Sequence[BaseGeometry]],
    places: Sequence[Point],
    file: str,
) -> tuple[list[Placed], list[Problem]]:
    """Return doors, and sentences on those that were put or left out.

    ``floors``: names by level, lowest first. ``units``, ``halls``: outlines on the plan, halls by floor.
    ``places``: where the doors of the file are on the plan.
    """
    sorted_ = _sorted(found, kinds, homes, floors, units, places)
    order = list(floors.values()).index
    made: list[Placed] = []
    put = []
    for code, parts in units.items():
        if code in sorted_.inner:
            made += sorted_.inner[code]
        elif code in sorted_.outer:  # one to a balcony is above the one that people come in by
            lowest = min(order(floor) for _, floor, _ in sorted_.outer[code])
            made += [one for one in sorted_.outer[code] if order(one[1]) == lowest]
        else:
            walls = ((code, floor, _in_wall(part, halls.get(floor, ()))) for floor, part in parts.items())
            first = next(((code, floor, at) for code, floor, at in walls if at is not None), None)
            if first is not None:
                made.append(first)
                put.append(code)
    notes = []
    if put:
        what = f"{_listed(put)} had no door, and one was put into the middle of the wall to the hallway"
        notes.append(Problem(file, "doors", what, "move it to where it is"))
    if sorted_.between:
        what = f"doors between two units were left out ({_listed(sorted_.between)})"
        notes.append(Problem(file, "doors", what, "see whether these are one unit"))
    return made, notes


def _sorted(
    found: Found,
    kinds: Mapping[int, str],
    homes: Sequence[Home],
    floors: Mapping[int, str],
    units: Mapping[str, Mapping[str, Shape]],
    places: Sequence[Point],
) -> _Sorted:
    home_of = {n: home.code for home in homes for n in home.rooms}
    made = _Sorted()
    for door, at in zip(found.doors, places, strict=True):
        codes = [home_of[n] for n in door.rooms if n in home_of]
        floor = floors.get(door.level, "")
        if len(set(codes)) == 2:
            made.between.append(f"{codes[0]} and {codes[1]}")
        elif len(codes) == 1 and floor in units[codes[0]]:
            walked = any(kinds[n] in (HALLWAY, STAIR, COMMON) for n in door.rooms if n not in home_of)
            (made.inner if walked else made.outer).setdefault(codes[0], []).append((codes[0], floor, at))
    return made


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")


def _in_wall(part: BaseGeometry, halls: Sequence[BaseGeometry]) -> Point | None:
    """Return the middle of the longest wall between a unit and a hallway; None where they share none."""
    lines = []
    for hall in halls:
        near = shapely.intersection(shapely.boundary(part), shapely.buffer(hall, TOUCH, cap_style="flat"))
        lines += [one for one in shapely.get_parts(shapely.line_merge(near)) if one.geom_type == "LineString"]
    longest = max(lines, key=lambda line: float(line.length), default=None)
    if longest is None or longest.length < _LEAST_WALL:
        return None
    return longest.interpolate(0.5, normalized=True)

"""Entry doors as points of the walkable area of a floor, drawn or, where none is drawn, guessed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from spread.contacts.exposure import ExposureSettings
from spread.contacts.walking import (
    Doorways,
    doors_passed,
    doorways,
    facing_doors,
    walkable,
    walking_distances,
)
from spread.contacts.walls import facing_strips, outline_edges
from spread.plan.model import Plan, Shape, Unit

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FloorWalk:
    """What walking on one floor gives: doors first (D of them), then stairs, in every array.

    ``walk`` (N, N) is in metres, ``passed`` (N, N) counts doors on the way, ``ways`` holds side and
    hallway width of each door, ``facing`` (D, D) says which doors are opposite each other.
    """

    level: int
    units: tuple[str, ...]  # of each door
    stairs: tuple[str, ...]
    walk: Floats
    passed: NDArray[np.intp]
    ways: Doorways
    facing: NDArray[np.bool_]


def floor_walks(plan: Plan, settings: ExposureSettings) -> dict[str, FloorWalk]:
    """Return the walk on every floor that has a hallway, a common room or a stair.

    Floors drawn alike are measured once.
    """
    walks: dict[str, FloorWalk] = {}
    measured: dict[bytes, FloorWalk] = {}
    for level, floor in enumerate(plan.floors):
        area = _area(plan, floor)
        if area.is_empty:
            continue
        units, points, into = _doors(plan, floor, area, settings)
        stairs = [stair for stair in plan.stairs if floor in stair.floors]
        landings = np.array([_landing(stair.outline) for stair in stairs]).reshape(-1, 2)
        key = b"|".join([area.wkb, points.tobytes(), into.tobytes(), landings.tobytes()])
        known = measured.get(key) or _measure(area, points, into, landings, settings)
        measured[key] = known
        walks[floor] = FloorWalk(
            level,
            tuple(units),
            tuple(stair.id for stair in stairs),
            known.walk,
            known.passed,
            known.ways,
            known.facing,
        )
    return walks


def _measure(
    area: Shape, points: Floats, into: Floats, landings: Floats, settings: ExposureSettings
) -> FloorWalk:
    walk = walking_distances(area, np.concatenate([points, landings]))
    ways = doorways(area, points, into, widest=settings.facing_walk)
    doors = len(points)
    facing = facing_doors(walk[:doors, :doors], ways.normal, within=settings.facing_walk)
    return FloorWalk(0, (), (), walk, doors_passed(walk, ways.width, facing), ways, facing)


def _area(plan: Plan, floor: str) -> Shape:
    shapes = [space.outline for space in (*plan.hallways, *plan.commons) if space.floor == floor]
    shapes += [stair.outline for stair in plan.stairs if floor in stair.floors]
    return walkable(shapes) if shapes else shapely.MultiPolygon()


def _landing(outline: Shape) -> tuple[float, float]:
    middle = outline.centroid
    point = middle if outline.covers(middle) else outline.representative_point()
    return (point.x, point.y)


def _doors(
    plan: Plan, floor: str, area: Shape, settings: ExposureSettings
) -> tuple[list[str], Floats, Floats]:
    """Return units, places in the walkable area (D, 2) and directions into it (D, 2) of a floor's doors."""
    with_door = {door.unit for door in plan.doors}
    drawn = [door for door in plan.doors if door.floor == floor and door.unit in plan.units]
    units = [door.unit for door in drawn]
    places = [(door.at.x, door.at.y) for door in drawn]
    for unit, place in _guessed(
        [unit for unit in plan.on_floor(floor) if unit.id not in with_door], floor, area, settings
    ):
        units.append(unit)
        places.append(place)
    if not units:
        return [], np.empty((0, 2)), np.empty((0, 2))
    points = shapely.points(np.array(places))
    ways = shapely.shortest_line(area, points)
    reached = np.asarray(shapely.length(ways)) <= settings.door_reach
    snapped = shapely.get_coordinates(shapely.get_point(ways, 0))
    homes = [plan.units[unit].parts.get(floor) for unit in units]
    inner = np.array([_landing(home) if home is not None else (np.nan, np.nan) for home in homes])
    into = np.nan_to_num(snapped - inner)
    kept = [unit for unit, ok in zip(units, reached, strict=True) if ok]
    return kept, snapped[reached], into[reached]


def _guessed(
    units: Sequence[Unit], floor: str, area: Shape, settings: ExposureSettings
) -> list[tuple[str, tuple[float, float]]]:
    """Return a door for units without any: the middle of the longest edge that faces the hallway."""
    if not units:
        return []
    rooms = outline_edges([unit.parts[floor] for unit in units])
    pairs = np.stack([np.arange(len(units)), np.zeros(len(units), dtype=np.intp)])
    strips = facing_strips(
        rooms, outline_edges([area]), pairs, gap=settings.wall_gap, overlap=settings.wall_overlap
    )
    guessed = []
    for index, unit in enumerate(units):
        mine = np.flatnonzero(strips.a == index)
        if len(mine):
            longest = mine[np.argmax(np.round(strips.metres[mine], 3))]
            x, y = strips.face_b[longest].mean(axis=0)
            guessed.append((unit.id, (float(x), float(y))))
    return guessed

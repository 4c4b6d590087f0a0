"""Where people sleep, and which walls, risers and outlets lie within reach of it.

Most bugs stay within 5-7 ft (2.1 m) of the bed (common practice, no source). What lies within that
reach is where they leave first: the contact graph raises such a wall or riser by ``bed_factor``
(:class:`~spread.contacts.exposure.ExposureSettings`), and a technician looks there before elsewhere.

An outlet raises nothing: no count of bed bugs at outlets or in wall voids was found, so there is no number
for it, and the shared wall that it sits on is within reach as well and counts more already.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiLineString, Point
from shapely.geometry.base import BaseGeometry

from spread.contacts.exposure import ExposureSettings
from spread.contacts.risers import shared_risers
from spread.contacts.walls import shared_walls
from spread.errors import Problem, SettingsError
from spread.plan.model import Bed, Plan, Shape
from spread.plan.outlets import EDGE

BED_FROM_WALL = 1.0
"""Metres from the wall to the middle of a bed whose head stands against it (half a bed; judgement)."""
HALLWAY, OUTSIDE = "hallway", "outside"  #: What a wall that no neighbour shares is to

_LEAST_PIECE = 0.01
_QUARTER = 64  # corners a quarter circle; the reach is then right to 0.2 mm


@dataclass(frozen=True, slots=True)
class BedPlace:
    """A sleeping place given by hand (``[[beds]]`` of ``building.toml``)."""

    #: unit, floor: Where it stands; the floor may be left empty in a unit of one floor
    unit: str
    floor: str = ""
    #: x, y: Its middle in the metres of the plan, or None
    x: float | None = None
    y: float | None = None
    #: In place of ``x`` and ``y``: the neighbour on whose wall its head stands, :data:`HALLWAY` or
    #: :data:`OUTSIDE`
    against: str = ""


def place_beds(plan: Plan, places: Sequence[BedPlace], *, file: str = "building.toml") -> Plan:
    """Return the plan with beds placed by hand; a unit's own replace those that its drawing shows.

    Raises SettingsError for every place that the plan does not have.
    """
    if not places:
        return plan
    problems: list[Problem] = []
    beds: list[Bed] = []
    for number, place in enumerate(places, start=1):
        try:
            beds.append(_placed(plan, place, number))
        except _MisplacedError as error:
            problems.append(Problem(file, f"beds {number}, setting {error.key!r}", error.what, error.fix))
    if problems:
        raise SettingsError(problems)
    moved = {bed.unit for bed in beds}
    return replace(plan, beds=(*(bed for bed in plan.beds if bed.unit not in moved), *beds))


class _MisplacedError(Exception):
    def __init__(self, key: str, what: str, fix: str) -> None:
        super().__init__(what)
        self.key, self.what, self.fix = key, what, fix


def _placed(plan: Plan, place: BedPlace, number: int) -> Bed:
    unit = plan.units.get(place.unit)
    if unit is None:
        near = difflib.get_close_matches(place.unit, plan.units, n=1)
        fix = f"write {near[0]!r} if that is meant" if near else "correct the unit or remove the table"
        raise _MisplacedError("unit", f"unit {place.unit!r} is not on the plan", fix)
    floors = [floor for floor in plan.floors if floor in unit.parts]
    floor = place.floor or (floors[0] if len(floors) == 1 else "")
    if floor not in unit.parts:
        what = f"unit {unit.id!r} is on floors {', '.join(floors)}"
        raise _MisplacedError("floor", f"{what}, not on {floor!r}" if floor else what, "name one of them")
    if place.x is not None and place.y is not None:
        at = Point(place.x, place.y)
        if not shapely.dwithin(unit.parts[floor], at, EDGE):
            west, south, east, north = unit.parts[floor].bounds
            fix = f"the unit spans x {west:.1f} to {east:.1f} and y {south:.1f} to {north:.1f}"
            raise _MisplacedError(
                "x", f"the point ({place.x:g}, {place.y:g}) is not in unit {unit.id!r}", fix
            )
    else:
        at = _against(plan, unit.id, floor, place.against)
    return Bed(f"placed-bed-{number}", unit.id, floor, at)


def _against(plan: Plan, unit: str, floor: str, wall: str) -> Point:
    """Return the middle of a bed whose head stands at the middle of the longest piece of a wall."""
    outline = plan.units[unit].parts[floor]
    pieces = dict(_walls(plan, unit, floor, ExposureSettings()))
    line = pieces.get(wall)
    if line is None:
        has = ", ".join(name for name in pieces)
        raise _MisplacedError(
            "against", f"unit {unit!r} has no wall to {wall[:40]!r}", f"its walls are to {has}"
        )
    (ax, ay), (bx, by) = max(_segments(line), key=lambda s: np.hypot(s[1][0] - s[0][0], s[1][1] - s[0][1]))
    middle = np.array([(ax + bx) / 2, (ay + by) / 2])
    along = np.array([bx - ax, by - ay]) / max(np.hypot(bx - ax, by - ay), 1e-9)
    normal = np.array([-along[1], along[0]])
    for away in (BED_FROM_WALL, BED_FROM_WALL / 2, BED_FROM_WALL / 4):
        for side in (1.0, -1.0):
            at = Point(middle + side * away * normal)
            if outline.contains(at):
                return at
    return Point(middle)


def bed_reach(plan: Plan, unit: str, settings: ExposureSettings | None = None) -> dict[str, Any]:
    """Return what lies within reach of the beds of a unit, ready for JSON.

    ``plan``: the building, beds drawn or placed; ``unit``: a unit of it; ``settings``: for the reach; the
    defaults are the package's.

    Returns
    -------
    dict
        ``unit``, ``radius_m`` and ``beds``: for each its ``id``, ``floor``, ``x``, ``y``, ``walls``,
        ``risers`` and ``outlets``, nearest first. A wall has ``to`` (a unit, ``hallway`` or ``outside``),
        ``distance_m``, ``metres`` within reach and ``segments`` [[[x, y], [x, y]], ...]; a riser has ``id``,
        ``distance_m``, ``x``, ``y`` and ``units``, the others that it reaches; an outlet, of this unit
        only, has ``id``, ``distance_m``, ``x``, ``y``, ``wall`` (the wall that it sits on, named as ``to``
        is, empty where it sits on none) and ``behind`` (the unit behind a shared wall, or empty). No beds
        where none is known, no outlets where none are drawn.
    """
    settings = settings or ExposureSettings()
    beds = [bed for bed in plan.beds if bed.unit == unit]
    walls = {floor: list(_walls(plan, unit, floor, settings)) for floor in {bed.floor for bed in beds}}
    touching = _riser_neighbours(plan, unit, beds, settings)
    return {
        "unit": unit,
        "radius_m": settings.bed_reach,
        "beds": [
            {
                "id": bed.id,
                "floor": bed.floor,
                "x": round(bed.at.x, 3),
                "y": round(bed.at.y, 3),
                "walls": _walls_near(bed.at, walls[bed.floor], settings.bed_reach),
                "risers": _risers_near(plan, bed, touching, settings.bed_reach),
                "outlets": _outlets_near(plan, bed, walls[bed.floor], settings.bed_reach),
            }
            for bed in beds
        ],
    }


def _walls(
    plan: Plan, unit: str, floor: str, settings: ExposureSettings
) -> list[tuple[str, MultiLineString]]:
    """Return the walls of a unit on a floor: those to each neighbour, to hallways, and to the outside."""
    outline = plan.units[unit].parts[floor]
    shared = shared_walls(_around(plan, outline, floor, settings.wall_gap), settings)
    found = [(wall.b, wall.face_a) for wall in shared if wall.a == unit]
    found += [(wall.a, wall.face_b) for wall in shared if wall.b == unit]
    walls = [(other, MultiLineString(list(faces))) for other, faces in found]
    rest: BaseGeometry = outline.boundary
    if walls:
        rest = rest.difference(shapely.union_all([line for _, line in walls]).buffer(0.02, cap_style="flat"))
    open_spaces = [s.outline for s in (*plan.hallways, *plan.commons) if s.floor == floor]
    open_spaces += [stair.outline for stair in plan.stairs if floor in stair.floors]
    beside: BaseGeometry = (
        shapely.union_all(open_spaces).buffer(settings.wall_gap) if open_spaces else Point()
    )
    for name, piece in ((HALLWAY, rest.intersection(beside)), (OUTSIDE, rest.difference(beside))):
        if piece.length > _LEAST_PIECE:
            walls.append((name, MultiLineString(_lines_of(piece))))
    return walls


def _around(plan: Plan, outline: Shape, floor: str, gap: float) -> Plan:
    """Return the part of the plan that can share a wall with an outline."""
    near = {
        unit.id: unit
        for unit in plan.on_floor(floor)
        if shapely.dwithin(unit.parts[floor], outline, gap + 0.01)
    }
    return replace(plan, floors=(floor,), units=near)


def _lines_of(shape: BaseGeometry) -> list[LineString]:
    return [part for part in shapely.get_parts(shape) if isinstance(part, LineString) and part.length > 0]


def _segments(shape: BaseGeometry) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    found = []
    for line in _lines_of(shape):
        points = [(float(x), float(y)) for x, y in line.coords]
        found += list(pairwise(points))
    return found


def _walls_near(
    at: Point, walls: Sequence[tuple[str, MultiLineString]], reach: float
) -> list[dict[str, Any]]:
    disc = at.buffer(reach, quad_segs=_QUARTER)
    near = []
    for to, line in walls:
        if not shapely.dwithin(line, at, reach):
            continue
        piece = line.intersection(disc)
        near.append(
            {
                "to": to,
                "distance_m": round(float(line.distance(at)), 3),
                "metres": round(float(piece.length), 3),
                "segments": [
                    [[round(x, 3), round(y, 3)] for x, y in segment] for segment in _segments(piece)
                ],
            }
        )
    return sorted(near, key=lambda wall: (wall["distance_m"], wall["to"]))


def _risers_near(plan: Plan, bed: Bed, touching: dict[str, list[str]], reach: float) -> list[dict[str, Any]]:
    near = [
        {
            "id": riser.id,
            "distance_m": round(float(riser.outline.distance(bed.at)), 3),
            "x": round(riser.outline.centroid.x, 3),
            "y": round(riser.outline.centroid.y, 3),
            "units": touching.get(riser.id, []),
        }
        for riser in plan.risers
        if bed.floor in riser.floors and shapely.dwithin(riser.outline, bed.at, reach)
    ]
    return sorted(near, key=lambda riser: (riser["distance_m"], riser["id"]))


def _outlets_near(
    plan: Plan, bed: Bed, walls: Sequence[tuple[str, MultiLineString]], reach: float
) -> list[dict[str, Any]]:
    """Return the outlets of the bed's own unit; those of a neighbour open to the other side of the wall."""
    near = []
    for outlet in plan.outlets:
        if (outlet.unit, outlet.floor) != (bed.unit, bed.floor):
            continue
        if not shapely.dwithin(outlet.at, bed.at, reach):
            continue
        gap, _, wall = min(
            ((line.distance(outlet.at), order, to) for order, (to, line) in enumerate(walls)),
            default=(float("inf"), 0, ""),
        )
        wall = wall if gap <= EDGE + _LEAST_PIECE else ""
        near.append(
            {
                "id": outlet.id,
                "distance_m": round(float(outlet.at.distance(bed.at)), 3),
                "x": round(outlet.at.x, 3),
                "y": round(outlet.at.y, 3),
                "wall": wall,
                "behind": "" if wall in (HALLWAY, OUTSIDE) else wall,
            }
        )
    return sorted(near, key=lambda outlet: (outlet["distance_m"], outlet["id"]))


def _riser_neighbours(
    plan: Plan, unit: str, beds: Sequence[Bed], settings: ExposureSettings
) -> dict[str, list[str]]:
    """Return the other units that each riser near a bed reaches from this one, nearest floor first."""
    near = tuple(
        riser
        for riser in plan.risers
        if any(
            bed.floor in riser.floors and shapely.dwithin(riser.outline, bed.at, settings.bed_reach)
            for bed in beds
        )
    )
    found: dict[str, list[tuple[int, str]]] = {}
    for pair in shared_risers(replace(plan, shafts=near), settings) if near else ():
        if unit in (pair.a, pair.b):
            other = pair.b if pair.a == unit else pair.a
            found.setdefault(pair.riser, []).append((pair.floors_apart, other))
    return {riser: [other for _, other in sorted(pairs)] for riser, pairs in found.items()}

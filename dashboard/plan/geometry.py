"""A plan as plain numbers for the browser: SVG paths, label places, door lines.

Sent once a page. Coordinates are metres in SVG's sense (y downwards), to the centimetre.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from statistics import median
from typing import Any

import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from dashboard.plan.section import section_geometry
from dashboard.words import floor_title
from spread.plan.model import Plan, Shaft, Shape, Unit

MARGIN = 1.5
"""Metres of paper left around a floor."""
LARGEST_LETTERS = 1.9
"""Metres; a label never grows beyond this, however large the unit."""
DOOR_WIDTH = 0.9
BOLD = 0.7
"""Width of a bold letter of the chance, as a share of the label's size."""


def plan_geometry(plan: Plan) -> dict[str, Any]:
    """Return the whole building as JSON: ``{"key", "name", "floors": [...], "section"}``.

    Returns: each floor has ``name``, ``title``, ``view`` (x, y, width, height in metres), ``least`` (shorter
    side of the narrowest unit, m), ``letters`` (smallest and middle label, m), path lists ``halls``,
    ``commons``, ``stairs``, ``risers``, line lists ``doors``, point lists ``beds`` (with their unit) and
    ``outlets``, and ``units`` as ``[id, path, x, y, letters, most]``, ``most`` being how many letters of the
    chance fit.
    """
    return {
        "key": plan.name,
        "name": plan.name,
        "floors": [_floor(plan, name) for name in plan.floors],
        "section": section_geometry(plan),
    }


def _floor(plan: Plan, name: str) -> dict[str, Any]:
    units = [_unit(unit, name) for unit in plan.on_floor(name)]
    letters = [unit[4] for unit in units] or [LARGEST_LETTERS]
    halls = [space.outline for space in plan.hallways if space.floor == name]
    commons = [space for space in plan.commons if space.floor == name]
    shafts = [shaft for shaft in plan.shafts if name in shaft.floors]
    stairs = [shaft for shaft in shafts if shaft.kind in ("stair", "lift")]
    everything: list[Shape] = [unit.parts[name] for unit in plan.on_floor(name)]
    everything += halls + [space.outline for space in commons] + [shaft.outline for shaft in shafts]
    return {
        "name": name,
        "title": floor_title(name),
        "view": _view(everything),
        "least": min((round(_short_side(unit.parts[name]), 2) for unit in plan.on_floor(name)), default=5.0),
        "letters": [min(letters), round(median(letters), 2)],
        "halls": [_path(outline) for outline in halls],
        "commons": [_named(space.outline, space.id) for space in commons],
        "stairs": [_stair(shaft) for shaft in stairs],
        "risers": [_path(shaft.outline) for shaft in shafts if shaft.kind == "riser"],
        "doors": [
            _door_line(plan.units[door.unit], name, door.at)
            for door in plan.doors
            if door.floor == name and door.unit in plan.units and name in plan.units[door.unit].parts
        ],
        "beds": [[*_xy(bed.at), bed.unit] for bed in plan.beds if bed.floor == name],
        "outlets": [_xy(outlet.at) for outlet in plan.outlets if outlet.floor == name],
        "units": units,
    }


def _view(shapes: list[Shape]) -> list[float]:
    if not shapes:
        return [0.0, 0.0, 10.0, 10.0]
    left, low, right, high = shapely.total_bounds(shapes)
    return [
        round(float(number), 2)
        for number in (left - MARGIN, -high - MARGIN, right - left + 2 * MARGIN, high - low + 2 * MARGIN)
    ]


def _polygons(shape: Shape) -> Iterator[Polygon]:
    yield from shape.geoms if isinstance(shape, MultiPolygon) else (shape,)


def _path(shape: Shape) -> str:
    rings = [ring for polygon in _polygons(shape) for ring in (polygon.exterior, *polygon.interiors)]
    return "".join("M" + "L".join(f"{_cm(x)},{_cm(-y)}" for x, y in _corners(ring)) + "Z" for ring in rings)


def _corners(ring: shapely.LinearRing) -> list[tuple[float, float]]:
    return [(point[0], point[1]) for point in ring.coords[:-1]]


def _cm(metres: float) -> str:
    text = f"{metres:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _xy(point: Point) -> list[float]:
    return [round(point.x, 2), round(-point.y, 2)]


def _unit(unit: Unit, floor: str) -> list[Any]:
    shape = unit.parts[floor]
    x, y, width, height = label_place(shape)
    longest = max(len(unit.id), 6)
    letters = min(LARGEST_LETTERS, width * 0.82 / (0.56 * longest), height / 3.9)
    letters = max(letters, 0.3)
    return [
        unit.id,
        _path(shape),
        round(x, 2),
        round(-y, 2),
        round(letters, 2),
        letters_across(width, letters),
    ]


def letters_across(width: float, letters: float) -> int:
    """Return how many bold letters a unit has room for at full size; longer labels are made smaller."""
    return max(4, int(0.94 * width / (BOLD * letters)))


def label_place(shape: Shape) -> tuple[float, float, float, float]:
    """Return where a label sits well: x, y (north up), and the clear width and height there, m.

    The centroid of an L or U may lie outside it, so points of a coarse grid are tried and the one with
    the most room for three lines of letters is taken. Storeys repeat shapes: each is worked out once.
    """
    largest = max(_polygons(shape), key=lambda polygon: polygon.area)
    west, south = largest.bounds[:2]
    moved = [(round(x - west, 3), round(y - south, 3)) for x, y in _corners(largest.exterior)]
    x, y, width, height = _roomiest(tuple(moved))
    return x + west, y + south, width, height


@lru_cache(maxsize=4096)
def _roomiest(corners: tuple[tuple[float, float], ...]) -> tuple[float, float, float, float]:
    polygon = Polygon(corners)
    _, _, east, north = polygon.bounds
    places = [(east / 2, north / 2)]
    if polygon.area < 0.97 * east * north:
        places = [(east * i / 8, north * j / 8) for i in range(1, 8) for j in range(1, 8)]
        inside = [place for place in places if polygon.contains(Point(place))]
        point = polygon.representative_point()
        places = inside or [(point.x, point.y)]
    return max(
        (_clear(polygon, x, y) for x, y in places), key=lambda found: min(found[2] / 3.4, found[3] / 3.9)
    )


def _clear(polygon: Polygon, x: float, y: float) -> tuple[float, float, float, float]:
    """Move a point to the middle of its free stretches; return it with their lengths."""
    left, right = _stretch(polygon, x, y, along=0)
    x = (left + right) / 2
    low, high = _stretch(polygon, x, y, along=1)
    y = (low + high) / 2
    left, right = _stretch(polygon, x, y, along=0)
    return x, y, 2 * min(x - left, right - x), high - low


def _stretch(polygon: Polygon, x: float, y: float, *, along: int) -> tuple[float, float]:
    west, south, east, north = polygon.bounds
    line = LineString([(west - 1, y), (east + 1, y)] if along == 0 else [(x, south - 1), (x, north + 1)])
    at = (x, y)[along]
    inside = shapely.get_parts(polygon.intersection(line))
    spans = [
        (min(ends), max(ends))
        for part in inside
        if part.geom_type == "LineString"
        for ends in [(part.coords[0][along], part.coords[-1][along])]
    ]
    return min(spans, key=lambda span: max(span[0] - at, at - span[1], 0.0), default=(at - 0.5, at + 0.5))


def _short_side(shape: Shape) -> float:
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    return min(Point(corners[0]).distance(Point(corners[1])), Point(corners[1]).distance(Point(corners[2])))


def _door_line(unit: Unit, floor: str, at: Point) -> list[float]:
    part = min(_polygons(unit.parts[floor]), key=lambda polygon: polygon.exterior.distance(at))
    ring = part.exterior
    along = ring.project(at)
    ends = [ring.interpolate((along + side * DOOR_WIDTH / 2) % ring.length) for side in (-1, 1)]
    return [*_xy(ends[0]), *_xy(ends[1])]


def _named(outline: Shape, name: str) -> list[Any]:
    x, y, width, height = label_place(outline)
    letters = min(1.2, width * 0.9 / (0.56 * max(len(name), 1)), height / 1.4)
    return [_path(outline), round(x, 2), round(-y, 2), name, round(letters, 2)]


def _stair(shaft: Shaft) -> list[Any]:
    return _named(shaft.outline, "stairs")

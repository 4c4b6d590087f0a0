"""GeoJSON geometry objects (RFC 7946 section 3.1) to shapely, with a sentence for each way to be wrong.

shapely's own ``shape`` reads right ones; this reads what people export, where an error must say
what to mend.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from shapely import GeometryCollection, LineString, MultiLineString, MultiPoint, MultiPolygon, Point, Polygon
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from spread.plan.model import Shape

Position = tuple[float, float]
DECIMALS = 4
"""Decimals of a written metre: 0.1 mm, so that a round trip is exact to 1 mm."""


class GeometryError(ValueError):
    """A geometry object that cannot be read: what is wrong and what to do about it."""

    def __init__(self, what: str, fix: str) -> None:
        super().__init__(what)
        self.what = what
        self.fix = fix


def read_geometry(value: object) -> BaseGeometry:
    """Return the flat shapely geometry of a GeoJSON geometry object; heights are dropped.

    Raises GeometryError when it is no geometry object, or its ``coordinates`` are not what its ``type``
    needs. A polygon that crosses itself is not refused here: see :mod:`spread.plan.checks`.
    """
    if value is None:
        raise GeometryError("it has no geometry", "draw it or remove the feature")
    if not isinstance(value, dict):
        raise GeometryError(f"its geometry is {_short(value)}, expected an object", "export it again")
    kind = value.get("type")
    if kind == "GeometryCollection":
        members = value.get("geometries")
        if not isinstance(members, list):
            raise GeometryError("a GeometryCollection needs a list of geometries", "export it again")
        return GeometryCollection([read_geometry(member) for member in members])
    reader = _READERS.get(kind) if isinstance(kind, str) else None
    if reader is None:
        raise GeometryError(
            f"its geometry type is {_short(kind)}",
            "use one of the types of RFC 7946 (a Polygon for a space, a Point for a door)",
        )
    coordinates = value.get("coordinates")
    if coordinates is None or coordinates == []:
        raise GeometryError(f"its {kind} has no coordinates", "draw it or remove the feature")
    return reader(coordinates)


def write_shape(shape: Shape) -> dict[str, Any]:
    """Return an outline as a GeoJSON object, outer rings anticlockwise as RFC 7946 asks."""
    if isinstance(shape, MultiPolygon):
        shape = MultiPolygon([orient(part) for part in shape.geoms])
    else:
        shape = orient(shape)
    return {"type": shape.geom_type, "coordinates": _rounded(mapping(shape)["coordinates"])}


def write_point(point: Point) -> dict[str, Any]:
    """Return a point as a GeoJSON object."""
    return {"type": "Point", "coordinates": _rounded((point.x, point.y))}


def _rounded(value: object) -> object:
    if isinstance(value, tuple | list):
        return [_rounded(part) for part in value]
    return round(float(value), DECIMALS)  # type: ignore[arg-type]


def _short(value: object) -> str:
    """Quote a value of the file, cut so that the sentence stays one line."""
    text = "missing" if value is None else repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _position(value: object) -> Position:
    if not isinstance(value, list):
        raise GeometryError(
            f"a position is {_short(value)}, expected a list of two numbers",
            "check how many brackets its coordinates are nested in",
        )
    if len(value) < 2 or any(isinstance(n, bool) or not isinstance(n, int | float) for n in value[:2]):
        raise GeometryError(
            f"a position is {_short(value)}, expected two numbers",
            "check how many brackets its coordinates are nested in and that none is empty",
        )
    try:
        x, y = float(value[0]), float(value[1])
    except OverflowError:
        x, y = math.inf, math.inf
    if not (math.isfinite(x) and math.isfinite(y)):
        raise GeometryError(
            f"a coordinate is not a finite number ({_short(value)})", "draw that corner again"
        )
    return x, y


def _several(value: object, least: int, what: str) -> list[Any]:
    if not isinstance(value, list):
        raise GeometryError(
            f"{what} is {_short(value)}, expected a list",
            "check how many brackets its coordinates are nested in",
        )
    if len(value) < least:
        raise GeometryError(
            f"{what} has {len(value)} of at least {least} positions", "draw it again or remove it"
        )
    return value


def _positions(value: object, least: int, what: str) -> list[Position]:
    return [_position(part) for part in _several(value, least, what)]


def _ring(value: object) -> list[Position]:
    if isinstance(value, list) and value and all(isinstance(n, int | float) for n in value):
        raise GeometryError(
            "its rings are nested in too few brackets",
            "a Polygon is a list of rings and each ring a list of positions",
        )
    ring = _positions(value, 4, "a ring")
    if ring[0] != ring[-1]:
        raise GeometryError("a ring does not end where it starts", "repeat its first position at its end")
    return ring


def _polygon(value: object) -> Polygon:
    rings = [_ring(part) for part in _several(value, 1, "a Polygon")]
    return Polygon(rings[0], rings[1:])


def _line(value: object) -> LineString:
    return LineString(_positions(value, 2, "a line"))


_READERS: dict[str, Callable[[Any], BaseGeometry]] = {
    "Point": lambda value: Point(_position(value)),
    "MultiPoint": lambda value: MultiPoint(_positions(value, 1, "a MultiPoint")),
    "LineString": _line,
    "MultiLineString": lambda value: MultiLineString(
        [_line(part) for part in _several(value, 1, "a MultiLineString")]
    ),
    "Polygon": _polygon,
    "MultiPolygon": lambda value: MultiPolygon(
        [_polygon(part) for part in _several(value, 1, "a MultiPolygon")]
    ),
}

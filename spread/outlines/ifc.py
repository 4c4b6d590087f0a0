"""A building model (IFC 2x3, 4, 4.3): its rooms, storeys, doors by where they stand, and vertical pipes.

Runs in the worker. Stored space boundaries are not read: many files have none, or too few.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from spread.drawings.ifc import WALLS, Storeys, by_type, footprint, open_model, solids
from spread.errors import SpreadError
from spread.outlines.found import not_too_many, written_room

DOOR_REACH = 0.45
"""Metres from the middle of a door to a room that it opens into (112 of 112 doors of five open models)."""
OPEN = 0.6
"""Metres of common edge without a wall that make two rooms one space (no source; a narrow doorway)."""
_TOUCH = 0.03
_SAME_HEIGHT = 1.0  # metres of common height of two rooms that may open into one another
_PIPE_TALL, _PIPE_WIDE, _PIPE_APART = 1.5, 0.6, 0.5

Floats = NDArray[np.float64]


def read_ifc(data: bytes, file: str) -> dict[str, Any]:
    """Return what a model holds; see :class:`spread.outlines.found.Found`."""
    model = open_model(data, file)
    storeys = Storeys(model)
    if not storeys.names:
        raise SpreadError.at(file, "", "it has no storeys", "export the architect's model, with its storeys")
    rooms, heights = _rooms(model, storeys, file)
    outlines = [None if one["outline"] is None else shapely.from_wkb(one["outline"]) for one in rooms]
    not_too_many(outlines, file)
    return {
        "levels": storeys.names,
        "rooms": rooms,
        "doors": list(_doors(model, storeys, outlines, heights)),
        "links": list(_links(model, outlines, heights)),
        "pipes": list(_pipes(model, storeys)),
        "north": _north(model),
        "metre": 1.0,
    }


def _rooms(model: Any, storeys: Storeys, file: str) -> tuple[list[dict[str, Any]], Floats]:  # noqa: ANN401
    shapes = {one.id(): (t, n) for one, t, n in solids(model, ["IfcSpace"], cut=False)}
    zones: dict[int, list[str]] = {}
    for zone in by_type(model, "IfcZone"):
        for relation in zone.IsGroupedBy or ():
            for one in relation.RelatedObjects:
                zones.setdefault(one.id(), []).append(str(zone.LongName or zone.Name or ""))
    rooms, heights = [], []
    for space in by_type(model, "IfcSpace"):
        if any(part.is_a("IfcSpace") for one in space.IsDecomposedBy or () for part in one.RelatedObjects):
            continue  # its parts are read
        triangles, normals = shapes.get(space.id(), (np.zeros((0, 3, 3)), np.zeros((0, 3))))
        outline = footprint(triangles, normals) if len(triangles) else None
        closed = outline is not None and not outline.is_empty and outline.area > 0.05
        low, high = (triangles[:, :, 2].min(), triangles[:, :, 2].max()) if len(triangles) else (0.0, 0.0)
        first = storeys.of(space, low)
        of = zones.get(space.id(), [])
        whole = next((one.RelatingObject for one in space.Decomposes or ()), None)
        name = str(space.Name or "")
        rooms.append(
            written_room(
                storeys.passed(first, high),
                outline if closed else None,
                f"room {name!r} on {storeys.names[first]}",
                name=name,
                word=str(space.LongName or space.ObjectType or ""),
                group=of[0] if len(of) == 1 else whole.Name if whole and whole.is_a("IfcSpace") else "",
                fault="" if closed else "it has no closed outline",
            )
        )
        heights.append((low, high))
    return rooms, np.array(heights).reshape(-1, 2)


def _doors(
    model: Any,  # noqa: ANN401
    storeys: Storeys,
    outlines: Sequence[BaseGeometry | None],
    heights: Floats,
) -> Iterator[dict[str, Any]]:
    for door, triangles, _ in solids(model, ["IfcDoor"], cut=False):
        low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
        at = (low + high) / 2
        tall = np.minimum(heights[:, 1], high[2]) - np.maximum(heights[:, 0], low[2])
        near = [
            (float(one.distance(shapely.Point(at[:2]))), number)
            for number, one in enumerate(outlines)
            if one is not None and tall[number] > _SAME_HEIGHT
        ]
        rooms = [number for far, number in sorted(near) if far < DOOR_REACH][:2]
        if rooms:
            yield {"level": storeys.of(door, float(low[2])), "at": at[:2].tolist(), "rooms": rooms}


def _links(model: Any, outlines: Sequence[BaseGeometry | None], heights: Floats) -> Iterator[tuple[int, int]]:  # noqa: ANN401
    """Yield the rooms that open into one another: a common edge, and no wall along it."""
    places = [n for n, one in enumerate(outlines) if one is not None]
    if not places:
        return
    shapes = [one for one in outlines if one is not None]
    first, second = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=_TOUCH)
    pairs = [(places[i], places[j]) for i, j in zip(first.tolist(), second.tolist(), strict=True) if i < j]
    pairs = [
        (a, b)
        for a, b in pairs
        if min(heights[a, 1], heights[b, 1]) - max(heights[a, 0], heights[b, 0]) > _SAME_HEIGHT
    ]
    if not pairs:
        return
    walls = []
    for _, triangles, normals in solids(model, WALLS, cut=False):
        shape = footprint(triangles, normals)
        if not shape.is_empty:
            walls.append((shape, triangles[:, :, 2].min(), triangles[:, :, 2].max()))
    tree = shapely.STRtree([shape for shape, _, _ in walls])
    for a, b in pairs:
        edge = _edge(shapes[places.index(a)], shapes[places.index(b)])
        low = max(heights[a, 0], heights[b, 0]) + _SAME_HEIGHT
        beside = [walls[n] for n in tree.query(edge)] if walls else []
        solid = [shape.buffer(_TOUCH) for shape, begins, ends in beside if begins < low < ends]
        if shapely.difference(edge, shapely.union_all(solid)).length > OPEN:
            yield a, b


def _edge(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    near = shapely.buffer(other, _TOUCH, join_style="mitre")
    return shapely.intersection(shapely.boundary(one), near)


def _pipes(model: Any, storeys: Storeys) -> Iterator[dict[str, Any]]:  # noqa: ANN401
    """Yield upright pipes and ducts, those above one another as one."""
    upright: list[tuple[Floats, Floats]] = []
    for _, triangles, _ in solids(model, ["IfcFlowSegment"], cut=False):
        low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
        if high[2] - low[2] >= _PIPE_TALL and max(high[:2] - low[:2]) <= _PIPE_WIDE:
            upright.append((low, high))
    groups: list[list[tuple[Floats, Floats]]] = []
    for low, high in sorted(upright, key=lambda one: one[0].tolist()):
        near = (
            g for g in groups if math.dist((g[0][0] + g[0][1])[:2] / 2, (low + high)[:2] / 2) < _PIPE_APART
        )
        of = next(near, None)
        groups.append([(low, high)]) if of is None else of.append((low, high))
    for of in groups:
        outline = shapely.union_all([shapely.box(*low[:2], *high[:2]) for low, high in of])
        levels = sorted({level for low, high in of for level in _levels(storeys, low[2], high[2])})
        yield {"levels": levels, "outline": shapely.to_wkb(outline.envelope, hex=True)}


def _levels(storeys: Storeys, low: float, high: float) -> Iterable[int]:
    tops = [*storeys.heights[1:], math.inf]
    return [
        n
        for n, (floor, top) in enumerate(zip(storeys.heights, tops, strict=True))
        if min(high, top) - max(low, floor) > 1.0
    ] or [0]


def _north(model: Any) -> float | None:  # noqa: ANN401
    """Return the degrees by which to turn the model so that true north is up; None where it is not said."""
    for context in model.by_type("IfcGeometricRepresentationContext", include_subtypes=False):
        north = context.TrueNorth
        if north is not None and len(north.DirectionRatios) > 1:
            x, y = north.DirectionRatios[:2]
            if math.hypot(x, y) > 1e-9:
                return 90.0 - math.degrees(math.atan2(y, x))
    return None

"""Rooms of units, hallways, stairs, doors and pipes as features of a drawing in metres."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Point, Polygon

from spread.errors import PlanError, Problem
from spread.outlines.codes import Home
from spread.outlines.doors import doors_of
from spread.outlines.found import Found
from spread.outlines.kinds import COMMON, HALLWAY, LEFT_OUT, RISER, STAIR
from spread.plan.geometries import write_point, write_shape
from spread.plan.losses import TOUCH
from spread.plan.model import Shape

PARTITION = 0.2
"""Half the widest partition between two rooms of a unit, in metres (0.12 and 0.18 m in the open duplex)."""
_SLIVER = 0.25  # square metres of a gap between rooms that is no shaft

Features = Iterator[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Floors:
    """Names of floors by level; two levels may have one name."""

    names: Mapping[int, str]

    @property
    def in_order(self) -> tuple[str, ...]:
        """Names of floors, lowest first."""
        return tuple(dict.fromkeys(self.names[level] for level in sorted(self.names)))

    def of(self, levels: Sequence[int]) -> list[str]:
        """Return the floors of some levels, lowest first."""
        return list(dict.fromkeys(self.names[level] for level in sorted(levels) if level in self.names))


class _Turn:
    """Coordinates of the file to metres with north up, from the lower left corner of what is drawn."""

    def __init__(self, shapes: Sequence[Shape], scale: float, degrees: float) -> None:
        angle = math.radians(degrees)
        self._by = scale * np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        self._low = np.zeros(2)
        self._low = self(shapely.get_coordinates(shapes)).min(axis=0)

    def __call__(self, at: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((at @ self._by.T - self._low).round(4), dtype=np.float64)


def features_of(
    found: Found,
    kinds: Mapping[int, str],
    homes: Sequence[Home],
    floors: Floors,
    *,
    scale: float,
    turn: float,
    file: str,
) -> tuple[list[dict[str, Any]], list[Problem]]:
    """Return the features of a drawing, and sentences on what was put or left out.

    ``scale``: metres of a unit of the file. ``turn``: degrees by which it is turned anticlockwise. Raises
    PlanError for every unit whose parts do not touch, or lie on floors that are not one above another.
    """
    drawn: dict[int, Any] = {n: found.rooms[n].outline for n, kind in kinds.items() if kind != LEFT_OUT}
    place = _Turn(list(drawn.values()), scale, turn)
    shapes: dict[int, Shape] = {n: shapely.transform(outline, place) for n, outline in drawn.items()}
    on = {n: floors.of(found.rooms[n].levels) for n in shapes}
    units = _units(found, homes, floors, on, shapes, file)
    halls: dict[str, list[Shape]] = {}
    for n, kind in kinds.items():
        for floor in on[n] if kind == HALLWAY else ():
            halls.setdefault(floor, []).append(shapes[n])
    at = [Point(place(np.array([door.at]))[0]) for door in found.doors]
    doors, notes = doors_of(found, kinds, homes, floors.names, units, halls, at, file)
    pipes: list[tuple[list[str], Any]] = [
        (floors.of(levels), shapely.transform(outline, place)) for levels, outline in found.pipes
    ]
    features = [
        *(
            _outline(part, "unit", code, floor=floor)
            for code, of in units.items()
            for floor, part in of.items()
        ),
        *_spaces(found, kinds, on, shapes),
        *_shafts(kinds, on, shapes),
        *(
            _feature(write_point(at), kind="door", id=f"door-{n}", unit=unit, floor=floor)
            for n, (unit, floor, at) in enumerate(doors, start=1)
        ),
        *(_outline(pipe, "riser", f"riser-{n}", floors=of) for n, (of, pipe) in enumerate(pipes, 1) if of),
    ]
    return features, notes


def _feature(geometry: Mapping[str, Any], **properties: object) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def _outline(shape: Shape, kind: str, code: str, **where: object) -> dict[str, Any]:
    return _feature(write_shape(shape), kind=kind, id=code, **where)


def _units(
    found: Found,
    homes: Sequence[Home],
    floors: Floors,
    on: Mapping[int, Sequence[str]],
    shapes: Mapping[int, Shape],
    file: str,
) -> dict[str, dict[str, Shape]]:
    units: dict[str, dict[str, Shape]] = {}
    problems = []
    for home in homes:
        mine = floors.of([level for n in home.rooms for level in found.rooms[n].levels])
        at = [floors.in_order.index(floor) for floor in mine]
        if at[-1] - at[0] >= len(at):
            what = f"it is on floors {', '.join(mine)} and not on those between"
            fix = "leave out the kind of room that is no part of it, or give the homes different codes"
            problems.append(Problem(file, f"unit {home.code!r}", what, fix))
        for floor in mine:
            rooms = [n for n in home.rooms if floor in on[n]]
            others = [n for other in homes if other is not home for n in other.rooms if floor in on[n]]
            outline = _joined([shapes[n] for n in rooms], [shapes[n] for n in others])
            parts = shapely.get_num_geometries(outline.buffer(TOUCH / 2))
            if parts > 1:
                places = ", ".join(found.rooms[n].place for n in rooms[:4])
                what = f"it lies in {parts} parts that do not touch ({places})"
                fix = "give two homes two codes, or leave one part out"
                problems.append(Problem(file, f"unit {home.code!r} on floor {floor!r}", what, fix))
            units.setdefault(home.code, {})[floor] = outline
    if problems:
        raise PlanError(problems)
    return units


def _joined(rooms: Sequence[Shape], others: Sequence[Shape]) -> Shape:
    """Return rooms as one outline with the partitions between them, and nothing of others' rooms."""
    if len(rooms) == 1:
        return rooms[0]
    whole: Any = shapely.union_all(rooms)
    wide = shapely.buffer(whole, PARTITION, join_style="mitre")
    closed = shapely.buffer(wide, -PARTITION, join_style="mitre")
    near = [other for other in others if other.intersects(closed)]
    made = shapely.union_all([shapely.difference(closed, shapely.union_all(near)), whole])
    parts = [part for part in shapely.get_parts(made) if isinstance(part, Polygon) and part.area > 0.01]
    filled = [
        Polygon(part.exterior, [hole for hole in part.interiors if Polygon(hole).area > _SLIVER])
        for part in parts
    ]
    return filled[0] if len(filled) == 1 else MultiPolygon(filled)


def _spaces(
    found: Found, kinds: Mapping[int, str], on: Mapping[int, Sequence[str]], shapes: Mapping[int, Shape]
) -> Features:
    counts: dict[tuple[str, str], int] = {}
    for n, kind in kinds.items():
        for floor in on[n] if kind in (HALLWAY, COMMON) else ():
            number = counts[kind, floor] = counts.get((kind, floor), 0) + 1
            name = "hall" if kind == HALLWAY else found.rooms[n].name or "common"
            yield _outline(shapes[n], kind, f"{name}-{floor}-{number}", floor=floor)


def _shafts(
    kinds: Mapping[int, str], on: Mapping[int, Sequence[str]], shapes: Mapping[int, Shape]
) -> Features:
    """Yield stairs and risers; those that lie over one another on different floors have one name."""
    known: list[tuple[str, Shape, set[str]]] = []
    for n, kind in kinds.items():
        if kind not in (STAIR, RISER):
            continue
        shape = shapes[n]
        for name, other, floors in known:
            over = shapely.intersection(shape, other).area > 0.5 * min(shape.area, other.area)
            if name.startswith(kind) and over and not floors & set(on[n]):
                break
        else:
            name, floors = f"{kind}-room-{len(known) + 1}", set()
            known.append((name, shape, floors))
        floors.update(on[n])
        yield _outline(shape, kind, name, floors=list(on[n]))

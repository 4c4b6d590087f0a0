"""One floor traced: the picture and the clicks to regions with shared walls, doors, and what is doubtful."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from spread.drawings.ink import ink_of
from spread.drawings.pictures import Grey
from spread.drawings.reader import At
from spread.drawings.regions import Seed, flood, gap_between, outlines_of
from spread.drawings.squaring import squared
from spread.drawings.tracing import Click, FloorTracing
from spread.errors import SpreadError

CAUGHT = 0.5
"""Metres from a corner within which a move by hand takes hold of it."""
_LEAST_WALL = 0.5  # metres of shared wall that a door may stand in


@dataclass(frozen=True, slots=True)
class Region:
    """What one code became, in pixels of the picture."""

    kind: str
    id: str
    shape: BaseGeometry


@dataclass(frozen=True, slots=True)
class TracedDoor:
    """A unit's door; ``seen`` when a gap shows it, else it was put into the middle of the wall."""

    unit: str
    at: At
    seen: bool


@dataclass(frozen=True, slots=True)
class TracedFloor:
    """A floor as traced; ``lost``: moves by hand that found no corner any more."""

    regions: tuple[Region, ...]
    doors: tuple[TracedDoor, ...]
    lost: tuple[At, ...]


def trace_floor(grey: Grey, floor: FloorTracing, metre: float, file: str) -> TracedFloor:
    """Trace one floor.

    ``grey``: the picture that was clicked on. ``metre``: pixels of a metre. Raises SpreadError when a click
    lies off the picture, or a unit's clicks fall into parts that do not touch.
    """
    where = f"floor {floor.floor!r}"
    outline = Polygon(floor.outline)
    high, wide = grey.shape
    if not shapely.box(-5, -5, wide + 5, high + 5).covers(outline):
        raise SpreadError.at(file, where, "its outline leaves the picture", "click it on this picture again")
    seeds = _seeds(floor.clicks)
    ink = ink_of(grey, floor.dark, floor.thin, metre)
    names = dict(enumerate(seeds, start=1))
    halls = [label for label, (kind, _) in names.items() if kind == "hallway"]
    labels = flood(ink, outline, [Seed(label, seeds[key]) for label, key in names.items()], halls, metre)
    found = outlines_of(labels)
    for label, (kind, name) in names.items():
        if label not in found:
            what = f"the {kind} {name!r} has no room of its own"
            raise SpreadError.at(file, where, what, "move its click, or the darkness until its walls show")
    shapes = squared([found[label] for label in names], outline, metre)
    for (kind, name), shape in zip(seeds, shapes, strict=True):
        if kind == "unit" and not isinstance(shape, Polygon):
            what = f"unit {name!r} has parts that do not touch"
            raise SpreadError.at(file, where, what, "give two homes two codes, or click what lies between")
    shapes, lost = _moved(shapes, floor.moved, CAUGHT * metre)
    _check(seeds, shapes, file, where)
    regions = tuple(Region(*name, shape) for name, shape in zip(seeds, shapes, strict=True))
    doors = []
    for label, (kind, name) in names.items():
        for hall in halls if kind == "unit" else ():
            wall = shapely.intersection(shapes[label - 1], shapes[hall - 1])
            if wall.length < _LEAST_WALL * metre:
                continue
            gap = gap_between(labels, ink, label, hall, metre)
            line = max(shapely.get_parts(shapely.line_merge(_lines(wall))), key=lambda part: part.length)
            at = line.interpolate(line.project(Point(gap)) if gap else 0.5 * line.length)
            doors.append(TracedDoor(name, (at.x, at.y), gap is not None))
    return TracedFloor(regions, tuple(doors), lost)


def _seeds(clicks: tuple[Click, ...]) -> dict[tuple[str, str], tuple[At, ...]]:
    """Return the clicks of each region; those of one code are one region, and so are all hallways."""
    found: dict[tuple[str, str], tuple[At, ...]] = {}
    for click in clicks:
        key = (click.kind, click.id)
        found[key] = (*found.get(key, ()), click.at)
    return found


def _lines(wall: BaseGeometry) -> BaseGeometry:
    return shapely.multilinestrings(
        [part for part in shapely.get_parts(wall) if part.geom_type == "LineString"]
    )


def _moved(
    shapes: list[BaseGeometry], moves: tuple[tuple[At, At], ...], reach: float
) -> tuple[list[BaseGeometry], tuple[At, ...]]:
    """Move corners by hand, in every region that has them."""
    lost = []
    several = np.array(shapes, dtype=object)
    for start, end in moves:
        corners = shapely.get_coordinates(several)
        far = np.hypot(*(corners - start).T)
        nearest = corners[far.argmin()]
        if far.min() > reach:
            lost.append(start)
            continue
        corners[(np.abs(corners - nearest) < 1e-6).all(axis=1)] = end
        several = shapely.set_coordinates(several, corners)
    return list(several), tuple(lost)


def _check(
    seeds: dict[tuple[str, str], tuple[At, ...]], shapes: list[BaseGeometry], file: str, where: str
) -> None:
    for (kind, name), shape in zip(seeds, shapes, strict=True):
        if not shape.is_valid:
            what = f"the outline of {kind} {name!r} crosses itself"
            raise SpreadError.at(file, where, what, "take the last move of a corner back")

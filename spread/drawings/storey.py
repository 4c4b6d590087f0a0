"""A storey of a building model cut as a picture to trace: where it has no rooms of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from PIL import Image, ImageDraw
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from spread.drawings.ifc import WALLS, Floats, Storeys, footprint, open_model, solids
from spread.drawings.pictures import LONGEST
from spread.errors import SpreadError

CUT = 1.1
"""Metres above a storey's floor at which it is cut, as floor plans are: through doors and windows."""
_MARGIN = 40  # pixels of white around the drawing


@dataclass(frozen=True, slots=True)
class Cut:
    """A storey as a picture: how many storeys there are, names of rooms and where, and pixels of a metre.

    ``match``: where the corners of the whole model are, which lays the storeys over one another.
    """

    picture: Image.Image
    storeys: int
    texts: tuple[tuple[str, float, float], ...]
    metre: float
    match: tuple[tuple[float, float], ...]


def draw_ifc(data: bytes, file: str, page: int) -> Cut:
    """Draw the walls of a storey; the lowest is page 1. SpreadError where it has none."""
    model = open_model(data, file)
    storeys = Storeys(model)
    if not 1 <= page <= len(storeys.names):
        what = f"there is no storey {page}; it has {len(storeys.names)}"
        raise SpreadError.at(file, "", what, f"name one from 1 to {max(len(storeys.names), 1)}")
    high = storeys.heights[page - 1] + CUT
    walls, corners = [], []
    for _, triangles, _ in solids(model, WALLS, cut=True):
        corners += [triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))]
        if (area := _cut(triangles, high)) is not None:
            walls.append(area)
    if not walls:
        where = f"storey {storeys.names[page - 1]!r}"
        what = f"it has no walls {CUT:g} m above its floor"
        raise SpreadError.at(file, where, what, "choose another storey, or trace a picture of this one")
    ink = shapely.union_all(walls)
    low_x, low_y, high_x, high_y = ink.bounds
    metre = (LONGEST - 2 * _MARGIN) / max(high_x - low_x, high_y - low_y)

    def placed(at: Floats) -> Floats:
        return (at - (low_x, high_y)) * (metre, -metre) + _MARGIN

    wide, high_px = (int(side * metre) + 2 * _MARGIN for side in (high_x - low_x, high_y - low_y))
    picture = Image.new("L", (wide, high_px), 255)
    pen = ImageDraw.Draw(picture)
    areas = [one for one in shapely.get_parts(ink) if isinstance(one, Polygon)]
    for area in sorted(
        areas, key=lambda one: -Polygon(one.exterior).area
    ):  # what stands in a hole comes after it
        for ring, fill in [(area.exterior, 0), *((hole, 255) for hole in area.interiors)]:
            pen.polygon([tuple(at) for at in placed(shapely.get_coordinates(ring)).tolist()], fill=fill)
    texts = []
    for room, triangles, normals in solids(model, ["IfcSpace"], cut=False):
        if page - 1 in storeys.passed(storeys.of(room, triangles[:, :, 2].min()), triangles[:, :, 2].max()):
            inside = footprint(triangles, normals).representative_point()
            if not inside.is_empty:
                x, y = placed(shapely.get_coordinates(inside))[0].tolist()
                texts.append((str(room.Name or "")[:80], x, y))
    ends = placed(np.array([np.min(corners, axis=0)[:2], np.max(corners, axis=0)[:2]])).round(1)
    match = ((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    return Cut(picture, len(storeys.names), tuple(texts), metre, match)


def _cut(triangles: Floats, high: float) -> BaseGeometry | None:
    """Return what a horizontal plane cuts out of a closed surface; None where it misses it."""
    above = triangles[:, :, 2] > high
    crossing = triangles[above.any(axis=1) & ~above.all(axis=1)]
    if not len(crossing):
        return None
    ends = []
    for k in range(3):
        a, b = crossing[:, k], crossing[:, (k + 1) % 3]
        cut = (a[:, 2] > high) != (b[:, 2] > high)
        share = (high - a[:, 2]) / np.where(cut, b[:, 2] - a[:, 2], 1.0)
        ends.append(np.where(cut[:, None], a[:, :2] + share[:, None] * (b - a)[:, :2], np.nan))
    three = np.stack(ends, axis=1)
    lines = shapely.linestrings([one[np.isfinite(one[:, 0])].round(4) for one in three])
    rings = shapely.polygonize([shapely.union_all(lines, grid_size=1e-4)])
    return shapely.union_all(rings) if shapely.area(rings) > 0 else None

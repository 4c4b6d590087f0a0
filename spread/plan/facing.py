"""Walls that two units of a floor share: where they run and how thick they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree

from spread.plan.model import Plan, Shape

THICKEST = 0.7
"""Metres between the faces of one wall; thicker is a room that nobody drew (see ``losses.TOUCH``)."""
SHORTEST = 0.5
"""Metres of wall that are worth moving (no source)."""
_PARALLEL = 0.02  # sine of the angle between the faces of one wall
_SAME = 0.005  # metres within which pieces of wall are in line

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Wall:
    """The longest straight wall between two units on one floor.

    ``a``, ``b``: the units. ``floor``: the floor. ``origin``: a corner of the wall's face on the side of
    ``a``. ``along``, ``across``: unit vectors along the wall, and from ``a`` to ``b``. ``length``, ``thick``:
    metres.
    """

    a: str
    b: str
    floor: str
    origin: tuple[float, float]
    along: tuple[float, float]
    across: tuple[float, float]
    length: float
    thick: float

    def at(self, u: float, s: float) -> tuple[float, float]:
        """Return the place ``u`` metres along and ``s`` metres from the face of ``a`` towards ``b``."""
        return (
            self.origin[0] + u * self.along[0] + s * self.across[0],
            self.origin[1] + u * self.along[1] + s * self.across[1],
        )

    def strip(self, begin: float, end: float) -> Polygon:
        """Return the rectangle along the whole wall between two distances from the face of ``a``."""
        corners = [(0.0, begin), (self.length, begin), (self.length, end), (0.0, end)]
        return Polygon([self.at(u, s) for u, s in corners])

    def turned(self) -> Wall:
        """Return the same wall seen from ``b``."""
        return Wall(
            self.b,
            self.a,
            self.floor,
            self.at(0.0, self.thick),
            self.along,
            (-self.across[0], -self.across[1]),
            self.length,
            self.thick,
        )


def walls_of(plan: Plan, floor: str) -> tuple[Wall, ...]:
    """Return the walls between units of a floor, one for each two units that share one."""
    units = plan.on_floor(floor)
    if not units:
        return ()
    parts = [unit.parts[floor] for unit in units]
    first, second = STRtree(parts).query(parts, predicate="dwithin", distance=THICKEST)
    walls = (
        wall_between(plan, units[i].id, units[j].id, floor)
        for i, j in sorted(zip(first.tolist(), second.tolist(), strict=True))
        if i < j
    )
    return tuple(wall for wall in walls if wall is not None)


def wall_between(plan: Plan, a: str, b: str, floor: str) -> Wall | None:
    """Return the longest straight wall between two units on a floor, or None if they share none."""
    pieces = sorted(
        _facing(plan.units[a].parts[floor], plan.units[b].parts[floor]),
        key=lambda piece: (round(piece[0], 2), round(piece[1], 2), round(piece[2], 2), piece[4]),
    )
    runs: list[tuple[float, ...]] = []
    for piece in pieces:
        if runs and _in_line(runs[-1], piece):
            runs[-1] = (*runs[-1][:5], max(runs[-1][5], piece[5]))
        else:
            runs.append(piece)
    best = max(runs, key=lambda run: run[5] - run[4], default=None)
    if best is None or best[5] - best[4] < SHORTEST:
        return None
    dx, dy, offset, thick, begin, end = best
    across = (dy, -dx)
    origin = (dx * begin + across[0] * offset, dy * begin + across[1] * offset)
    return Wall(a, b, floor, origin, (dx, dy), across, end - begin, thick)


def _in_line(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    near = all(abs(one[k] - other[k]) < _SAME for k in range(4))
    return near and other[4] <= one[5] + _SAME


def _facing(one: Shape, other: Shape) -> Iterator[tuple[float, ...]]:
    """Yield pieces of wall: direction x and y, offset of the first face, thickness, begin, end."""
    for p, q in _edges(one):
        length = float(np.hypot(*(q - p)))
        if length < _SAME:
            continue
        d = (q - p) / length
        out = np.array([d[1], -d[0]])
        for r, s in _edges(other):
            back = s - r
            size = float(np.hypot(*back))
            if size < _SAME or float(d @ back) > 0 or abs(d[0] * back[1] - d[1] * back[0]) > _PARALLEL * size:
                continue
            thick = float(out @ ((r + s) / 2 - p))
            begin, end = max(float(d @ p), float(d @ s)), min(float(d @ q), float(d @ r))
            if -_SAME <= thick <= THICKEST and end - begin > _SAME:
                yield float(d[0]), float(d[1]), float(out @ p), max(thick, 0.0), begin, end


def _edges(shape: Shape) -> Iterator[tuple[Floats, Floats]]:
    """Yield the edges of the outer rings, counter-clockwise, so that the outside lies to the right."""
    whole = shapely.orient_polygons(shapely.remove_repeated_points(shape))
    for polygon in whole.geoms if isinstance(whole, MultiPolygon) else (whole,):
        yield from pairwise(shapely.get_coordinates(polygon.exterior))

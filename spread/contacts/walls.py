"""Shared walls, by projecting facing edges on their common direction.

Plans draw the inside of rooms, so the two faces of a wall are apart by its thickness
and no two outlines touch. Two edges face each other when they are parallel within ten degrees,
look at each other and are no further apart than a wall is thick; what they share is the overlap
of their projections, so a corner shares nothing and a staggered neighbour only what it covers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from spread.contacts.exposure import ExposureSettings
from spread.plan.model import Plan, Shape

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

PARALLEL = math.cos(math.radians(10.0))
ROUNDING = 1e-6  # m: so that a gap of exactly nothing is found at any rotation
OPEN_GAP = 0.05  # m: nothing that matters fits into a narrower gap, so it is not searched


@dataclass(frozen=True, slots=True)
class Edges:
    """Directed outline edges, the inside on the left. ``owner`` is sorted."""

    owner: Ints  # (E,)
    start: Floats  # (E, 2)
    end: Floats  # (E, 2)


@dataclass(frozen=True, slots=True)
class Strips:
    """Pieces of facing edges: row k lies between shapes ``a[k]`` and ``b[k]``.

    ``metres`` is the projected overlap, ``gap`` the distance (negative if the outlines
    overlap), ``along`` the common direction, ``face_a`` and ``face_b`` the two wall faces by
    their end points (K, 2, 2).
    """

    a: Ints
    b: Ints
    metres: Floats
    gap: Floats
    along: Floats
    face_a: Floats
    face_b: Floats

    def take(self, keep: NDArray[np.bool_]) -> Strips:
        """Return the rows where ``keep`` is true."""
        return Strips(
            self.a[keep],
            self.b[keep],
            self.metres[keep],
            self.gap[keep],
            self.along[keep],
            self.face_a[keep],
            self.face_b[keep],
        )


@dataclass(frozen=True, slots=True)
class SharedWall:
    """A wall between two units on one floor: metres of it and its two faces as end points (K, 2, 2)."""

    a: str
    b: str
    floor: str
    metres: float
    face_a: Floats
    face_b: Floats


def outline_edges(shapes: Sequence[Shape]) -> Edges:
    """Return the edges of all rings, repeated points dropped, inside always on the left."""
    if not shapes:
        none = np.empty((0, 2))
        return Edges(np.empty(0, dtype=np.intp), none, none)
    parts, owner = shapely.get_parts(np.asarray(shapes, dtype=object), return_index=True)
    parts = shapely.orient_polygons(shapely.remove_repeated_points(parts, 1e-3))
    rings, part = shapely.get_rings(parts, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    start, end = points[:-1][same], points[1:][same]
    long = np.hypot(*(end - start).T) > 1e-6
    return Edges(owner[part[ring[:-1][same]]][long].astype(np.intp), start[long], end[long])


def facing_strips(
    first: Edges, second: Edges, pairs: Ints, *, gap: float = 0.7, overlap: float = 0.12
) -> Strips:
    """Return the facing pieces of every pair of shapes.

    ``first``, ``second``: edges of the shapes that ``pairs[0]`` and ``pairs[1]`` number; ``pairs``: candidate
    pairs of shapes, shape (2, P); ``gap``, ``overlap``: widest gap and deepest drawing overlap in metres.
    """
    i, j = _edge_pairs(first, second, pairs)
    p0, p1, q0, q1 = first.start[i], first.end[i], second.start[j], second.end[j]
    u, v = _unit_vectors(p1 - p0), _unit_vectors(q1 - q0)
    # The inside is on the left of both, so edges that look at each other run in opposite directions.
    facing = np.einsum("kd,kd->k", u, v) <= -PARALLEL
    i, j, p0, p1, q0, q1, u, v = (x[facing] for x in (i, j, p0, p1, q0, q1, u, v))
    along = _unit_vectors(u - v)
    outward = np.stack([along[:, 1], -along[:, 0]], axis=1)
    s0, s1 = np.einsum("kd,kd->k", p0, along), np.einsum("kd,kd->k", p1, along)
    t0, t1 = np.einsum("kd,kd->k", q1, along), np.einsum("kd,kd->k", q0, along)
    low, high = np.maximum(s0, t0), np.minimum(s1, t1)
    metres = high - low
    some = metres > 1e-9
    i, j, p0, p1, q0, q1, along, outward, s0, s1, t0, t1, low, high, metres = (
        x[some] for x in (i, j, p0, p1, q0, q1, along, outward, s0, s1, t0, t1, low, high, metres)
    )
    face_a = _piece((p0, p1), (s0, s1), (low, high))
    face_b = _piece((q1, q0), (t0, t1), (low, high))
    middle = face_b.mean(axis=1) - face_a.mean(axis=1)
    apart = np.einsum("kd,kd->k", middle, outward)
    strips = Strips(first.owner[i], second.owner[j], metres, apart, along, face_a, face_b)
    return strips.take((apart >= -overlap - ROUNDING) & (apart <= gap + ROUNDING))


def shaded(strips: Strips, blockers: Sequence[Shape]) -> Floats:
    """Return the metres of each strip with another space (a third unit, a hallway, a stair) in its gap."""
    lost = np.zeros(len(strips.metres))
    wide = np.flatnonzero(strips.gap > OPEN_GAP)
    if not len(wide) or not len(blockers):
        return lost
    a, b, u = strips.face_a[wide], strips.face_b[wide], strips.along[wide]
    # The middle 80 % of the gap: the two units themselves end at its edges.
    near, far = a + 0.1 * (b - a), a + 0.9 * (b - a)
    corners = np.stack([near[:, 0], near[:, 1], far[:, 1], far[:, 0]], axis=1)
    quads = np.asarray(shapely.polygons(corners), dtype=object)
    quad, other = shapely.STRtree(np.asarray(blockers, dtype=object)).query(quads, predicate="intersects")
    if not len(quad):
        return lost
    inside = shapely.intersection(quads[quad], np.asarray(blockers, dtype=object)[other])
    pieces, whole = shapely.get_parts(inside, return_index=True)
    quad = quad[whole]
    points, hit = shapely.get_coordinates(pieces, return_index=True)
    place = np.einsum("kd,kd->k", points, u[quad[hit]])
    low, high = np.full(len(quad), np.inf), np.full(len(quad), -np.inf)
    np.minimum.at(low, hit, place)
    np.maximum.at(high, hit, place)
    np.add.at(lost, wide[quad], np.maximum(0.0, high - low))
    return np.minimum(lost, strips.metres)


def shared_walls(plan: Plan, settings: ExposureSettings | None = None) -> list[SharedWall]:
    """Return every shared wall of a plan, floor by floor, the earlier unit of the plan first.

    Candidates come from an STRtree a floor (units within a wall thickness), not from all pairs.
    """
    settings = settings or ExposureSettings()
    walls: list[SharedWall] = []
    for floor in plan.floors:
        units = plan.on_floor(floor)
        shapes = [unit.parts[floor] for unit in units]
        if len(shapes) < 2:
            continue
        found = _floor_walls(shapes, _open_spaces(plan, floor), settings)
        for (i, j), (metres, face_a, face_b) in found.items():
            walls.append(SharedWall(units[i].id, units[j].id, floor, metres, face_a, face_b))
    return walls


def _floor_walls(
    shapes: Sequence[Shape], spaces: Sequence[Shape], settings: ExposureSettings
) -> Mapping[tuple[int, int], tuple[float, Floats, Floats]]:
    tree = shapely.STRtree(shapes)
    pairs = tree.query(
        np.asarray(shapes, dtype=object), predicate="dwithin", distance=settings.wall_gap + ROUNDING
    )
    pairs = pairs[:, pairs[0] < pairs[1]]
    edges = outline_edges(shapes)
    strips = facing_strips(edges, edges, pairs, gap=settings.wall_gap, overlap=settings.wall_overlap)
    metres = strips.metres - shaded(strips, [*shapes, *spaces])
    code = strips.a * len(shapes) + strips.b
    order = np.argsort(code, kind="stable")
    found = {}
    for group in np.split(order, np.flatnonzero(np.diff(code[order])) + 1):
        total = float(metres[group].sum())
        if total >= settings.wall_least:
            pair = (int(strips.a[group[0]]), int(strips.b[group[0]]))
            lit = group[metres[group] > 0]
            found[pair] = (total, strips.face_a[lit], strips.face_b[lit])
    return found


def _open_spaces(plan: Plan, floor: str) -> list[Shape]:
    """Return what may lie between two units and part them, merged; a riser in the wall does not."""
    spaces = [space.outline for space in (*plan.hallways, *plan.commons) if space.floor == floor]
    spaces += [stair.outline for stair in plan.stairs if floor in stair.floors]
    merged = shapely.union_all(np.asarray(spaces, dtype=object))
    return list(shapely.get_parts(merged))


def _edge_pairs(first: Edges, second: Edges, pairs: Ints) -> tuple[Ints, Ints]:
    """Return the indexes of every edge of ``pairs[0]`` with every edge of ``pairs[1]``."""
    begin_a, end_a = (np.searchsorted(first.owner, pairs[0], side) for side in ("left", "right"))
    begin_b, end_b = (np.searchsorted(second.owner, pairs[1], side) for side in ("left", "right"))
    count_a, count_b = end_a - begin_a, end_b - begin_b
    count = count_a * count_b
    which = np.repeat(np.arange(pairs.shape[1]), count)
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return begin_a[which] + within // count_b[which], begin_b[which] + within % count_b[which]


def _unit_vectors(vectors: Floats) -> Floats:
    length = np.hypot(vectors[:, 0], vectors[:, 1])
    return vectors / np.maximum(length, 1e-300)[:, None]


def _piece(
    segment: tuple[Floats, Floats], places: tuple[Floats, Floats], wanted: tuple[Floats, Floats]
) -> Floats:
    """Return the piece, (K, 2, 2), of segments whose ends have ``places`` on the common direction."""
    (p, q), (s, t) = segment, places
    span = (t - s)[:, None]
    return np.stack([p + (q - p) * ((x - s)[:, None] / span) for x in wanted], axis=1)

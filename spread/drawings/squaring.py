"""Outlines from pixels to straight walls that neighbours share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

ROUGH = 0.35
"""Metres. Corners whose triangle is under its square go (no source)."""
IN_LINE = 0.3
"""Metres within which walls that nearly stand in line are put in line (no source)."""
_LEVEL = 0.25  # slope up to which a wall runs along the building

Floats = NDArray[np.float64]


def squared(shapes: Sequence[BaseGeometry], outline: Polygon, metre: float) -> list[BaseGeometry]:
    """Return regions with few corners and their walls in line; what touched still touches.

    ``outline``: of the floor; its longest direction is the building's. ``metre``: pixels of a metre.
    """
    rough = np.array(shapely.coverage_simplify(shapes, ROUGH * metre), dtype=object)
    turn = _direction(outline)
    corners = shapely.get_coordinates(rough) @ _turned(-turn)
    for near in (IN_LINE, IN_LINE / 2, IN_LINE / 4):  # a narrow part may fold: then less is put in line
        maps = [_in_line(list(rough), turn, axis, near * metre) for axis in (0, 1)]
        lined = np.stack([np.interp(corners[:, k], *maps[k]) for k in (0, 1)], axis=1) @ _turned(turn)
        moved = shapely.set_coordinates(rough.copy(), lined)
        if shapely.is_valid(moved).all() and (shapely.area(moved) > 0).all():
            plain = shapely.coverage_simplify(moved, 0.05 * metre)
            return list(plain if shapely.is_valid(plain).all() else moved)
    return list(rough)


def _turned(angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, s], [-s, c]])


def _direction(outline: Polygon) -> float:
    """Return the angle that most of the outline runs along, of those within 45 degrees."""
    steps = np.diff(shapely.get_coordinates(outline.exterior), axis=0)
    lengths = np.hypot(*steps.T)
    fourfold = (lengths * np.exp(4j * np.arctan2(steps[:, 1], steps[:, 0]))).sum()
    return float(np.angle(fourfold) / 4)


def _in_line(shapes: Sequence[BaseGeometry], turn: float, axis: int, near: float) -> tuple[Floats, Floats]:
    """Return where each coordinate goes: a map that never turns left and right about."""
    values, weights = [np.zeros(0)], [np.zeros(0)]
    for ring in (ring for shape in shapes for ring in _rings(shape)):
        at = shapely.get_coordinates(ring) @ _turned(-turn)
        steps = np.abs(np.diff(at, axis=0))
        along = np.where(steps[:, axis] <= _LEVEL * steps[:, 1 - axis], steps[:, 1 - axis], 0.0)
        values.append(at[:-1, axis])
        weights.append(along + np.roll(along, 1) + 1e-6)
    every, weight = np.concatenate(values), np.concatenate(weights)
    order = np.argsort(every)
    every, weight = every[order], weight[order]
    to = every.copy()
    start = 0
    for end in range(1, len(every) + 1):
        apart = end == len(every) or every[end] - every[end - 1] > near / 2
        if apart or every[end] - every[start] > near:
            to[start:end] = np.average(every[start:end], weights=weight[start:end])
            start = end
    return every, to


def _rings(shape: BaseGeometry) -> list[BaseGeometry]:
    whole = [part for part in shapely.get_parts(shape) if isinstance(part, Polygon)]
    return [ring for part in whole for ring in (part.exterior, *part.interiors)]

"""Floor and ceiling contacts: how many square metres one unit lies above another."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from spread.contacts.exposure import ExposureSettings
from spread.plan.model import Plan


@dataclass(frozen=True, slots=True)
class Overlap:
    """Unit ``upper`` lies above unit ``lower`` over ``m2`` square metres."""

    lower: str
    upper: str
    m2: float


def floor_overlaps(plan: Plan, settings: ExposureSettings | None = None) -> list[Overlap]:
    """Return every pair of units one above the other on neighbouring floors, in plan order.

    A unit over two floors never meets itself. Two units that interlock over two floors
    (each partly above the other) give one overlap with both areas; ``upper`` is the one with more above.
    """
    settings = settings or ExposureSettings()
    area: dict[tuple[str, str], float] = {}
    for below, above in pairwise(plan.floors):
        lower, upper = plan.on_floor(below), plan.on_floor(above)
        if not lower or not upper:
            continue
        under = np.asarray([unit.parts[below] for unit in lower], dtype=object)
        over = np.asarray([unit.parts[above] for unit in upper], dtype=object)
        i, j = shapely.STRtree(over).query(under, predicate="intersects")
        m2 = shapely.area(shapely.intersection(under[i], over[j]))
        for a, b, size in zip(i, j, m2, strict=True):
            pair = (lower[a].id, upper[b].id)
            if pair[0] != pair[1] and size > 0:
                area[pair] = area.get(pair, 0.0) + float(size)
    found = []
    for (a, b), size in area.items():
        other = area.get((b, a), 0.0)
        first = size > other or (size == other and a < b)
        if first and size + other >= settings.floor_least:
            found.append(Overlap(a, b, size + other))
    return found

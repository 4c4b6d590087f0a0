"""Units on the same plumbing or electrical chase."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely

from spread.contacts.exposure import ExposureSettings
from spread.plan.model import Plan, Shaft


@dataclass(frozen=True, slots=True)
class SharedRiser:
    """Two units on one riser, nearest by ``floors_apart`` at the levels ``level_a``, ``level_b``."""

    a: str
    b: str
    riser: str
    level_a: int
    level_b: int
    exposure: float

    @property
    def floors_apart(self) -> int:
        """Return how many floors lie from one to the other."""
        return abs(self.level_a - self.level_b)


def shared_risers(plan: Plan, settings: ExposureSettings | None = None) -> list[SharedRiser]:
    """Return every pair of units on the same riser, on one floor and across floors.

    A unit touches a riser where the outlines come within ``riser_reach`` on a floor that it serves.
    Exposure is 1 on the same and the next floor and halves per floor further (judgement, no source).
    """
    settings = settings or ExposureSettings()
    trees = {}
    for floor in plan.floors:
        units = plan.on_floor(floor)
        shapes = np.asarray([unit.parts[floor] for unit in units], dtype=object)
        trees[floor] = ([unit.id for unit in units], shapely.STRtree(shapes))
    order = {unit: index for index, unit in enumerate(plan.units)}
    found = []
    for riser in plan.risers:
        levels = _levels_by_unit(plan, riser, trees, settings.riser_reach)
        for a, b in combinations(sorted(levels, key=order.__getitem__), 2):
            level_a, level_b = min(
                ((x, y) for x in levels[a] for y in levels[b]), key=lambda pair: abs(pair[0] - pair[1])
            )
            exposure = settings.riser_exposure(abs(level_a - level_b))
            if exposure > 0:
                found.append(SharedRiser(a, b, riser.id, level_a, level_b, exposure))
    return found


def _levels_by_unit(
    plan: Plan, riser: Shaft, trees: dict[str, tuple[list[str], shapely.STRtree]], reach: float
) -> dict[str, list[int]]:
    levels: dict[str, list[int]] = {}
    for floor in riser.floors:
        ids, tree = trees[floor]
        for hit in tree.query(riser.outline, predicate="dwithin", distance=reach):
            levels.setdefault(ids[hit], []).append(plan.level_of(floor))
    return levels

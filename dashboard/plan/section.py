"""The building from the side: a column a stack, a row a floor, and the risers between them.

The columns stand in the order of the building: one row of stacks after the other (the sides of a hallway),
each along the building's longer side. Sizes are the drawing's own; nothing here is measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any

import networkx as nx
import numpy as np
import shapely

from dashboard.words import floor_title
from spread.contacts.exposure import ExposureSettings
from spread.plan.model import Plan, Shaft, Unit

WIDE, HIGH = 5.0, 4.2
"""A cell, in the drawing's metres."""
BETWEEN = 0.8
"""Between two columns; risers run there."""
SLAB = 0.3
"""Between two floors."""
APART = 1.6
"""Between two rows of stacks."""
ANOTHER_ROW = 4.0
"""Metres across the building's axis that part one row of stacks from the next (judgement, no source)."""
SAME_STACK = 0.5
"""Share of the smaller outline that two unnamed units must have in common to stand in one column."""
LETTERS = 1.06
BOLD = 0.7
LONGEST_NAME = 7


def section_geometry(plan: Plan) -> dict[str, Any]:
    """Return the section in the form of one floor of :func:`dashboard.plan.geometry.plan_geometry`.

    Returns ``units`` (one cell each; one that goes over several floors is as high as they are), ``risers``
    (paths), ``texts`` as ``[x, y, size, words, anchor]``: floors at the left, risers above; the other keys
    are empty.
    """
    rows = _rows_of_columns(plan)
    lefts = _lefts(rows)
    columns = [column for row in rows for column in row]
    place = {unit.id: index for index, column in enumerate(columns) for unit in column}
    units = [cell for unit in plan.units.values() for cell in _cells(plan, unit, lefts[place[unit.id]])]
    right = lefts[-1] + WIDE if lefts else WIDE
    bottom = len(plan.floors) * (HIGH + SLAB)
    paths, names = _risers(plan, place, lefts)
    floors = [
        [-1.2, _top(plan, level) + HIGH / 2 + 0.4, 1.1, floor_title(name), "end"]
        for level, name in enumerate(plan.floors)
    ]
    margin = 2.0 + 0.62 * max((len(floor_title(name)) for name in plan.floors), default=3) * 1.1
    return {
        "name": "",
        "title": "Section",
        "view": [-round(margin, 2), -2.6, round(right + margin + 1.5, 2), round(bottom + 3.4, 2)],
        "least": HIGH,
        "letters": [LETTERS, LETTERS],
        "units": units,
        "risers": paths,
        "texts": [*floors, *names],
        **{empty: [] for empty in ("halls", "commons", "stairs", "doors", "beds", "outlets")},
    }


def _top(plan: Plan, level: int) -> float:
    return (len(plan.floors) - 1 - level) * (HIGH + SLAB)


def _cells(plan: Plan, unit: Unit, left: float) -> list[list[Any]]:
    """Return a unit's cells: one, unless its floors do not follow each other."""
    levels = sorted(plan.level_of(floor) for floor in unit.parts)
    runs: list[list[int]] = []
    for level in levels:
        if runs and level == runs[-1][-1] + 1:
            runs[-1].append(level)
        else:
            runs.append([level])
    cells = []
    for run in runs:
        top, low = _top(plan, run[-1]), _top(plan, run[0]) + HIGH
        letters = min(LETTERS, 0.82 * WIDE / (0.56 * max(len(unit.id), 6)))
        path = f"M{left:.2f},{top:.2f}H{left + WIDE:.2f}V{low:.2f}H{left:.2f}Z"
        most = int(0.94 * WIDE / (BOLD * letters))
        cells.append(
            [unit.id, path, round(left + WIDE / 2, 2), round((top + low) / 2, 2), round(letters, 2), most]
        )
    return cells


def _lefts(rows: Sequence[Sequence[object]]) -> list[float]:
    lefts, at = [], 0.0
    for row in rows:
        for _ in row:
            lefts.append(at)
            at += WIDE + BETWEEN
        at += APART
    return lefts


def _rows_of_columns(plan: Plan) -> list[list[list[Unit]]]:
    """Return the columns by row of stacks, each a list of units of which no two share a floor."""
    stacks = [list(column) for column in _stacks(plan)]
    if not stacks:
        return []
    middles = np.array([_middle(stack) for stack in stacks])
    along, across = _axes(plan, middles)
    order = np.argsort(-across, kind="stable")
    rows: list[list[int]] = [[int(order[0])]]
    for before, after in pairwise(order):
        if across[before] - across[after] > ANOTHER_ROW:
            rows.append([])
        rows[-1].append(int(after))
    return [
        [lane for index in sorted(row, key=lambda i: (along[i], i)) for lane in _lanes(stacks[index])]
        for row in rows
    ]


def _axes(plan: Plan, middles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return each stack's place along the building's longer side and across it."""
    outlines = [part for unit in plan.units.values() for part in unit.parts.values()]
    around = shapely.minimum_rotated_rectangle(shapely.union_all(shapely.envelope(outlines)))
    corners = shapely.get_coordinates(around)
    sides = [corners[1] - corners[0], corners[2] - corners[1]]
    way = max(sides, key=lambda side: float(np.hypot(*side)))
    way = way / np.hypot(*way)
    if way[0] < -1e-9 or (abs(way[0]) <= 1e-9 and way[1] < 0):
        way = -way
    return middles @ way, middles @ np.array([-way[1], way[0]])


def _middle(stack: Iterable[Unit]) -> tuple[float, float]:
    points = [part.centroid for unit in stack for part in unit.parts.values()]
    return sum(p.x for p in points) / len(points), sum(p.y for p in points) / len(points)


def _stacks(plan: Plan) -> list[tuple[Unit, ...]]:
    """Group units that stand above one another: by the name of their stack, or else by their outlines."""
    above: nx.Graph = nx.Graph()
    above.add_nodes_from(plan.units)
    for lower, upper in pairwise(plan.floors):
        here, over = plan.on_floor(lower), plan.on_floor(upper)
        if not here or not over:
            continue
        tree = shapely.STRtree([unit.parts[upper] for unit in over])
        for unit in here:
            for index in tree.query(unit.parts[lower]):
                other = over[int(index)]
                if unit.id != other.id and _one_above_the_other(unit, lower, other, upper):
                    above.add_edge(unit.id, other.id)
    order = {unit: index for index, unit in enumerate(plan.units)}
    groups = sorted(
        (sorted(part, key=order.__getitem__) for part in nx.connected_components(above)),
        key=lambda g: order[g[0]],
    )
    return [tuple(plan.units[unit] for unit in group) for group in groups]


def _one_above_the_other(unit: Unit, lower: str, other: Unit, upper: str) -> bool:
    if unit.stack or other.stack:
        return unit.stack == other.stack and unit.parts[lower].intersects(other.parts[upper])
    one, two = unit.parts[lower], other.parts[upper]
    return bool(one.intersection(two).area >= SAME_STACK * min(one.area, two.area))


def _lanes(stack: Sequence[Unit]) -> list[list[Unit]]:
    """Part a stack so that no two units of a column share a floor."""
    lanes: list[tuple[set[str], list[Unit]]] = []
    for unit in stack:
        for taken, lane in lanes:
            if not taken & set(unit.parts):
                taken |= set(unit.parts)
                lane.append(unit)
                break
        else:
            lanes.append((set(unit.parts), [unit]))
    return [lane for _, lane in lanes]


def _risers(plan: Plan, place: dict[str, int], lefts: Sequence[float]) -> tuple[list[str], list[list[Any]]]:
    """Return the risers as narrow strips beside the columns they touch, and their names above them."""
    reach = ExposureSettings().riser_reach
    paths, names = [], []
    taken: dict[int, int] = {}
    for number, riser in enumerate(plan.risers, start=1):
        touched = sorted({place[unit.id] for unit in _touching(plan, riser, reach)})
        levels = [plan.level_of(floor) for floor in riser.floors]
        if not touched or not levels:
            continue
        name = riser.id if len(riser.id) <= LONGEST_NAME else f"R{number}"
        for gap in _gaps(touched):
            left = lefts[gap] + WIDE + 0.28 + 0.4 * taken.get(gap, 0)
            taken[gap] = taken.get(gap, 0) + 1
            top, low = _top(plan, max(levels)) - 0.5, _top(plan, min(levels)) + HIGH + 0.2
            paths.append(f"M{left:.2f},{top:.2f}H{left + 0.34:.2f}V{low:.2f}H{left:.2f}Z")
            names.append([round(left + 0.17, 2), round(top - 0.5, 2), 0.95, name, "middle"])
    return paths, names


def _touching(plan: Plan, riser: Shaft, reach: float) -> list[Unit]:
    return [
        unit
        for floor in riser.floors
        for unit in plan.on_floor(floor)
        if unit.parts[floor].distance(riser.outline) <= reach
    ]


def _gaps(columns: Sequence[int]) -> list[int]:
    """Return the gaps (each named by the column at its left) that reach every column, the fewest of them."""
    gaps: list[int] = []
    rest = list(columns)
    while rest:
        column = rest.pop(0)
        gaps.append(column)
        if rest and rest[0] == column + 1:
            rest.pop(0)
    return gaps

"""How fast contacts are found, as ratios where it can be so that a slower machine does not fail.

``pytest benchmarks --benchmark-enable`` prints the times.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from shapely import Point, STRtree, box

from spread.contacts import build_contacts
from spread.contacts.walls import facing_strips, outline_edges, shared_walls
from spread.plan.model import Door, Plan, Space, Unit


def tower(floors: int, a_side: int) -> Plan:
    """Draw a double-loaded corridor building of ``floors * 2 * a_side`` units with 0.2 m walls."""
    units, hallways, doors = {}, [], []
    names = tuple(str(k + 1) for k in range(floors))
    for name in names:
        for k in range(2 * a_side):
            left, side = (k // 2) * 7.0, k % 2
            code = f"{name}-{k + 1}"
            units[code] = Unit(
                code, {name: box(left, 1.8, left + 6.8, 9.8) if side else box(left, -8, left + 6.8, 0)}
            )
            doors.append(Door(f"D{code}", code, name, Point(left + 3.4, 1.8 * side)))
        hallways.append(Space(f"H{name}", "hallway", name, box(0, 0, 7.0 * a_side, 1.8)))
    return Plan("tower", names, units, tuple(hallways), doors=tuple(doors))


def seconds(work, repeats=3):
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def walls_of(edges, pairs):
    strips = facing_strips(edges, edges, pairs)
    return {
        (int(a), int(b)): round(float(m), 6)
        for a, b, m in zip(strips.a, strips.b, strips.metres, strict=True)
    }


def test_a_tree_finds_the_walls_of_all_pairs_at_least_ten_times_faster():
    shapes = [unit.parts["1"] for unit in tower(1, 150).units.values()]
    edges = outline_edges(shapes)
    everyone = np.stack(np.triu_indices(len(shapes), 1))

    def by_tree():
        pairs = STRtree(shapes).query(shapes, predicate="dwithin", distance=0.7)
        return walls_of(edges, pairs[:, pairs[0] < pairs[1]])

    assert by_tree() == walls_of(edges, everyone)
    ratio = seconds(lambda: walls_of(edges, everyone)) / seconds(by_tree)
    print(f"all pairs / tree at 300 units a floor: {ratio:.0f}")
    assert ratio > 10


@pytest.mark.benchmark(group="contacts")
def test_walls_of_2000_units_on_20_floors(benchmark):
    plan = tower(20, 50)
    walls = benchmark(lambda: shared_walls(plan))
    assert len(walls) == 20 * 2 * 49


@pytest.mark.benchmark(group="contacts")
def test_contacts_of_2000_units_on_20_floors(benchmark):
    plan = tower(20, 50)
    graph = benchmark.pedantic(lambda: build_contacts(plan), rounds=3)
    assert graph.number_of_nodes() == 2000
    assert sum(1 for *_, key in graph.edges(keys=True) if key == "floor") == 19 * 100

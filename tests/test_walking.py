"""Hallway distances against sums done by hand and against networkx on a fine grid."""

from __future__ import annotations

import math

import networkx as nx
import numpy as np
import pytest
import shapely
from contact_plans import corridor_building, moved, plan_of, stair
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from spread.contacts.entries import floor_walks
from spread.contacts.exposure import ExposureSettings
from spread.contacts.hallways import hallway_contacts
from spread.contacts.walking import doorways, reflex_corners, walkable, walking_distances

STRAIGHT = box(0, 0, 30, 1.8)
ELL = Polygon([(0, 0), (20, 0), (20, 2), (2, 2), (2, 20), (0, 20)])
YOU = Polygon([(0, 0), (20, 0), (20, 12), (18, 12), (18, 2), (2, 2), (2, 12), (0, 12)])
COURT = box(0, 0, 20, 20).difference(box(2, 2, 18, 18))
SPIRAL = shapely.union_all(
    [box(0, 0, 20, 2), box(18, 0, 20, 20), box(0, 18, 20, 20), box(0, 6, 2, 20), box(0, 6, 12, 8)]
)

BY_HAND = {
    "straight, the same side": (STRAIGHT, (3, 0), (12, 0), 9.0),
    "straight, across and along": (STRAIGHT, (3, 0), (12, 1.8), math.hypot(9, 1.8)),
    "L, inner sides": (ELL, (15, 2), (2, 15), 13 + 13),
    "L, outer sides, by the corner (2, 2)": (ELL, (15, 0), (0, 15), 2 * math.hypot(13, 2)),
    "U, inner sides": (YOU, (2, 10), (18, 10), 8 + 16 + 8),
    "U, outer sides": (YOU, (0, 10), (20, 10), math.hypot(2, 8) + 16 + math.hypot(2, 8)),
    "courtyard, opposite sides": (COURT, (10, 0), (10, 20), 2 * math.hypot(8, 2) + 16),
    "courtyard, the shorter way round": (COURT, (2, 4), (4, 18), 14 + 2),
    "spiral, the inner sides round four corners": (SPIRAL, (4, 2), (10, 8), 14 + 16 + 16 + 10 + 8),
    "courtyard, opposite corners": (COURT, (0, 0), (20, 20), 2 * math.hypot(2, 18)),
}


@pytest.mark.parametrize("name", BY_HAND)
def test_a_walk_has_the_length_that_a_hand_gets(name):
    area, start, end, metres = BY_HAND[name]
    walk = walking_distances(area, np.array([start, end], dtype=float))
    assert walk == pytest.approx(np.array([[0, metres], [metres, 0]]), abs=1e-3)


def grid_walk(area, points, step=0.25):
    """Shortest paths of networkx over a grid, sixteen directions: 2.7 % too long at most, never too short."""
    x0, y0, x1, y1 = area.bounds
    nx_, ny = round((x1 - x0) / step), round((y1 - y0) / step)
    nodes = [(i, j) for i in range(nx_ + 1) for j in range(ny + 1)]
    places = np.array(nodes) * step + (x0, y0)
    room = area.buffer(1e-6)
    inside = shapely.intersects_xy(room, *places.T)
    kept = {node for node, ok in zip(nodes, inside, strict=True) if ok}
    moves = [(1, 0), (0, 1), (1, 1), (1, -1), (2, 1), (1, 2), (2, -1), (1, -2)]
    steps = [((i, j), (i + a, j + b)) for i, j in kept for a, b in moves if (i + a, j + b) in kept]
    ends = np.array(steps) * step + (x0, y0)
    shapely.prepare(room)
    open_way = shapely.covers(room, shapely.linestrings(ends))
    graph = nx.Graph()
    for (a, b), ok, line in zip(steps, open_way, ends, strict=True):
        if ok:
            graph.add_edge(a, b, weight=float(np.hypot(*(line[1] - line[0]))))
    at = [(round((x - x0) / step), round((y - y0) / step)) for x, y in points]
    length = [nx.single_source_dijkstra_path_length(graph, node) for node in at]
    return np.array([[length[i][node] for node in at] for i in range(len(at))])


@pytest.mark.parametrize("name", ["ell", "you", "court", "spiral"])
def test_no_grid_path_is_shorter_and_none_much_longer(name):
    area = {"ell": ELL, "you": YOU, "court": COURT, "spiral": SPIRAL}[name]
    ring = area.exterior
    points = [ring.interpolate(d) for d in np.arange(0, ring.length, 7.0)]
    points = np.array([(round(p.x * 4) / 4, round(p.y * 4) / 4) for p in points])
    exact, grid = walking_distances(area, points), grid_walk(area, points)
    assert np.all(exact <= grid + 1e-3)
    assert np.all(grid <= exact * 1.03 + 1e-3)


@given(seed=st.integers(0, 10_000), angle=st.floats(0, 360))
@settings(max_examples=15, deadline=None)
def test_walks_are_a_metric_and_do_not_turn_with_the_building(seed, angle):
    rng = np.random.default_rng(seed)
    area = [ELL, YOU, COURT][seed % 3]
    points = rng.uniform(0, 20, (200, 2))
    points = points[shapely.contains_xy(area, *points.T)][:8]
    walk = walking_distances(area, points)
    straight = np.linalg.norm(points[:, None] - points[None], axis=2)
    assert np.allclose(walk, walk.T)
    assert np.all(walk >= straight - 1e-9)
    assert np.all(walk[:, :, None] <= walk[:, None, :] + walk.T[None, :, :] + 1e-3)
    turned = shapely.get_coordinates(affinity.rotate(shapely.MultiPoint(points), angle, origin=(0, 0)))
    assert np.allclose(walking_distances(affinity.rotate(area, angle, (0, 0)), turned), walk, atol=1e-3)


def test_corners_that_bend_a_path_are_the_inner_ones():
    assert set(map(tuple, reflex_corners(ELL))) == {(2.0, 2.0)}
    assert set(map(tuple, reflex_corners(YOU))) == {(2.0, 2.0), (18.0, 2.0)}
    assert set(map(tuple, reflex_corners(COURT))) == {(2, 2), (2, 18), (18, 2), (18, 18)}
    assert len(reflex_corners(STRAIGHT)) == 0


def test_hallways_that_do_not_meet_are_infinitely_far():
    area = walkable([box(0, 0, 10, 2), box(20, 0, 30, 2)])
    walk = walking_distances(area, np.array([[1.0, 1.0], [21.0, 1.0]]))
    assert walk[0, 1] == np.inf


def test_a_lobby_drawn_a_wall_away_from_the_hallway_is_joined_to_it():
    area = walkable([box(0, 0, 10, 2), box(10.2, -3, 16, 5)])
    walk = walking_distances(area, np.array([[1.0, 1.0], [12.0, 1.0]]))
    assert walk[0, 1] == pytest.approx(11.0, abs=1e-3)


def test_the_hallway_is_as_wide_as_it_is_also_at_its_end_and_a_lobby_no_more_than_4_m():
    ways = doorways(
        STRAIGHT,
        np.array([[3.0, 0], [3, 1.8], [30, 0.9]]),
        np.array([[0.0, 1], [0, -1], [-1, 0]]),
        widest=4.0,
    )
    assert ways.width == pytest.approx([1.8, 1.8, 1.8])
    assert ways.normal == pytest.approx(np.array([[0.0, 1], [0, -1], [-1, 0]]))
    lobby = doorways(box(0, 0, 12, 12), np.array([[6.0, 0]]), np.array([[0.0, 1]]), widest=4.0)
    assert lobby.width == pytest.approx([4.0])


def contacts(plan, **constants):
    return {(c.a, c.b): c for c in hallway_contacts(plan, ExposureSettings(**constants))}


def test_in_a_straight_corridor_doors_that_face_have_exposure_1_and_the_next_decays_over_9_m():
    found = contacts(corridor_building(1, 5))
    facing = found["101", "102"]
    assert (facing.facing, facing.doors_passed, facing.exposure) == (True, 0, 1.0)
    assert facing.walk_m == pytest.approx(1.8)
    next_door = found["101", "103"]
    assert (next_door.facing, next_door.opposite, next_door.doors_passed) == (False, False, 0)
    assert next_door.walk_m == pytest.approx(7.0)
    assert next_door.exposure == pytest.approx(math.exp(-(7.0 - 1.8) / 9.0))
    diagonal = found["101", "104"]
    assert (diagonal.facing, diagonal.opposite, diagonal.doors_passed) == (False, True, 0)
    assert diagonal.walk_m == pytest.approx(math.hypot(7.0, 1.8))
    assert found["101", "105"].doors_passed == 1  # 103 and 104 face each other and count once
    assert found["101", "109"].doors_passed == 3


def test_one_door_of_7_5_m_further_is_worth_0_43():
    # spread facts: kernel of 9 m (Barbu et al. 2013) gives 0.43 for a door of 7.5 m.
    found = contacts(corridor_building(1, 4, width=7.5))
    ratio = found["101", "107"].exposure / found["101", "105"].exposure
    assert ratio == pytest.approx(0.43, abs=0.005)


def test_pairs_under_2_percent_are_dropped():
    found = contacts(corridor_building(1, 12))
    reach = 9.0 * math.log(50) + 1.8
    assert max(c.walk_m for c in found.values()) <= reach
    assert ("101", "111") in found  # 35.0 m
    assert ("101", "113") not in found  # 42.0 m


def two_floors(height=2.8):
    """One corridor a floor with a stair at its west end; doors 5 m and 12 m from the stair's middle."""
    floors = ("1", "2")
    units = {f"{f}{k}": {f: box(x, -8, x + 6.8, 0)} for f in floors for k, x in (("A", 0), ("B", 7))}
    doors = [(f"{f}{k}", f, (x, 0)) for f in floors for k, x in (("A", 3.5), ("B", 10.5))]
    return plan_of(
        units,
        floors=floors,
        hallways=[(f, box(0, 0, 14, 2)) for f in floors],
        doors=doors,
        shafts=[stair("S", floors, box(-3, 0, 0, 2))],
        height=height,
    )


def test_stairs_cost_two_and_a_half_storey_heights_a_floor():
    found = contacts(two_floors())
    to_stair = {"A": math.hypot(5, 1), "B": math.hypot(12, 1)}
    for a, b in (("1A", "2A"), ("1A", "2B"), ("1B", "2A")):
        metres = to_stair[a[1]] + 2.5 * 2.8 + to_stair[b[1]]
        assert found[a, b].walk_m == pytest.approx(metres, abs=1e-3)
        assert found[a, b].floors_apart == 1
        assert not found[a, b].facing
    assert found["1A", "2B"].doors_passed == 1  # 2A, on the way from the stair
    assert found["1B", "2B"].doors_passed == 2
    assert contacts(two_floors(4.0))["1A", "2A"].walk_m == pytest.approx(10 + 2 * math.hypot(5, 1), abs=1e-3)


def test_two_halves_of_a_floor_meet_over_the_stairs_when_only_the_floor_below_joins_them():
    floors = ("1", "2")
    units = {"2A": {"2": box(0, -8, 5, 0)}, "2B": {"2": box(7, -8, 12, 0)}}
    plan = plan_of(
        units,
        floors=floors,
        hallways=[("1", box(0, 0, 12, 2)), ("2", box(0, 0, 5, 2)), ("2", box(7, 0, 12, 2))],
        doors=[("2A", "2", (3, 0)), ("2B", "2", (9, 0))],
        shafts=[stair("W", floors, box(-2, 0, 0, 2)), stair("E", floors, box(12, 0, 14, 2))],
    )
    metres = math.hypot(4, 1) + 7 + 14 + 7 + math.hypot(4, 1)
    found = contacts(plan, hallway_least=0.001)
    assert found["2A", "2B"].walk_m == pytest.approx(metres, abs=1e-3)


def test_walks_over_many_floors_are_networkx_paths():
    plan = corridor_building(4, 3)
    constants = ExposureSettings(hallway_least=0.01)
    walks = floor_walks(plan, constants)
    graph = nx.Graph()
    for floor, walk in walks.items():
        names = [*walk.units, *((s, floor) for s in walk.stairs)]
        for i, a in enumerate(names):
            for j in range(i):
                graph.add_edge(a, names[j], metres=walk.walk[i, j])
    for name in ("S1", "S2"):
        nx.add_path(graph, [(name, f) for f in plan.floors], metres=2.5 * 2.8)
    paths = dict(nx.all_pairs_dijkstra_path_length(graph, weight="metres"))
    found = {(c.a, c.b): c for c in hallway_contacts(plan, constants)}
    reach = 9.0 * math.log(100) + 1.8
    pairs = {
        (a, b)
        for i, a in enumerate(plan.units)
        for b in list(plan.units)[i + 1 :]
        if paths[a][b] <= reach - 1e-9
    }
    assert set(found) == pairs
    assert all(found[pair].walk_m == pytest.approx(paths[pair[0]][pair[1]], abs=1e-6) for pair in pairs)
    assert any(c.floors_apart == 3 for c in found.values())


def test_a_unit_without_a_door_gets_one_in_the_middle_of_its_longest_hallway_edge():
    units = {"a": box(0, -8, 6, -0.1), "b": box(0, 1.9, 6, 8), "far": box(0, -30, 6, -20)}
    found = contacts(plan_of(units, hallways=[("1", box(0, 0, 6, 1.8))]))
    assert set(found) == {("a", "b")}
    assert found["a", "b"].walk_m == pytest.approx(1.8)
    assert found["a", "b"].facing


def test_a_door_far_from_every_hallway_leads_nowhere():
    units = {"a": box(0, -8, 6, 0), "b": box(0, 1.8, 6, 8)}
    plan = plan_of(
        units, hallways=[("1", box(0, 0, 6, 1.8))], doors=[("a", "1", (3, -8)), ("b", "1", (3, 1.8))]
    )
    assert contacts(plan) == {}


def test_two_doors_of_one_unit_take_the_shorter_walk_and_never_meet_each_other():
    units = {"a": box(0, -8, 20, 0), "b": box(0, 1.8, 6, 8)}
    doors = [("a", "1", (18, 0)), ("a", "1", (3, 0)), ("b", "1", (3, 1.8))]
    found = contacts(plan_of(units, hallways=[("1", box(0, 0, 20, 1.8))], doors=doors))
    assert set(found) == {("a", "b")}
    assert found["a", "b"].walk_m == pytest.approx(1.8)


def test_doors_round_the_corner_of_an_l_are_not_across():
    units = {"a": box(4, -8, 10, 0), "b": box(2, 4, 8, 10)}
    plan = plan_of(units, hallways=[("1", ELL)], doors=[("a", "1", (5, 0)), ("b", "1", (2, 5))])
    contact = contacts(plan)["a", "b"]
    assert contact.walk_m == pytest.approx(math.hypot(3, 2) + 3, abs=1e-3)
    assert not contact.facing


def test_four_doors_on_a_landing_each_face_one():
    landing = box(0, 0, 3, 3)
    units = {
        "W": box(-6, 0, 0, 3),
        "E": box(3, 0, 9, 3),
        "N": box(0, 3, 3, 9),
        "S": box(0, -6, 3, 0),
    }
    doors = [("W", "1", (0, 1.5)), ("E", "1", (3, 1.5)), ("N", "1", (1.5, 3)), ("S", "1", (1.5, 0))]
    found = contacts(plan_of(units, hallways=[("1", landing)], doors=doors))
    assert {pair for pair, c in found.items() if c.facing} == {("W", "E"), ("N", "S")}
    assert all(c.exposure == 1.0 for c in found.values())


@given(angle=st.floats(0, 360), dx=st.floats(-300, 300), dy=st.floats(-300, 300))
@settings(max_examples=10, deadline=None)
def test_turning_a_building_changes_no_hallway_contact(angle, dx, dy):
    plan = corridor_building(2, 3)
    before, after = contacts(plan), contacts(moved(plan, angle, dx, dy))
    assert set(before) == set(after)
    for pair, contact in before.items():
        assert after[pair].walk_m == pytest.approx(contact.walk_m, abs=1e-3)
        assert (after[pair].facing, after[pair].doors_passed) == (contact.facing, contact.doors_passed)

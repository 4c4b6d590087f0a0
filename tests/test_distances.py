"""Walks from door to door against sums done by hand, the contact graph's own walks and networkx."""

import math

import networkx as nx
import numpy as np
import pytest
from buildings import maple_row
from contact_plans import corridor_building, moved, plan_of, stair
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from spread.contacts.distances import distances_of
from spread.contacts.hallways import hallway_contacts
from spread.errors import SettingsError
from spread.plan.model import Space

FLOOR = 2.5 * 2.8
"""Metres that a floor of stairs counts: 2.5 storey heights (``ExposureSettings.stair_factor``)."""
TALL = corridor_building(3, 4)


def two_houses():
    """Two houses of one floor and one stair each, 30 m apart; the stairs' middles are at x = 2 and 46."""
    units, hallways, doors, shafts = {}, [], [], []
    for name, left in (("A", 0), ("B", 30)):
        units[f"{name}1"] = box(left, 2, left + 8, 10)
        units[f"{name}2"] = box(left + 8, 2, left + 16, 10)
        hallways.append(("1", box(left, 0, left + 16, 2)))
        doors += [(f"{name}1", "1", (left + 6, 2)), (f"{name}2", "1", (left + 12, 2))]
    shafts = [stair("SA", ["1"], box(0, 0, 4, 2)), stair("SB", ["1"], box(44, 0, 48, 2))]
    return plan_of(units, hallways=hallways, doors=doors, shafts=shafts)


def test_on_one_floor_the_walk_is_the_straight_line_along_the_hallway():
    """Doors of ``corridor_building`` are 7 m apart along a hallway 1.8 m wide."""
    d = distances_of(TALL)
    assert d.between("101", "107") == pytest.approx(21.0)
    assert d.between("101", "102") == pytest.approx(1.8)
    assert d.between("101", "104") == pytest.approx(math.hypot(7, 1.8))
    assert d.between("101", "101") == 0.0


def test_between_floors_the_walk_goes_by_the_nearer_stair():
    """By hand: door at x = 3.4, the landing of stair S1 at x = -1.5 and 0.9 m off the wall."""
    leg = math.hypot(3.4 + 1.5, 0.9)
    assert distances_of(TALL).between("101", "201") == pytest.approx(2 * leg + FLOOR, abs=0.01)
    assert distances_of(TALL).between("101", "301") == pytest.approx(2 * leg + 2 * FLOOR, abs=0.01)


def test_walks_agree_with_those_of_the_hallway_contacts():
    for plan in (TALL, maple_row()):
        d = distances_of(plan)
        contacts = hallway_contacts(plan)
        assert contacts
        for contact in contacts:
            assert d.between(contact.a, contact.b) == pytest.approx(contact.walk_m, abs=1e-6)


def test_between_buildings_the_walk_is_straight_from_stair_to_stair():
    d = distances_of(two_houses())
    to_stair = math.hypot(6 - 2, 1)
    from_stair = math.hypot(46 - 42, 1)
    assert d.between("A1", "B2") == pytest.approx(to_stair + 44 + from_stair)
    assert d.between("A1", "A2") == pytest.approx(6.0)


def test_a_door_that_opens_outdoors_is_an_exit_of_its_own():
    plan = plan_of(
        {"1": box(0, 0, 5, 5), "2": box(0, 20, 5, 25)}, doors=[("1", "1", (2, 5)), ("2", "1", (2, 20))]
    )
    assert distances_of(plan).between("1", "2") == pytest.approx(15.0)


def test_a_unit_without_any_door_is_met_in_its_middle():
    plan = plan_of({"1": box(0, 0, 4, 4), "2": box(0, 20, 4, 24)})
    assert distances_of(plan).between("1", "2") == pytest.approx(20.0)


def test_a_unit_with_two_doors_is_met_at_the_nearer():
    plan = plan_of(
        {"1": box(0, 2, 20, 10), "2": box(20, 2, 30, 10)},
        hallways=[("1", box(0, 0, 30, 2))],
        doors=[("1", "1", (2, 2)), ("1", "1", (18, 2)), ("2", "1", (22, 2))],
    )
    assert distances_of(plan).between("1", "2") == pytest.approx(4.0)


def test_a_round_may_start_at_a_stair_a_unit_a_hallway_a_common_or_a_point():
    plan = TALL.__class__(
        **{f: getattr(TALL, f) for f in TALL.__slots__}
        | {"commons": (Space("Lobby", "common", "1", box(28, -4, 32, 0)),)}
    )
    d = distances_of(plan)
    assert d.from_start("S1")[0] == pytest.approx(math.hypot(4.9, 0.9))
    assert d.from_start("101") == pytest.approx(d.metres[0])
    assert d.from_start("LOBBY") == pytest.approx(d.from_start(" Lobby "))
    # By hand from (30, -2), round the corner (28, 0) of the lobby, to the door of 107 at (24.4, 0).
    assert d.from_start("Lobby")[plan_index(plan, "107")] == pytest.approx(math.hypot(2, 2) + 3.6)
    assert d.usual_start == "Lobby"
    assert d.from_start("10.4, 0.9")[plan_index(plan, "101")] == pytest.approx(math.hypot(7, 0.9))
    assert d.from_start("10.4,0.9,3")[plan_index(plan, "301")] == pytest.approx(math.hypot(7, 0.9))
    assert d.from_start("-11.5,0.9")[0] == pytest.approx(10 + math.hypot(4.9, 0.9)), (
        "outdoors, by the stair S1"
    )
    assert np.isfinite(d.from_start("H1")).all()


def plan_index(plan, unit):
    return list(plan.units).index(unit)


@pytest.mark.parametrize(
    ("start", "words"),
    [
        ("Foyer", "test, start: there is no place 'Foyer'; there are 'S1', 'S2', 'H0', 'H1', 'H2'; or use"),
        ("1O1", "there is no place '1O1'; write '101' if you mean that."),
        ("1,2,9", "there is no floor '9' for the point, expected one of 1, 2, 3"),
        ("", "there is no place ''"),
    ],
)
def test_an_unknown_start_is_one_sentence_with_what_there_is(start, words):
    with pytest.raises(SettingsError) as caught:
        distances_of(TALL).from_start(start)
    assert words in str(caught.value)


@settings(max_examples=12, deadline=None)
@given(st.floats(0, 360), st.integers(1, 3), st.integers(1, 4))
def test_walks_are_finite_symmetric_and_no_detour_is_shorter_however_the_plan_is_turned(angle, floors, side):
    plan = corridor_building(floors, side)
    d = distances_of(moved(plan, angle, 100, -40)).metres
    assert np.isfinite(d).all()
    np.testing.assert_allclose(d, d.T)
    np.testing.assert_allclose(d, distances_of(plan).metres, atol=1e-3)
    assert (d[:, None, :] <= d[:, :, None] + d[None, :, :] + 1e-6).all()


def test_walks_are_shortest_paths_of_networkx_over_the_same_legs():
    """Outside source: Dijkstra by networkx over doors and the stairs' landings of ``corridor_building``."""
    graph = nx.Graph()
    doors = {door.unit: (door.floor, door.at.x, door.at.y) for door in TALL.doors}
    landings = {(f"S{k + 1}", floor): (floor, x, 0.9) for k, x in enumerate((-1.5, 29.5)) for floor in "123"}
    places = doors | landings
    for a, (floor, x, y) in places.items():
        for b, (other, u, v) in places.items():
            if floor == other and a != b:
                graph.add_edge(a, b, metres=math.hypot(x - u, y - v))
    for s in ("S1", "S2"):
        graph.add_edge((s, "1"), (s, "2"), metres=FLOOR)
        graph.add_edge((s, "2"), (s, "3"), metres=FLOOR)
    outside = dict(nx.all_pairs_dijkstra_path_length(graph, weight="metres"))
    d = distances_of(TALL)
    for a in doors:
        for b in doors:
            assert d.between(a, b) == pytest.approx(outside[a][b], abs=1e-3)

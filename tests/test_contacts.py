"""The contact graph as a whole: outside plans, floors, risers, beds, links, words and rings."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from contact_plans import corridor_building, moved, plan_of, riser
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, box

from spread.contacts import Link, build_contacts, ring_around, ways_between
from spread.contacts.floors import floor_overlaps
from spread.errors import SettingsError
from spread.plan.geojson import read_plan
from spread.plan.model import Plan
from spread.trade.routes import ROUTES
from spread.words import ENGLISH, say

DATA = Path(__file__).parent / "data"


def routes(graph):
    return Counter(key for *_, key in graph.edges(keys=True))


# --- outside plans (tests/data/SOURCES.md) -------------------------------------------------------------


def relation(graph, a, b):
    """Return how ``a`` lies to ``b`` by route, in words without the name of ``b``."""
    ways = ways_between(graph, a, b)
    return [(route, say(way, ENGLISH).removesuffix(f" {b}")) for route, way in ways.items()]


def ring_said(graph, unit, **more):
    return {other: say(place, ENGLISH) for other, place in ring_around(graph, unit, **more).items()}


@pytest.fixture(scope="module")
def midrise():
    plan = read_plan(
        DATA / "doe_midrise.geojson", ["1", "2", "3", "4"], name="DOE mid-rise", storey_height=3.0478
    )
    return build_contacts(plan)


def test_the_reference_mid_rise_has_24_shared_walls_16_pairs_across_and_24_stacked(midrise):
    # Counts follow from the printed geometry: 4 floors x 2 rows x 3 walls, 4 x 4 facing doors, 3 x 8 stacks.
    assert midrise.number_of_nodes() == 32
    assert routes(midrise)["wall"] == 24
    assert routes(midrise)["floor"] == 24
    assert sum(d["facing"] for *_, d in midrise.edges(data=True) if d["route"] == "hallway") == 16


def test_the_reference_mid_rise_has_the_printed_sizes(midrise):
    # Row depth 7.6196 m, unit width 11.5818 m, corridor 9.2959 - 7.6196 m wide (EnergyPlus example file).
    assert midrise.edges["101", "102", "wall"]["metres"] == pytest.approx(7.6196)
    assert midrise.edges["101", "201", "floor"]["m2"] == pytest.approx(11.5818 * 7.6196, rel=1e-6)
    assert midrise.edges["101", "105", "hallway"]["walk_m"] == pytest.approx(9.2959 - 7.6196)
    assert not midrise.has_edge("101", "105", "wall")


def test_the_two_halves_of_the_duplex_share_a_party_wall_and_interlock():
    plan = read_plan(DATA / "duplex.geojson", ["Level 1", "Level 2"], name="Duplex")
    graph = build_contacts(plan)
    wall = graph.edges["A", "B", "wall"]
    # By hand from the outlines: 2 x 3.613 m on level 1 (gap 0.645 m), 2 x 6.249 m on level 2 (gap 0.55 m);
    # the 4.47 m of level 2 where closets leave a gap of 0.74 m are wider than a wall and do not count.
    assert wall["metres"] == pytest.approx(2 * 3.613 + 2 * 6.249, abs=0.01)
    assert graph.edges["A", "B", "floor"]["m2"] > 1
    assert not graph.has_edge("A", "A")


# --- typical contacts -----------------------------------------------------------------------------------


def test_the_typical_contact_of_each_route_has_exposure_1():
    # 6 m of wall, 40 m2 of floor, one chase, doors that face, a link: the unit of the route rates.
    plan = plan_of(
        {
            "1A": {"1": box(0, -6, 40 / 6, 0)},
            "1B": {"1": box(40 / 6, -6, 14, 0)},
            "1C": {"1": box(0, 2, 6, 8)},
            "2A": {"2": box(0, -6, 40 / 6, 0)},
        },
        floors=("1", "2"),
        hallways=[("1", box(0, 0, 14, 2))],
        doors=[("1A", "1", (3, 0)), ("1C", "1", (3, 2))],
        shafts=[riser("R", ("1", "2"), Point(0.5, -5).buffer(0.2))],
    )
    graph = build_contacts(plan, links=[Link("1B", "2A", "shares a laundry day with")])
    for a, b, route in (
        ("1A", "1B", "wall"),
        ("1A", "2A", "floor"),
        ("1A", "2A", "riser"),
        ("1A", "1C", "hallway"),
        ("1B", "2A", "link"),
    ):
        assert graph.edges[a, b, route]["exposure"] == pytest.approx(1.0), route
        assert graph.edges[a, b, route]["route"] == route


def test_a_corridor_building_has_the_edges_one_counts():
    graph = build_contacts(corridor_building(3, 5))
    assert routes(graph)["wall"] == 3 * 2 * 4
    assert routes(graph)["floor"] == 2 * 10
    assert sum(d.get("facing", False) for *_, d in graph.edges(data=True)) == 3 * 5
    assert set(routes(graph)) <= set(ROUTES)
    assert [graph.nodes[u]["index"] for u in graph] == list(range(30))
    assert graph.nodes["203"]["levels"] == (1,)
    assert graph.nodes["203"]["floors"] == ("2",)
    assert graph.nodes["203"]["area"] == pytest.approx(6.8 * 8)


# --- floors ---------------------------------------------------------------------------------------------


def test_a_unit_over_two_floors_meets_what_is_above_and_below_it_and_never_itself():
    square = box(0, 0, 8, 8)
    plan = plan_of(
        {"low": {"1": square}, "loft": {"2": square, "3": square}, "top": {"4": square}},
        floors=("1", "2", "3", "4"),
    )
    found = {(o.lower, o.upper): o.m2 for o in floor_overlaps(plan)}
    assert found == {("low", "loft"): pytest.approx(64), ("loft", "top"): pytest.approx(64)}


def test_units_of_different_size_meet_by_what_overlaps():
    plan = plan_of(
        {
            "1A": {"1": box(0, 0, 12, 8)},
            "2A": {"2": box(0, 0, 5, 8)},
            "2B": {"2": box(5, 0, 11.95, 8)},
            "2C": {"2": box(11.95, 0, 20, 8)},
        },
        floors=("1", "2"),
    )
    graph = build_contacts(plan)
    assert graph.edges["1A", "2A", "floor"]["m2"] == pytest.approx(40)
    assert graph.edges["1A", "2B", "floor"]["m2"] == pytest.approx(6.95 * 8)
    assert not graph.has_edge("1A", "2C", "floor")  # 0.4 m2 is drawing noise
    assert relation(graph, "2A", "1A") == [("floor", "directly above")]
    small = plan_of({"a": {"1": box(0, 0, 8, 8)}, "b": {"2": box(6, 0, 14, 8)}}, floors=("1", "2"))
    assert relation(build_contacts(small), "b", "a") == [("floor", "partly above")]


def test_a_floor_with_no_units_between_parts_what_is_above_and_below():
    plan = plan_of({"1": {"1": box(0, 0, 8, 8)}, "3": {"3": box(0, 0, 8, 8)}}, floors=("1", "2", "3"))
    assert floor_overlaps(plan) == []


# --- risers ---------------------------------------------------------------------------------------------


def stacked(levels, **extra):
    floors = tuple(str(k + 1) for k in range(levels))
    units = {f"{f}{side}": {f: box(x, 0, x + 5.8, 8)} for f in floors for side, x in (("A", 0), ("B", 6))}
    return plan_of(units, floors=floors, **extra)


def test_a_riser_halves_per_floor_beyond_the_first_and_ends_below_5_percent():
    floors = [str(k + 1) for k in range(8)]
    graph = build_contacts(stacked(8, shafts=[riser("R1", floors, Point(5.9, 4).buffer(0.1))]))
    exposure = {apart: 0.5 ** max(0, apart - 1) for apart in range(6)}  # 1, 1, 1/2, 1/4, 1/8, 1/16
    for apart, expected in exposure.items():
        edge = graph.edges["1A", f"{1 + apart}B", "riser"]
        assert edge["exposure"] == pytest.approx(expected)
        assert (edge["riser"], edge["floors_apart"], edge["near_bed"]) == ("R1", apart, False)
    assert not graph.has_edge("1A", "7A", "riser")  # 1/32
    assert relation(graph, "3B", "1A") == [("riser", "on the same riser, 2 floors up from")]
    assert relation(graph, "1A", "2B") == [("riser", "on the same riser, 1 floor down from")]
    assert ("riser", "on the same riser as") in relation(graph, "1A", "1B")


def test_a_riser_serves_its_own_floors_and_units_within_35_cm_only():
    plan = stacked(3, shafts=[riser("R", ("1", "3"), box(-1.0, 3, -0.4, 4))])
    assert routes(build_contacts(plan))["riser"] == 0
    plan = stacked(3, shafts=[riser("R", ("1", "3"), box(-0.9, 3, -0.3, 4))])
    assert [(a, b) for a, b, key in build_contacts(plan).edges(keys=True) if key == "riser"] == [("1A", "3A")]


def test_two_chases_shared_count_twice_and_are_one_edge():
    shafts = [riser("R1", ("1",), box(5.8, 1, 6, 2)), riser("R2", ("1",), box(5.8, 6, 6, 7))]
    edge = build_contacts(stacked(1, shafts=shafts)).edges["1A", "1B", "riser"]
    assert edge["exposure"] == pytest.approx(2.0)
    assert edge["risers"] == ("R1", "R2")


# --- beds, links ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("x", "near"), [(3.8, True), (3.6, False)])
def test_a_bed_within_2_1_m_of_the_wall_or_the_riser_counts_1_3_times(x, near):
    # The wall's face is at x = 5.8 and the riser at 5.9 .. 6.1; the bed is level with both.
    shafts = [riser("R", ("1",), box(5.8, 3, 6, 5))]
    graph = build_contacts(stacked(1, shafts=shafts, beds=[("1A", "1", (x, 4))]))
    factor = 1.3 if near else 1.0
    assert graph.edges["1A", "1B", "wall"]["near_bed"] is near
    assert graph.edges["1A", "1B", "wall"]["exposure"] == pytest.approx(factor * 8 / 6)
    assert graph.edges["1A", "1B", "riser"]["near_bed"] is near
    assert graph.edges["1A", "1B", "riser"]["exposure"] == pytest.approx(factor)


def test_links_add_up_and_read_on():
    links = [Link("1A", "1B", "shares a laundry day with", 0.5), Link("1B", "1A", "gave a sofa to")]
    graph = build_contacts(stacked(1), links=links)
    assert graph.edges["1A", "1B", "link"]["exposure"] == pytest.approx(1.5)
    assert ("link", "shares a laundry day with and gave a sofa to") in relation(graph, "1A", "1B")


def test_wrong_links_are_all_named_at_once():
    links = [Link("1A", "9Z", "x"), Link("1A", "1A", "x"), Link("1A", "1B", "x", -1.0), Link("1B", "1A", "x")]
    with pytest.raises(SettingsError) as caught:
        build_contacts(stacked(1), links=links)
    assert [problem.where for problem in caught.value.problems] == ["link 1", "link 2", "link 3"]
    assert "'9Z' is not on the plan" in str(caught.value)


# --- sites, islands -------------------------------------------------------------------------------------


def test_two_buildings_on_one_site_do_not_touch_and_islands_stay():
    first, second = corridor_building(2, 3), moved(corridor_building(2, 3), 20, 60, 10)
    site = Plan(
        name="site",
        floors=first.floors,
        units=dict(first.units)
        | {f"B-{u}": type(x)(f"B-{u}", x.parts) for u, x in second.units.items()}
        | dict(plan_of({"shed": box(-50, -50, -40, -40)}).units),
        hallways=first.hallways + second.hallways,
        doors=first.doors + tuple(type(d)(f"B-{d.id}", f"B-{d.unit}", d.floor, d.at) for d in second.doors),
        shafts=first.shafts + tuple(type(s)(f"B-{s.id}", s.kind, s.floors, s.outline) for s in second.shafts),
    )
    graph = build_contacts(site)
    assert sorted(len(part) for part in nx.connected_components(graph)) == [1, 12, 12]
    assert "shed" in graph
    assert graph.degree("shed") == 0


def test_a_plan_of_one_unit_and_a_plan_of_none_are_graphs_without_edges():
    assert build_contacts(plan_of({"a": box(0, 0, 5, 5)})).number_of_edges() == 0
    assert build_contacts(plan_of({})).number_of_nodes() == 0


def test_a_courtyard_building_meets_round_its_corners_and_not_across_the_court():
    # Four wings of two units round a court of 16 m, each with an outside walkway of 2 m on the court side.
    units, doors = {}, []
    for k, angle in enumerate((0, 90, 180, 270)):
        for half, x in enumerate((-10.0, 0.1)):
            name = f"{k}{half}"
            wing = moved(
                plan_of({name: box(x, 10, x + 9.9, 17)}, doors=[(name, "1", (x + 5, 10))]), angle, 0, 0
            )
            units[name] = wing.units[name].parts["1"]
            doors.append((name, "1", (wing.doors[0].at.x, wing.doors[0].at.y)))
    court = box(-10, -10, 10, 10).difference(box(-8, -8, 8, 8))
    graph = build_contacts(plan_of(units, hallways=[("1", court)], doors=doors))
    assert routes(graph)["wall"] == 4
    walk = graph.edges["00", "01", "hallway"]["walk_m"]
    assert walk == pytest.approx(10.1, abs=1e-6)
    assert not any(d.get("facing") for *_, d in graph.edges(data=True))
    # Doors on the two far sides of the court look at each other but are not on two sides of one hallway.
    assert not any(d.get("opposite") for *_, d in graph.edges(data=True))
    round_the_corner = graph.edges["01", "30", "hallway"]
    assert round_the_corner["walk_m"] == pytest.approx(2 * math.hypot(2.9, 2), abs=0.2)


# --- invariance -----------------------------------------------------------------------------------------


def summary(graph):
    return {
        (*sorted((a, b)), key): (
            round(d["exposure"], 6),
            d.get("doors_passed"),
            d.get("facing"),
            d.get("upper"),
        )
        for a, b, key, d in graph.edges(keys=True, data=True)
    }


def full_building():
    plan = corridor_building(3, 4)
    shafts = (*plan.shafts, riser("R", plan.floors, Point(6.9, -7).buffer(0.15)))
    beds = plan_of({}, beds=[("101", "1", (5.5, -4)), ("204", "2", (10.0, 7))]).beds
    return Plan(plan.name, plan.floors, plan.units, plan.hallways, (), plan.doors, shafts, beds)


@given(angle=st.floats(0, 360), dx=st.floats(-500, 500), dy=st.floats(-500, 500))
@settings(max_examples=8, deadline=None)
def test_turning_and_shifting_a_building_changes_no_contact(angle, dx, dy):
    plan = full_building()
    before, after = summary(build_contacts(plan)), summary(build_contacts(moved(plan, angle, dx, dy)))
    assert set(before) == set(after)
    for key, (exposure, *rest) in before.items():
        assert after[key][0] == pytest.approx(exposure, abs=1e-4)
        assert list(after[key][1:]) == rest


@given(seed=st.integers(0, 1000))
@settings(max_examples=8, deadline=None)
def test_the_order_of_units_and_doors_changes_no_contact(seed):
    plan = full_building()
    rng = np.random.default_rng(seed)
    names = [list(plan.units)[k] for k in rng.permutation(len(plan.units))]
    doors = tuple(plan.doors[k] for k in rng.permutation(len(plan.doors)))
    other = Plan(
        plan.name,
        plan.floors,
        {u: plan.units[u] for u in names},
        plan.hallways,
        (),
        doors,
        plan.shafts,
        plan.beds,
    )
    assert summary(build_contacts(other)) == summary(build_contacts(plan))


# --- words ----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def corridor():
    return build_contacts(corridor_building(3, 4))


def test_a_relation_reads_on_from_the_unit(corridor):
    def ties(unit, other):
        """What these routes say; a route that somebody adds may tie the two as well."""
        return [one for one in relation(corridor, unit, other) if one[0] in ("wall", "floor", "hallway")]

    assert ties("203", "201") == [
        ("wall", "shares 8.0 m of wall with"),
        ("hallway", "next door along the hallway from"),
    ]
    assert ties("202", "201") == [("hallway", "across the hallway from")]
    assert ties("205", "201") == [("hallway", "2 doors along the hallway from")]
    assert ties("204", "201") == [("hallway", "across and 1 door along the hallway from")]
    assert ties("301", "201")[0] == ("floor", "directly above")
    assert ties("201", "301")[0] == ("floor", "directly below")
    stairs = dict(ties("302", "201"))["hallway"]
    assert stairs == "1 floor up and 17 m by the stairs from"  # 4.9 or 5.0 m to the stair twice and 7 m
    assert ties("101", "308") == []


def test_the_ring_is_beside_above_and_below_and_across_when_asked(corridor):
    assert ring_said(corridor, "203") == {
        "103": "below 203",
        "201": "beside 203",
        "205": "beside 203",
        "303": "above 203",
    }
    assert ring_said(corridor, "203", across=True)["204"] == "across the hallway from 203"
    assert set(ring_said(corridor, "203", rule="UD")) == {"103", "303"}
    assert set(ring_said(corridor, "203", rule="lr")) == {"201", "205"}
    with pytest.raises(SettingsError, match="expected letters L, R, U and D"):
        ring_said(corridor, "203", rule="NSEW")


def test_a_unit_in_the_ring_twice_is_named_once_with_both():
    loft = {"1": box(0, 0, 8, 8), "2": box(0, 0, 8, 8)}
    units = {"a": {"1": box(8.2, 0, 16, 8)}, "b": loft | {"2": box(0, 0, 16, 8)}}
    graph = build_contacts(plan_of(units, floors=("1", "2")))
    assert ring_said(graph, "a") == {"b": "beside and above a"}

"""Beds: placed by hand, what lies within reach of them, and what that does to the contacts."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from buildings import make_building
from contact_plans import corridor_building, moved, plan_of, riser
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, box

from spread.building import load_building
from spread.contacts.bed import BED_FROM_WALL, BedPlace, bed_reach, place_beds
from spread.contacts.graph import build_contacts
from spread.errors import SettingsError
from spread.plan.model import Outlet
from spread.settings import parse_settings
from spread.words import ENGLISH
from spread.words.room import bed_words

GOOD = {"name": "Elm Court", "floors": ["1", "2"]}


def pair(at=(4.0, 2.5), beds=None, outlets=()):
    """Two rooms of 5 m beside one another, a wall of 0.2 m between, a riser in it at the south end."""
    return plan_of(
        {"A": {"1": box(0, 0, 5, 5), "2": box(0, 0, 5, 5)}, "B": box(5.2, 0, 10, 5)},
        floors=("1", "2"),
        hallways=[("1", box(0, 5.2, 10, 7))],
        shafts=[riser("R1", ("1", "2"), box(5.0, 0.0, 5.2, 0.4))],
        beds=beds if beds is not None else [("A", "1", at)],
        outlets=outlets,
    )


def test_a_bed_by_the_wall_reaches_it_by_hand():
    """The bed 1 m from the wall: of the circle of 2.1 m a chord of 2 sqrt(2.1^2 - 1^2) = 3.693 m."""
    (bed,) = bed_reach(pair(), "A")["beds"]
    wall = next(wall for wall in bed["walls"] if wall["to"] == "B")
    assert wall["distance_m"] == 1.0
    assert wall["metres"] == pytest.approx(2 * math.sqrt(2.1**2 - 1), abs=2e-3)
    ((start, end),) = wall["segments"]
    assert start[0] == end[0] == 5.0
    assert sorted((start[1], end[1])) == pytest.approx([2.5 - 1.8466, 2.5 + 1.8466], abs=2e-3)
    assert [wall["to"] for wall in bed["walls"]] == ["B"]


def test_walls_to_a_hallway_and_to_the_outside_are_told_apart():
    (bed,) = bed_reach(pair((2.5, 4.0)), "A")["beds"]
    assert [(wall["to"], wall["distance_m"]) for wall in bed["walls"]] == [("hallway", 1.0)]
    (bed,) = bed_reach(pair((1.0, 2.5)), "A")["beds"]
    assert [(wall["to"], wall["distance_m"]) for wall in bed["walls"]] == [("outside", 1.0)]


def test_a_riser_within_reach_names_the_other_units_that_it_reaches():
    (bed,) = bed_reach(pair((4.0, 0.2)), "A")["beds"]
    (shaft,) = bed["risers"]
    assert (shaft["id"], shaft["distance_m"], shaft["units"]) == ("R1", 1.0, ["B"])
    assert bed_words(bed_reach(pair((4.0, 0.2)), "A"), ENGLISH) == (
        "The bed has within 2.1 m: the wall to B (1.0 m away) and riser R1 (1.0 m away, which reaches B).",
    )
    (bed,) = bed_reach(pair((4.0, 4.0)), "A")["beds"]
    assert bed["risers"] == []


OUTLETS = (
    ("A", "1", (5.0, 4.0)),  # O0: on the wall to B, sqrt(1 + 1.5^2) = 1.803 m from the bed at (4, 2.5)
    ("A", "1", (4.0, 0.0)),  # O1: on the south wall, 2.5 m away: out of reach
    ("A", "1", (2.5, 2.5)),  # O2: in the middle of the room, 1.5 m away, on no wall
    ("A", "1", (4.0, 4.6)),  # O3: exactly 2.1 m away, 0.4 m from the hallway's wall: on none
    ("B", "1", (5.2, 2.5)),  # O4: 1.2 m away, but it opens to the neighbour's room
    ("A", "2", (5.0, 2.5)),  # O5: 1 m away, but a floor up
)


def test_outlets_within_reach_are_those_of_the_own_room_nearest_first_with_their_wall():
    """Distances by hand, as noted at each outlet; the circle is 2.1 m as for walls and risers."""
    (bed,) = bed_reach(pair(outlets=OUTLETS), "A")["beds"]
    assert [(one["id"], one["distance_m"], one["wall"], one["behind"]) for one in bed["outlets"]] == [
        ("O2", 1.5, "", ""),
        ("O0", 1.803, "B", "B"),
        ("O3", 2.1, "", ""),
    ]
    assert [(one["x"], one["y"]) for one in bed["outlets"]] == [(2.5, 2.5), (5.0, 4.0), (4.0, 4.6)]
    assert bed_words(bed_reach(pair(outlets=OUTLETS), "A"), ENGLISH) == (
        "The bed has within 2.1 m: the wall to B (1.0 m away), outlet O2 (1.5 m away), "
        "outlet O0 (1.8 m away, on the wall to B) and outlet O3 (2.1 m away).",
    )


def test_of_many_outlets_the_nearest_four_are_named_and_the_others_counted():
    for many, last in ((4, "O3 (1.3 m away)."), (5, "and 1 more outlet."), (7, "and 3 more outlets.")):
        row = [("A", "1", (4.0 - (1 + k / 10), 2.5)) for k in range(many)]
        (said,) = bed_words(bed_reach(pair(outlets=row), "A"), ENGLISH)
        assert said.endswith(last)
        assert said.count("outlet O") == 4


@pytest.mark.parametrize(
    ("bed", "outlet", "wall", "words"),
    [
        ((2.5, 4.0), (2.0, 5.0), "hallway", "on the hallway wall"),
        ((1.0, 2.5), (0.0, 2.5), "outside", "on the outside wall"),
        ((4.0, 2.5), (5.08, 2.5), "B", "on the wall to B"),
    ],
)
def test_an_outlet_names_its_wall_and_no_unit_behind_one_that_nobody_shares(bed, outlet, wall, words):
    reach = bed_reach(pair(bed, outlets=[("A", "1", outlet)]), "A")
    (one,) = reach["beds"][0]["outlets"]
    assert (one["wall"], one["behind"]) == (wall, "B" if wall == "B" else "")
    assert words in bed_words(reach, ENGLISH)[0]


def test_an_outlet_changes_no_exposure():
    """No count of bed bugs at outlets was found, so the contacts are those of the plan without them."""
    bare, wired = (build_contacts(pair(outlets=outlets)) for outlets in ((), OUTLETS))
    assert list(bare.edges(keys=True, data=True)) == list(wired.edges(keys=True, data=True))


def test_a_unit_without_a_known_bed_has_none():
    assert bed_reach(pair(beds=[]), "A") == {"unit": "A", "radius_m": 2.1, "beds": []}
    assert bed_words(bed_reach(pair(beds=[]), "A"), ENGLISH) == ()


def test_the_reach_is_ready_for_json():
    reach = bed_reach(pair(), "A")
    assert json.loads(json.dumps(reach)) == reach


@settings(max_examples=40, deadline=None)
@given(st.floats(0.1, 4.9), st.floats(0.1, 4.9))
def test_a_wall_or_riser_is_listed_exactly_when_the_contact_is_near_the_bed(x, y):
    """The list and the graph must not disagree; both use 5-7 ft = 2.1 m (common practice, no source)."""
    plan = pair((x, y))
    graph = build_contacts(plan)
    (bed,) = bed_reach(plan, "A")["beds"]
    assert graph.edges["A", "B", "wall"]["near_bed"] is any(wall["to"] == "B" for wall in bed["walls"])
    assert graph.edges["A", "B", "riser"]["near_bed"] is bool(bed["risers"])
    for wall in bed["walls"]:
        for segment in wall["segments"]:
            assert LineString(segment).hausdorff_distance(Point(x, y)) <= 2.1 + 2e-3
            assert LineString(segment).distance(box(0, 0, 5, 5).boundary) < 2e-3


@pytest.mark.parametrize("route", ["wall", "riser"])
def test_a_bed_near_raises_that_route_by_the_factor_of_the_model_and_no_other(route):
    """Bed factor 1.3, a judgement of the model; exposure 1 is 6 m of wall."""
    near, far = build_contacts(pair((4.0, 0.2))), build_contacts(pair((0.5, 4.5)))
    one, other = near.edges["A", "B", route], far.edges["A", "B", route]
    assert (one["near_bed"], other["near_bed"]) == (True, False)
    assert one["exposure"] == pytest.approx(1.3 * other["exposure"])
    if route == "wall":
        assert other["exposure"] == pytest.approx(5 / 6)


@settings(max_examples=20, deadline=None)
@given(st.floats(0, 360), st.floats(-1e4, 1e4))
def test_turning_and_moving_the_building_changes_no_distance(angle, shift):
    plan = corridor_building(1, 3)
    placed = place_beds(plan, [BedPlace("103", against="101")])
    at = placed.beds[0].at
    outlets = tuple(Outlet(f"O{k}", "103", "1", Point(7.0, at.y + k)) for k in range(3))
    placed = replace(placed, outlets=outlets)  # on the wall to 101, the last one out of reach
    reach, turned = (bed_reach(p, "103")["beds"][0] for p in (placed, moved(placed, angle, shift, -shift)))
    assert [wall["to"] for wall in reach["walls"]] == [wall["to"] for wall in turned["walls"]]
    told = [[(one["id"], one["wall"]) for one in bed["outlets"]] for bed in (reach, turned)]
    assert told[0] == told[1] == [("O0", "101"), ("O1", "101")]
    for one, other in zip(reach["walls"], turned["walls"], strict=True):
        assert one["distance_m"] == pytest.approx(other["distance_m"], abs=2e-3)
        assert one["metres"] == pytest.approx(other["metres"], abs=5e-3)


# Placed by hand.


@pytest.mark.parametrize("wall", ["101", "105", "hallway", "outside"])
def test_a_bed_against_a_wall_stands_half_a_bed_from_it_and_inside(wall):
    plan = place_beds(corridor_building(1, 3), [BedPlace("103", against=wall)])
    (bed,) = plan.beds
    assert plan.units["103"].parts["1"].contains(bed.at)
    near = {one["to"]: one["distance_m"] for one in bed_reach(plan, "103")["beds"][0]["walls"]}
    assert near[wall] == pytest.approx(BED_FROM_WALL, abs=1e-3)


def test_a_placed_bed_stands_in_place_of_the_drawn_ones_of_its_unit_only():
    plan = pair(beds=[("A", "1", (4, 2.5)), ("B", "1", (9, 2.5))])
    placed = place_beds(plan, [BedPlace("A", "1", 1.0, 1.0), BedPlace("A", "2", 4.0, 4.0)])
    assert sorted((bed.unit, bed.floor, bed.at.x, bed.at.y) for bed in placed.beds) == [
        ("A", "1", 1.0, 1.0),
        ("A", "2", 4.0, 4.0),
        ("B", "1", 9.0, 2.5),
    ]
    assert place_beds(plan, []) is plan


def test_everything_wrong_with_placed_beds_is_said_at_once():
    places = [
        BedPlace("AA", x=1, y=1),
        BedPlace("A", x=1.0, y=1.0),
        BedPlace("B", "2", 6.0, 1.0),
        BedPlace("B", x=60.0, y=1.0),
        BedPlace("B", against="C"),
    ]
    with pytest.raises(SettingsError) as caught:
        place_beds(pair(), places)
    assert [str(problem) for problem in caught.value.problems] == [
        "building.toml, beds 1, setting 'unit': unit 'AA' is not on the plan; write 'A' if that is meant.",
        "building.toml, beds 2, setting 'floor': unit 'A' is on floors 1, 2; name one of them.",
        "building.toml, beds 3, setting 'floor': unit 'B' is on floors 1, not on '2'; name one of them.",
        "building.toml, beds 4, setting 'x': the point (60, 1) is not in unit 'B'; "
        "the unit spans x 5.2 to 10.0 and y 0.0 to 5.0.",
        "building.toml, beds 5, setting 'against': unit 'B' has no wall to 'C'; "
        "its walls are to A, hallway, outside.",
    ]


def test_beds_are_read_from_the_settings():
    rows = [{"unit": "101", "x": 1, "y": 2.5}, {"unit": "102", "floor": "2", "against": "hallway"}]
    assert parse_settings(GOOD | {"beds": rows}).beds == (
        BedPlace("101", "", 1.0, 2.5),
        BedPlace("102", "2", against="hallway"),
    )


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"unit": "101"}, "beds 1, setting 'against': it takes one way to say where the bed stands"),
        ({"unit": "101", "x": 1}, "it takes one way"),
        ({"unit": "101", "x": 1, "y": 1, "against": "102"}, "it takes one way"),
        ({"against": "102"}, "beds 1, setting 'unit': it is missing"),
        ({"unit": "101", "x": "1", "y": 1}, "setting 'x': it is text, expected a number"),
        ({"unit": "101", "x": 1, "y": float("nan")}, "setting 'y': it is nan, expected"),
        (
            {"unit": "101", "against": "102", "flor": "1"},
            "setting 'flor': it is not known; did you mean 'floor'",
        ),
    ],
)
def test_a_slip_in_a_bed_is_one_sentence(row, says):
    with pytest.raises(SettingsError) as caught:
        parse_settings(GOOD | {"beds": [row]})
    assert says in str(caught.value)


def test_a_building_with_beds_in_its_settings_has_them_in_its_contacts(tmp_path):
    folder = make_building(tmp_path / "maple-row", [])
    before = load_building(folder)
    text = (folder / "building.toml").read_text(encoding="utf-8")
    (folder / "building.toml").write_text(text + '\n[[beds]]\nunit = "103"\nagainst = "101"\n', "utf-8")
    after = load_building(folder)
    assert [bed.unit for bed in after.plan.beds] == ["103"]
    one, other = (b.contacts.edges["101", "103", "wall"]["exposure"] for b in (before, after))
    assert other == pytest.approx(1.3 * one)
    (folder / "building.toml").write_text(text + '\n[[beds]]\nunit = "1O3"\nagainst = "101"\n', "utf-8")
    with pytest.raises(SettingsError, match="beds 1, setting 'unit': unit '1O3' is not on the plan"):
        load_building(folder)

"""Moving walls and doors and naming risers: what is conserved, and what is refused in a sentence."""

import math
from dataclasses import replace
from functools import cache

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Point, box
from shapely.affinity import rotate

from spread.errors import PlanError
from spread.plan.checks import check_plan
from spread.plan.drawing.reading import parse_unit_list
from spread.plan.editing import apply_edits, move_door, move_wall, name_riser
from spread.plan.facing import wall_between, walls_of
from spread.plan.model import Bed, Door, Outlet, Plan, Shaft, Space, Unit
from spread.plan.unit_list import LAYOUTS, draw_plan

FLOORS = ("1", "2", "3")


def two_rooms(**more):
    """Two boxes of 5 by 4 m with a wall of 0.2 m between them, on a hallway to the south."""
    units = {
        "A": Unit("A", {"1": box(0, 0, 5, 4)}, "a"),
        "B": Unit("B", {"1": box(5.2, 0, 10.2, 4)}, "b"),
    }
    hall = Space("hall", "hallway", "1", box(0, -1.8, 10.2, 0))
    doors = (Door("door A", "A", "1", Point(1, 0)), Door("door B", "B", "1", Point(9, 0)))
    return replace(Plan("Two rooms", ("1",), units, hallways=(hall,), doors=doors), **more)


@cache
def drawn(layout, a_floor):
    rows = "".join(f"{floor}{n:02d},{floor}\n" for floor in FLOORS for n in range(1, a_floor + 1))
    return draw_plan(parse_unit_list("unit,floor\n" + rows), layout, name="Drawn")


def area(plan):
    return sum(unit.area for unit in plan.units.values())


def turned(plan, degrees):
    def at(shape):
        return rotate(shape, degrees, origin=(0, 0))

    return replace(
        plan,
        units={u.id: replace(u, parts={f: at(s) for f, s in u.parts.items()}) for u in plan.units.values()},
        hallways=tuple(replace(h, outline=at(h.outline)) for h in plan.hallways),
        commons=tuple(replace(c, outline=at(c.outline)) for c in plan.commons),
        doors=tuple(replace(d, at=at(d.at)) for d in plan.doors),
        shafts=tuple(replace(s, outline=at(s.outline)) for s in plan.shafts),
    )


def refused(call, *given, **more):
    with pytest.raises(PlanError) as caught:
        call(*given, **more)
    return str(caught.value)


def test_a_wall_gives_one_unit_what_it_takes_from_the_other():
    # By hand: a wall of 4 m moved by 0.5 m is 2 m2.
    plan = move_wall(two_rooms(), "A", "B", 0.5, floor="1")
    assert shapely.equals(plan.units["A"].parts["1"], box(0, 0, 5.5, 4))
    assert shapely.equals(plan.units["B"].parts["1"], box(5.7, 0, 10.2, 4))
    back = move_wall(plan, "B", "A", 0.5, floor="1")
    west = move_wall(two_rooms(), "A", "B", -0.5, floor="1")
    same = move_wall(two_rooms(), "B", "A", 0.5, floor="1")
    for unit in ("A", "B"):
        there, was = (p.units[unit].parts["1"] for p in (back, two_rooms()))
        assert shapely.equals(there, was), "there and back is where it was"
        assert shapely.equals(west.units[unit].parts["1"], same.units[unit].parts["1"])


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(LAYOUTS),
    st.integers(2, 7),
    st.sampled_from(FLOORS),
    st.floats(-2.5, 2.5).filter(lambda metres: abs(metres) >= 0.01),
    st.booleans(),
    st.sampled_from([0.0, 17.0, 90.0, 201.5]),
    st.data(),
)
def test_wherever_a_wall_moves_the_area_stays_and_nothing_overlaps(
    layout, a_floor, floor, metres, every, degrees, data
):
    plan = turned(drawn(layout, a_floor), degrees)
    walls = walls_of(plan, floor)
    assume(walls)
    wall = data.draw(st.sampled_from(walls))
    try:
        moved = move_wall(plan, wall.a, wall.b, metres, floor=floor, every_floor=every)
    except PlanError:
        return  # what is refused, and why, is tested by hand below
    assert area(moved) == pytest.approx(area(plan), abs=0.02)
    assert check_plan(moved)[0] == []
    gain = moved.units[wall.a].parts[floor].area - plan.units[wall.a].parts[floor].area
    assert gain == pytest.approx(metres * wall.length, abs=0.01)
    others = [u for u in plan.units if u not in (wall.a, wall.b)] if not every else []
    assert all(moved.units[unit] == plan.units[unit] for unit in others)
    again = wall_between(moved, wall.a, wall.b, floor)
    assert again is not None
    assert again.thick == pytest.approx(wall.thick, abs=1e-3)


def test_a_wall_with_a_riser_moves_on_every_floor_with_the_riser_or_not_at_all():
    plan = drawn("double-loaded", 6)
    riser = next(shaft for shaft in plan.risers if shaft.id == "riser 01 + 03")
    words = refused(move_wall, plan, "201", "203", 0.5, floor="2")
    assert "riser 'riser 01 + 03' stands in this wall and goes on to floor 1, 3" in words
    moved = move_wall(plan, "201", "203", 0.5, floor="2", every_floor=True)
    (new,) = (shaft for shaft in moved.risers if shaft.id == riser.id)
    assert math.dist(riser.outline.centroid.coords[0], new.outline.centroid.coords[0]) == pytest.approx(0.5)
    for floor in FLOORS:
        assert moved.units[f"{floor}01"].area - plan.units[f"{floor}01"].area > 3.0
    warned = {str(problem) for problem in check_plan(plan)[1]}
    assert {str(problem) for problem in check_plan(moved)[1]} == warned


@pytest.mark.parametrize(
    ("given_", "words"),
    [
        (("A", "B", 4.9), "unit 'B' would be cut in two or smaller than 8 m2"),
        (("A", "B", 5.5), "unit 'B' is less than 5.5 m deep there"),
        (("A", "B", 0.0), "expected 0.01 to 10 m"),
        (("A", "B", math.nan), "expected 0.01 to 10 m"),
        (("A", "C", 1.0), "unit 'C': there is no such unit on floor '1'"),
        (("A", "A", 1.0), "units 'A' and 'A' share no straight wall"),
    ],
)
def test_a_wall_that_cannot_move_says_why(given_, words):
    assert words in refused(move_wall, two_rooms(), *given_, floor="1")


def test_a_wall_does_not_leave_a_door_or_a_bed_behind_or_run_into_a_stair():
    plan = two_rooms()
    near = (plan.doors[0], Door("door B", "B", "1", Point(6, 0)))
    words = refused(move_wall, replace(plan, doors=near), "A", "B", 1.5, floor="1")
    assert "door 'door B' would be left outside unit 'B'; move the door first" in words
    bed = Bed("bed B", "B", "1", Point(6, 2))
    assert "bed 'bed B' would be left outside" in refused(
        move_wall, replace(plan, beds=(bed,)), "A", "B", 1.5, floor="1"
    )
    stair = Shaft("stair", "stair", ("1",), box(5.02, 1, 5.18, 3))
    assert "the wall would run into stair 'stair'" in refused(
        move_wall, replace(plan, shafts=(stair,)), "A", "B", 1.0, floor="1"
    )


def test_outlets_on_a_wall_go_with_it_and_no_other_is_lost_or_left_behind():
    """The wall is at x = 5 to 5.2; outlets on either face move by 1 m with it, one on the gable stays."""
    places = {"east A": ("A", 5, 3), "west B": ("B", 5.2, 1), "gable": ("A", 0, 2), "corner": ("B", 8, 4)}
    outlets = tuple(Outlet(name, unit, "1", Point(x, y)) for name, (unit, x, y) in places.items())
    plan = replace(two_rooms(), outlets=outlets)
    moved = {
        one.id: (round(one.at.x, 6), one.at.y) for one in move_wall(plan, "A", "B", 1.0, floor="1").outlets
    }
    assert moved == {"east A": (6.0, 3.0), "west B": (6.2, 1.0), "gable": (0.0, 2.0), "corner": (8.0, 4.0)}
    assert move_door(plan, "door A", 0.5).outlets == outlets
    assert "outlet 'corner' would be left outside unit 'B'; move the outlet first" in refused(
        move_wall, plan, "A", "B", 3.0, floor="1"
    )


def test_only_the_stretch_that_two_units_share_is_moved():
    plan = two_rooms()
    deep = Unit("B", {"1": box(5.2, 0, 10.2, 6)}, "b")
    moved = move_wall(replace(plan, units={**plan.units, "B": deep}), "A", "B", 1.0, floor="1")
    assert moved.units["A"].area == pytest.approx(24.0)
    assert moved.units["B"].area == pytest.approx(26.0)


def test_a_door_goes_along_its_wall_and_stays_in_it():
    # By hand: the south wall of A runs from x = 0 to 5, a door is 0.9 m wide.
    plan = move_door(two_rooms(), "door A", 1.25)
    assert plan.doors[0].at.equals(Point(2.25, 0))
    assert move_door(plan, "door A", -1.25) == two_rooms()
    words = refused(move_door, two_rooms(), "door A", 3.6)
    assert "it would leave its wall; it can be moved from -0.6 to +3.5 m" in words
    assert "there is no such door" in refused(move_door, two_rooms(), "door X", 1.0)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(LAYOUTS), st.floats(-3, 3), st.data())
def test_a_moved_door_is_as_near_to_its_unit_as_before_and_makes_no_error(layout, metres, data):
    plan = drawn(layout, 4)
    door = data.draw(st.sampled_from(plan.doors))
    try:
        moved = move_door(plan, door.id, metres)
    except PlanError:
        return
    (new,) = (one for one in moved.doors if one.id == door.id)
    assert new.at.distance(door.at) == pytest.approx(abs(metres), abs=1e-6)
    wall = plan.units[door.unit].parts[door.floor].boundary
    assert wall.distance(new.at) == pytest.approx(wall.distance(door.at), abs=1e-3)
    assert check_plan(moved)[0] == []


def test_a_riser_gets_a_name_of_its_own():
    plan = drawn("double-loaded", 6)
    named = name_riser(plan, "riser 01 + 03", "  kitchen \n 01 ")
    assert {shaft.id for shaft in named.risers} - {shaft.id for shaft in plan.risers} == {"kitchen 01"}
    for name, words in (("", "the name is empty"), ("x" * 61, "longer than 60"), ("101", "'101' is taken")):
        assert words in refused(name_riser, plan, "riser 01 + 03", name)
    assert "there is no such riser" in refused(name_riser, plan, "nothing", "kitchen")


def test_corrections_are_made_in_their_order_and_a_strange_one_is_named():
    plan = drawn("double-loaded", 6)
    edits = [
        {"step": "wall", "a": "203", "b": "205", "floor": "2", "metres": 0.4},
        {"step": "door", "door": "door 203", "metres": 0.3},
        {"step": "riser", "riser": "riser 01 + 03", "name": "wet 1"},
    ]
    by_hand = move_wall(plan, "203", "205", 0.4, floor="2")
    by_hand = name_riser(move_door(by_hand, "door 203", 0.3), "riser 01 + 03", "wet 1")
    assert apply_edits(plan, edits) == by_hand
    assert apply_edits(plan, []) is plan
    assert "correction 1 is 'roof'" in refused(apply_edits, plan, [{"step": "roof"}])
    for wrong in ("0.4", True, None, [1]):
        assert "expected 0.01" in refused(apply_edits, plan, [{**edits[0], "metres": wrong}])

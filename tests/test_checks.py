"""Checks of a plan: what stops it and what is lost, each with its sentence."""

import dataclasses

import pytest
from shapely import MultiPolygon, Point, Polygon, box

from spread.plan.checks import check_plan
from spread.plan.model import Bed, Door, Outlet, Plan, Shaft, Space, Unit
from spread.plan.places import Place, place_of

FLOORS = ("1", "2")


def house(**changes):
    """Two units a floor on two floors, a hallway, a stair and a riser between the units: nothing is wrong."""
    units = {
        f"{floor}0{number}": Unit(
            f"{floor}0{number}", {floor: box(6 * number - 6, 0, 6 * number, 8)}, stack=f"0{number}"
        )
        for floor in FLOORS
        for number in (1, 2)
    }
    plan = Plan(
        "Test House",
        FLOORS,
        units,
        hallways=tuple(Space(f"H{floor}", "hallway", floor, box(0, 8, 12, 10)) for floor in FLOORS),
        doors=tuple(Door(f"D{unit}", unit, unit[0], Point(6 * int(unit[2]) - 3, 8)) for unit in units),
        shafts=(
            Shaft("R1", "riser", FLOORS, box(5.8, 3, 6.2, 3.4)),
            Shaft("S1", "stair", FLOORS, box(12, 8, 14, 12)),
        ),
    )
    return dataclasses.replace(plan, **changes)


def with_unit(plan, name, parts, stack=""):
    return dataclasses.replace(plan, units={**plan.units, name: Unit(name, parts, stack)})


def errors_of(plan):
    return [str(problem) for problem in check_plan(plan)[0]]


def warnings_of(plan):
    errors, warnings = check_plan(plan)
    assert errors == []
    return [str(problem) for problem in warnings]


def test_a_sound_plan_has_no_errors_and_no_warnings():
    assert check_plan(house()) == ([], [])


def test_overlapping_units_are_an_error_that_says_how_many_square_metres():
    # 2 x 8 m of a unit drawn from x = 10 over one that ends at x = 12, by hand: 16 m2.
    plan = with_unit(house(), "103", {"1": box(10, 0, 18, 8)})
    assert errors_of(plan) == [
        "plan.geojson, unit '102' on floor '1': it overlaps unit '103' by 16.00 m2; "
        "move the wall between them so that they only touch."
    ]


@pytest.mark.parametrize(("width", "count"), [(0.0, 0), (0.04, 0), (0.06, 1)])
def test_an_overlap_thinner_than_5_cm_is_a_sliver_and_no_fault(width, count):
    plan = with_unit(house(), "103", {"1": box(12 - width, 0, 18, 8)})
    assert len([line for line in errors_of(plan) if "overlaps" in line]) == count


def test_units_on_different_floors_do_not_overlap():
    assert not errors_of(with_unit(house(floors=("1", "2", "3")), "301", {"3": box(0, 0, 6, 8)}))


def test_an_outline_that_crosses_itself_is_an_error_that_says_where():
    # The bow tie, the standard example of an invalid polygon (OGC Simple Features): it crosses at (15, 4).
    bow_tie = Polygon([(12, 0), (18, 8), (18, 0), (12, 8)])
    assert errors_of(with_unit(house(), "103", {"1": bow_tie})) == [
        "plan.geojson, unit '103' on floor '1': its outline is not a valid polygon (self-intersection near "
        "x = 15.00 m, y = 4.00 m); redraw it so that its edge never crosses or touches itself."
    ]


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"doors": (*house().doors, house().doors[0])}, "door 'D101'"),
        (
            {"shafts": (*house().shafts, Shaft("R1", "stair", ("1",), box(12, 8, 14, 12)))},
            "riser or stair 'R1'",
        ),
        ({"beds": (Bed("B", "101", "1", Point(1, 1)),) * 2}, "bed 'B'"),
        ({"commons": (Space("H1", "common", "1", box(0, 10, 4, 12)),)}, "hallway or common room 'H1'"),
    ],
)
def test_an_id_given_twice_where_it_matters_is_an_error(changes, where):
    (sentence,) = errors_of(house(**changes))
    assert sentence.startswith(f"plan.geojson, {where}: 2 features have this id")
    assert sentence.endswith("give each its own.")


def test_one_hallway_id_on_two_floors_is_no_fault():
    halls = tuple(Space("H", "hallway", floor, box(0, 8, 12, 10)) for floor in FLOORS)
    assert check_plan(house(hallways=halls)) == ([], [])


def test_a_unit_and_a_riser_of_one_name_are_a_warning():
    shafts = (Shaft("101", "riser", FLOORS, box(5.8, 3, 6.2, 3.4)), house().shafts[1])
    (sentence,) = warnings_of(house(shafts=shafts))
    assert "unit '101': a riser has the same id" in sentence


@pytest.mark.parametrize(("gap", "wrong"), [(0.0, False), (0.65, False), (0.75, True)])
def test_a_door_more_than_70_cm_from_its_unit_is_an_error(gap, wrong):
    doors = (dataclasses.replace(house().doors[0], at=Point(3, 8 + gap)), *house().doors[1:])
    lines = errors_of(house(doors=doors))
    assert bool(lines) is wrong
    if wrong:
        assert lines[0].startswith(
            "plan.geojson, door 'D101': it is 0.8 m away from its unit '101' on floor '1'"
        )
        assert lines[0].endswith("move the door or name the unit that it leads to.")


@pytest.mark.parametrize(("y", "lost"), [(7.4, False), (7.2, True)])
def test_a_door_that_touches_no_hallway_is_a_warning_that_says_what_is_lost(y, lost):
    doors = (dataclasses.replace(house().doors[0], at=Point(3, y)), *house().doors[1:])
    lines = warnings_of(house(doors=doors))
    assert bool(lines) is lost
    if lost:
        assert "door 'D101': it touches no hallway, common room or stair on floor '1'" in lines[0]
        assert "contacts of unit '101' along the hallway may be lost" in lines[0]
        assert "draw the walkway outside it as a hallway" in lines[0]


def test_a_door_may_open_to_a_common_room_or_a_stair_instead():
    plan = house(hallways=(), commons=tuple(Space(f"L{f}", "common", f, box(0, 8, 12, 10)) for f in FLOORS))
    assert check_plan(plan) == ([], [])
    stairs = (Shaft("S1", "stair", FLOORS, box(2, 8, 10, 12)), house().shafts[0])
    assert check_plan(house(hallways=(), shafts=stairs)) == ([], [])


def test_a_plan_without_anything_to_walk_on_is_one_warning_and_not_one_a_door():
    lines = warnings_of(house(hallways=(), shafts=house().shafts[:1]))
    assert len(lines) == 1
    assert "no contact along a hallway is counted" in lines[0]


def test_units_without_a_door_are_one_warning_that_names_them():
    lines = warnings_of(house(doors=house().doors[:2]))
    assert lines[0].startswith("plan.geojson, unit '201': 2 units have no door ('201', '202'), so that")
    assert lines[0].endswith("add a feature of kind 'door' that names the unit.")
    # Their hallway is not blamed as well: where a unit has no door the contacts guess it.
    assert len(lines) == 1


def test_a_hallway_without_doors_is_a_warning_unless_it_is_joined_to_one_with_doors():
    joined = Space("H1b", "hallway", "1", box(-10, 8, 0, 10))
    apart = Space("H1c", "hallway", "1", box(-10, 20, 0, 22))
    assert check_plan(house(hallways=(*house().hallways, joined))) == ([], [])
    (sentence,) = warnings_of(house(hallways=(*house().hallways, apart)))
    assert sentence.startswith("plan.geojson, hallway 'H1c' on floor '1': no door opens to it")
    assert "join it to the next hallway" in sentence


def test_a_hallway_over_a_unit_is_a_warning():
    halls = (Space("H1", "hallway", "1", box(0, 7, 12, 10)), house().hallways[1])
    lines = warnings_of(house(hallways=halls))
    assert [line.split(": ")[1].split(",")[0] for line in lines] == [
        "it overlaps unit '101' by 6.00 m2",
        "it overlaps unit '102' by 6.00 m2",
    ]


@pytest.mark.parametrize(
    ("outline", "floors", "found"),
    [
        (box(30, 3, 31, 4), FLOORS, "no unit"),
        (box(12.4, 3, 13, 4), FLOORS, "no unit"),  # 0.4 m off: further than a chase is from its unit
        (box(12.3, 3, 13, 4), FLOORS, None),
        (box(0.2, 0.2, 0.5, 0.5), ("1",), "only unit '101'"),
    ],
)
def test_a_riser_that_joins_nothing_is_a_warning(outline, floors, found):
    shafts = (Shaft("R9", "riser", floors, outline), house().shafts[1])
    lines = warnings_of(house(shafts=shafts))
    assert bool(lines) is (found is not None)
    if found:
        assert f"riser 'R9': it touches {found} on its floors" in lines[0]
        assert "so that it joins nothing" in lines[0]


def test_a_stair_away_from_the_hallway_is_a_warning_that_names_the_floors():
    shafts = (house().shafts[0], Shaft("S1", "stair", FLOORS, box(20, 8, 22, 12)))
    (sentence,) = warnings_of(house(shafts=shafts))
    assert "stair 'S1': it touches no hallway, common room or door on floor 1, 2" in sentence


def test_a_stack_that_skips_a_floor_jumps():
    plan = with_unit(house(floors=("1", "2", "3", "4")), "401", {"4": box(0, 0, 6, 8)}, "01")
    lines = [line for line in warnings_of(plan) if "stack" in line]
    assert lines == [
        "plan.geojson, unit '401': its stack '01' jumps: it has no unit on floor '3' below floor '4' "
        "(the floor route follows the drawing and not the stack's name); "
        "mend the stack or the floor of the unit, or draw the missing one."
    ]


def test_a_stack_whose_units_do_not_stand_on_one_another_jumps():
    units = dict(house().units)
    units["201"] = dataclasses.replace(units["201"], stack="02")
    units["202"] = dataclasses.replace(units["202"], stack="01")
    lines = warnings_of(house(units=units))
    assert len(lines) == 2
    assert any(
        "unit '201': its stack '02' jumps: it does not stand above unit '102'" in line for line in lines
    )


def test_one_stack_name_used_in_two_buildings_of_a_site_does_not_jump():
    units = dict(house().units)
    for floor in FLOORS:
        units[f"B{floor}"] = Unit(f"B{floor}", {floor: box(50, 0, 58, 8)}, stack="01")
    assert not [line for line in warnings_of(house(units=units)) if "jumps" in line]


def test_a_unit_over_two_floors_keeps_its_stack_together():
    plan = with_unit(house(floors=("1", "2", "3")), "M", {f: box(20, 0, 28, 8) for f in FLOORS}, "M")
    plan = with_unit(plan, "T", {"3": box(20, 0, 28, 8)}, "M")
    assert not [line for line in warnings_of(plan) if "jumps" in line]


def test_an_empty_floor_is_a_warning_but_a_lobby_alone_is_not_empty():
    (sentence,) = warnings_of(house(floors=("0", "1", "2")))
    assert sentence.startswith("plan.geojson, floor '0': nothing is drawn on it")
    assert "take it out of floors in building.toml" in sentence
    lobby = (Space("L", "common", "0", box(0, 0, 12, 8)),)
    assert warnings_of(house(floors=("0", "1", "2"), commons=lobby)) == []


def test_a_bed_outside_its_unit_and_a_unit_of_an_odd_size_are_warnings():
    (sentence,) = warnings_of(house(beds=(Bed("B", "101", "1", Point(9, 1)),)))
    assert "bed 'B': it lies outside its unit '101'" in sentence
    plan = with_unit(house(), "T", {"1": box(20, 0, 21, 2)})
    assert any("its area is 2.0 m2, and 1 units are smaller than 8 m2" in line for line in warnings_of(plan))


@pytest.mark.parametrize(
    ("unit", "at", "says"),
    [
        ("101", (3, -2.5), "it lies in no unit; the nearest on floor '1' is unit '101', 2.50 m away"),
        ("101", (9, 1), "it names unit '101', 3.00 m away, but lies in unit '102'"),
        ("102", (3, -2.5), "the nearest on floor '1' is unit '101', 2.50 m away (it names '102')"),
    ],
)
def test_an_outlet_away_from_its_unit_is_an_error(unit, at, says):
    plan = house(outlets=(Outlet("O", unit, "1", Point(at)),))
    (sentence,) = errors_of(plan)
    assert sentence.startswith("plan.geojson, outlet 'O': it ")
    assert says in sentence
    (problem,) = check_plan(plan)[0]
    assert place_of(plan, problem) == Place("1", *at)


def test_outlets_in_their_unit_are_no_fault_and_their_ids_are_unique():
    on_the_edge, beside = Outlet("O", "101", "1", Point(3, 0)), Outlet("P", "102", "1", Point(9, -0.1))
    assert errors_of(house(outlets=(on_the_edge, beside))) == []
    (sentence,) = errors_of(house(outlets=(on_the_edge, on_the_edge)))
    assert "outlet 'O': 2 features have this id; give each its own" in sentence


def test_all_errors_come_at_once():
    plan = with_unit(house(), "103", {"1": box(10, 0, 18, 8)})
    plan = with_unit(plan, "203", {"2": MultiPolygon([box(10, 0, 18, 8), box(20, 0, 22, 2)])})
    doors = (dataclasses.replace(house().doors[0], at=Point(3, 20)), *house().doors)
    assert len(errors_of(dataclasses.replace(plan, doors=doors))) == 4


def test_the_reference_mid_rise_has_no_errors():
    # A storey of the US DOE reference mid-rise apartment (Deru et al. 2010; sizes from the EnergyPlus file
    # RefBldgMidriseApartmentNew2004_Chicago.idf): four dwellings a side of 11.5818 m, rows 7.6196 m deep,
    # corridor from y = 7.6196 to 9.2959 m; its walls have no thickness, so everything touches.
    xs = (0.0, 11.5818, 23.1637, 34.7455, 46.3273)
    units = {}
    for row, (low, high) in enumerate(((0.0, 7.6196), (9.2959, 16.9155))):
        for column in range(4):
            name = f"{row}{column}"
            units[name] = Unit(name, {"1": box(xs[column], low, xs[column + 1], high)})
    hall = Space("H", "hallway", "1", box(0, 7.6196, xs[-1], 9.2959))
    doors = tuple(
        Door(f"D{name}", name, "1", Point(xs[int(name[1])] + 1.0, 7.6196 if name[0] == "0" else 9.2959))
        for name in units
    )
    assert check_plan(Plan("Reference", ("1",), units, hallways=(hall,), doors=doors)) == ([], [])

"""Unit lists: read with every problem named, drawn as a plan that holds what the list says."""

import random
from collections import Counter, defaultdict
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.errors import PlanError, SpreadError
from spread.plan.checks import check_plan
from spread.plan.drawing.floor_names import infer_floors
from spread.plan.drawing.numbering import find_stacks
from spread.plan.drawing.reading import parse_unit_list
from spread.plan.geojson import read_plan, write_plan
from spread.plan.list_file import list_text
from spread.plan.spreadsheet import write_workbook
from spread.plan.svg import plan_svg
from spread.plan.unit_list import LAYOUTS, UnitList, choose_layout, draw_plan, read_unit_list

pytestmark = pytest.mark.usefixtures("read_here")


def listing(floors, per_floor, skip=(), code="{floor}{line:02d}"):
    rows = [
        f"{code.format(floor=floor, line=line)},{floor}"
        for floor in range(1, floors + 1)
        for line in range(1, per_floor + 1)
        if (floor, line) not in skip
    ]
    return "\n".join(["unit,floor", *rows])


def draw(text, layout=None, **more):
    return draw_plan(parse_unit_list(text), layout, name="Invented House", **more)


def part(plan, unit):
    (outline,) = plan.units[unit].parts.values()
    return outline


def problems_of(text, floors=None):
    with pytest.raises(PlanError) as caught:
        parse_unit_list(text, floors)
    assert len(str(caught.value).splitlines()) == len(caught.value.problems)
    return str(caught.value)


@st.composite
def lists(draw_from):
    """A house of odd and even lines, some units missing, some areas given, rows in any order."""
    floors = draw_from(st.integers(1, 5))
    per_floor = draw_from(st.integers(1, 14))
    missing = draw_from(st.sets(st.tuples(st.integers(1, floors), st.integers(1, per_floor)), max_size=4))
    areas = draw_from(st.lists(st.sampled_from(["", "38", "55.5", "72", "120"]), min_size=per_floor,
                               max_size=per_floor))  # fmt: skip
    odd_one = draw_from(st.sampled_from(["", "30", "110"]))
    rows = [
        f"{floor}{line:02d},{floor},{odd_one if (floor, line) == (floors, 1) else areas[line - 1]}"
        for floor in range(1, floors + 1)
        for line in range(1, per_floor + 1)
        if (floor, line) not in missing
    ]
    return "\n".join(["unit,floor,area_m2", *draw_from(st.permutations(rows))]) if rows else None


@pytest.mark.parametrize("layout", LAYOUTS)
@settings(max_examples=30, deadline=None)
@given(text=lists().filter(bool))
def test_any_list_is_drawn_whole_without_overlaps_with_doors_and_stacks_that_line_up(layout, text):
    unit_list = parse_unit_list(text)
    plan = draw_plan(unit_list, layout, name="Invented House")
    assert sorted(plan.units) == sorted(row.unit for row in unit_list.rows)
    for row in unit_list.rows:
        assert tuple(plan.units[row.unit].parts) == (row.floor,)
    errors, warnings = check_plan(plan)
    assert errors == []
    # A unit that the list leaves out below another of its stack is worth a word; nothing else is.
    assert [str(w) for w in warnings if "jumps: it has no unit on floor" not in str(w)] == []
    for floor in plan.floors:
        solid = [unit.parts[floor] for unit in plan.on_floor(floor)]
        solid += [space.outline for space in plan.hallways if space.floor == floor]
        solid += [shaft.outline for shaft in plan.shafts if floor in shaft.floors]
        first, second = shapely.STRtree(solid).query(solid, predicate="overlaps")
        assert max(shapely.area(shapely.intersection(*np.array(solid)[[first, second]])), default=0) < 1e-6
        assert len(shapely.STRtree(solid).query(solid, predicate="contains").T) == len(solid)
    halls = defaultdict(list)
    for hall in plan.hallways:
        halls[hall.floor].append(hall.outline)
    assert Counter(door.unit for door in plan.doors) == Counter(list(plan.units))
    for door in plan.doors:
        assert part(plan, door.unit).distance(door.at) < 0.01
        assert min(hall.distance(door.at) for hall in halls[door.floor]) < 0.01
    stacks = defaultdict(list)
    for unit in plan.units.values():
        stacks[unit.stack].append(part(plan, unit.id))
    for outlines in stacks.values():
        for one, two in combinations(outlines, 2):
            assert one.intersection(two).area > 0.8 * min(one.area, two.area)


@settings(max_examples=30, deadline=None)
@given(text=lists().filter(bool))
def test_odd_and_even_numbers_lie_on_opposite_sides_of_the_hallway(text):
    plan = draw(text, "double-loaded")
    if len({int(unit) % 2 for unit in plan.units}) < 2:
        return  # with numbers of one kind only, every other stack changes sides
    lines = {unit[-2:] for unit in plan.units}
    if len(lines) > max(len(plan.on_floor(floor)) for floor in plan.floors):
        return  # with so many left out, the numbers may as well run through the house
    for unit in plan.units:
        y = part(plan, unit).centroid.y
        assert y > 0 if int(unit) % 2 else y < 0


@pytest.mark.parametrize("layout", LAYOUTS)
def test_shuffled_rows_give_the_same_plan(layout):
    head, *rows = listing(4, 9, skip={(2, 3)}).splitlines()
    first = draw("\n".join([head, *rows]), layout)
    random.Random(7).shuffle(rows)
    assert draw("\n".join([head, *rows]), layout) == first


@pytest.mark.parametrize("layout", LAYOUTS)
def test_forty_units_are_drawn_without_a_warning_and_come_back_from_the_file(layout, tmp_path):
    plan = draw(listing(5, 8), layout)
    assert check_plan(plan) == ([], [])
    write_plan(plan, tmp_path / "plan.geojson")
    again = read_plan(tmp_path / "plan.geojson", plan.floors, name=plan.name)
    assert list(again.units) == list(plan.units)
    for unit in plan.units:
        assert part(again, unit).symmetric_difference(part(plan, unit)).area < 0.01
        assert again.units[unit].stack == plan.units[unit].stack


def test_a_tower_of_eight_and_seven_units_a_floor_has_the_neighbours_that_arithmetic_gives():
    # Source: arithmetic. Walls 15 x (7 + 6) = 195, floors 14 x 15 = 210. The shape stands for the house of
    # 223 units on 15 storeys in Wang, Saltzmann, Chin, Bennett & Gibb 2010 (J. Econ. Entomol. 103:172-177);
    # how its floors were laid out is an assumption of ours.
    plan = draw(listing(15, 15))
    walls = 0
    for floor in plan.floors:
        parts = [unit.parts[floor] for unit in plan.on_floor(floor)]
        walls += sum(one.distance(two) <= 0.7 for one, two in combinations(parts, 2))
    floors = sum(
        lower.parts[a].intersection(upper.parts[b]).area > 1.0
        for a, b in zip(plan.floors, plan.floors[1:], strict=False)
        for lower in plan.on_floor(a)
        for upper in plan.on_floor(b)
    )
    assert (len(plan.units), walls, floors) == (225, 195, 210)
    assert check_plan(plan) == ([], [])


@pytest.mark.parametrize("layout", LAYOUTS)
def test_each_riser_touches_its_stacks_on_all_their_floors_and_no_other(layout):
    plan = draw(listing(5, 9), layout)
    served = Counter()
    for riser in plan.risers:
        names = set(riser.id.removeprefix("riser ").split(" + "))
        for floor in plan.floors:
            near = {u.stack for u in plan.on_floor(floor) if u.parts[floor].distance(riser.outline) <= 0.7}
            assert near == names
        assert riser.floors == plan.floors
        served.update(names)
    assert served == Counter({unit.stack: 1 for unit in list(plan.units.values())[:9]})


def test_a_unit_that_a_floor_lacks_leaves_a_hole_and_no_shift():
    whole, holed = draw(listing(4, 10)), draw(listing(4, 10, skip={(2, 5), (2, 10)}))
    for unit in holed.units:
        assert part(holed, unit).equals(part(whole, unit))


def test_a_larger_flat_takes_the_place_of_the_neighbour_that_its_floor_lacks():
    text = "unit,floor,area_m2\n" + "\n".join(
        f"{floor}{line:02d},{floor},50" for floor in (1, 2, 3) for line in range(1, 9)
    )
    plan = draw(f"{text}\nPH01,PH,102\nPH05,PH,50", "double-loaded")
    assert plan.floors == ("1", "2", "3", "PH")
    large = part(plan, "PH01")
    assert large.covers(part(plan, "301").centroid)
    assert large.covers(part(plan, "303").centroid)
    assert plan.units["PH01"].stack == plan.units["301"].stack
    assert check_plan(plan) == ([], [])


def test_areas_give_widths():
    plan = draw(
        "unit,floor,area_m2\n101,1,40\n103,1,80\n102,1,60\n104,1,60\n201,2,40\n203,2,80", "double-loaded"
    )
    assert part(plan, "103").area == pytest.approx(2 * part(plan, "101").area, rel=0.05)


@pytest.mark.parametrize(
    ("rows", "lines"),
    [
        ("0101,1 0102,1 0201,2 0202,2", {"01": ["0101", "0201"], "02": ["0102", "0202"]}),
        ("1A,1 1B,1 2A,2 2B,2", {"01": ["1A", "2A"], "02": ["1B", "2B"]}),
        ("11,1 12,1 21,2 22,2", {"01": ["11", "21"], "02": ["12", "22"]}),
        ("901,9 902,9 1001,10 1002,10", {"01": ["901", "1001"], "02": ["902", "1002"]}),
        ("1501,15 PH1,PH 1502,15 PH-2,PH", {"01": ["1501", "PH1"], "02": ["1502", "PH-2"]}),
        ("G01,G G02,G 101,1 102,1", {"01": ["G01", "101"], "02": ["G02", "102"]}),
        ("1-01,1 1-02,1 2-01,2 2-02,2", {"01": ["1-01", "2-01"], "02": ["1-02", "2-02"]}),
        ("1,1 2,1 3,1 4,2 5,2 6,2", {"01": ["1", "4"], "02": ["2", "5"], "03": ["3", "6"]}),
        (
            " ".join(f"{n},{(n - 1) // 7}" for n in range(1, 22)),
            {f"{k:02d}": [str(k), str(k + 7), str(k + 14)] for k in range(1, 8)},
        ),
        ("A-101,1 A-201,2 B-101,1 B-201,2", {"A-01": ["A-101", "A-201"], "B-01": ["B-101", "B-201"]}),
    ],
)
def test_the_last_digits_name_the_stack(rows, lines):
    unit_list = parse_unit_list("unit,floor\n" + rows.replace(" ", "\n"))
    stacks = [stack for block in find_stacks(unit_list.rows).values() for stack in block]
    assert {stack.name: sorted(row.unit for row in stack.rows) for stack in stacks} == {
        name: sorted(units) for name, units in lines.items()
    }


def test_side_order_and_stack_of_the_list_go_before_the_numbers():
    plan = draw(
        "unit,floor,stack,side,order\n101,1,x,left,2\n102,1,y,left,1\n103,1,z,right,\n"
        "207,2,x,left,2\n208,2,y,left,1\n209,2,z,right,",
        "double-loaded",
    )
    assert part(plan, "102").centroid.x < part(plan, "101").centroid.x
    assert part(plan, "102").centroid.y * part(plan, "103").centroid.y < 0
    assert part(plan, "207").equals(part(plan, "101"))
    assert plan.units["209"].stack == plan.units["103"].stack == "z"


def test_compass_sides_put_units_on_their_face_of_a_core():
    plan = draw("unit,floor,side\n1A,1,south\n1B,1,west\n1C,1,n\n1D,1,e", "core")
    middles = {unit: part(plan, unit).centroid for unit in plan.units}
    assert middles["1C"].y == max(middle.y for middle in middles.values())
    assert middles["1A"].y == min(middle.y for middle in middles.values())
    assert middles["1D"].x == max(middle.x for middle in middles.values())
    assert middles["1B"].x == min(middle.x for middle in middles.values())


@pytest.mark.parametrize("layout", ["walk-up-2", "walk-up-4"])
@pytest.mark.parametrize("side", ["a", "b"])
@pytest.mark.parametrize("units", [1, 2])
def test_an_entry_with_units_on_one_side_alone_is_drawn(layout, side, units):
    listed = "".join(f"{floor}0{n},{floor},{side}\n" for floor in (1, 2) for n in range(1, units + 1))
    plan = draw_plan(parse_unit_list(f"unit,floor,side\n{listed}"), layout, name="House")
    errors, _ = check_plan(plan)
    assert errors == []
    assert len(plan.units) == 2 * units


def test_four_doors_open_on_each_landing_and_two_in_the_smaller_walk_up():
    for layout, doors in (("walk-up-4", 4), ("walk-up-2", 2)):
        plan = draw(listing(3, 8), layout)
        for hall in plan.hallways:
            near = [d for d in plan.doors if d.floor == hall.floor and hall.outline.distance(d.at) < 0.01]
            assert len(near) == doors
        assert len(plan.stairs) == 8 // doors


def test_buildings_of_a_site_stand_apart():
    plan = draw("unit,floor\n" + "\n".join(f"{b}-{f}0{k},{f}" for b in "AB" for f in (1, 2) for k in (1, 2)))
    a, b = (
        shapely.union_all([part(plan, unit) for unit in plan.units if unit.startswith(building)])
        for building in "AB"
    )
    assert a.distance(b) > 5.0
    assert plan.units["A-101"].notes == {"building": "A"}
    assert check_plan(plan) == ([], [])


@pytest.mark.parametrize(
    ("floors", "per_floor", "layout"),
    [
        (3, 2, "walk-up-2"),
        (3, 4, "walk-up-4"),
        (12, 6, "core"),
        (15, 15, "double-loaded"),
        (3, 20, "double-loaded"),
    ],
)
def test_a_layout_is_chosen_from_the_list_and_says_why(floors, per_floor, layout):
    chosen, why = choose_layout(parse_unit_list(listing(floors, per_floor)))
    assert chosen == layout
    assert f"{floors} floors with at most {per_floor} units each" in why


def test_floors_without_units_get_a_common_hall_that_the_stair_reaches():
    plan = draw("unit,floor\n201,2\n202,2\n301,3\n302,3", "double-loaded", floors=("B", "1", "2", "3"))
    assert {space.floor for space in plan.commons} == {"B", "1"}
    assert check_plan(plan) == ([], [])


def test_floors_are_put_in_their_natural_order():
    names = ["PH", "10", "2", "B", "G", "1", "B2", "M", "Roof"]
    assert infer_floors(names) == ("B2", "B", "G", "M", "1", "2", "10", "PH", "Roof")
    assert infer_floors(["2nd floor", "1st floor", "Basement"]) == ("Basement", "1st floor", "2nd floor")
    assert infer_floors(["01", "1", "01", "2"]) == ("01", "2")


@pytest.mark.parametrize(
    "raw",
    [
        b"\xef\xbb\xbfUnit;Floor;Area_m2\r\n\r\n0101;01;48,5\r\n\r\n0102;01;\r\n",
        b"unit\tFLOOR\tarea m2\n0101\t01\t48.5\n0102\t01\t\n",
        "unit,floor,area_m2\n0101,01,48.5\n0102,01,\n".encode("utf-16"),
        b'sep=,\nfloor,unit,tenant,area_m2\n01,"0101",Nobody,"48,5"\n01,="0102",,\n',
    ],
)
def test_lists_as_spreadsheets_save_them_are_read(raw, tmp_path):
    (tmp_path / "units.csv").write_bytes(raw)
    unit_list = read_unit_list(tmp_path / "units.csv", ("1",))
    assert isinstance(unit_list, UnitList)
    assert [(row.unit, row.floor, row.area) for row in unit_list.rows] == [
        ("0101", "1", 48.5),
        ("0102", "1", None),
    ]


def test_of_a_workbook_only_the_fields_of_a_list_are_kept_each_row_on_its_line():
    data = write_workbook(
        [("units", [["Unit", "tenant", "Area m2", "FLOOR"], [], ["0101", "x", 48.5, "1\nst"]])]
    )
    assert list_text(data, "list.xlsx") == "unit,area_m2,floor\n\n0101,48.5,1 st\n"


def test_every_problem_of_a_list_is_named_at_once_with_its_line():
    said = problems_of(
        "unit,floor,side,order,area_m2\n101,1,up,,\n102,,,,\n101,1,,,\n103,9,,,\n\n104,1,,x,\n105,1,,,minus\n,1,,,",
        floors=("1", "2"),
    ).splitlines()
    assert len(said) == 7
    for line, word in zip(
        ("line 2, field 'side'", "line 3, field 'floor'", "line 5, field 'floor'", "line 7, field 'order'",
         "line 8, field 'area_m2'", "line 9, field 'unit'", "lines 2, 4, field 'unit'"),
        said, strict=True,
    ):  # fmt: skip
        assert line in word


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no units"),
        ("unit,floor\n", "no units"),
        ("apartment,floor\n1,1", "'unit' is missing, found apartment, floor"),
        ("101\n102", "'floor' is missing"),
        ("unit,floor,unit\n1,1,1", "named 2 times"),
        ("unit,floor\n" + "1" * 100_000 + ",1", "longer than 40 characters"),
        ("unit,floor,area_m2\n1,1,nan", "no area of a unit"),
        ("unit,floor,area_m2\n1,1,0", "no area of a unit"),
        ("unit,floor,stack\n101,1,x\n102,1,x", "has 2 units on floor '1'"),
        ("unit,floor,side\n101,1,a\n201,2,b", "expected one side"),
    ],
)
def test_a_list_that_cannot_be_drawn_says_why(text, words):
    assert words in problems_of(text)


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"PK\x03\x04rest", "not an XLSX workbook"),
        (b"unit,floor\x00\x01\x02", "not text"),
        (b"unit,floor\n" + b"x" * 5_000_001, "5 MB large"),
    ],
)
def test_a_file_that_is_no_list_says_so(raw, words, tmp_path):
    (tmp_path / "units.csv").write_bytes(raw)
    with pytest.raises(SpreadError, match=words):
        read_unit_list(tmp_path / "units.csv")
    with pytest.raises(PlanError, match="cannot be read"):
        read_unit_list(tmp_path / "missing.csv")


def test_an_unknown_layout_and_an_unknown_floor_are_refused():
    with pytest.raises(PlanError, match="expected one of double-loaded"):
        draw(listing(2, 2), "spiral")
    with pytest.raises(PlanError, match="line 4, field 'floor'"):
        draw(listing(2, 2), floors=("1",))


def test_the_picture_of_a_floor_holds_its_codes_once_and_nothing_from_elsewhere():
    plan = draw(listing(5, 8))
    svg = plan_svg(plan, "3")
    for line in range(1, 9):
        assert svg.count(f">3{line:02d}</text>") == 1
    assert ">401</text>" not in svg
    assert svg.count("http") == 1  # the name of the SVG language itself
    assert "<script" not in svg
    with pytest.raises(ValueError, match="tuple"):
        plan_svg(plan, "9")


def test_codes_with_marks_of_xml_are_escaped_in_the_picture():
    plan = draw("unit,floor\n<1&>,1\n2,1")
    assert "&lt;1&amp;&gt;" in plan_svg(plan, "1")

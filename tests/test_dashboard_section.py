"""The section: every unit once in its floor's row and its stack's column, risers where they run."""

from __future__ import annotations

import re

import pytest
from shapely import box
from small import made_plan

from dashboard.plan.section import HIGH, SLAB, WIDE, section_geometry
from spread.plan.model import Plan, Shaft, Unit


def cells_of(plan):
    """Unit to (left, top, right, bottom), read back from the paths that are sent."""
    cells = {}
    for unit, path, *_ in section_geometry(plan)["units"]:
        left, top, right, bottom, again = map(float, re.findall(r"-?[\d.]+", path))
        assert again == left
        cells.setdefault(unit, []).append((left, top, right, bottom))
    return cells


def test_units_of_a_stack_are_one_column_and_units_of_a_floor_one_row():
    plan = made_plan(3, 4)
    cells = cells_of(plan)
    assert set(cells) == set(plan.units)
    assert all(len(found) == 1 for found in cells.values())
    lefts, tops = {}, {}
    for code, [(left, top, right, bottom)] in cells.items():
        assert right - left == pytest.approx(WIDE)
        assert bottom - top == pytest.approx(HIGH)
        lefts.setdefault(plan.units[code].stack, set()).add(left)
        tops.setdefault(next(iter(plan.units[code].parts)), set()).add(top)
    assert all(len(found) == 1 for found in lefts.values())
    assert len({min(found) for found in lefts.values()}) == len(lefts), "no two stacks share a column"
    heights = [min(tops[floor]) for floor in plan.floors]
    assert heights == sorted(heights, reverse=True), "the lowest floor is at the bottom"


def test_neighbours_along_a_wall_are_neighbours_in_the_section():
    plan = made_plan(1, 5)
    cells = cells_of(plan)
    south = [code for code, unit in plan.units.items() if next(iter(unit.parts.values())).centroid.y < 8]
    by_plan = sorted(south, key=lambda code: next(iter(plan.units[code].parts.values())).centroid.x)
    by_section = sorted(south, key=lambda code: cells[code][0][0])
    assert by_section == by_plan
    order = sorted(plan.units, key=lambda code: cells[code][0][0])
    assert set(order[: len(order) - len(south)]).isdisjoint(south), "one side of the hallway after the other"


def test_a_unit_over_two_floors_is_one_cell_as_high_as_both_and_nothing_lies_on_it():
    units = {
        "A": Unit("A", {"1": box(0, 0, 7, 8), "2": box(0, 0, 7, 8)}, stack="a"),
        "B": Unit("B", {"3": box(0, 0, 7, 8)}, stack="a"),
        "C": Unit("C", {"1": box(7, 0, 14, 8)}, stack="b"),
        "D": Unit("D", {"2": box(7, 0, 14, 8), "3": box(7, 0, 14, 8)}, stack="b"),
    }
    cells = cells_of(Plan("Maisonettes", ("1", "2", "3"), units))
    assert all(len(found) == 1 for found in cells.values())
    for code, storeys in (("A", 2), ("B", 1), ("C", 1), ("D", 2)):
        _, top, _, bottom = cells[code][0]
        assert bottom - top == pytest.approx(storeys * HIGH + (storeys - 1) * SLAB)
    shapes = [box(*found[0]) for found in cells.values()]
    assert all(a.intersection(b).area == 0 for i, a in enumerate(shapes) for b in shapes[i + 1 :])
    assert cells["A"][0][0] == cells["B"][0][0]


def test_two_units_of_one_stack_on_one_floor_stand_beside_each_other():
    units = {
        "1": Unit("1", {"1": box(0, 0, 14, 8)}, stack="s"),
        "2a": Unit("2a", {"2": box(0, 0, 7, 8)}, stack="s"),
        "2b": Unit("2b", {"2": box(7, 0, 14, 8)}, stack="s"),
    }
    cells = cells_of(Plan("Split", ("1", "2"), units))
    assert cells["2a"][0][0] != cells["2b"][0][0]
    assert cells["2a"][0][1] == cells["2b"][0][1]


def test_without_names_of_stacks_the_outlines_tell_what_stands_above_what():
    units = {
        f"{level}{place}": Unit(f"{level}{place}", {str(level): box(place * 7, 0, place * 7 + 7, 8)})
        for level in (1, 2)
        for place in range(3)
    }
    cells = cells_of(Plan("Unnamed", ("1", "2"), units))
    assert all(cells[f"1{place}"][0][0] == cells[f"2{place}"][0][0] for place in range(3))


def test_a_riser_runs_between_the_columns_it_touches_over_the_floors_it_serves():
    plan = made_plan(3, 4)
    upper = Shaft("pipes", "riser", ("2", "3"), box(6.65, 2, 7.35, 2.7))
    plan = Plan(plan.name, plan.floors, plan.units, shafts=(upper,))
    drawn = section_geometry(plan)
    assert len(drawn["risers"]) == 1
    left, top, right, bottom, _ = map(float, re.findall(r"-?[\d.]+", drawn["risers"][0]))
    cells = cells_of(plan)
    assert cells["201"][0][2] < left < right < cells["203"][0][0]
    assert top < cells["301"][0][1]
    assert cells["201"][0][3] <= bottom < cells["101"][0][1] + 0.1
    assert "pipes" in [text[3] for text in drawn["texts"]]


def test_a_plan_without_units_has_an_empty_section():
    assert section_geometry(Plan("Nothing", ("1",), {}))["units"] == []

"""Shapes for the browser: against shapely, read back from the paths that are sent."""

from __future__ import annotations

import json
import re

import pytest
from shapely import MultiPolygon, Point, Polygon, box
from shapely.affinity import rotate
from small import made_plan

from dashboard.plan.geometry import label_place, plan_geometry
from spread.plan.model import Plan, Space, Unit


def read_path(path):
    """A path of M, L and Z back to a shape, the even-odd rule for holes, north up again."""
    rings = [
        [(float(x), -float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", part)]
        for part in path.split("Z")
        if part
    ]
    shape = Polygon(rings[0])
    for ring in rings[1:]:
        shape = shape.symmetric_difference(Polygon(ring))
    return shape


def test_every_outline_arrives_as_drawn_to_the_centimetre():
    plan = made_plan(2, 4)
    for floor in plan_geometry(plan)["floors"]:
        for unit, path, *_ in floor["units"]:
            drawn = plan.units[unit].parts[floor["name"]]
            assert read_path(path).symmetric_difference(drawn).area < 0.01 * drawn.length


def test_a_hallway_around_a_courtyard_keeps_its_hole():
    ring = box(0, 0, 20, 20).difference(box(4, 4, 16, 16))
    plan = Plan(
        "Court",
        ("1",),
        {"1": Unit("1", {"1": box(21, 0, 28, 7)})},
        hallways=(Space("h", "hallway", "1", ring),),
    )
    path = plan_geometry(plan)["floors"][0]["halls"][0]
    assert read_path(path).area == pytest.approx(ring.area)


L_SHAPE = Polygon([(0, 0), (9, 0), (9, 3), (3, 3), (3, 9), (0, 9)])
U_SHAPE = box(0, 0, 12, 9).difference(box(3, 3, 9, 9))


@pytest.mark.parametrize(
    "shape", [box(0, 0, 7, 8), L_SHAPE, U_SHAPE, rotate(box(0, 0, 7, 8), 33), rotate(L_SHAPE, 20)]
)
def test_a_label_lies_inside_its_unit_with_the_room_it_claims(shape):
    x, y, width, height = label_place(shape)
    assert shape.contains(Point(x, y))
    across = box(x - 0.49 * width, y - 0.01, x + 0.49 * width, y + 0.01)
    upright = box(x - 0.01, y - 0.49 * height, x + 0.01, y + 0.49 * height)
    assert shape.buffer(0.02).covers(across)
    assert shape.buffer(0.02).covers(upright)


def test_a_unit_over_two_floors_or_in_two_parts_is_drawn_on_each():
    parts = MultiPolygon([box(0, 0, 5, 5), box(6, 0, 9, 5)])
    plan = Plan("Two", ("1", "2"), {"A": Unit("A", {"1": parts, "2": box(0, 0, 5, 5)})})
    first, second = plan_geometry(plan)["floors"]
    assert first["units"][0][1].count("Z") == 2
    assert second["units"][0][0] == "A"


def test_a_door_is_a_short_line_on_its_units_wall():
    plan = made_plan(1, 3)
    floor = plan_geometry(plan)["floors"][0]
    for door, (x1, y1, x2, y2) in zip(plan.doors, floor["doors"], strict=True):
        wall = plan.units[door.unit].parts["1"].exterior
        assert wall.distance(Point(x1, -y1)) < 0.01
        assert Point(x1, y1).distance(Point(x2, y2)) == pytest.approx(0.9, abs=0.02)


def test_everything_lies_within_the_view_and_an_empty_floor_is_drawn_empty():
    plan = made_plan(1, 3)
    plan = Plan(
        plan.name, ("1", "roof"), plan.units, plan.hallways, plan.commons, plan.doors, plan.shafts, plan.beds
    )
    first, roof = plan_geometry(plan)["floors"]
    x, y, width, height = first["view"]
    frame = box(x, -(y + height), x + width, -y)
    assert all(frame.contains(read_path(unit[1])) for unit in first["units"])
    assert roof["units"] == []


def test_a_thousand_units_are_sent_in_less_than_two_hundred_kilobytes():
    sent = json.dumps(plan_geometry(made_plan(10, 50)), separators=(",", ":"))
    assert len(sent) < 200_000

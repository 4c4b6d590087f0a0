"""The reach of a bed as the plan draws it and the panel says it; figures worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from contact_plans import box
from shapely import Point

from dashboard.plan.beds import beds_of
from dashboard.plan.geometry import plan_geometry
from spread.plan.model import Bed, Outlet, Plan, Unit


def two(beds=()):
    """Two rooms of 5 m side by side; their wall is at x = 5, all else is outside."""
    units = {"A": Unit("A", {"1": box(0, 0, 5, 5)}), "B": Unit("B", {"1": box(5, 0, 10, 5)})}
    return Plan(name="Two", floors=("1",), units=units, beds=tuple(beds))


def test_the_drawn_wall_is_the_chord_of_the_circle_on_the_shared_wall_with_y_downwards():
    """1 m from the wall, a circle of 2.1 m cuts a chord of half length sqrt(2.1^2 - 1^2) = 1.8466 m."""
    told = beds_of(two([Bed("b", "A", "1", Point(4, 2.5))]), "A")
    (bed,) = told["beds"]
    assert told["radius"] == 2.1
    assert bed["at"] == [4.0, -2.5]
    ((x1, y1, x2, y2),) = bed["walls"]
    assert (x1, x2) == (5, 5)
    assert sorted((y1, y2)) == pytest.approx([-2.5 - 1.8466, -2.5 + 1.8466], abs=0.002)
    assert told["words"] == ["The bed has within 2.1 m: the wall to B (1.0 m away)."]


def test_a_wall_to_the_outside_is_neither_drawn_nor_said():
    told = beds_of(two([Bed("b", "A", "1", Point(1, 2.5))]), "A")
    assert told["beds"][0]["walls"] == []
    assert told["words"] == ["The bed has within 2.1 m: no shared wall and no riser."]


def test_an_outlet_within_reach_is_ringed_where_it_is_and_said_with_its_wall():
    plan = replace(
        two([Bed("b", "A", "1", Point(4, 2.5))]),
        outlets=(Outlet("TV", "A", "1", Point(5, 2)), Outlet("far", "A", "1", Point(0, 2))),
    )
    told = beds_of(plan, "A")
    assert told["beds"][0]["outlets"] == [[5.0, -2.0]]
    assert told["words"] == [
        "The bed has within 2.1 m: the wall to B (1.0 m away) and outlet TV (1.1 m away, on the wall to B)."
    ]
    assert plan_geometry(plan)["floors"][0]["outlets"] == [[5.0, -2.0], [0.0, -2.0]]


def test_without_a_known_bed_nothing_is_drawn_and_the_panel_says_how_to_place_one():
    told = beds_of(replace(two(), beds=()), "A")
    assert told["beds"] == []
    assert told["words"][0].startswith("No bed is known here.")
    assert "where the plan is changed" in told["words"][0]
    assert "[[" not in told["words"][0], "no file syntax on a page"

"""Rounds that do what is asked for: duties before the ring, and a word on what did not fit."""

from dataclasses import replace

import pytest
from buildings import CODES, clear, find, maple_row, row, treatment, view_of

from spread.contacts.distances import distances_of
from spread.decisions.doors.ranking import open_looks
from spread.decisions.round.asked import duty_doors, plan_asked_round, revisit_doors, ring_doors
from spread.decisions.round.making import plan_round
from spread.decisions.round.parts import AskedFor, RoundSettings
from spread.plan.access import AccessRule
from spread.trade.rules import load_rules
from spread.words import ENGLISH, say

ROWS = [
    # By hand: 103 asks for 101, 105 and 203, the find of 206 for 204 and 106; 106 was looked at since.
    find("103", 9, evidence="live"),
    treatment("103", 6),
    find("206", 40, evidence="live"),
    treatment("206", 38),
    clear("106", 30),
]
CHANCES = {"102": 0.5, "202": 0.5, "201": 0.4, "104": 0.4}
"""Doors that nobody asks for and that are worth the most."""


def planned(minutes, *, rows=ROWS, looks=True, **more):
    view = view_of(rows, CHANCES)
    settings = RoundSettings(minutes=minutes, **more)
    found = open_looks(view, load_rules()) if looks else {}
    return plan_asked_round(view, maple_row(), distances_of(maple_row()), settings, found)


def test_what_is_asked_for_is_the_open_duties_and_the_ring_of_doors_to_look_at():
    view = view_of(ROWS)
    assert set(duty_doors(open_looks(view, load_rules()))) == {"101", "105", "203", "204"}
    assert {unit: say(must, ENGLISH) for unit, must in ring_doors(view).items()} == {
        "101": "ring: beside 103",
        "105": "ring: beside 103",
        "203": "ring: above 103",
        "204": "ring: beside 206",
    }
    assert "203" not in ring_doors(view_of([*ROWS, find("203", 2)])), "known infested: no look for the ring"


def test_with_time_enough_every_door_asked_for_is_visited_and_says_why():
    whole = planned(400)
    stops = {stop.unit: stop for path in whole.paths for stop in path.stops}
    assert {"101", "105", "203", "204"} <= set(stops)
    assert say(stops["101"].must, ENGLISH).startswith("duty: look was due by Thu 9 May 2024, good-practice")
    assert stops["102"].must is None
    assert say(stops["206"].must, ENGLISH).startswith("revisit, 17 days late: "), (
        "treated 38 days ago, 21 at the latest"
    )
    assert whole.left_out == ()


def test_without_anything_asked_for_it_is_the_plain_round():
    view = view_of([], CHANCES)
    plan, distances, settings = maple_row(), distances_of(maple_row()), RoundSettings(minutes=60)
    assert plan_asked_round(view, plan, distances, settings, {}) == plan_round(
        view, plan, distances, settings
    )


def test_doors_asked_for_go_before_doors_worth_more_and_those_left_out_are_named():
    short = planned(32)
    doors = set(short.units)
    assert doors
    asked = {"101", "105", "203", "204", "206"}
    assert doors <= asked
    left = {unit: say(why, ENGLISH) for unit, why in short.left_out}
    assert set(left) == asked - doors
    assert all("fit into the time" in why or "take the time" in why for why in left.values())


def test_duties_go_before_the_ring_where_not_both_fit():
    """The rule set is taken to ask for 101 alone; the ring asks for 101, 105, 203 and 204, worth more."""
    view = view_of(ROWS, {"203": 0.6, "105": 0.6, "204": 0.6})
    looks = {unit: look for unit, look in open_looks(view, load_rules()).items() if unit == "101"}
    assert set(looks) == {"101"}
    plan, distances = maple_row(), distances_of(maple_row())
    settings = RoundSettings(minutes=14)
    ring_first = plan_round(
        view, plan, distances, replace(settings, must={**ring_doors(view), "101": AskedFor()})
    )
    assert "101" not in ring_first.units, "forced alike, the ring's dearer doors would push the duty out"
    got = plan_asked_round(view, plan, distances, settings, looks)
    assert got.units == ("101",)
    left = {unit: say(why, ENGLISH) for unit, why in got.left_out}
    assert set(left) == {"105", "203", "204", "206"}
    assert left.pop("206").startswith("asked for (revisit, 17 days late: ")
    assert all(why.startswith("asked for (ring: ") for why in left.values())


def test_a_duty_behind_a_do_not_enter_mark_is_left_out_with_the_mark_as_the_reason():
    shut = (AccessRule("101", do_not_enter=True, why="key lost"),)
    got = planned(400, access=shut)
    assert "101" not in got.units
    assert say(dict(got.left_out)["101"], ENGLISH) == "do not enter: key lost"
    assert {"105", "203", "204"} <= set(got.units), "the ring and the other duties stay"


def test_a_door_asked_for_by_hand_stays_in():
    assert "201" in planned(30, must={"201": AskedFor()}).units


@pytest.mark.parametrize("minutes", [10, 20, 45, 90])
def test_no_door_asked_for_is_lost_without_a_word(minutes):
    got = planned(minutes, rows=[*ROWS, row("203", 0, "no-access")])
    told = set(got.units) | {unit for unit, _ in got.left_out}
    assert {"101", "105", "204"} <= told
    assert "203" not in got.units, "tried today already"
    assert set(got.units) <= set(CODES)


def test_where_both_rounds_do_as_many_duties_the_one_that_does_the_ring_and_revisits_is_kept():
    """The only duty opens in the evening and fits into no round: its lack must not push the others out."""
    view = view_of(ROWS, CHANCES)
    looks = {unit: look for unit, look in open_looks(view, load_rules()).items() if unit == "101"}
    evening = (AccessRule("101", opens=20 * 60, closes=21 * 60),)
    plan, distances = maple_row(), distances_of(maple_row())
    settings = RoundSettings(minutes=24, access=evening)
    alone = plan_round(view, plan, distances, replace(settings, must=duty_doors(looks)))
    assert "101" not in alone.units
    got = plan_asked_round(view, plan, distances, settings, looks)
    assert "101" not in got.units
    assert set(got.units) != set(alone.units), "a round for the duty alone would go elsewhere"
    asked = {**ring_doors(view), **revisit_doors(view)}
    assert {"203", "204", "206"} <= set(asked)
    assert set(got.units) <= set(asked), "asked for by the ring and by the revisits"
    assert len(got.units) == 2
    assert "101" in dict(got.left_out)

"""One unit explained: figures that add up, sources with their shares, and what to do next."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import networkx as nx
import pytest
from buildings import ON, clear, find, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.contacts.relations import RingPlace
from spread.decisions.doors.why import explain
from spread.trade.biology import LEVEL_NAMES
from spread.weeks import monday_of, week_of
from spread.words import ENGLISH, say
from spread.words.why import never_closed, sources_note


def why(unit, rows=(), chances=None, **more):
    return explain(view_of(rows, chances, **more), unit, "brief-visual")


def step(unit, rows):
    return say(why(unit, rows).next_step, ENGLISH)


def test_the_levels_add_up_to_the_chance():
    told = why("101", chances={"101": 0.4})
    assert tuple(told.levels) == LEVEL_NAMES
    assert sum(told.levels.values()) == pytest.approx(1.0)
    assert told.chance == pytest.approx(0.4)
    assert told.levels["clear"] == pytest.approx(0.6)
    assert told.sure == "neighbours"
    assert told.status == "look"


def test_the_history_is_newest_first_and_ends_on_the_day():
    rows = [find("101", 20), clear("101", -3), treatment("101", 10), clear("102", 5)]
    told = why("101", rows)
    assert [(r.kind, r.when) for r in told.history] == [
        ("treatment", ON - dt.timedelta(days=10)),
        ("inspection", ON - dt.timedelta(days=20)),
    ]


def test_the_trail_has_a_monday_for_every_week_of_the_window():
    trail = why("101", chances={"101": 0.4}).trail
    assert len(trail) == 26
    assert trail[-1] == (monday_of(week_of(ON)).isoformat(), pytest.approx(0.4))
    days = [dt.date.fromisoformat(day) for day, _ in trail]
    assert {d.weekday() for d in days} == {0}
    assert {(b - a).days for a, b in pairwise(days)} == {7}


def test_a_likely_unit_tells_where_it_came_from_and_an_unlikely_one_what_bears_on_it():
    told = why("101", chances={"101": 0.6, "103": 0.9})
    assert told.sources_kind == "bears-on", "a posterior without counted sources names none"
    assert told.sources == told.pressure
    assert told.began is None
    assert "Too unlikely" not in sources_note(told.attribution, ENGLISH)
    assert sources_note(why("101", chances={"101": 0.001}).attribution, ENGLISH).startswith(
        "Too unlikely to name a source."
    )


def test_odd_records_stand_in_the_explanation():
    told = why("101", [find("101", 3, "heavy"), clear("101", 5)])
    assert [doubt.kind for doubt in told.doubts] == ["clear-and-find"]


def test_a_unit_to_treat_is_to_be_treated():
    assert step("101", [find("101", 3)]).startswith("Plan a treatment")


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ([find("101", 9), treatment("101", 5)],
         "Visit again about Fri 24 May 2024; it is not cleared yet."),
        ([find("101", 40), treatment("101", 38), clear("101", 10)],
         "Visit again about Sun 19 May 2024; it is not cleared yet."),
        ([find("101", 40), treatment("101", 38)],
         "Visit again now; it is not cleared yet."),
    ],
)  # fmt: skip
def test_a_treated_unit_is_visited_14_days_after_the_last_visit(rows, expected):
    # By hand: 10 May + 14 days = 24 May; 5 May + 14 days = 19 May 2024 (a calendar).
    assert step("101", rows) == expected


def test_an_alert_asks_for_confirmation_before_anything_is_treated():
    alert = row("101", 3, method="dog", found="yes", evidence="alert")
    assert step("101", [alert]).startswith("Confirm by eye or with interceptors before anything")
    assert not step("101", [alert, clear("101", 1)]).startswith("Confirm")


def test_the_ring_rule_is_named_and_otherwise_the_turn_comes():
    told = why("101", [find("103", 4)])
    assert told.ring == (RingPlace("103", ("beside",)),)
    assert say(told.next_step, ENGLISH) == "Look at it: the ring rule asks for it (beside 103)."
    assert step("206", []) == "Brief look when its turn comes."


@settings(max_examples=40)
@given(
    reported=st.integers(0, 200), looked=st.none() | st.integers(0, 200), method=st.sampled_from(["", "dog"])
)
def test_a_unit_with_a_report_that_nobody_followed_up_is_not_left_to_its_turn(reported, looked, method):
    rows = [report("206", reported)]
    if looked is not None:
        rows.append(row("206", looked, method=method or "brief-visual", found="no"))
    said = step("206", rows)
    open_ = looked is None or looked > reported
    assert ("when its turn comes" in said) <= (not open_)
    if looked is None:
        assert said.startswith("Brief look before the doors that nobody asks for: bugs were reported there")


def test_a_unit_without_contacts_has_only_outside_sources():
    graph = nx.MultiGraph()
    graph.add_node("gatehouse", index=0, levels=(0,), floors=("1",), area=40.0, stack="")
    told = why("gatehouse", graph=graph)
    assert {s.route for s in told.sources} == {"brought in", "building-wide"}
    assert say(told.sources[0], ENGLISH) == "brought in from outside"
    assert told.sources[0].share == pytest.approx(1.0)


def told_levels(rows, likely, *, shed=(0.5, 0.5), chance=0.9):
    """101 explained where one level is likeliest; ``shed``: what it shed until the last week, and now."""
    view = view_of(rows, {"101": chance}, level=likely)
    shedding = view.posterior.shedding.copy()
    shedding[view.network.index["101"]] = [shed[0]] * 25 + [shed[1]]
    return explain(replace(view, posterior=replace(view.posterior, shedding=shedding)), "101", "brief-visual")


def test_a_heavier_level_than_was_found_last_is_explained_by_what_the_posterior_rests_on():
    first, low = find("101", 40, level="heavy"), find("101", 9, level="low")
    told = told_levels([first, treatment("101", 30), low, treatment("101", 9)], 4, shed=(0.4, 0.6))
    assert (told.heavier.said, told.heavier.likely, told.heavier.days) == ("low", "heavy", 9)
    assert (told.heavier.earlier, told.heavier.earlier_days) == ("heavy", 40)
    assert not told.heavier.grew, "it was treated since"
    assert told.heavier.under == pytest.approx(0.15), "trace or low, by the table of the model"
    words = say(told.heavier, ENGLISH)
    assert words.startswith(
        "The find of 9 days ago said low, and heavy is likelier today: a heavy infestation"
    )
    assert "some 15 say no more" in words
    assert words.count(".") == 1, "one sentence"
    alone = told_levels([low], 4, shed=(0.4, 0.6)).heavier
    assert (alone.earlier, alone.grew) == ("", True)
    assert "time to grow" in say(alone, ENGLISH)
    assert not told_levels([low], 4).heavier.grew, "the model holds no growth"
    counted = told_levels([find("101", 9, level="", count=6)], 3).heavier
    assert (counted.said, counted.likely) == ("low", "moderate")


def test_levels_that_agree_or_are_lighter_or_were_looked_at_since_are_not_explained_away():
    low = find("101", 9, level="low")
    assert told_levels([low], 2).heavier is None
    assert told_levels([low], 1).heavier is None
    assert told_levels([low], 4, chance=0.3).heavier is None, "clear is the likeliest"
    assert told_levels([find("101", 9, level="")], 4).heavier is None, "no level was said"
    assert told_levels([low, clear("101", 2)], 4).heavier is None, "the last look found nothing"


def test_a_find_that_nothing_has_closed_stands_apart_from_todays_chance():
    found = why("101", [find("101", 200)], {"101": 0.22})
    told = never_closed(found.followup, found.chance, ENGLISH)
    assert told.startswith(f"Found on {ENGLISH.day(ON - dt.timedelta(days=200))} and never closed")
    assert "to be treated" in told
    assert "22 %" in told or "22%" in told
    for rows in ([], [find("101", 200), treatment("101", 190)], [report("101", 3)]):
        other = why("101", rows, {"101": 0.22})
        assert never_closed(other.followup, other.chance, ENGLISH) == ""

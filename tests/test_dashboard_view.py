"""The page's figures and words, without a browser."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small import LIVED_IN, small_session

from dashboard.plan import panel, view
from dashboard.words import CLASS_FLOORS, CLASS_WORDS, chance_class, floor_title
from spread.contacts.relations import RingPlace
from spread.decisions.doors.ranking import DoorDuty
from spread.decisions.doors.sources import Bearing, SourceShare
from spread.decisions.duties.owed import Started
from spread.trade.rule_set import Origin
from spread.words import ENGLISH


@pytest.fixture
def session(tmp_path):
    return small_session(tmp_path, 3, 6, rows=LIVED_IN)


@given(st.floats(0, 1), st.floats(0, 1))
@settings(deadline=None, max_examples=200)
def test_a_higher_chance_never_has_a_lower_class_and_like_figures_have_like_classes(one, other):
    low, high = sorted((one, other))
    assert 0 <= chance_class(low) <= chance_class(high) < len(CLASS_WORDS)
    if ENGLISH.percent(one) == ENGLISH.percent(other):
        assert chance_class(one) == chance_class(other)


def test_the_classes_begin_where_the_legend_says():
    assert [chance_class(lowest) for lowest in CLASS_FLOORS] == list(range(6))
    assert [chance_class(lowest - 0.011) for lowest in CLASS_FLOORS[1:]] == list(range(5))


def test_nothing_is_ever_shown_as_certain():
    assert ENGLISH.percent(0.0) == "<1%"
    assert ENGLISH.percent(1.0) == ">99%"
    assert ENGLISH.percent(0.125) == "12%"
    assert ENGLISH.percent(0.5) == "50%"


def test_floors_are_said_as_people_say_them():
    assert [floor_title(name) for name in ("3", "G", "Garden house")] == [
        "Floor 3",
        "Floor G",
        "Garden house",
    ]


def test_the_paint_holds_only_a_class_a_label_and_a_mark_for_every_unit(session):
    painted = view.paint(session)
    assert set(painted["units"]) == set(session.plan.units)
    assert all(len(look) == 3 for look in painted["units"].values())
    for row in session.doors():
        mark = painted["units"][row.unit][2]
        expected = {"treat": "t", "revisit": "r", "look": "o" if row.ring else ""}[row.status]
        assert mark == expected
    json.dumps(painted)


def test_the_lists_follow_the_sessions_order_and_keep_treat_and_revisit_apart(session):
    lists = view.lists(session)
    doors = session.doors()
    look = [row.unit for row in doors if row.status == "look"]
    assert [row["u"] for row in lists["next"]] == look[: view.FIRST_DOORS]
    assert lists["more"] == len(look) - view.FIRST_DOORS
    assert [row["u"] for row in lists["treat"]] == [row.unit for row in doors if row.status == "treat"]
    assert [row["u"] for row in lists["revisit"]] == [row.unit for row in doors if row.status == "revisit"]
    assert sum(floor["due"] for floor in lists["floors"]) == view.FIRST_DOORS


@pytest.mark.parametrize(
    "ask",
    [
        None, 5, "x", [], {"method": "steam-dust-encase"}, {"method": ["dog"]}, {"limit": "many"},
        {"limit": True}, {"floor": "99"}, {"floor": {"a": 1}},
    ],
)  # fmt: skip
def test_what_the_page_asks_for_wrongly_falls_back_to_the_usual_list(session, ask):
    assert view.lists(session, ask) == view.lists(session)


def test_a_limit_is_kept_within_reason(session):
    assert len(view.lists(session, {"limit": -4})["next"]) == 1
    assert view.lists(session, {"limit": 10**9})["limit"] == view.MOST_DOORS


def test_one_floor_alone_lists_only_its_units(session):
    rows = view.lists(session, {"floor": "2"})["next"]
    assert rows
    assert all("2" in session.plan.units[row["u"]].parts for row in rows)


@pytest.mark.parametrize("unit", [None, "", "nowhere", 104, ["104"], {"unit": "104"}])
def test_an_unknown_unit_has_no_panel(session, unit):
    assert view.unit_panel(session, unit) is None


def test_arrows_are_the_three_weightiest_contacts_and_none_where_no_source_is_named(session, monkeypatch):
    unit = session.doors()[0].unit
    shares = (0.4, 0.3, 0.1, 0.06, 0.04)
    named = tuple(SourceShare(f"{n}", "wall", share, "came-from") for n, share in enumerate(shares))
    told = session.why(unit)
    outside = SourceShare("", "brought in", 0.1, "came-from")
    why = replace(told, attribution=replace(told.attribution, sources=(outside, *named)))
    monkeypatch.setattr(session, "why", lambda _: why)
    assert view.unit_panel(session, unit)["arrows"] == {
        "unit": unit,
        "from": [["0", 0.4], ["1", 0.3], ["2", 0.1]],
    }
    monkeypatch.setattr(
        session, "why", lambda _: replace(why, attribution=replace(why.attribution, sources=named[4:]))
    )
    assert view.unit_panel(session, unit)["arrows"]["from"] == []
    monkeypatch.setattr(session, "why", lambda _: replace(why, attribution=Bearing(named, False)))
    assert view.unit_panel(session, unit)["arrows"]["from"] == []


def test_a_panel_carries_reasons_levels_sources_and_history(session):
    unit = session.doors()[0].unit
    look = {"kind": "inspection", "method": "dog", "found": "yes", "level": "low", "evidence": "live+alert"}
    session.record(look | {"id": "row-00000001", "when": "2026-11-20", "unit": unit, "note": "left bed"})
    shown = view.unit_panel(session, unit)
    assert shown["reasons"]
    assert [row for row in shown["history"] if row["id"] == "row-00000001"] == [
        {
            "id": "row-00000001",
            "kind": "inspection",
            "day": "2026-11-20",
            "when": "Fri 20 Nov 2026",
            "ago": "5 days ago",
            "what": "Dog",
            "outcome": "found, low, live + alert",
            "note": "left bed",
            "by": "",
        }
    ]
    assert sum(level["share"] for level in shown["levels"]) == pytest.approx(1)
    text = json.dumps(
        [part.to_plotly_json() for part in panel.first_part(shown)], default=lambda c: c.to_plotly_json()
    )
    assert shown["next_step"] in text
    json.dumps(shown)


def with_duties(session, monkeypatch):
    """Give the last door of the list an overdue look, and the one before it one without a date."""
    made = Origin("a made source", "read", "B")
    day = dt.date(2026, 11, 13)
    find, report = Started("confirmed-find", "104", day), Started("report", "101", day)
    beside = ((RingPlace("104", ("beside",)),),)
    owed = DoorDuty(dt.date(2026, 11, 17), True, "cannot", beside, find, "good-practice", made)
    undated = DoorDuty(None, False, "due", (), report, "good-practice", made)
    rows = list(session.doors())
    look = [row for row in rows if row.status == "look"]
    duties = {look[-1].unit: owed, look[-2].unit: undated}
    worth = {"worth_of_find": 11.4, "worth": 1.2, "minutes": 10.2, "per_hour": 7.06}
    rows = [replace(row, duty=duties.get(row.unit), **worth) for row in rows]
    monkeypatch.setattr(session, "doors", lambda method=None: tuple(rows))
    return look


def test_a_door_says_worth_minutes_and_duty_in_a_few_words(session, monkeypatch):
    look = with_duties(session, monkeypatch)
    rows = {row["u"]: row for row in view.lists(session, {"limit": 500})["next"]}
    assert rows[look[0].unit]["saves"] == "saves 11 unit-weeks, 10 min"
    assert rows[look[0].unit]["worth"] == (
        "a find saves about 11 unit-weeks; 10 minutes at the door; 7.1 unit-weeks averted an hour"
    )
    assert rows[look[0].unit]["duty"] == ""
    assert rows[look[-1].unit]["duty"] == "look was due by 17 Nov, no access"
    assert rows[look[-2].unit]["duty"] == "look, no date"


def test_a_door_with_a_duty_is_on_the_list_however_low_it_ranks(session, monkeypatch):
    look = with_duties(session, monkeypatch)
    lists = view.lists(session, {"limit": 1})
    assert lists["by"] == "finds a knock: the chance to be let in times that of a find"
    asked = [row["u"] for row in lists["asked"]]
    assert asked[-2:] == [look[-2].unit, look[-1].unit]
    assert set(asked) == {row.unit for row in look[1:] if row.ring} | {look[-1].unit, look[-2].unit}
    assert view.lists(session, {"limit": 500})["asked"] == []
    assert view.paint(session)["units"][look[-1].unit][2] == "o"


def test_the_panel_says_worth_duty_and_what_started_it(session, monkeypatch):
    look = with_duties(session, monkeypatch)
    shown = view.unit_panel(session, look[-1].unit)
    text = json.dumps(
        [part.to_plotly_json() for part in panel.first_part(shown)], default=lambda c: c.to_plotly_json()
    )
    assert "duty: look was due by 17 Nov, no access" in text
    assert "Duty: beside 104; find in 104 on Fri 13 Nov 2026 (rule set good-practice)." in text
    assert "A find saves about 11 unit-weeks; 10 minutes at the door" in text
    treat = next(row.unit for row in session.doors() if row.status == "treat")
    assert view.unit_panel(session, treat)["worth"] == "", "known infested: there is nothing to find"


def test_an_empty_log_names_no_floor_and_no_number(tmp_path):
    from small import LIVED_IN, small_session

    bare, known = small_session(tmp_path / "bare"), small_session(tmp_path / "known", rows=LIVED_IN)
    for floor in view.lists(bare)["floors"]:
        assert (floor["c"], floor["where"], floor["number"]) == (0, "", "nothing recorded")
    on_first = view.lists(known)["floors"][0]
    assert on_first["where"].startswith("104 ")
    assert on_first["number"].endswith(" infested")

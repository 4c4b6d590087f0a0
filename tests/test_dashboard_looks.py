"""Views and filters of the plan: classes and labels against the log they are made from."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter

import pytest
from small import LIVED_IN, QUICKER, small_session

from dashboard.plan import looks, view
from dashboard.plan.facts import ONLY, facts_of, kept_by
from dashboard.times import weeks_of


@pytest.fixture
def session(tmp_path):
    return small_session(tmp_path, 3, 6)


def look(session, unit, days_ago, **more):
    when = (session.on - dt.timedelta(days=days_ago)).isoformat()
    fields = {"kind": "inspection", "method": "thorough-visual", "found": "no"} | more
    session.record(fields | {"id": f"row-{unit}-{days_ago}-{fields['kind']}", "unit": unit, "when": when})
    session.wait()


def test_the_chance_of_all_units_is_what_the_page_opens_with(session):
    painted = looks.paint(session)
    assert painted["units"] == view.paint(session)["units"]
    assert painted["show"] == "chance"
    assert "kept" not in painted


@pytest.mark.parametrize(
    "ask", [None, 3, [], {"show": "x"}, {"show": ["duty"]}, {"only": "x"}, {"only": {"a": 1}}]
)
def test_what_the_page_asks_for_wrongly_is_the_chance_of_all_units(session, ask):
    assert looks.paint(session, ask) == looks.paint(session)


@pytest.mark.parametrize("show", looks.VIEWS)
def test_every_class_that_is_painted_stands_in_the_legend_and_every_unit_has_a_label(session, show):
    look(session, "101", 3)
    look(session, "102", 100)
    painted = looks.paint(session, {"show": show})
    steps = {step for step, _, _ in looks.VIEWS[show].steps}
    assert set(painted["units"]) == set(session.plan.units)
    assert {one[0] for one in painted["units"].values()} <= steps
    assert all(one[1] for one in painted["units"].values())
    json.dumps(painted)


@pytest.mark.parametrize(
    ("days", "step", "label"),
    [
        (0, 0, "today"), (13, 0, "13 d"), (30, 0, "4 wk"), (31, 1, "4 wk"), (90, 1, "12 wk"),
        (91, 2, "13 wk"), (181, 3, "6 mo"), (365, 3, "12 mo"), (366, 4, "12 mo"),
    ],
)  # fmt: skip
def test_the_last_look_is_told_by_its_age(session, days, step, label):
    look(session, "101", days)
    assert looks.paint(session, {"show": "looked"})["units"]["101"][:2] == [step, label]
    assert looks.paint(session, {"show": "looked"})["units"]["102"][:2] == [5, "never"]


def test_no_level_is_told_where_bugs_are_unlikely(session):
    painted = looks.paint(session, {"show": "level"})["units"]
    for unit, chance in session.chances().items():
        assert (painted[unit][1] == "–") == (chance < looks.LIKELY)


def test_a_find_owes_its_duties_and_they_press_in_order(session):
    look(session, "203", 1, found="yes", evidence="live")
    facts = facts_of(session)
    owing = {unit for unit, fact in facts.items() if fact.duty in ("due", "overdue", "cannot")}
    assert owing == kept_by(session, "due")
    assert "203" in owing
    painted = looks.paint(session, {"show": "duty"})["units"]
    for unit, fact in facts.items():
        assert (
            painted[unit][0]
            in {"": (0,), "done": (1,), "due": (2, 3), "cannot": (4,), "overdue": (5,)}[fact.duty]
        )


def test_filters_keep_what_they_say(session):
    look(session, "101", 5)
    look(session, "102", 31)
    session.record(
        {"id": "row-shut-0001", "unit": "103", "when": "2026-11-20", "kind": "no-access", "method": "refused"}
    )
    long_ago = kept_by(session, "long-ago")
    assert "101" not in long_ago
    assert {"102", "103"} <= long_ago
    assert kept_by(session, "shut") == {"103"}
    assert kept_by(session, "") is None
    for only in list(ONLY)[1:]:
        listed = view.lists(session, {"only": only, "limit": 500})
        shown = [row["u"] for part in ("next", "treat", "revisit") for row in listed[part]]
        assert set(shown) <= kept_by(session, only)


def test_the_weeks_hold_the_weekly_chances_and_each_event_in_its_week(tmp_path):
    session = small_session(tmp_path, 3, 6, rows=LIVED_IN)
    look(session, "101", 0, found="yes", evidence="live")
    look(session, "102", 7)
    told = weeks_of(session)
    assert len(told["weeks"]) == 53
    assert told["weeks"] == sorted(told["weeks"])
    weekly = session.view.posterior.weekly
    for row, unit in zip(weekly, session.view.posterior.units, strict=True):
        assert told["chances"][unit] == [round(100 * chance) for chance in row]
    assert [52, "101", "f"] in told["events"]
    assert [51, "102", "c"] in told["events"]
    assert set(Counter(letter for *_, letter in told["events"])) <= set("ftracnm")


def test_an_answer_in_a_thousand_units_stays_under_50_kb(tmp_path):
    """The bound is the project's own (issue: payload of an answer under 50 kB), uncompressed here."""
    session = small_session(tmp_path, 10, 51, settings=QUICKER)
    assert len(session.plan.units) >= 1000
    unit = session.doors()[0].unit
    look(session, unit, 0)
    sent = [looks.paint(session), view.lists(session), view.unit_panel(session, unit), view.headline(session)]
    size = sum(len(json.dumps(part, separators=(",", ":")).encode()) for part in sent)
    assert 10_000 < size < 50_000


def test_a_building_without_records_says_so_and_what_to_do_next(session):
    assert view.NOTHING_YET in view.headline(session)
    look(session, "101", 3)
    assert view.NOTHING_YET not in view.headline(session)

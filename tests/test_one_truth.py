"""Plan, list, panel, week, phone and commands agree on who is to be revisited, on every demo building."""

import datetime as dt
import re
from pathlib import Path

import pytest

from dashboard.plan.facts import kept_by
from dashboard.plan.view import headline, lists, paint, unit_panel
from dashboard.round.doors import DoorList
from dashboard.week.page import FORM, _shown, context
from spread.contacts.distances import distances_of
from spread.decisions.case.followup import revisits
from spread.decisions.standing import standing_of
from spread.posterior.fit import FitSettings
from spread.report.followup_text import revisits_text
from spread.report.text import doors_text, why_text
from spread.report.week import week_view
from spread.session import Session
from spread.words import ENGLISH, say
from spread.words.followup import revisit_words

DEMOS = sorted(path.parent for path in Path(__file__).parent.parent.glob("demo_buildings/*/building.toml"))
DAYS = (dt.date(2026, 6, 1), dt.date(2026, 11, 28))
"""One in the middle of the logs, and one after their end."""


@pytest.fixture(
    scope="module", params=[(d, on) for d in DEMOS for on in DAYS], ids=lambda p: f"{p[0].name} {p[1]}"
)
def session(request):
    """A short fit: what is compared does not depend on how long it ran."""
    folder, on = request.param
    return Session.open(folder, on=on, settings=FitSettings(chains=2, warmup=20, sweeps=40, most_sweeps=40))


@pytest.fixture
def due(session):
    """Units to revisit by status, from the one place."""
    groups = revisits(session.view.followups.values())
    return {status: [one.unit for one, _ in group] for status, group in groups.items()}


def of_section(text, title):
    """Return the units under a heading of a plain text list."""
    part = re.search(rf"^{re.escape(title)}[^\n]*\n((?:[ ]+[^\n]*\n?)*)", text, re.MULTILINE)
    return re.findall(r"^  - (\S+)", part.group(1), re.MULTILINE) if part else []


def test_there_is_something_to_compare(session, due):
    assert len(DEMOS) == 3
    assert any(due.values()) or session.on < DAYS[-1], "a demo without a revisit shows nothing"


def test_the_plan_counts_and_lists_what_is_due(session, due):
    every = [unit for group in due.values() for unit in group]
    told = revisit_words(session.view.followups, ENGLISH)
    figures = {name: len(group) for name, group in zip(("late", "due", "coming"), due.values(), strict=True)}
    parts = ", ".join(f"{n} {name}" for name, n in figures.items() if n)
    assert told == (f"revisits: {parts}" if parts else "no revisits")
    assert told in headline(session)
    assert [row["u"] for row in lists(session)["revisit"]] == every
    assert {unit for unit, (_, _, mark) in paint(session)["units"].items() if mark == "r"} == set(every)
    assert kept_by(session, "revisit") == set(every)


def test_a_panel_says_the_same_and_what_is_lacking(session, due):
    words = {"overdue": " late: ", "due": "due now: ", "coming": "coming: "}
    for status, units in due.items():
        for unit in units:
            panel, why = unit_panel(session, unit), session.why(unit)
            assert (panel["status"], why.status) == ("revisit", "revisit")
            assert words[status] in panel["visit"]
            assert not why.followup.lacks or "still lacks" in " ".join(panel["followup"]["words"])
            assert say(why.next_step, ENGLISH) in why_text(session, why)


def test_the_week_has_the_same_late_and_due(session, due):
    week = week_view(session).week
    late = {
        u.unit for line in week.late if line.kind == "visit" and line.title != "Treat" for u in line.units
    }
    signs = {u for u, one in session.view.followups.items() if one.status == "look" and one.visit}
    assert late - signs == set(due["overdue"])
    soon = {u.unit for _, day in week.days for line in day if line.kind == "visit" for u in line.units}
    assert set(due["due"]) <= soon
    shown = context(session, _shown(session, distances_of(session.plan), dict.fromkeys(FORM, "")))
    assert shown["revisits"] == revisit_words(session.view.followups, ENGLISH)


def test_the_phone_offers_them_when_it_is_asked_to(session, due):
    doors = DoorList(session)
    rows = {row.unit: row for row in session.doors()}
    offered = doors.next({"also": ["revisit"], "minutes": 1440})["doors"]
    for unit in (unit for group in due.values() for unit in group):
        assert rows[unit].status == "revisit"
    assert {door["unit"] for door in offered if door["status"] == "revisit"} <= {
        u for g in due.values() for u in g
    }
    usual = {door["unit"] for door in doors.next({"minutes": 240})["doors"] if door["status"] == "revisit"}
    assert usual == {*due["overdue"], *due["due"]}, "who is due is on the round without being asked for"


def test_the_commands_list_the_same(session, due):
    found = session.view.followups
    text = revisits_text("x", session.on, found, session.building.settings.clearance)
    assert of_section(text, "Late: the window is past") == due["overdue"]
    assert of_section(text, "Due: the window is open") == due["due"]
    assert of_section(text, "Coming") == due["coming"]
    told = revisit_words(found, ENGLISH)
    doors = doors_text(session, session.method, 5)
    assert of_section(doors, told[0].upper() + told[1:]) == [unit for group in due.values() for unit in group]


def test_two_clear_looks_make_no_unit_late_and_none_cleared(session):
    """A unit whose records show two clear looks and no monitor period runs no window, and is not cleared."""
    for unit, one in session.view.followups.items():
        standing = standing_of(session.view.log.of(unit), session.on)
        if one.since is not None and standing.status == "look" and not one.periods:
            assert one.state in ("not cleared", "looked-for")
            assert one.visit is None or one.visit.kind == "confirm"
            assert one.lacks

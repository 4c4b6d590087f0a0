"""A manager's week: every duty and visit stands once, on the right day. Dates by hand."""

import datetime as dt
from dataclasses import replace

from buildings import ON, day

from spread.contacts.relations import RingPlace
from spread.decisions.case.followup import followup_of
from spread.decisions.case.visits import Visit
from spread.decisions.duties.owed import Duty, Started
from spread.decisions.week.ahead import week_ahead
from spread.trade.rule_set import Deadline, EntryNotice, Origin, Span
from spread.words import ENGLISH
from spread.words.week import line

ORIGIN = Origin("Made Code, section 1", "judgement", "C")
DEADLINE = Deadline("inspect", "neighbours", "find", ORIGIN, within=Span(3, "calendar days"), who="the owner")


def duty(unit="101", due=None, **more):
    own = {
        "unit": unit,
        "deadline": DEADLINE,
        "due": due,
        "started": Started("confirmed-find", "102", ON),
        "because": ("r1",),
        "places": ((RingPlace("102", ("beside",)),),),
        "status": "due",
        "late": False,
        "proof": "",
        "attempts": (),
    }
    return Duty(**own | more)


def visit(earliest, target, latest, status="due"):
    made = Visit("after-treatment", day(10), earliest, target, latest, None, status, "period")
    return replace(followup_of([], "105", ON, 0.1), state="clearing", periods=1, needed=3, visit=made)


def listed(week):
    return {
        d: [(line(o, ON, ENGLISH).title, [u.unit for u in o.units]) for o in owed]
        for d, owed in week.days
        if owed
    }


def test_duties_of_one_rule_and_day_are_one_line_with_all_their_units_in_plan_order():
    due = ON + dt.timedelta(days=2)
    week = week_ahead([duty("103", due), duty("101", due), duty("102", due, status="done")], [], ON, int)
    assert listed(week) == {due: [("Inspect neighbours", ["101", "103"])]}
    ((_, (one,)),) = [pair for pair in week.days if pair[1]]
    said = line(one, ON, ENGLISH)
    by = "Within 3 calendar days of the find, by the owner"
    assert said.rule == f"{by}. Made Code, section 1 (judgement, confidence C)."
    assert said.units[0].why == f"beside 102; find in 102 on {ENGLISH.day(ON)}"
    assert not week.empty


def test_what_is_late_undated_or_after_the_week_stands_apart():
    owed = [
        duty("101", ON - dt.timedelta(days=2), late=True, status="cannot", attempts=("n1", "n2")),
        duty("102", None),
        duty("103", ON + dt.timedelta(days=6)),
        duty("104", ON + dt.timedelta(days=7)),
    ]
    week = week_ahead(owed, [], ON, int)
    assert [unit.unit for one in week.late for unit in one.units] == ["101"]
    assert line(week.late[0], ON, ENGLISH).units[0].state == "2 days late, tried 2 times without access"
    assert [unit.unit for one in week.undated for unit in one.units] == ["102"]
    assert list(listed(week)) == [ON + dt.timedelta(days=6)], "the seventh day is the last of the week"
    assert week.later == 1


def test_notice_of_entry_is_due_on_its_own_day_unless_it_was_given():
    due = ON + dt.timedelta(days=4)
    asked = duty(
        "101",
        due,
        notice=EntryNotice(("inspect",), Span(48, "hours"), ORIGIN),
        notice_by=ON + dt.timedelta(days=2),
    )
    week = week_ahead([asked], [], ON, int)
    assert listed(week)[ON + dt.timedelta(days=2)] == [("Give notice of entry", ["101"])]
    given = week_ahead([replace(asked, notice_proof="r9")], [], ON, int)
    assert list(listed(given)) == [due]


def test_a_visit_stands_on_the_day_to_aim_for_or_the_nearest_day_of_the_week():
    def on_day(*days, status="due"):
        return list(listed(week_ahead([], [visit(*[ON + dt.timedelta(days=d) for d in days], status)], ON)))

    assert on_day(-3, 3, 8) == [ON + dt.timedelta(days=3)]
    assert on_day(-8, -2, 4) == [ON], "the day is past and the window open"
    assert on_day(2, 9, 14, status="coming") == [ON + dt.timedelta(days=6)]
    assert on_day(8, 10, 14, status="coming") == []
    late = week_ahead([], [visit(day(9), day(5), day(2), "overdue")], ON)
    assert line(late.late[0], ON, ENGLISH).units[0].state == "2 days late"


def test_an_empty_week_says_that_it_is_empty():
    assert week_ahead([], [], ON).empty
    assert len(week_ahead([], [], ON).days) == 7

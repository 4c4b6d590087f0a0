"""The planned week: no door on a day on which it may not be entered.

Days by hand; 15 May 2024 is a Wednesday.
"""

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest
from buildings import CODES, ON, clear, day, find, make_building, maple_row, report, row, treatment, view_of
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.contacts.distances import distances_of
from spread.decisions.doors.ranking import open_looks
from spread.decisions.duties.deadlines import first_entry, holidays_of, notice_before
from spread.decisions.duties.owed import duties
from spread.decisions.round.asked import plan_asked_round
from spread.decisions.round.parts import Barred, RoundSettings
from spread.decisions.week.doors import doors_of
from spread.decisions.week.entry import entries_of, entry_of
from spread.decisions.week.plan import WeekSettings, plan_week, why_not, working_days
from spread.decisions.week.solve import GAP, assign
from spread.plan.access import AccessRule
from spread.records.kinds import Job, said_by
from spread.settings import BuildingSettings
from spread.trade.crew import Technician, crew_of
from spread.trade.rule_set import Calendar, EntryNotice, Origin, Span
from spread.trade.rules import load_rules
from spread.words import ENGLISH, say
from spread.words.plan_week import day_head, door_why, let_go_words

RULES = load_rules("good-practice")
ORIGIN = Origin("Made Code, section 1", "judgement", "C")
PLAN = maple_row()
DISTANCES = distances_of(PLAN)
TWO = crew_of(2)
OWN = BuildingSettings("Maple Row", ("1", "2"))


def notice(unit, ago, named=None, **more):
    return row(unit, ago, "note", "entry-notice", job=None if named is None else Job(day=named), **more)


def in_days(days):
    return day(-days)


def planned(rows=(), *, rules=RULES, crew=TWO, moved=None, access=(), chances=None):
    view = view_of(rows, chances)
    doors = doors_of(
        view, OWN, entries_of(view, rules), open_looks(view, rules),
        duties(view.log, view.graph, rules, ON), in_days(6), method="brief-visual",
    )  # fmt: skip
    asked = WeekSettings(crew, moved=moved or {}, access=access)
    return view, plan_week(view, PLAN, DISTANCES, doors, asked), asked


def lead(amount, counted_in):
    return EntryNotice(("inspect", "begin-treatment"), Span(amount, counted_in), ORIGIN)


# -- when a unit may be entered


@pytest.mark.parametrize(
    ("amount", "counted_in", "given_ago", "first"),
    [
        (24, "hours", 0, 1),
        (48, "hours", 0, 2),
        (36, "hours", 0, 2),
        (2, "calendar days", 1, 1),
        # Wednesday: business days are Thursday and Friday, and entry on Friday has two before it.
        (2, "business days", 0, 2),
        # Three: Thursday, Friday, Monday the 20th; the notice is Monday's third business day before.
        (3, "business days", 0, 5),
        (0, "hours", 0, 0),
    ],
)
def test_the_first_lawful_day_by_hand(amount, counted_in, given_ago, first):
    span = Span(amount, counted_in)
    assert first_entry(day(given_ago), span, lambda _: False) == in_days(first)


def test_a_holiday_is_no_business_day():
    """27 May 2024 is Memorial Day: from Friday the 24th one business day runs to Tuesday the 28th."""
    is_holiday = holidays_of(Calendar("US"))
    assert first_entry(dt.date(2024, 5, 24), Span(1, "business days"), is_holiday) == dt.date(2024, 5, 28)


@pytest.mark.parametrize(
    ("rows", "state", "why"),
    [
        ([], "needed", "never"),
        ([notice("101", 1)], "running", ""),
        ([notice("101", 2)], "given", ""),
        ([notice("101", 2, ON)], "given", ""),
        ([notice("101", 1, ON)], "needed", "short"),
        ([notice("101", 9, day(3))], "needed", "lapsed"),
        ([notice("101", 40)], "needed", "lapsed"),
        ([notice("101", 9), clear("101", 5)], "needed", "used"),
        ([notice("101", 9), row("101", 5, "no-access", "nobody-home")], "needed", "used"),
        ([notice("101", 9), clear("101", 5, "interview")], "given", ""),
        ([notice("101", 9), clear("101", 5), notice("101", 2)], "given", ""),
        ([notice("101", 5), row("101", 3, "no-access", "refused")], "refused", ""),
        ([row("101", 3, "no-access", "refused"), notice("101", 2)], "given", ""),
        ([row("101", 3, "no-access", "refused"), row("101", 2, "note", "contact")], "needed", "never"),
        ([notice("101", 2), notice("101", 1, in_days(9))], "running", ""),
    ],
)
def test_what_a_log_says_of_entry(rows, state, why):
    told = entry_of(rows, "101", ON, lead(48, "hours"), lambda _: False)
    assert (told.state, told.why) == (state, why)
    assert told.lawful_on(ON) == (state == "given")
    assert isinstance(say(told, ENGLISH), str)


def test_a_notice_holds_its_unit_to_the_day_that_it_names():
    told = entry_of([notice("101", 0, in_days(5))], "101", ON, lead(24, "hours"), lambda _: False)
    assert [told.may_plan(in_days(n)) for n in range(7)] == [n == 5 for n in range(7)]


def test_without_a_rule_nobody_waits_and_an_empty_unit_is_announced_like_any_other():
    assert entry_of([], "101", ON, None, lambda _: False).lawful_on(ON)
    empty = [row("101", 9, "turnover", "moved-out")]
    assert entry_of(empty, "101", ON, lead(24, "hours"), lambda _: False).state == "needed"


def test_a_rule_for_neighbours_alone_lets_the_unit_of_a_complaint_be_entered():
    rules = load_rules("new-hampshire")
    entries = entries_of(view_of([report("101", 0)]), rules)
    assert (entries["101"].state, entries["106"].state) == ("free", "needed")


# -- the plan


def test_a_week_without_notices_begins_when_they_have_run():
    _, week, _ = planned()
    days = {one.day: one.round.units for one in week.days}
    assert list(days) == [ON, in_days(1), in_days(2), in_days(5), in_days(6)], "Saturday and Sunday are free"
    assert not days[ON]
    assert not days[in_days(1)], "48 hours"
    assert set(days[in_days(2)]) == set(CODES)
    assert {door.unit for door in week.to_announce(in_days(2))} == set(CODES)
    assert "12 notices to give" in day_head(week, week.days[2], ENGLISH)


def test_a_door_with_notice_is_on_its_day_and_one_refused_waits_for_an_arrangement():
    rows = [notice("101", 2), notice("102", 0, in_days(5)), row("103", 1, "no-access", "refused")]
    _, week, _ = planned(rows)
    assert week.day_of("101") == ON
    assert week.day_of("102") == in_days(5)
    assert week.day_of("103") is None
    assert [(one.door.unit, one.what) for one in week.waits] == [("103", "refused")]
    assert "talk to the resident" in say(week.waits[0], ENGLISH)


def test_what_is_owed_goes_before_what_only_promises_finds():
    rows = [find("105", 60), treatment("105", 40)]
    crew = (Technician("T1", 20.0),)
    _, week, _ = planned(rows, crew=crew, chances={"201": 0.9, "202": 0.9, "203": 0.9})
    assert week.day_of("105") == in_days(2), "the first lawful day, though others find more"
    assert "revisit" in door_why(week.doors["105"], "", ENGLISH)
    for one in week.days:
        assert one.round.finish <= 20.0
    assert any(one.what == "time" for one in week.waits)


def test_a_long_treatment_is_not_crowded_out_by_many_short_doors():
    """An hour for a treatment is the time of five looks; it was found first and is owed before rings are."""
    rows = [find("101", 13), *(find(unit, 60) for unit in CODES[6:]), *(treatment(u, 40) for u in CODES[6:])]
    _, week, _ = planned(rows, crew=(Technician("T1", 70.0),))
    assert week.day_of("101") == in_days(2), "its first lawful day"
    assert any(one.what == "time" for one in week.waits) or len(week.waits) == 0


def test_the_houses_marks_and_working_days_are_kept():
    access = (
        AccessRule("101", days=("mon",)),
        AccessRule("102", do_not_enter=True),
        AccessRule("103", opens=600, closes=660, days=("fri",)),
    )
    _, week, _ = planned(access=access)
    assert week.day_of("101").weekday() == 0
    assert week.day_of("102") is None
    assert week.day_of("103").weekday() == 4
    assert [one.what for one in week.waits] == ["access"]
    some = (Technician("T1", 240.0, ("sat",)),)
    assert working_days(ON, some) == (in_days(3),)


def test_each_technician_has_their_own_hours_and_days():
    crew = (Technician("T1", 30.0, ("fri", "mon")), Technician("T2", 240.0, ("mon",)))
    _, week, _ = planned(crew=crew)
    assert [one.technicians for one in week.days] == [("T1",), ("T1", "T2")]
    for one in week.days:
        for code, path in zip(one.technicians, one.round.paths, strict=True):
            assert path.finish <= {"T1": 30.0, "T2": 240.0}[code]


def test_a_door_is_moved_by_hand_and_a_move_that_is_not_lawful_is_refused_with_its_reason():
    view, week, asked = planned([notice("104", 0, in_days(5)), row("103", 1, "no-access", "refused")])
    assert why_not(view, week, "101", in_days(5), asked) is None
    no = why_not(view, week, "101", in_days(1), asked)
    assert (no.kind, no.first) == ("notice", in_days(2))
    assert say(no, ENGLISH).endswith(f"has not run before {ENGLISH.day(in_days(2))}.")
    kinds = [
        why_not(view, week, unit, moved, asked).kind
        for unit, moved in (
            ("104", in_days(6)), ("103", in_days(5)), ("101", in_days(3)), ("101", day(1)), ("999", ON),
        )
    ]  # fmt: skip
    assert kinds == ["promised", "refused", "day", "past", "unit"]
    _, again, _ = planned(moved={"101": in_days(6), "102": in_days(1)})
    assert again.day_of("101") == in_days(6)
    assert again.moved == ("101",)
    assert again.day_of("102") == in_days(2), "a move that is not lawful counts for nothing"
    assert [(one.unit, one.kind) for one in again.let_go] == [("102", "notice")], "and is said"
    assert let_go_words(again, ENGLISH)[0].startswith(f"102 does not stay on {ENGLISH.day(in_days(1))}")


def test_a_moved_door_that_its_day_has_no_time_for_goes_on_to_the_next_and_that_is_said():
    crew = (Technician("T1", 30.0, ("fri", "mon")),)
    moved = dict.fromkeys(CODES[:5], in_days(2))
    _, week, _ = planned(crew=crew, moved=moved)
    late = set(moved) - set(week.moved)
    assert late, "half an hour has no five doors"
    assert {one.unit: one.kind for one in week.let_go} == dict.fromkeys(late, "full")
    assert {week.day_of(unit) for unit in week.moved} == {in_days(2)}
    assert {week.day_of(unit) for unit in late} <= {in_days(5), None}
    assert any(week.day_of(unit) for unit in late)


def test_a_treatment_takes_its_own_minutes_and_notice():
    _, week, _ = planned([find("101", 3, "moderate")])
    door = week.doors["101"]
    assert (door.minutes, door.purpose) == (120.0, "treatment")
    assert door.due == day(3) + dt.timedelta(days=14) or door.due < day(3) + dt.timedelta(days=14)


def test_the_assignment_is_the_best_there_is():
    """By enumeration: three doors, two days."""
    rng = np.random.default_rng(3)
    for _ in range(10):
        value = np.round(rng.uniform(0, 9, (3, 2)), 2) - 2.0 * (rng.random((3, 2)) < 0.2) * 10
        minutes, room = rng.uniform(3, 8, 3), np.array([10.0, 8.0])
        best = 0.0
        for a in range(-1, 2):
            for b in range(-1, 2):
                for c in range(-1, 2):
                    days = (a, b, c)
                    if any(d >= 0 and value[i, d] < 0 for i, d in enumerate(days)):
                        continue
                    used = [sum(minutes[i] for i in range(3) if days[i] == d) for d in range(2)]
                    if all(u <= r for u, r in zip(used, room, strict=True)):
                        best = max(best, sum(value[i, d] for i, d in enumerate(days) if d >= 0))
        chosen = assign(value, minutes, room)
        assert sum(value[i, d] for i, d in enumerate(chosen) if d >= 0) == pytest.approx(best, rel=GAP)
    assert list(assign(np.full((2, 2), -1.0), np.ones(2), np.ones(2))) == [-1, -1]


# -- the guarantee

UNITS = st.sampled_from(CODES)
AGO = st.integers(0, 30)
NAMED = st.none() | st.integers(-3, 8).map(in_days)
ROWS = st.lists(
    st.one_of(
        st.builds(notice, UNITS, AGO, NAMED),
        st.builds(report, UNITS, AGO),
        st.builds(find, UNITS, AGO),
        st.builds(treatment, UNITS, AGO),
        st.builds(clear, UNITS, AGO),
        st.builds(lambda u, a, m: row(u, a, "no-access", m), UNITS, AGO, st.sampled_from(["refused", ""])),
        st.builds(lambda u, a: row(u, a, "note", "contact"), UNITS, AGO),
        st.builds(lambda u, a: row(u, a, "turnover", "moved-out"), UNITS, AGO),
    ),
    max_size=20,
)
LEADS = st.sampled_from(
    [lead(24, "hours"), lead(48, "hours"), lead(3, "calendar days"), lead(2, "business days")]
)
TYPES = ("inspection", "monitor", "treatment", "no-access")


def has_run(rows, unit, when, asked):
    """Whether a row proves a notice that has run by a day and that no visit has used, told anew."""
    mine = [r for r in rows if r.unit == unit]
    for one in mine:
        named = one.job.day if one.job else None
        if said_by(one) != "entry-notice" or notice_before(when, asked.lead, lambda _: False) < one.when:
            continue
        if named not in (None, when):
            continue
        begun = named or first_entry(one.when, asked.lead, lambda _: False)
        if not any(r.kind in TYPES and r.when >= begun for r in mine):
            return True
    return False


@settings(max_examples=40, deadline=None)
@given(ROWS, LEADS, st.dictionaries(UNITS, st.integers(-1, 7).map(in_days), max_size=4))
def test_no_day_has_a_door_whose_notice_has_not_run(rows, asked, moved):
    """Today and on every day to come: proven by a row, or there is still time to give it."""
    rows = list({r.id: r for r in rows}.values())
    rules = replace(RULES, notices=(asked,), calendar=None)
    view, week, _ = planned(
        rows, rules=rules, moved=moved, crew=(Technician("T1", 60.0), Technician("T2", 90.0))
    )
    for one in week.days:
        for unit in one.round.units:
            if has_run(rows, unit, one.day, asked):
                continue
            assert notice_before(one.day, asked.lead, lambda _: False) >= ON, "given today it would have run"
            assert unit in {door.unit for door in week.to_announce(one.day)}, "and it is said"
            refused = [r.when for r in rows if r.unit == unit and r.method == "refused"]
            since = [
                r for r in rows
                if r.unit == unit and r.kind != "no-access" and refused and r.when >= max(refused)
            ]  # fmt: skip
            assert not refused or since, "nobody goes back after a refusal with nothing arranged"
    barred = {u: Barred(e.state, e.first) for u, e in entries_of(view, rules).items() if not e.lawful_on(ON)}
    asked_now = plan_asked_round(
        view, PLAN, DISTANCES, RoundSettings(barred=barred, kinds=("look", "treat", "revisit"), effort=3),
        open_looks(view, rules),
    )  # fmt: skip
    assert all(has_run(rows, unit, ON, asked) for unit in asked_now.units)
    assert {unit for unit, why in asked_now.left_out if isinstance(why, Barred)} == set(
        barred
    ) - view.tried_today


# -- the command


@pytest.mark.notices
def test_the_command_plans_writes_the_notices_of_a_day_and_records_them(tmp_path, run):
    folder = make_building(tmp_path / "maple", [find("105", 60), treatment("105", 40)])
    on = ["--on", str(ON)]
    code, out, _ = run("week", folder, *on, "--technicians", "2", "--hours", "2", "--json")
    data = json.loads(out)
    assert code == 0
    days = {one["day"]: [d["unit"] for t in one["technicians"] for d in t["doors"]] for one in data["days"]}
    friday = str(in_days(2))
    assert days[str(ON)] == []
    assert "105" in days[friday]
    code, out, _ = run("week", folder, *on, "--notices", friday, "--html", tmp_path / "n.html", "--given")
    assert code == 0
    assert f"Recorded as given: {len(CODES)}." in out
    text = (tmp_path / "n.html").read_text(encoding="utf-8")
    assert all(unit in text for unit in CODES)
    code, out, _ = run("week", folder, *on, "--notices", friday)
    assert out.startswith("No door of")
    code, out, _ = run("week", folder, *on)
    assert code == 0
    assert "notices to give" not in out
    code, _, err = run("week", folder, *on, "--given")
    assert code == 2
    assert "the day of the visits is missing" in err
    code, _, err = run("week", folder, *on, "--hours", "0")
    assert code == 2
    assert "expected more than 0" in err


def test_a_door_that_was_announced_for_a_day_without_room_is_said_with_that_day():
    rows = [notice(unit, 0, in_days(2)) for unit in CODES[:8]]
    _, week, _ = planned(rows, crew=(Technician("T1", 30.0),))
    told = [one for one in week.waits if one.door.unit in CODES[:8]]
    assert told, "half an hour has no eight doors"
    for one in told:
        assert ENGLISH.day(in_days(2)) in say(one, ENGLISH)
        assert "take the notice back" in say(one, ENGLISH)


@pytest.mark.parametrize("minutes", [40.0, 60.0, 90.0])
def test_whoever_was_told_the_planned_day_stays_on_it_when_the_week_is_planned_anew(minutes):
    """Walks are shorter than was reckoned: a day holds more doors than its hours seem to have room for."""
    crew, rows = (Technician("T1", minutes),), []
    _, week, _ = planned(crew=crew)
    for one in week.days:
        units = [door.unit for door in week.to_announce(one.day)]
        rows += [notice(unit, 0, one.day) for unit in units]
        _, again, _ = planned(rows, crew=crew)
        assert {again.day_of(unit) for unit in units} <= {one.day}
        assert not [unit for unit in units if again.day_of(unit) is None]
        week = again
    assert rows

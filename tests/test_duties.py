"""What rule sets ask for on a day, held against known deadlines, counted neighbours and numpy's calendar."""

import datetime as dt
import json
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from spread.contacts.graph import build_contacts
from spread.decisions.duties.deadlines import due_after, holidays_of, notice_before
from spread.decisions.duties.owed import duties, neighbours_of
from spread.errors import SettingsError
from spread.records.kinds import Record
from spread.records.log import Log
from spread.report.duties_text import duties_data, duties_text, group, neighbour_notice
from spread.trade.rule_set import Calendar, Span
from spread.trade.rules import ALWAYS_SAY, load_rules, rule_ids
from spread.words import ENGLISH, say
from tests.buildings import find, make_building, row
from tests.contact_plans import plan_of

MONDAY = dt.date(2026, 11, 2)
NINE = dt.datetime(2026, 11, 2, 9)
COLUMNS, FLOORS = 5, 4


@cache
def grid(columns: int = COLUMNS, floors: int = FLOORS):
    """Units in a row and stacked: unit ``23`` is on floor 2 in column 3, both from 1."""
    names = tuple(str(floor + 1) for floor in range(floors))
    units = {f"{f}{c + 1}": {f: box(7 * c, 0, 7 * c + 6.8, 8)} for f in names for c in range(columns)}
    return build_contacts(plan_of(units, floors=names))


def rec(id_, when, unit, kind="inspection", method="", found="", **more):
    method = method or {"inspection": "brief-visual", "treatment": "spray"}.get(kind, "")
    day = when if isinstance(when, dt.date) else MONDAY + dt.timedelta(days=when)
    return Record(id=id_, when=day, unit=unit, kind=kind, method=method, found=found, **more)


def owed(rows, rules="colorado", on=MONDAY, graph=None):
    chosen = load_rules(rules) if isinstance(rules, str) else rules
    return duties(Log(tuple(rows)), graph or grid(), chosen, on)


def only(found, **wanted):
    match = [d for d in found if all(getattr(d, key) == value for key, value in wanted.items())]
    assert len(match) == 1, match
    return match[0]


# ---- dates: facts page of the project, check value 21 ----------------------------------------


def span_of(rules, step, event="report"):
    return only(load_rules(rules).deadlines, step=step, of="source", event=event).within


@pytest.mark.parametrize(
    ("rules", "step", "holidays", "due"),
    [
        ("colorado", "inspect", "US-CO", dt.datetime(2026, 11, 6, 9)),  # C.R.S. 38-12-1003
        ("maine", "inspect", "", dt.date(2026, 11, 7)),  # 14 M.R.S. 6021-A
        ("philadelphia", "acknowledge", "US-PA", dt.date(2026, 11, 9)),  # Philadelphia Code 9-4802
        ("philadelphia", "inspect", "", dt.date(2026, 11, 16)),
        ("philadelphia", "inspect", "US-PA", dt.date(2026, 11, 17)),  # 11 November is a holiday there
    ],
)
def test_check_value_21_deadlines_from_monday_2_november_2026_at_nine(rules, step, holidays, due):
    calendar = Calendar(*holidays.split("-")) if holidays else None
    assert due_after(NINE, span_of(rules, step), holidays_of(calendar)) == due


@pytest.mark.parametrize(
    ("rules", "step", "due"),
    [
        ("colorado", "inspect", dt.date(2026, 11, 6)),
        ("maine", "inspect", dt.date(2026, 11, 7)),
        ("philadelphia", "acknowledge", dt.date(2026, 11, 9)),
        ("philadelphia", "inspect", dt.date(2026, 11, 17)),
    ],
)
def test_check_value_21_holds_for_a_report_in_the_log_which_has_no_hour(rules, step, due):
    duty = only(owed([rec("a", 0, "23", "report")], rules), step=step, of="source")
    assert (duty.due, duty.status, duty.because) == (due, "due", ("a",))


def test_hours_without_an_hour_are_whole_days_rounded_down():
    """Our own reading, the strictest that cannot be missed by the clock; no source."""
    spans = {12: 0, 24: 1, 36: 1, 48: 2, 95: 3, 96: 4}
    for hours, days in spans.items():
        assert due_after(MONDAY, Span(hours, "hours"), holidays_of(None)) == MONDAY + dt.timedelta(days=days)


@settings(max_examples=150, deadline=None)
@given(
    st.dates(dt.date(2024, 1, 1), dt.date(2028, 12, 31)),
    st.integers(1, 40),
    st.sampled_from(["", "PA", "CO", "CA", "CT", "IN"]),
)
def test_business_days_are_those_of_numpy(day, amount, subdivision):
    """Oracle: numpy.busday_offset, told the same holidays; a day off counts as the business day before."""
    is_holiday = holidays_of(Calendar("US", subdivision))
    days = [dt.date(2023, 11, 1) + dt.timedelta(days=k) for k in range(2100)]
    off = [one for one in days if is_holiday(one)]
    oracle = np.busday_offset(day, amount, roll="backward", holidays=off)
    assert due_after(day, Span(amount, "business days"), is_holiday) == oracle.astype(object)
    back = np.busday_offset(day, -amount, roll="forward", holidays=off)
    assert notice_before(day, Span(amount, "business days"), is_holiday) == back.astype(object)


def test_notice_of_entry_is_given_by_a_day_early_enough_whatever_the_hour():
    friday = dt.date(2026, 11, 6)
    none = holidays_of(None)
    assert notice_before(friday, Span(48, "hours"), none) == dt.date(2026, 11, 4)
    assert notice_before(friday, Span(30, "hours"), none) == dt.date(2026, 11, 4)
    assert notice_before(friday, Span(3, "calendar days"), none) == dt.date(2026, 11, 3)


OFF = (dt.date(2026, 11, 3), dt.date(2026, 11, 26))


def test_days_off_that_somebody_wrote_down_are_no_business_days():
    five = Span(5, "business days")
    plain, off = holidays_of(None), holidays_of(Calendar(days=OFF))
    assert due_after(MONDAY, five, plain) == dt.date(2026, 11, 9)
    assert due_after(MONDAY, five, off) == dt.date(2026, 11, 10), "Tuesday 3 November is skipped"
    assert notice_before(dt.date(2026, 11, 27), Span(2, "business days"), off) == dt.date(2026, 11, 24)
    assert due_after(MONDAY, Span(5, "calendar days"), off) == dt.date(2026, 11, 7), "other days count on"
    both = holidays_of(Calendar("US", "PA", OFF))
    assert both(dt.date(2026, 12, 25))
    assert both(OFF[0])


def test_days_off_of_a_building_put_its_duties_off_and_no_day_is_invented():
    rules = load_rules("philadelphia")
    assert rules.off_on(()) == rules
    closed = rules.off_on([dt.date(2026, 11, 3)])
    log = Log([Record("r1", MONDAY, "11", "report", found="yes")])
    due = {
        duty.deadline.key: (duty.due, later.due)
        for duty, later in zip(
            duties(log, grid(), rules, MONDAY), duties(log, grid(), closed, MONDAY), strict=True
        )
        if duty.deadline.within is not None and duty.deadline.within.counted_in == "business days"
    }
    assert due
    assert all(later > usual for usual, later in due.values())
    assert load_rules("philadelphia", None, OFF).calendar.days == OFF


def test_a_country_without_known_holidays_is_one_sentence():
    with pytest.raises(SettingsError, match="no holidays are known for country 'XX'"):
        holidays_of(Calendar("XX"))
    with pytest.raises(SettingsError, match="subdivision 'QQ'; use ISO codes"):
        holidays_of(Calendar("US", "QQ"))


# ---- neighbours: facts page of the project, check value 22 -----------------------------------


def test_check_value_22_four_neighbours_inside_three_at_the_edge_two_in_the_corner():
    around = load_rules("good-practice").neighbours
    for floor in range(1, FLOORS + 1):
        for column in range(1, COLUMNS + 1):
            edges = (floor in (1, FLOORS)) + (column in (1, COLUMNS))
            assert len(neighbours_of(grid(), f"{floor}{column}", around)) == 4 - edges


def test_check_value_22_philadelphia_asks_for_no_neighbours_in_fewer_than_four_units():
    report = [rec("a", 0, "11", "report")]
    small, enough = grid(3, 1), grid(4, 1)
    assert {d.of for d in owed(report, "philadelphia", graph=small)} == {"source"}
    assert [d.unit for d in owed(report, "philadelphia", graph=enough) if d.of == "neighbours"] == ["12"]


def test_a_rule_for_larger_buildings_asks_for_nothing_in_a_small_one():
    report = [rec("a", 0, "11", "report")]
    assert owed(report, "toronto", graph=grid(5, 2)) == ()
    assert owed(report, "toronto", graph=grid(3, 3)) == ()
    assert len(owed(report, "toronto", graph=grid(4, 3))) == 1


def test_contiguous_means_every_shared_wall_floor_or_ceiling_and_no_unit_that_only_lies_near():
    """Counted by hand: below A lie B and, by 1 m of its floor, C; D shares a wall; E stands apart."""
    units = {
        "B": {"1": box(0, 0, 5, 8)},
        "C": {"1": box(5.2, 0, 11, 8)},
        "A": {"2": box(0, 0, 6.2, 8)},
        "D": {"2": box(6.4, 0, 11, 8)},
        "E": {"2": box(20, 0, 26, 8)},
    }
    graph = build_contacts(plan_of(units, floors=("1", "2")))
    ring = neighbours_of(graph, "A", load_rules("colorado").neighbours)
    assert list(ring) == ["B", "C", "D"]
    assert [say(way, ENGLISH) for way in ring["B"]] == ["directly below A"]
    assert [say(way, ENGLISH) for way in ring["C"]] == ["partly below A"]


# ---- what is done, late or could not be done -------------------------------------------------


def test_a_look_on_or_after_the_report_is_the_proof_and_an_earlier_one_is_not():
    report = rec("a", 0, "23", "report")
    early = rec("b", -1, "23", found="no")
    after = rec("c", 4, "23", found="no")
    before = only(owed([report, early], on=MONDAY + dt.timedelta(days=5)), step="inspect", because=("a",))
    assert (before.status, before.late, before.proof) == ("overdue", True, "")
    done = only(
        owed([report, early, after], on=MONDAY + dt.timedelta(days=9)), step="inspect", because=("a",)
    )
    assert (done.status, done.late, done.proof) == ("done", False, "c")


def test_a_duty_is_due_until_the_end_of_its_day_and_overdue_the_day_after():
    report = rec("a", 0, "23", "report")
    days = {4: "due", 5: "overdue"}
    for later, status in days.items():
        assert only(owed([report], on=MONDAY + dt.timedelta(days=later)), step="inspect").status == status


def test_what_was_done_too_late_is_done_and_said_to_be_late():
    rows = [rec("a", 0, "23", "report"), rec("b", 7, "23", found="no")]
    duty = only(owed(rows, on=MONDAY + dt.timedelta(days=8)), step="inspect")
    assert (duty.status, duty.late, duty.proof) == ("done", True, "b")


def test_a_residents_word_proves_no_inspection():
    rows = [rec("a", 0, "23", "report"), rec("b", 1, "23", method="interview", found="no")]
    assert only(owed(rows, on=rows[1].when), step="inspect").status == "due"


@pytest.mark.parametrize(("rules", "status"), [("colorado", "done"), ("maine", "due")])
def test_a_dog_inspects_only_where_the_rule_says_so(rules, status):
    """Colorado counts certified dog teams (C.R.S. 38-12-1001 ff.); in Maine no such words were read."""
    rows = [rec("a", 0, "23", "report"), rec("b", 1, "23", method="dog", found="no")]
    assert only(owed(rows, rules, on=rows[1].when), step="inspect").status == status


def test_a_locked_door_is_owed_still_and_the_attempts_are_listed():
    rows = [
        rec("a", 0, "23", "report"),
        rec("b", 1, "23", "no-access", "nobody-home"),
        rec("c", 3, "23", "no-access", "refused"),
    ]
    duty = only(owed(rows, on=MONDAY + dt.timedelta(days=6)), step="inspect")
    assert (duty.status, duty.attempts, duty.late) == ("cannot", ("b", "c"), True)
    rows.append(rec("d", 6, "23", found="no"))
    assert only(owed(rows, on=MONDAY + dt.timedelta(days=6)), step="inspect").status == "done"


@pytest.mark.parametrize(
    ("rules", "step", "word", "event"),
    [
        ("philadelphia", "acknowledge", "ack", "report"),
        ("hud-public-housing", "contact", "contact", "report"),
        ("maine", "engage-agent", "agent", "yes"),
        ("colorado", "inspector-report", "written", "yes"),
        ("colorado", "result-notice", "result", "yes"),
    ],
)
def test_a_note_that_begins_with_the_word_proves_what_no_other_row_can(rules, step, word, event):
    started = rec("a", 0, "23", "report") if event == "report" else rec("a", 0, "23", found="yes")
    for note, status in {
        f"{word}: by letter": "done",
        f" {word.upper()} : x": "done",
        f"no {word}:": "due",
    }.items():
        rows = [started, rec("n", 1, "23", "note", note=note)]
        assert only(owed(rows, rules, on=rows[1].when), step=step).status == status


def test_notice_of_entry_is_asked_for_before_the_look_and_a_note_says_it_was_given():
    report = rec("a", 0, "23", "report")
    duty = only(owed([report]), step="inspect")
    assert duty.notice is not None
    assert (duty.notice.lead, duty.notice_by) == (Span(48, "hours"), dt.date(2026, 11, 4))
    given = only(owed([report, rec("n", 0, "23", "note", note="notice: on the door")]), step="inspect")
    assert given.notice_proof == "n"


def test_an_order_of_an_authority_starts_the_duties_of_new_york():
    rows = [rec("a", 0, "23", "note", note="order: violation 1, correct by 2 December")]
    found = owed(rows, "new-york-city")
    assert [d.unit for d in found] == ["13", "22", "23", "24", "33"]
    assert {(d.status, d.due) for d in found} == {("due", None)}
    assert owed([replace(rows[0], note="in order: fine")], "new-york-city") == ()


# ---- the set moves with the finds ------------------------------------------------------------


def test_a_neighbour_found_infested_moves_the_duties_to_the_units_around_it():
    rows = [rec("a", 0, "22", found="yes"), rec("b", 2, "23", found="yes")]
    found = [d for d in owed(rows, on=rows[1].when) if d.of == "neighbours"]
    open_ = {d.unit: d.because for d in found if d.status == "due"}
    # Around 22: 12, 21, 32 (23 was looked at). Around 23: 13, 22, 24, 33; 22 was last seen before.
    assert open_ == dict.fromkeys(("12", "21", "32"), ("a",)) | dict.fromkeys(
        ("13", "22", "24", "33"), ("b",)
    )
    assert only(found, status="done").proof == "b"


def test_finds_of_later_visits_belong_to_the_same_infestation():
    rows = [
        rec("a", 0, "22", found="yes"),
        rec("b", 1, "22", "treatment"),
        rec("c", 1, "12", found="no"),
        rec("d", 15, "22", found="yes"),
    ]
    found = owed(rows, on=rows[-1].when)
    assert only(found, unit="12", of="neighbours").status == "done"
    # Two clear looks a fortnight apart end it; a find after them starts the duties anew.
    rows += [rec("e", 30, "22", found="no"), rec("f", 44, "22", found="no"), rec("g", 60, "22", found="yes")]
    again = [d for d in owed(rows, on=rows[-1].when) if (d.unit, d.of) == ("12", "neighbours")]
    assert [(d.status, d.because) for d in again] == [("due", ("g",)), ("done", ("a",))]


def test_neighbours_are_due_with_the_first_treatment_in_good_practice():
    """NPMA Best Management Practices 13.2: include them in the service or inspection area."""
    rows = [rec("a", 0, "22", found="yes")]
    before = owed(rows, "good-practice", on=MONDAY)
    assert only(before, unit="12", of="neighbours").due is None
    rows.append(rec("b", 3, "22", "treatment"))
    after = only(owed(rows, "good-practice", on=MONDAY + dt.timedelta(days=4)), unit="12", of="neighbours")
    assert (after.due, after.status) == (dt.date(2026, 11, 5), "overdue")


@pytest.mark.parametrize(
    ("rules", "status", "proof"), [("good-practice", "done", "c"), ("colorado", "due", "")]
)
def test_a_neighbour_taken_into_the_service_needs_no_look_only_where_the_rule_says_so(rules, status, proof):
    """NPMA Best Management Practices 13.2 leaves the choice; Colorado's law asks for the inspection."""
    rows = [rec("a", 0, "22", found="yes"), rec("b", 3, "22", "treatment"), rec("c", 2, "12", "treatment")]
    found = owed(rows, rules, on=MONDAY + dt.timedelta(days=4))
    duty = only(found, unit="12", of="neighbours", step="inspect")
    assert (duty.status, duty.proof) == (status, proof)


def test_several_events_that_ask_the_same_are_one_duty_with_the_earliest_date():
    rows = [rec("a", 0, "23", "report"), rec("b", 2, "23", "report")]
    duty = only(owed(rows, "maine", on=rows[1].when), step="inspect")
    assert (duty.due, duty.because) == (dt.date(2026, 11, 7), ("a", "b"))


def test_a_withdrawn_or_corrected_record_takes_its_duties_with_it():
    report = rec("a", 0, "23", "report")
    gone = rec("b", 0, "23", "note", note="typed twice", supersedes="a")
    assert owed([report], "maine")
    assert owed([report, gone], "maine") == ()
    elsewhere = rec("c", 0, "11", "report", supersedes="a")
    assert {d.unit for d in owed([report, elsewhere], "maine")} == {"11"}


def test_a_report_that_nothing_was_seen_starts_nothing_nor_does_one_of_tomorrow_or_of_long_ago():
    assert owed([rec("a", 0, "23", "report", found="no")], "maine") == ()
    assert owed([rec("a", 1, "23", "report")], "maine") == ()
    assert owed([rec("a", -183, "23", "report")], "maine") == ()
    assert len(owed([rec("a", -182, "23", "report")], "maine")) == 1


# ---- properties ------------------------------------------------------------------------------

UNITS = tuple(grid().nodes)[:6]


@st.composite
def logs(draw):
    rows = []
    for number in range(draw(st.integers(0, 14))):
        kind = draw(st.sampled_from(["report", "inspection", "monitor", "treatment", "no-access", "note"]))
        method = {
            "inspection": st.sampled_from(["brief-visual", "dog", "interview"]),
            "monitor": st.just("interceptors"),
            "treatment": st.just("spray"),
        }.get(kind, st.just(""))  # fmt: skip
        looked = kind in ("inspection", "monitor")
        note = draw(st.sampled_from(["", "ack: x", "result: x", "written: x"])) if kind == "note" else ""
        found = draw(st.sampled_from(["yes", "no", "unsure"])) if looked else ""
        when, unit = draw(st.integers(-220, 3)), draw(st.sampled_from(UNITS))
        rows.append(rec(f"r{number}", when, unit, kind, draw(method), found, note=note))
    return rows


@settings(max_examples=60, deadline=None)
@given(logs(), st.randoms(use_true_random=False), st.sampled_from(rule_ids()))
def test_the_order_of_the_rows_changes_nothing(rows, random, rules):
    mixed = list(rows)
    random.shuffle(mixed)
    assert owed(rows, rules) == owed(mixed, rules)


@settings(max_examples=60, deadline=None)
@given(logs(), st.sampled_from(rule_ids()))
def test_a_proven_duty_is_done_and_never_overdue_and_every_open_one_lacks_a_proof(rows, rules):
    by_id = {row.id: row for row in rows}
    for duty in owed(rows, rules):
        assert (duty.status == "done") == bool(duty.proof)
        assert duty.status != "overdue" or (duty.due is not None and duty.due < MONDAY and not duty.attempts)
        assert (duty.status == "cannot") <= bool(duty.attempts)
        assert all(by_id[id_].when <= MONDAY for id_ in duty.because)
        if duty.proof:
            proof = by_id[duty.proof]
            assert proof.unit == duty.unit
            assert proof.when >= max(by_id[id_].when for id_ in duty.because)


@settings(max_examples=40, deadline=None)
@given(logs(), st.sampled_from(UNITS), st.sampled_from(rule_ids()))
def test_a_look_today_in_every_unit_leaves_no_inspection_open(rows, unit, rules):
    looked = [*rows, *(rec(f"z{one}", 0, one, found="no") for one in grid().nodes)]
    assert not [d for d in owed(looked, rules) if d.step == "inspect" and d.status != "done"]


# ---- what is printed -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def building(tmp_path_factory):
    from spread.building import load_building

    rows = [
        row("103", 8, "report", id="call"),
        find("103", 7, id="look"),
        row("203", 3, "no-access", "nobody-home", id="shut"),
        row("101", 2, "inspection", "brief-visual", "no", id="beside"),
    ]
    return load_building(make_building(tmp_path_factory.mktemp("b") / "maple", rows))


ON = dt.date(2024, 5, 15)


@pytest.mark.parametrize("name", rule_ids())
def test_every_list_ends_with_the_local_code_and_fits_the_page(building, name):
    text = duties_text(building, load_rules(name), ON)
    assert " ".join(text.split()).endswith(ALWAYS_SAY)
    assert max(map(len, text.splitlines())) <= 100
    data = json.loads(json.dumps(duties_data(building, load_rules(name), ON)))
    assert data["always_say"] == ALWAYS_SAY
    assert len(data["duties"]) == len(duties(building.log, building.contacts, load_rules(name), ON))


def test_the_list_says_what_by_when_because_of_which_row_and_from_which_source(building):
    text = " ".join(duties_text(building, load_rules("colorado"), ON).split())
    assert "by Fri 10 May 2024, 5 days late. Because: inspection of 103 on Wed 8 May 2024 (row look)." in text
    assert "Done (" in text
    assert "tried once without access (row shut)" in text
    assert "C.R.S. 38-12-1003: counted from the inspection" in text
    assert "A row of kind note with the method result-notice proves it." in text
    assert re.search(r"'spread notices BUILDING --unit \d+ --kind entry --when DAY -o OUT' writes it", text)


def test_what_is_due_falls_into_this_week_later_or_no_date():
    rows = [rec("a", 0, "23", "report")]
    groups = group(owed(rows, "philadelphia"), MONDAY)
    assert [d.step for d in groups["later"]] == ["acknowledge", "inspect"]
    assert {d.of for d in groups["undated"]} == {"neighbours"}
    soon = group(owed(rows, "philadelphia", on=MONDAY + dt.timedelta(days=1)), MONDAY + dt.timedelta(days=1))
    assert [d.step for d in soon["week"]] == ["acknowledge"]


@pytest.mark.parametrize("name", rule_ids())
def test_a_neighbours_notice_names_no_unit_and_nobody_who_reported(name):
    words = neighbour_notice(load_rules(name))
    assert not re.search(r"\b\d{2,4}[A-Z]?\b", re.sub(r"\d+ (hours|calendar days|business days)", "", words))
    assert "report" not in words
    assert "complain" not in words


def test_rules_that_do_not_apply_say_so(tmp_path):
    from spread.building import load_building

    small = load_building(make_building(tmp_path / "small", [], codes=("101", "102", "201")))
    said = " ".join(duties_text(small, load_rules("toronto"), ON).split())
    assert "for buildings of 10 units and 3 storeys or more" in said
    assert "fewer than 4 units" in duties_text(small, load_rules("philadelphia"), ON)
    assert "Nothing is due" in duties_text(small, load_rules("maine"), ON)
    assert "names nothing that is due" in duties_text(small, load_rules("arizona"), ON)

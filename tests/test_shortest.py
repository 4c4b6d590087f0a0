"""The shortest way to clear: its events, fed to the clearance rule, meet it; nothing sooner or less does."""

import datetime as dt
from itertools import combinations, pairwise

import pytest
from buildings import ON, day, find, report, row, treatment
from hypothesis import given, settings
from hypothesis import strategies as st
from test_followup import BED, INTACT, RULES, clear, cleared_rows, period, told
from test_never_later import HISTORY

from spread.decisions.case.clearance import count_of
from spread.decisions.case.shortest import LOOK, READ, SET_TRAPS, TREAT, way_by_records
from spread.decisions.week.entry import Entry
from spread.records.kinds import Finding, Record
from spread.trade.clearance import ClearanceRule
from spread.trade.development import visit_days
from spread.trade.registry import TREATMENTS
from spread.words import ENGLISH, say
from spread.words.shortest import needed, short

RULE = ClearanceRule()
SHORT_RULE = ClearanceRule(periods=2, heavy_periods=2, period_days=7)
TRAPS = (Finding("interceptors", place="bed 1"),)


def way(rows, rule=RULE, entry=None, on=ON):
    return way_by_records(rows, "101", on, rule, entry)


def answers(one, rows, rule):
    """The rows that the visits of a way would leave, written by hand: all clean, all places seen."""
    traps_kept = any(r.method == "traps-set" for r in rows)
    there = [one for r in rows for one in r.items if one.item != "interceptors"]
    places = {one.place for one in there}
    seen = [(one.item, one.place) for one in there if one.item != "encasement"]
    items = tuple(
        Finding(item, place=place)
        for item, place in dict.fromkeys(
            [
                *seen,
                *(
                    (item, place)
                    for place in places | {""}
                    for item in ("mattress", "box-spring", "bed-frame")
                ),
            ]
        )
    )
    covers = tuple(Finding("encasement", state="intact", place=place) for place in sorted(places | {""}))
    made, last = [], one.traps_since
    for number, visit in enumerate(one.visits):
        if TREAT in visit.acts:
            made.append(Record(f"t{number}", visit.day, "101", "treatment", next(iter(TREATMENTS))))
        if SET_TRAPS in visit.acts and traps_kept:
            made.append(Record(f"s{number}", visit.day, "101", "note", "traps-set", items=TRAPS))
        if READ in visit.acts:
            days = (visit.day - last).days
            made.append(Record(f"m{number}", visit.day, "101", "monitor", rule.monitors[0], "no", days=days))
            last = visit.day
        if LOOK in visit.acts:
            first = not any(r.kind == "inspection" for r in made)
            seen_now = (*items, *covers) if one.covers and first else items
            made.append(
                Record(f"v{number}", visit.day, "101", "inspection", "brief-visual", "no", items=seen_now)
            )
    return made


CASES = {
    "treated": [find("101", 20), treatment("101", 14)],
    "found": [
        find("101", 20, evidence="live", items=(Finding("headboard", frozenset({"live"}), place="bed 1"),))
    ],
    "traps stand": [find("101", 9), treatment("101", 8), row("101", 8, "note", "traps-set", items=TRAPS)],
    "one period": [find("101", 40), treatment("101", 30), period(8, days=7), clear("101", 8, items=INTACT)],
    "reported since": [*cleared_rows(end=60), report("101", 3)],
    "two looks": [find("101", 60), treatment("101", 50), clear("101", 30), clear("101", 10, items=INTACT)],
}


@pytest.mark.parametrize("rows", CASES.values(), ids=CASES)
def test_no_smaller_set_of_clean_answers_and_none_that_ends_sooner_meets_the_rule(rows):
    """Every set of readings and looks on the days up to the earliest one, by plain trying."""
    one = way(rows, SHORT_RULE)
    made = answers(one, rows, SHORT_RULE)
    assert count_of([*rows, *made], one.earliest, SHORT_RULE).met_on == one.earliest
    reads, looks = one.times(READ), one.times(LOOK)
    fixed = [r for r in made if r.kind in ("treatment", "note")]
    days = [ON + dt.timedelta(days=n) for n in range((one.earliest - ON).days + 1)]
    full = next(r.items for r in made if r.kind == "inspection")
    bare = tuple(one for one in full if one.item != "encasement")

    def read(ends):
        return [
            Record(f"m{end}", end, "101", "monitor", "interceptors", "no", days=(end - start).days)
            for start, end in pairwise([one.traps_since, *ends])
        ]

    def looked(on):
        return [
            Record(f"v{d}", d, "101", "inspection", "brief-visual", "no", items=full if d == on[0] else bare)
            for d in on
        ]

    def met(ends, seen):
        rows_then = [*rows, *fixed, *read(ends), *looked(seen)]
        return count_of(rows_then, one.earliest, SHORT_RULE).met_on is not None

    every = looked(days)
    sooner = [d for d in days if d < one.earliest]
    for ends in (e for n in range(reads + 1) for e in combinations(sooner, n)):
        told = count_of([*rows, *fixed, *read(ends), *every[:-1]], one.earliest, SHORT_RULE)
        assert told.met_on is None, "nothing that ends sooner, with a look on every day"
    for ends in (e for n in range(reads) for e in combinations(days, n)):
        assert count_of([*rows, *fixed, *read(ends), *every], one.earliest, SHORT_RULE).met_on is None
    path = [visit.day for visit in one.visits if READ in visit.acts]
    for seen in (s for n in range(looks) for s in combinations(days, n)):
        assert not met(path, seen), "fewer looks"


@settings(max_examples=60, deadline=None)
@given(HISTORY, st.one_of(st.just(RULE), st.just(SHORT_RULE), RULES))
def test_its_events_meet_the_rule_on_its_day_and_not_before(rows, rule):
    before = count_of(rows, ON, rule)
    one = way(rows, rule)
    if before is None or before.met_on is not None:
        assert one.visits == ()
        return
    if one.stopped == "cool":
        assert visit_days(rule.room_celsius).hatched is False
        return
    made = answers(one, rows, rule)
    assert one.earliest is not None
    assert one.earliest > before.since
    assert one.visits[-1].day == one.earliest
    after = count_of([*rows, *made], one.earliest, rule)
    assert after.lacks == (), "the rule itself says that nothing is lacking"
    assert after.met_on == one.earliest
    day_before = count_of([*rows, *made], one.earliest - dt.timedelta(days=1), rule)
    assert day_before.met_on is None
    for gone in made:  # nothing is asked for that the rule does without
        less = [r for r in made if r is not gone]
        if gone.kind != "note":
            assert count_of([*rows, *less], one.earliest, rule).met_on is None


def test_what_is_said_of_two_readings_and_one_look():
    rows = [find("101", 30), treatment("101", 28), period(13), clear("101", 13, items=INTACT)]
    one = way(rows)
    assert one.earliest == day(-13)
    assert needed(one, ENGLISH) == "two trap readings and one look"
    assert short(one, ENGLISH) == f"Two trap readings and one look: {ENGLISH.day(day(-13))} at the earliest."
    assert "nothing is clear before" in say(one, ENGLISH)
    assert [visit.acts for visit in one.visits] == [(READ,), (READ, LOOK)]


def test_traps_that_nobody_set_are_set_first_and_a_find_is_treated_first():
    one = way([find("101", 3)])
    assert one.visits[0].acts[:2] == (TREAT, SET_TRAPS)
    assert one.visits[0].day == ON
    assert one.earliest == day(-39)
    assert needed(one, ENGLISH).startswith("one treatment, traps set, three trap readings and two looks")


def test_no_day_stands_before_a_notice_has_run_and_a_refusal_is_said():
    again = day(-3)
    needs = Entry("101", "needed", None, again, None, again, why="never")
    rows = [find("101", 20), treatment("101", 14)]
    assert way(rows, entry=needs).visits[0].day == again
    refused = Entry("101", "refused", None, again, None, again, refused=day(2))
    assert "arrange it first" in say(way(rows, entry=refused), ENGLISH)


def test_cool_rooms_have_no_day():
    rule = ClearanceRule(room_celsius=15.0)
    one = way([find("101", 60), treatment("101", 50)], rule)
    assert (one.earliest, one.visits, one.stopped) == (None, (), "cool")
    assert "No day can be named" in say(one, ENGLISH)


def test_where_the_records_have_all_the_chance_alone_is_lacking():
    one = way(cleared_rows())
    assert (one.visits, one.earliest) == ((), None)
    said = told(cleared_rows(), chance=0.4)
    assert said.state != "cleared"
    assert len(BED) == 3

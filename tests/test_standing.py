"""Where a unit stands by its records.

The rules are the trade's: an alert is a suspicion until it is confirmed by eye (NYC HPD confirms a
dog's alert before it counts), and trials look again every 14 days (doi 10.3390/insects8030076).
"""

import datetime as dt

import pytest
from buildings import ON, clear, find, report, row, treatment
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.decisions.standing import DAYS_BETWEEN, Standing, is_find, standing_of
from spread.records.log import Log


def status(*rows, on=ON):
    return standing_of(rows, on).status


def test_a_unit_without_records_is_a_door_to_look_at():
    standing = standing_of((), ON)
    assert standing.status == "look"
    assert standing.last_look is None
    assert (standing.clear_since, standing.shut, standing.vacant, standing.moved_in) == (0, 0, False, None)


def test_a_find_asks_for_treatment_and_a_treatment_for_visits():
    assert status(find("101", 20)) == "treat"
    assert status(find("101", 20), treatment("101", 15)) == "revisit"
    assert status(find("101", 20), treatment("101", 20)) == "revisit", "treated on the day of the find"


def test_a_find_after_the_treatment_asks_for_treatment_again():
    assert status(find("101", 40), treatment("101", 35), find("101", 10)) == "treat"


def test_a_treatment_without_a_find_is_followed_up_too():
    assert status(treatment("101", 10)) == "revisit"


def test_two_clear_looks_a_fortnight_apart_put_a_unit_back_to_look():
    rows = [find("101", 60), treatment("101", 58), clear("101", 40)]
    assert standing_of(rows, ON).clear_since == 1
    assert status(*rows) == "revisit"
    assert status(*rows, clear("101", 26)) == "look"


def test_two_clear_looks_close_together_count_as_one():
    rows = [find("101", 60), treatment("101", 58), clear("101", 40)]
    late = 40 - DAYS_BETWEEN
    assert status(*rows, clear("101", late + 1)) == "revisit"
    assert status(*rows, clear("101", late)) == "look"


def test_clear_looks_close_together_do_not_stand_in_the_way_of_a_later_one():
    rows = [treatment("101", 58), clear("101", 40), clear("101", 35), clear("101", 26)]
    assert status(*rows) == "look", "the look of 26 days ago is a fortnight after that of 40 days ago"


def test_clear_looks_before_the_last_treatment_do_not_count():
    rows = [find("101", 90), treatment("101", 85), clear("101", 60), treatment("101", 50), clear("101", 30)]
    assert standing_of(rows, ON).clear_since == 1
    assert status(*rows) == "revisit"


def test_a_clear_look_on_the_day_of_the_treatment_does_not_count():
    rows = [find("101", 45), clear("101", 40), treatment("101", 40), clear("101", 26)]
    assert standing_of(rows, ON).clear_since == 1


@pytest.mark.parametrize("method", ["dog", "interview"])
def test_a_dogs_or_a_residents_no_never_puts_a_unit_back_to_look(method):
    rows = [find("101", 90), treatment("101", 85)]
    assert status(*rows, *(clear("101", ago, method) for ago in (70, 50, 30, 10))) == "revisit"


def test_vacancy_and_a_new_household_never_put_a_unit_back_to_look():
    rows = [find("101", 90), treatment("101", 85)]
    empty = row("101", 60, "turnover", "moved-out")
    standing = standing_of([*rows, empty], ON)
    assert (standing.status, standing.vacant) == ("revisit", True)
    standing = standing_of([*rows, empty, row("101", 30, "turnover", "moved-in")], ON)
    assert (standing.status, standing.vacant) == ("revisit", False)
    assert standing.moved_in == ON - dt.timedelta(days=30)
    assert status(find("101", 90), empty) == "treat"


def test_an_unsure_look_a_note_and_a_shut_door_change_no_standing():
    rows = [find("101", 90), treatment("101", 85), clear("101", 60)]
    others = [row("101", 40, found="unsure"), row("101", 30, "note", note="x"), row("101", 20, "no-access")]
    assert status(*rows, *others) == "revisit"


@pytest.mark.parametrize("evidence", ["", "alert", "alert+bites", "stains", "skins+alert", "dead"])
def test_a_dogs_alert_never_makes_a_unit_known_infested(evidence):
    alert = row("101", 5, method="dog", found="yes", evidence=evidence)
    standing = standing_of([alert], ON)
    assert (standing.status, standing.last_find, standing.last_alert) == ("look", None, alert)


def test_a_dogs_alert_with_bugs_seen_at_that_visit_is_a_find():
    assert status(row("101", 5, method="dog", found="yes", evidence="alert+live")) == "treat"


@pytest.mark.parametrize("evidence", ["", "live", "bites", "live+eggs"])
def test_what_a_resident_says_is_never_a_find(evidence):
    said = row("101", 5, method="interview", found="yes", evidence=evidence)
    assert not is_find(said)
    assert status(said) == "look"


@pytest.mark.parametrize("evidence", ["dead", "bites", "alert", "dead+bites"])
def test_signs_that_confirm_nothing_are_an_alert_and_no_find(evidence):
    standing = standing_of([row("101", 5, found="yes", evidence=evidence)], ON)
    assert standing.status == "look"
    assert standing.last_alert is not None


@pytest.mark.parametrize("evidence", ["", "live", "eggs", "skins", "stains", "dead+stains"])
def test_signs_of_bugs_seen_by_eye_are_a_find(evidence):
    assert status(row("101", 5, found="yes", evidence=evidence)) == "treat"


def test_a_catch_in_a_monitor_is_a_find_and_an_empty_monitor_a_clear_look():
    caught = row("101", 60, "monitor", "interceptors", "yes", days=14)
    empty = [row("101", ago, "monitor", "interceptors", "no", days=14) for ago in (40, 26)]
    assert status(caught) == "treat"
    assert status(caught, treatment("101", 58), *empty) == "look"


def test_a_trap_set_before_the_treatment_is_no_clear_look_and_one_set_that_day_is():
    """A period that ended ten days after the treatment and began four days before it watched other bugs."""
    rows = [find("101", 70), treatment("101", 60)]

    def trap(ago, days):
        return row("101", ago, "monitor", "interceptors", "no", days=days)

    assert standing_of([*rows, trap(50, 14)], ON).clear_since == 0, "set 64 days ago"
    assert standing_of([*rows, trap(50, 11)], ON).clear_since == 0, "set the day before the treatment"
    assert standing_of([*rows, trap(50, 10)], ON).clear_since == 1, "set on the day of the treatment"
    assert status(*rows, trap(50, 14), clear("101", 36)) == "revisit", "one clear look, not two"


def test_reports_make_nothing_known_and_one_that_saw_nothing_is_no_complaint():
    assert status(report("101", 3)) == "look"
    assert report("101", 3, found="unsure").is_complaint
    nothing = report("101", 3, found="no")
    assert not nothing.is_complaint
    assert standing_of([nothing], ON).last_report is None


def test_shut_doors_are_counted_since_the_last_look():
    shut = [row("101", ago, "no-access", "nobody-home") for ago in (30, 12, 5)]
    assert standing_of(shut, ON).shut == 3
    assert standing_of([*shut, clear("101", 20)], ON).shut == 2
    assert standing_of([*shut, clear("101", 5)], ON).shut == 0, "they got in later that day"


def test_moving_out_and_in_on_one_day_leaves_nobody_out():
    standing = standing_of([row("101", 9, "turnover")], ON)
    assert (standing.vacant, standing.moved_in) == (False, ON - dt.timedelta(days=9))


def test_records_after_the_day_are_left_out():
    rows = [find("101", -3), report("101", -1), row("101", 2, "no-access")]
    standing = standing_of(rows, ON)
    assert (standing.status, standing.last_find, standing.last_report) == ("look", None, None)
    assert standing.shut == 1
    assert status(*rows, on=ON + dt.timedelta(days=3)) == "treat"


def test_a_corrected_or_withdrawn_find_is_no_find():
    wrong = find("101", 20, id="a1")
    corrected = Log((wrong, clear("101", 20, id="a2", supersedes="a1")))
    assert status(*corrected.of("101")) == "look"
    withdrawn = Log((wrong, row("101", 1, "note", id="a2", note="wrong door", supersedes="a1")))
    assert status(*withdrawn.of("101")) == "look"
    moved = Log((wrong, find("102", 20, id="a2", supersedes="a1")))
    assert (status(*moved.of("101")), status(*moved.of("102"))) == ("look", "treat")


KINDS = st.one_of(
    st.builds(lambda ago, m: ("inspection", ago, m, "yes"), st.integers(0, 90), st.sampled_from(["dog", ""])),
    st.builds(lambda ago, m: ("inspection", ago, m, "no"), st.integers(0, 90), st.sampled_from(["dog", ""])),
    st.builds(lambda ago: ("treatment", ago, "combined", ""), st.integers(0, 90)),
    st.builds(
        lambda ago, m: ("turnover", ago, m, ""), st.integers(0, 90), st.sampled_from(["moved-out", ""])
    ),
    st.builds(lambda ago: ("no-access", ago, "", ""), st.integers(0, 90)),
    st.builds(lambda ago: ("report", ago, "", ""), st.integers(0, 90)),
)


def made(drawn):
    return [row("101", ago, kind, m, found, id=f"r{k:03d}") for k, (kind, ago, m, found) in enumerate(drawn)]


@settings(max_examples=80, deadline=None)
@given(st.lists(KINDS, max_size=9), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_changes_nothing(drawn, random):
    rows = made(drawn)
    mixed = rows.copy()
    random.shuffle(mixed)
    assert standing_of(mixed, ON) == standing_of(rows, ON)


@settings(max_examples=80, deadline=None)
@given(st.lists(KINDS, max_size=9), st.integers(0, 60))
def test_a_dogs_word_never_changes_a_status(drawn, ago):
    rows = made(drawn)
    for found in ("yes", "no", "unsure"):
        assert status(*rows, row("101", ago, method="dog", found=found, id="dog")) == status(*rows)


@settings(max_examples=80, deadline=None)
@given(st.lists(KINDS, max_size=9))
def test_a_known_unit_goes_back_to_look_only_by_two_clear_looks(drawn):
    rows = made(drawn)
    standing = standing_of(rows, ON)
    known = any(is_find(r) or r.kind == "treatment" for r in rows)
    if known and standing.status == "look":
        marks = [r.when for r in rows if is_find(r) or r.kind == "treatment"]
        looks = sorted(
            r.when
            for r in rows
            if r.kind == "inspection" and r.method != "dog" and r.found == "no" and r.when > max(marks)
        )
        assert (looks[-1] - looks[0]).days >= DAYS_BETWEEN


def test_a_residents_report_of_nothing_is_no_clear_look_however_often_it_is_made():
    rows = [find("101", 90), treatment("101", 85)]
    nothing = [report("101", ago, found="no") for ago in (60, 40, 20)]
    assert standing_of([*rows, *nothing], ON).clear_since == 0
    assert status(*rows, *nothing) == "revisit"


@pytest.mark.parametrize("evidence", ["", "live", "live+eggs"])
def test_a_residents_report_of_bugs_is_a_report_and_no_find(evidence):
    said = report("101", 3, found="yes", evidence=evidence)
    assert not is_find(said)
    standing = standing_of([said], ON)
    assert (standing.status, standing.last_find, standing.last_report) == ("look", None, said)


def test_twelve_days_between_two_clear_looks_are_too_few_and_thirteen_are_enough():
    rows = [find("101", 60), treatment("101", 58), clear("101", 40)]
    assert standing_of([*rows, clear("101", 28)], ON).clear_since == 1
    assert standing_of([*rows, clear("101", 27)], ON).clear_since == 2


def test_a_standing_says_nothing_that_it_was_not_told():
    assert (Standing("look").clear_since, Standing("look").shut, Standing("look").vacant) == (0, 0, False)

"""From rows of the log to what the sampler reads: what counts, when, and what says nothing."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from posterior_buildings import ON, SMALL, row

from spread.posterior.dynamics import LEVELS, central_dynamics
from spread.posterior.looks import GRADE_OF_NOTHING, look_likelihood
from spread.posterior.observations import REPORT_HOLD_WEEKS, build_evidence, report_likelihood
from spread.records.kinds import EVIDENCE, FOUND, LOOKS, MONITORS, Finding
from spread.records.kinds import LEVELS as GRADES
from spread.trade import detection
from spread.trade.registry import TREATMENTS
from spread.trade.treatment import effect_matrix
from spread.weeks import week_of

CENTRAL = central_dynamics()
SILENCE = 1 - detection.report_chance()
EMPTY_SILENCE = 1 - detection.vacant_report_chance()


def gather(*rows, units="AB", on=ON, weeks=20, dynamics=CENTRAL):
    return build_evidence(rows, tuple(units), dynamics, on=on, weeks=weeks)


def silent_weeks(evidence, unit=0):
    return np.flatnonzero((evidence.likelihood[unit] == SILENCE).all(axis=1))


def test_an_empty_log_says_nothing():
    evidence = gather()
    assert np.all(evidence.likelihood == 1.0)
    assert np.all(evidence.treated == -1)
    assert not evidence.vacant.any()
    assert np.all(evidence.introduction == CENTRAL.brought_in)


def test_silence_counts_from_the_first_record_to_the_last_finished_week():
    """A note in B starts the log; A is silent from that week on, and the running week is not over."""
    evidence = gather(row(10, "B", "note"))
    np.testing.assert_array_equal(silent_weeks(evidence), np.arange(9, 19))
    np.testing.assert_array_equal(evidence.likelihood[0, :9], 1.0)
    np.testing.assert_array_equal(evidence.likelihood[0, 19], 1.0)


def test_a_log_older_than_the_window_makes_every_finished_week_count():
    np.testing.assert_array_equal(silent_weeks(gather(row(60, "B", "note"))), np.arange(19))


@pytest.mark.parametrize(
    "doing",
    [("report",), ("treatment", "spray"), ("inspection", "dog", "yes"), ("monitor", "interceptors", "yes")],
)
def test_a_unit_in_hand_is_not_silent_for_eight_weeks(doing):
    assert REPORT_HOLD_WEEKS == 8
    evidence = gather(row(15, "B", "note"), row(12, "A", *doing))
    np.testing.assert_array_equal(silent_weeks(evidence), [4, 5, 6, 15, 16, 17, 18])
    np.testing.assert_array_equal(silent_weeks(evidence, 1), np.arange(4, 19))


def test_a_hold_reaches_into_the_window_from_before_it():
    evidence = gather(row(23, "A", "report"))
    np.testing.assert_array_equal(silent_weeks(evidence), np.arange(4, 19))


@pytest.mark.parametrize(
    "doing",
    [("inspection", "dog", "no"), ("inspection", "dog", "unsure"), ("no-access", "refused"), ("note",)],
)
def test_what_leaves_a_unit_to_itself_leaves_its_silence(doing):
    rows = (row(15, "B", "note"), row(12, "A", *doing))
    look = (
        np.ones(LEVELS)
        if doing[0] in ("no-access", "note")
        else look_likelihood(rows[1], treated_before=False)
    )
    evidence = gather(*rows)
    np.testing.assert_allclose(evidence.likelihood[0, 7], SILENCE * look, rtol=1e-15)
    assert len(silent_weeks(evidence)) >= 14


def test_nobody_is_silent_in_an_empty_unit_as_a_resident_is():
    evidence = gather(
        row(15, "B", "note"), row(10, "A", "turnover", "moved-out"), row(5, "A", "turnover", "moved-in")
    )
    np.testing.assert_array_equal(evidence.vacant[0], np.isin(np.arange(20), np.arange(9, 14)))
    np.testing.assert_array_equal(evidence.likelihood[0, 9:14], np.broadcast_to(EMPTY_SILENCE, (5, LEVELS)))
    np.testing.assert_array_equal(silent_weeks(evidence), [4, 5, 6, 7, 8, 14, 15, 16, 17, 18])
    # 1 is silence that tells trace from clear hardly at all.
    assert EMPTY_SILENCE[1] > 0.9998


def test_an_empty_unit_takes_less_sheds_more_for_a_while_and_a_move_in_brings():
    rows = (
        row(15, "A", "turnover", "moved-out"),
        row(4, "A", "turnover", "moved-in"),
        row(2, "B", "turnover"),
    )
    evidence = gather(*rows)
    empty = np.isin(np.arange(20), np.arange(4, 15))
    np.testing.assert_array_equal(evidence.openness[0], np.where(empty, CENTRAL.vacant_target, 1.0))
    wandering = np.isin(np.arange(20), np.arange(4, 12))
    np.testing.assert_array_equal(evidence.export[0], np.where(wandering, CENTRAL.vacant_source, 1.0))
    pulse = CENTRAL.brought_in + CENTRAL.move_in
    np.testing.assert_array_equal(np.flatnonzero(evidence.introduction[0] == pulse), [15])
    np.testing.assert_array_equal(np.flatnonzero(evidence.introduction[1] == pulse), [17])
    assert not evidence.vacant[1].any()


def test_a_unit_vacated_before_the_window_stands_empty_from_its_start():
    evidence = gather(row(30, "A", "turnover", "moved-out"))
    assert evidence.vacant[0].all()
    assert np.all(evidence.export[0] == 1.0)


@pytest.mark.parametrize("flip", [False, True])
def test_out_and_in_on_one_day_leaves_somebody_living_there(flip):
    rows = [row(5, "A", "turnover", "moved-out"), row(5, "A", "turnover", "moved-in")]
    evidence = gather(*rows[:: -1 if flip else 1])
    assert not evidence.vacant[0].any()
    assert evidence.introduction[0, 14] == CENTRAL.brought_in + CENTRAL.move_in


@pytest.mark.parametrize(
    "doing",
    [("inspection", "brief-visual", "no"), ("inspection", "brief-visual", "yes"), ("report",),
     ("treatment", "spray"), ("turnover", "moved-in")],
)  # fmt: skip
def test_what_happened_in_the_week_before_the_window_is_not_read_into_its_last_week(doing):
    plain, evidence = gather(row(20, "B", "note")), gather(row(20, "A", *doing))
    for name in ("likelihood", "treated", "introduction"):
        one, other = getattr(evidence, name)[0], getattr(plain, name)[0]
        np.testing.assert_array_equal(one[8:], other[8:], name)
    assert (evidence.treated == -1).all()


def test_a_report_long_before_the_window_holds_no_week_of_it():
    np.testing.assert_array_equal(silent_weeks(gather(row(60, "A", "report"))), np.arange(19))


def test_the_window_is_two_years_unless_another_is_asked_for():
    assert build_evidence((), ("A",), CENTRAL, on=ON).shape == (1, 104)


def test_what_holds_now_is_what_holds_in_the_last_week():
    now = gather(row(3, "A", "turnover", "moved-out"), row(0, "B", "turnover", "moved-in")).now
    np.testing.assert_array_equal(now.vacant, [True, False])
    np.testing.assert_array_equal(now.openness, [CENTRAL.vacant_target, 1.0])
    np.testing.assert_array_equal(now.export, [CENTRAL.vacant_source, 1.0])
    np.testing.assert_array_equal(now.introduction - CENTRAL.brought_in, [0.0, CENTRAL.move_in])
    later = gather(row(3, "A", "turnover", "moved-out"), row(0, "A", "turnover", "moved-in")).now
    np.testing.assert_array_equal(later.vacant, [False, False])
    np.testing.assert_array_equal(later.export, [1.0, 1.0])


@pytest.mark.parametrize("week", [0, 1, 19])
def test_who_moves_in_brings_in_the_very_week_the_first_of_the_window_too(week):
    pulse = gather(row(19 - week, "A", "turnover", "moved-in")).introduction[0] - CENTRAL.brought_in
    np.testing.assert_array_equal(np.flatnonzero(pulse), [week])


def test_a_new_household_ends_what_an_empty_unit_sheds_wherever_the_window_begins():
    """Moved out in the week before the window or its first, moved in at once or a little later."""
    for out in range(28, 17, -1):
        for back in range(out, 11, -1):
            rows = (row(out, "A", "turnover", "moved-out"), row(back, "A", "turnover", "moved-in"))
            empty = np.isin(np.arange(20) - 19, range(-out, -back))
            since = np.arange(20) - 19 + out
            expected = np.where(empty & (since < CENTRAL.vacant_source_weeks), CENTRAL.vacant_source, 1.0)
            np.testing.assert_array_equal(gather(*rows).export[0], expected)


# One record's likelihood.

looks = st.builds(
    lambda method, found, level, count, signs, days: row(
        0,
        "A",
        "monitor" if method in MONITORS else "inspection",
        method,
        found,
        level=level if found == "yes" else "",
        count=count if found == "yes" else None,
        evidence="+".join(signs) if found == "yes" else "",
        days=days if method in MONITORS else None,
    ),
    st.sampled_from(LOOKS + MONITORS),
    st.sampled_from(FOUND),
    st.sampled_from(("", *GRADES)),
    st.sampled_from((None, 0, 1, 3, 4, 12, 13, 50, 51, 5000)),
    st.sets(st.sampled_from(EVIDENCE), max_size=3),
    st.sampled_from((None, 1, 3, 14, 28, 400)),
)


@settings(max_examples=200, deadline=None)
@given(looks, st.booleans())
def test_every_look_has_a_positive_likelihood_at_every_level(look, treated_before):
    values = look_likelihood(look, treated_before=treated_before)
    assert values.shape == (LEVELS,)
    least = detection.LIKELIHOOD_FLOOR
    if look.found == "yes" and (look.level or look.count):
        least *= min(detection.GRADE_GIVEN_LEVEL.min(), GRADE_OF_NOTHING.min())
    assert np.all(values >= least)
    assert np.all(values <= 1.0)


@settings(max_examples=60, deadline=None)
@given(looks)
def test_the_answers_of_one_look_sum_to_one(look):
    """Yes, no and unsure are all there is, when a yes rests on the method's usual sign (up to the floor)."""
    plain = replace(look, level="", count=None, evidence=frozenset())
    total = sum(look_likelihood(replace(plain, found=f), treated_before=False) for f in FOUND)
    np.testing.assert_allclose(total, 1.0, rtol=0, atol=detection.LIKELIHOOD_FLOOR)


@settings(max_examples=60, deadline=None)
@given(looks)
def test_the_grades_of_one_find_sum_to_the_find(look):
    plain = replace(look, found="yes", level="", count=None, evidence=frozenset({"live"}))
    graded = sum(look_likelihood(replace(plain, level=g), treated_before=False) for g in GRADES)
    np.testing.assert_allclose(graded, look_likelihood(plain, treated_before=False), rtol=1e-12)


def test_a_brief_look_by_hand():
    """Sensitivity .27 .57 .83 .98, false positive .005, unsure .05 clear and .10 infested (spread.trade)."""
    yes, no, unsure = (
        look_likelihood(row(0, "A", "inspection", "brief-visual", f), treated_before=False) for f in FOUND
    )
    assert yes == pytest.approx([0.00475, 0.243, 0.513, 0.747, 0.882])
    assert no == pytest.approx([0.94525, 0.657, 0.387, 0.153, 0.018])
    assert unsure == pytest.approx([0.05, 0.1, 0.1, 0.1, 0.1])
    heavy = look_likelihood(
        row(0, "A", "inspection", "brief-visual", "yes", level="heavy"), treated_before=False
    )
    assert heavy == pytest.approx([0.00475 * 0.02, 0.243 * 0.005, 0.513 * 0.02, 0.747 * 0.12, 0.882 * 0.55])


def test_a_count_of_live_bugs_is_a_grade_and_of_skins_is_not():
    def of(**more):
        return look_likelihood(
            row(0, "A", "inspection", "thorough-visual", "yes", **more), treated_before=False
        )

    np.testing.assert_array_equal(of(count=20), of(level="moderate"))
    np.testing.assert_array_equal(of(count=20, level="low"), of(level="low"))
    np.testing.assert_array_equal(of(count=20, evidence="skins"), of(evidence="skins"))
    np.testing.assert_array_equal(
        of(count=2, evidence="eggs+skins"), of(level="trace", evidence="eggs+skins")
    )


def test_old_signs_count_for_less_after_a_treatment_on_an_earlier_day():
    look = row(3, "A", "inspection", "brief-visual", "yes", evidence="stains")
    treated = row(5, "A", "treatment", "spray")
    same_day = row(3, "A", "treatment", "spray")
    before_window = row(90, "A", "treatment", "spray")
    clear = {
        name: gather(look, *rows).likelihood[0, 16, 0]
        for name, rows in {
            "never": (),
            "same day": (same_day,),
            "earlier": (treated,),
            "long ago": (before_window,),
        }.items()
    }
    assert clear["never"] == clear["same day"] < clear["earlier"] == clear["long ago"]


def test_a_treatment_acts_before_a_look_of_a_later_day_of_its_week_and_after_one_of_its_own_day():
    # The treatment comes first in the log, and yet the look of its own day is read as before it.
    same_day, day_before = row(3, "A", "treatment", "spray"), row(3, "A", "treatment", "spray", day=1)
    look = row(3, "A", "inspection", "brief-visual", "no")
    assert week_of(day_before.when) == week_of(look.when), "its week has an earlier day"
    at = {name: np.flatnonzero(gather(look, one).treated[0] >= 0).tolist() for name, one in
          {"same day": same_day, "day before": day_before}.items()}  # fmt: skip
    assert at == {"same day": [16], "day before": [15]}


@pytest.mark.parametrize("doing", [("report",), ("note",), ("no-access", "refused")])
def test_only_a_look_later_in_the_week_says_that_the_treatment_had_been(doing):
    evidence = gather(row(3, "A", "treatment", "spray", day=1), row(3, "A", *doing))
    assert np.flatnonzero(evidence.treated[0] >= 0).tolist() == [16]


def test_a_look_before_a_treatment_that_was_looked_after_goes_back_with_it():
    before, after = (row(3, "A", "inspection", "brief-visual", f, day=d) for f, d in (("yes", 2), ("no", 0)))
    evidence = gather(before, row(3, "A", "treatment", "spray", day=1), after, weeks=5)
    np.testing.assert_allclose(evidence.likelihood[0, 0], look_likelihood(before, treated_before=False))
    np.testing.assert_allclose(evidence.likelihood[0, 1], look_likelihood(after, treated_before=True))


def test_a_displaced_trap_weighs_on_a_clean_period_and_on_nothing_else():
    gone = (Finding("interceptors", state="displaced"), Finding("interceptors", state="intact"))
    looked = row(0, "A", "inspection", "brief-visual", "no")
    caught = row(0, "A", "monitor", "interceptors", "yes", days=14)
    bed = tuple(map(Finding, ("mattress", "box-spring", "bed-frame")))
    for one in (looked, caught):
        items = gone if one is caught else (*gone, *bed)
        np.testing.assert_array_equal(
            look_likelihood(replace(one, items=items), treated_before=False)[1:],
            look_likelihood(one, treated_before=False)[1:],
        )
    clean = replace(caught, found="no")
    with_gone = look_likelihood(replace(clean, items=gone), treated_before=False)
    assert np.all(with_gone[1:] > look_likelihood(clean, treated_before=False)[1:])


def test_a_report_counts_once_a_week_and_bites_alone_for_less():
    one, two = row(3, "A", "report"), row(3, "A", "report", evidence="live", day=1)
    np.testing.assert_array_equal(
        gather(one, two).likelihood[0, 16], report_likelihood([one, two], vacant=False)
    )
    chance = detection.report_chance()
    np.testing.assert_array_equal(report_likelihood([one], vacant=False), chance)
    bites = report_likelihood([row(3, "A", "report", evidence="bites")], vacant=False)
    assert bites[0] == 4 * chance[0]
    assert report_likelihood([two], vacant=False)[0] == 0.2 * chance[0]
    np.testing.assert_array_equal(bites[1:], chance[1:])
    np.testing.assert_array_equal(report_likelihood([one], vacant=True), detection.vacant_report_chance())


# Treatments.


def test_treatments_of_one_week_multiply_in_the_order_of_their_names():
    spray, heat = row(3, "A", "treatment", "spray", day=1), row(3, "A", "treatment", "whole-room-heat")
    for rows in ((spray, heat), (heat, spray), (row(3, "A", "treatment", "spray"), heat)):
        evidence = gather(*rows, row(2, "B", "treatment", "spray"))
        both = evidence.effects[evidence.treated[0, 16]]
        np.testing.assert_allclose(
            both, effect_matrix("spray") @ effect_matrix("whole-room-heat"), rtol=1e-14
        )
        np.testing.assert_array_equal(evidence.effects[evidence.treated[1, 17]], effect_matrix("spray"))
        assert (evidence.treated >= 0).sum() == 2


def test_products_of_treatments_hardly_depend_on_their_order():
    """The order of their names is a rule, not a fact: it must not matter much."""
    for a, b in itertools.combinations(tuple(TREATMENTS), 2):
        one, other = effect_matrix(a) @ effect_matrix(b), effect_matrix(b) @ effect_matrix(a)
        assert np.abs(one - other).max() < 0.1
        np.testing.assert_allclose(one.sum(axis=1), 1.0)


# Time.


def test_a_week_runs_from_monday_to_sunday_through_the_53rd_week_of_2026():
    """28 December 2026 to 3 January 2027 is one week, ISO 2026-W53 (calendar; facts page E)."""
    days = [dt.date(2026, 12, 27) + dt.timedelta(k) for k in range(9)]
    assert [week_of(d) - week_of(days[0]) for d in days] == [0, 1, 1, 1, 1, 1, 1, 1, 2]
    assert days[1].isocalendar()[:2] == days[7].isocalendar()[:2] == (2026, 53)
    rows = [replace(row(0, "A", "treatment", "spray"), when=d, id=f"t{d}") for d in days]
    evidence = gather(*rows, on=dt.date(2027, 1, 4), weeks=3)
    kinds = [evidence.effects[k] for k in evidence.treated[0]]
    one = effect_matrix("spray")
    np.testing.assert_allclose(kinds[0], one)
    np.testing.assert_allclose(kinds[1], np.linalg.matrix_power(one, 7))
    np.testing.assert_allclose(kinds[2], one)


@pytest.mark.parametrize("building", SMALL, ids=lambda b: b.name)
def test_rows_after_the_day_are_left_out_whatever_they_say(building):
    later = (
        row(-1, "A", "inspection", "dog", "yes"),
        row(0, "A", "treatment", "spray", day=-1),
        row(0, "B", "turnover", "moved-out", day=-3),
        row(0, "B", "report", day=-4),
    )
    one, other = building.evidence(), building.evidence(*later)
    for name in ("likelihood", "treated", "effects", "vacant", "introduction", "openness", "export"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


@pytest.mark.parametrize("building", SMALL, ids=lambda b: b.name)
def test_a_shorter_window_is_the_end_of_a_longer_one(building):
    """All but the export of a spell without host that began before the shorter window."""
    long, short = building.evidence(weeks=30), building.evidence(weeks=3)
    assert short.first_week == long.first_week + 27
    for name in ("likelihood", "vacant", "introduction", "openness"):
        np.testing.assert_array_equal(getattr(short, name), getattr(long, name)[:, 27:])
    np.testing.assert_array_equal(short.treated >= 0, long.treated[:, 27:] >= 0)


@pytest.mark.parametrize("building", SMALL, ids=lambda b: b.name)
def test_shapes_and_signs_hold_for_every_small_building(building):
    evidence = building.evidence()
    n, t = building.network.size, building.weeks
    assert evidence.shape == (n, t)
    assert evidence.likelihood.shape == (n, t, LEVELS)
    assert np.all(evidence.likelihood > 0)
    assert np.all(evidence.introduction > 0)
    assert evidence.first_week + t - 1 == week_of(building.on)
    np.testing.assert_allclose(evidence.effects.sum(axis=2), 1.0, rtol=1e-12)


def test_rows_of_units_that_the_plan_lacks_are_passed_over():
    np.testing.assert_array_equal(gather(row(3, "Z", "report")).likelihood, 1.0)


def test_many_rows_of_one_week_leave_every_level_possible():
    """Clear looks by five senses on five days: by them alone a level would be less likely than the floor."""
    looks = [("inspection", m) for m in ("thorough-visual", "dog", "interview")]
    looks += [("monitor", m) for m in ("interceptors", "monitors-few")]
    rows = [row(3, "A", kind, method, "no", day=k) for kind, method in looks for k in range(5)]
    week = gather(*rows, units="A").likelihood[0, -4]
    alone = np.prod([look_likelihood(one, treated_before=False) for one in rows], axis=0)
    assert (alone / alone.max()).min() < 1e-13, "the floor is needed"
    assert (week / week.max()).min() == pytest.approx(1e-12)

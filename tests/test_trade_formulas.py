"""Arithmetic of imperfect tests against published counts and textbook formulas."""

import math

import pytest
from formulas import (
    combine_parallel,
    combine_series,
    likelihood_ratios,
    per_period,
    predictive_values,
    two_sample_capture,
    wilson_interval,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.trade import biology
from spread.trade.formulas import residual_after_clean

chance = st.floats(0.001, 0.999)


def test_two_independent_looks_do_not_reach_the_published_union():
    # Wang et al. 2016, J Med Entomol 53:639: visual 72 %, interceptors 89 %, union 289 of 291 (their
    # reference is the union itself, so the looks cannot be read as independent of it).
    both = combine_parallel([0.72, 0.89])
    assert both == pytest.approx(0.9692, abs=1e-4)
    assert abs(both - 289 / 291) > 0.02


def test_wilson_interval_of_the_published_union():
    # Wang et al. 2016 counts, 289 of 291. Formula: Wilson 1927 (from memory).
    low, high = wilson_interval(289, 291)
    assert low == pytest.approx(0.9753, abs=1e-3)
    assert high == pytest.approx(0.9981, abs=1e-3)


def test_wilson_interval_of_the_paris_sweep():
    # Durand et al. 2012, doi 10.1051/parasite/2012194381: 192 of 198 units entered; interval 93.6-98.6 %.
    assert wilson_interval(192, 198) == (pytest.approx(0.936, abs=1e-3), pytest.approx(0.986, abs=1e-3))


def test_two_sample_capture_corrects_the_published_sensitivities():
    # Inputs: Wang et al. 2016; the estimate is Lincoln-Petersen arithmetic on them.
    number, visual, traps = two_sample_capture(0.72 * 291, 0.89 * 291, 289)
    assert number == pytest.approx(302.3, abs=0.5)
    assert visual == pytest.approx(0.693, abs=0.002)
    assert traps == pytest.approx(0.857, abs=0.002)


def test_predictive_values_of_a_dog():
    # Cooper et al. 2014, doi 10.1603/EC14195 (44 %, 15 %) at 12.3 % prevalence of Wang et al. 2016.
    ppv, npv = predictive_values(0.123, 0.44, 0.85)
    assert ppv == pytest.approx(0.2915, abs=1e-3)
    assert npv == pytest.approx(0.9154, abs=1e-3)


def test_likelihood_ratios_of_a_dog():
    # Cooper et al. 2014, doi 10.1603/EC14195.
    assert likelihood_ratios(0.44, 0.85) == (pytest.approx(2.933, abs=0.005), pytest.approx(0.659, abs=0.005))


def test_eight_weeks_of_monitors_as_fortnights():
    # Vail and Chandler 2017, doi 10.1093/jee/tox053: 80-90 % over 8 weeks.
    assert per_period(0.80, 4) == pytest.approx(0.331, abs=0.002)
    assert per_period(0.90, 4) == pytest.approx(0.438, abs=0.002)


def test_elimination_a_visit_from_a_six_visit_trial():
    # Abbar et al. 2020, doi 10.3390/insects11070443: 4 of 10 units in six monthly visits.
    assert per_period(4 / 10, 6) == pytest.approx(0.0816, abs=5e-4)


def test_three_clean_fortnights_leave_six_in_a_hundred():
    # Worked table, arithmetic of Bayes: prior 0.50, 0.20, 0.10 and sensitivity 0.60.
    assert residual_after_clean(0.5, 0.60, 3) == pytest.approx(0.0602, abs=5e-4)
    assert residual_after_clean(0.2, 0.60, 4) == pytest.approx(0.006, abs=5e-4)
    assert residual_after_clean(0.1, 0.60, 1) == pytest.approx(0.043, abs=5e-4)


def test_doubling_time_and_growth_over_a_fortnight_at_the_laboratory_rate():
    # Polanco et al. 2011, doi 10.3390/insects2020173: r = 0.054 a day, doubling 13 days.
    rate = 0.054
    assert biology.GROWTH_PER_DAY.high < rate, "an apartment is no laboratory"
    assert math.log(2) / rate == pytest.approx(12.84, abs=0.3)
    assert math.exp(14 * rate) == pytest.approx(2.13, abs=0.02)


@given(st.lists(chance, min_size=1, max_size=5))
@settings(max_examples=60, deadline=None)
def test_parallel_and_series_are_each_others_complement(chances):
    # De Morgan.
    assert combine_parallel(chances) == pytest.approx(1 - combine_series([1 - p for p in chances]))
    assert combine_series(chances) <= min(chances) <= max(chances) <= combine_parallel(chances) + 1e-12


@given(chance, chance, st.floats(0.01, 0.99))
@settings(max_examples=60, deadline=None)
def test_predictive_value_is_prior_odds_times_likelihood_ratio(prevalence, sensitivity, specificity):
    # Bayes in odds form.
    ppv, npv = predictive_values(prevalence, sensitivity, specificity)
    positive, negative = likelihood_ratios(sensitivity, specificity)
    odds = prevalence / (1 - prevalence)
    assert ppv / (1 - ppv) == pytest.approx(odds * positive, rel=1e-6)
    assert (1 - npv) / npv == pytest.approx(odds * negative, rel=1e-6)


@given(chance, st.integers(1, 20))
@settings(max_examples=60, deadline=None)
def test_periods_add_up_to_the_whole(total, periods):
    assert combine_parallel([per_period(total, periods)] * periods) == pytest.approx(total, rel=1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: wilson_interval(1, 0),
        lambda: wilson_interval(5, 3),
        lambda: two_sample_capture(10, 10, 20),
        lambda: two_sample_capture(10, 20, 15),
        lambda: per_period(1.2, 3),
        lambda: per_period(0.5, 0),
        lambda: likelihood_ratios(0.5, 1.0),
        lambda: predictive_values(0.0, 0.5, 1.0),
        lambda: residual_after_clean(1.0, 1.0, 1),
    ],
)
def test_impossible_counts_are_refused(call):
    with pytest.raises(ValueError, match=r"."):
        call()

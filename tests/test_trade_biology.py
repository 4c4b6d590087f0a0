"""Levels, growth, dying out and the laboratory life table."""

import life_table
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.errors import SpreadError
from spread.records import kinds
from spread.trade import biology
from spread.trade.biology import growth_matrix, level_of_count, shedding, vacant_matrix, weeks_to_pass


def _heavier_starts_end_heavier(matrix):
    return np.all(np.diff(matrix[:, ::-1].cumsum(axis=1), axis=0) >= -1e-12)


def test_the_levels_are_those_of_the_log():
    assert ("clear", *kinds.LEVELS) == biology.LEVEL_NAMES


@pytest.mark.parametrize(
    ("count", "level"),
    [(0, 0), (1, 1), (3, 1), (4, 2), (12, 2), (13, 3), (50, 3), (51, 4), (14291, 4)],
)
def test_counts_fall_into_their_class(count, level):
    # The cut at 12: Singh et al. 2017, doi 10.3390/insects8030076; 14,291 the largest estimate of Cooper et
    # al. 2015, doi 10.1371/journal.pone.0136462; the other bounds are the project's own.
    assert level_of_count(count) == level


def test_a_negative_count_is_refused():
    with pytest.raises(SpreadError, match="expected 0 or more"):
        level_of_count(-1)


def test_shedding_rises_from_nothing_to_one():
    assert shedding().tolist() == [0, 0.043, 0.13, 0.44, 1]


@pytest.mark.parametrize("matrix", [growth_matrix(), vacant_matrix()])
def test_weekly_changes_are_chances_and_keep_the_order_of_levels(matrix):
    assert matrix.shape == (5, 5)
    assert matrix.sum(axis=1) == pytest.approx(np.ones(5), abs=1e-12)
    assert np.all(matrix >= 0)
    assert matrix[0].tolist() == [1, 0, 0, 0, 0]
    assert _heavier_starts_end_heavier(matrix)


@given(st.floats(0.007, 0.054), st.floats(0.007, 0.054))
@settings(max_examples=40, deadline=None)
def test_faster_growth_never_leaves_fewer_bugs(one, other):
    slow, fast = sorted((one, other))
    tails = [growth_matrix(r)[:, ::-1].cumsum(axis=1) for r in (slow, fast)]
    assert np.all(tails[1] >= tails[0] - 1e-12)


def test_growth_passes_the_classes_in_the_time_of_an_exponential():
    # Time from 1 to N bugs is ln N / r; 1 to 51 bugs at 0.0103 a day is 54.5 weeks (arithmetic).
    assert weeks_to_pass().sum() == pytest.approx(np.log(51) / 0.0103 / 7, rel=1e-12)
    assert weeks_to_pass(0.054).sum() == pytest.approx(10.4, abs=0.05)


@pytest.mark.parametrize("rate", [0.0, -0.1, float("nan"), 3.0])
def test_an_impossible_growth_rate_is_refused(rate):
    with pytest.raises(SpreadError, match="expected"):
        growth_matrix(rate)


def test_a_vacant_unit_is_still_infested_after_the_longest_watch():
    # Cooper et al. 2015, doi 10.1371/journal.pone.0136462: bugs alive in a vacant apartment at 155 days,
    # 22 weeks; vacancy is never clearance.
    after = np.linalg.matrix_power(vacant_matrix(), 22)
    assert np.all(1 - after[1:, 0] > 0.1)
    assert 1 - after[4, 0] > 0.85
    assert np.all(vacant_matrix()[2:, 0] == 0), "only a trace can be gone in a week"


def test_half_of_the_traces_are_gone_from_a_vacant_unit_in_eight_weeks():
    # Judgement of the half-life, see VACANT_HALF_LIFE; this tests the arithmetic.
    assert np.linalg.matrix_power(vacant_matrix(), 8)[1, 0] == pytest.approx(0.5)


# The laboratory life table: Polanco, Brewster and Miller 2011, doi 10.3390/insects2020173. Births by
# week were set so that growth and R0 come out near the published, and durations, survival and the peak are
# inputs, so those test the implementation; the age mix was not used and is the more honest check.


def test_a_laboratory_population_doubles_in_thirteen_days():
    assert 11 <= life_table.doubling_time() <= 15
    assert life_table.growth_rate() == pytest.approx(0.054, abs=0.003)


def test_a_female_egg_leaves_about_thirty_five_daughters():
    assert 28 <= life_table.net_reproduction() <= 42


def test_egg_to_adult_takes_about_thirty_five_days_and_most_survive():
    table = life_table.laboratory()
    assert 32 <= table.egg_days + table.nymph_days <= 42
    survival = table.egg_survival**table.egg_days * table.nymph_survival**table.nymph_days
    assert survival == pytest.approx(0.94, abs=1e-9)


def test_a_third_of_a_growing_population_is_eggs():
    assert life_table.stable_ages() == pytest.approx([0.34, 0.54, 0.12], abs=0.06)


def test_most_daughters_are_laid_in_the_fifth_week_of_adult_life():
    daughters = life_table.laboratory().daughters
    assert int(np.argmax(daughters)) + 1 == 5
    assert max(daughters) == 0.64


def test_the_growth_rate_solves_the_euler_lotka_equation():
    # Textbook demography (from memory): sum of l(x) m(x) exp(-r (x + 1)) is 1.
    leslie = life_table.laboratory().matrix()
    alive = np.concatenate(([1.0], np.cumprod(np.diag(leslie, k=-1))))
    ages = np.arange(1, alive.size + 1)
    assert (alive * leslie[0] * np.exp(-life_table.growth_rate() * ages)).sum() == pytest.approx(1, abs=1e-9)


def test_a_population_run_forward_day_by_day_grows_at_the_same_rate():
    leslie = life_table.laboratory().matrix()
    bugs = np.zeros(leslie.shape[0])
    bugs[life_table.laboratory().egg_days + life_table.laboratory().nymph_days] = 1.0
    for _ in range(500):
        bugs = leslie @ bugs
    assert np.log((leslie @ bugs).sum() / bugs.sum()) == pytest.approx(life_table.growth_rate(), abs=1e-4)


def test_a_small_leslie_matrix_has_the_growth_of_its_quadratic():
    # By hand: one day as egg, one as nymph, one as adult, survival 1/2 and 1/2, 32 daughters on the adult
    # day give lambda ** 3 = 8, so lambda = 2.
    table = life_table.LifeTable(1, 1, 1, 0.5, 0.5, 0.9, (32.0,))
    assert life_table.growth_rate(table) == pytest.approx(np.log(2))
    assert life_table.net_reproduction(table) == pytest.approx(8)
    assert life_table.stable_ages(table) == pytest.approx(np.array([16, 4, 1]) / 21)

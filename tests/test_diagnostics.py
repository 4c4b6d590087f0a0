"""R-hat and effective size against small cases by hand, theory, and an outside library.

Sources: Gelman et al., Bayesian Data Analysis, 3rd ed., 11.4 (split R-hat, from memory); effective size of a
first-order autoregression, n (1 - rho) / (1 + rho) (textbook, from memory); arviz-stats ``rhat`` (method
"split") and ``ess`` (method "mean").
"""

from __future__ import annotations

import numpy as np
import pytest

from spread.posterior.diagnostics import effective_size, split_rhat


def one(values):
    """A list of chains as (chains, draws, 1)."""
    return np.array(values, dtype=float)[:, :, None]


def autoregression(rho, chains, draws, seed):
    rng = np.random.default_rng(seed)
    noise = rng.normal(size=(chains, draws)) * np.sqrt(1 - rho**2)
    x = np.empty((chains, draws))
    x[:, 0] = rng.normal(size=chains)
    for t in range(1, draws):
        x[:, t] = rho * x[:, t - 1] + noise[:, t]
    return x


def test_split_rhat_by_hand():
    """Halves (0, 2), (2, 4) twice: W = 2; means 1, 3, 1, 3, B = 2 * 4/3; R = sqrt(1/2 + (8/3) / (2 * 2))."""
    assert split_rhat(one([[0, 2, 2, 4], [0, 2, 2, 4]]))[0] == pytest.approx(np.sqrt(0.5 + 2 / 3), rel=1e-12)


def test_a_chain_that_drifts_is_seen_even_alone():
    drift = np.linspace(0, 1, 1000) + 0.01 * np.random.default_rng(1).normal(size=1000)
    assert split_rhat(one([drift]))[0] > 1.5


def test_a_last_odd_draw_is_left_out():
    chains = [[0, 2, 2, 4], [0, 2, 2, 4]]
    assert split_rhat(one([[*c, 99] for c in chains]))[0] == split_rhat(one(chains))[0]


def test_constant_chains_are_a_case_of_their_own():
    """An outside library gives NaN here; equal chains agree and different ones never will."""
    equal, apart = one([[3.0] * 50] * 4), one([[3.0] * 50] * 3 + [[4.0] * 50])
    assert split_rhat(equal)[0] == 1.0
    assert split_rhat(apart)[0] == np.inf
    assert effective_size(equal)[0] == 200
    assert split_rhat(one([[0.1 + 0.2] * 50, [0.3] * 50]))[0] == 1.0  # differ in the last bit only
    # The chances of a unit that is surely infested: they move, and differ, in their eleventh digit.
    sure = 1.0 - 1e-11 * np.random.default_rng(2).random((4, 500)) - 2e-11 * np.arange(4)[:, None]
    assert split_rhat(one(sure))[0] == 1.0
    assert split_rhat(one([[0.3] * 50, [0.3001] * 50]))[0] == np.inf


def test_chains_too_short_to_judge_do_not_pass():
    for draws in (1, 2, 3):
        series = np.random.default_rng(0).normal(size=(4, draws, 2))
        assert np.all(split_rhat(series) == np.inf)
        assert np.all(np.isfinite(effective_size(series)))


def test_effective_size_by_hand():
    """Two chains 0 1 0 1 ... : rho at lag 1 is near -1, the first pair sums to nearly nothing, the cap holds.

    A pair that sums below zero ends the sum: 0 0 1 1 four times over is followed by hand.
    """
    n = 100
    flip = one([[0, 1] * (n // 2)] * 2)
    assert effective_size(flip)[0] == pytest.approx(2 * n * np.log10(2 * n))
    # All deviations are 1/2 in size. Products at lag 1: 8 plus, 7 minus, so 1/64; within 4/15, variance 1/4;
    # rho at lag 1 is 1 - (4/15 - 1/64 * 16/15) * 4 = 0: the first pair is 1. Lag 2: 14 minus; lag 3: 6 plus,
    # 7 minus; that pair is below zero and ends the sum. Time 2 * 1 - 1, so 16 draws count as 16.
    assert effective_size(one([[0, 0, 1, 1] * 4]))[0] == pytest.approx(16.0, rel=1e-9)


@pytest.mark.parametrize(("rho", "within"), [(0.9, 0.15), (0.5, 0.1), (0.0, 0.05), (-0.4, 0.1)])
def test_effective_size_of_an_autoregression_is_what_theory_says(rho, within):
    chains, draws = 4, 20_000
    found = effective_size(autoregression(rho, chains, draws, seed=4)[:, :, None])[0]
    assert found == pytest.approx(chains * draws * (1 - rho) / (1 + rho), rel=within)


def test_the_error_it_implies_is_the_error_there_is():
    """Means of 200 runs scatter by sd / sqrt(effective size)."""
    series = np.stack([autoregression(0.8, 1, 1000, seed=s)[0] for s in range(200)])
    implied = np.median([s.std() / np.sqrt(effective_size(one([s]))[0]) for s in series])
    assert series.mean(axis=1).std() == pytest.approx(implied, rel=0.2)


def test_chains_that_disagree_hold_few_effective_draws():
    rng = np.random.default_rng(2)
    series = one(rng.normal(size=(4, 1000)) + np.array([[0], [0], [0], [3]]))
    assert split_rhat(series)[0] > 1.3
    assert effective_size(series)[0] < 20


@pytest.mark.parametrize("case", ["independent", "sticky", "apart", "binary"])
def test_both_equal_an_outside_library(case):
    array_stats = pytest.importorskip("arviz_stats.base").array_stats
    rng = np.random.default_rng(6)
    series = {
        "independent": rng.normal(size=(4, 500)),
        "sticky": autoregression(0.9, 4, 5000, seed=7),
        "apart": rng.normal(size=(4, 500)) + np.array([[0], [0], [0.3], [0.6]]),
        "binary": (rng.random((4, 1000)) < np.array([[0.1], [0.1], [0.1], [0.3]])).astype(float),
    }[case]
    outside = array_stats.rhat(series, chain_axis=0, draw_axis=1, method="split")
    assert split_rhat(series[:, :, None])[0] == pytest.approx(float(outside), rel=1e-9)
    # The library halves the chains before it counts; ours does so for R-hat only, so hand it the halves.
    halves = series.reshape(8, -1)
    outside = array_stats.ess(series, chain_axis=0, draw_axis=1, method="mean")
    assert effective_size(halves[:, :, None])[0] == pytest.approx(float(outside), rel=0.02)


def test_quantities_do_not_mix():
    rng = np.random.default_rng(8)
    series = rng.normal(size=(3, 200, 4)).cumsum(axis=1)
    for q in range(4):
        for measure in (split_rhat, effective_size):
            assert measure(series)[q] == pytest.approx(measure(series[:, :, q : q + 1])[0], rel=1e-12)

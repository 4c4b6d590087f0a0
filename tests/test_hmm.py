"""One unit on its own is a plain hidden Markov model: textbook numbers and an outside library.

Sources: Russell and Norvig, Artificial Intelligence: A Modern Approach, "Probabilistic reasoning over time"
(umbrella world; lecture slides print .818, .883 and .627); the five-day smoothing and its log-likelihood as
quoted from Wikipedia in hmmlearn's ``test_base.py``; the weather chain of Rabiner 1989, Proc. IEEE 77:257-286
(from memory); hmmlearn 0.3.3 ``CategoricalHMM`` as the outside library (its filter is the last row of
``predict_proba`` of the first observations).
"""

from __future__ import annotations

from dataclasses import replace

import enumeration as exact
import numpy as np
import pytest
from posterior_buildings import PAIR, contacts, strong

from spread.posterior import arrays, unit_path
from spread.posterior.dynamics import LEVELS, Dynamics
from spread.posterior.observations import Evidence
from spread.trade.routes import ROUTES

ALONE = contacts("A", [])


def evidence_of(likelihood, hazard):
    """Evidence of one occupied, untreated unit whose only hazard is from outside."""
    weeks = len(likelihood)
    return Evidence(
        first_week=0,
        likelihood=np.asarray(likelihood, float)[None],
        treated=np.full((1, weeks), -1),
        effects=np.eye(LEVELS)[None],
        vacant=np.zeros((1, weeks), bool),
        introduction=np.full((1, weeks), hazard),
        openness=np.ones((1, weeks)),
        export=np.ones((1, weeks)),
    )


def filtered_by_kernel(dynamics, evidence):
    """The compiled filter as a sweep calls it, factor included."""
    model = arrays.assemble(ALONE, dynamics, evidence)
    weeks = evidence.shape[1]
    state = arrays.new_state(model, np.zeros((1, weeks), dtype=np.int8))
    escape, factor, alpha = np.empty(weeks), np.empty((weeks, LEVELS)), np.empty((weeks, LEVELS))
    unit_path.clear_chance(model, state, 0, escape)
    unit_path.influence(model, state, 0, factor)
    unit_path.filter_forward(model, 0, escape, factor, alpha)
    return model, escape, alpha / alpha.sum(axis=1, keepdims=True)


def matrix_of(dynamics):
    step = dynamics.growth[0].copy()
    step[0] = [np.exp(-dynamics.brought_in), 1 - np.exp(-dynamics.brought_in), 0, 0, 0]
    return step


def umbrella(seen):
    """Rain is an infestation, dry is clear; the three higher levels are never reached."""
    growth = np.eye(LEVELS)
    growth[1, :2] = 0.3, 0.7
    dynamics = Dynamics(
        rates=np.zeros(len(ROUTES)),
        brought_in=-np.log(0.7),
        mixing=0.0,
        move_in=0.0,
        shedding=np.array([0, 0.1, 0.2, 0.3, 1.0]),
        growth=np.stack([growth, growth]),
        prevalence=0.5,
        level_mix=np.array([1.0, 0, 0, 0]),
    )
    rows = [[0.2, 0.9, 0.5, 0.5, 0.5] if umbrella else [0.8, 0.1, 0.5, 0.5, 0.5] for umbrella in seen]
    return dynamics, evidence_of(rows, dynamics.brought_in)


def test_the_umbrella_world_filters_to_its_printed_numbers():
    dynamics, evidence = umbrella([True, True])
    _, _, alpha = filtered_by_kernel(dynamics, evidence)
    assert alpha[:, 1] == pytest.approx([0.818, 0.883], abs=5e-4)
    assert (alpha[0] @ matrix_of(dynamics))[1] == pytest.approx(0.627, abs=5e-4)
    solved = exact.solve(ALONE, dynamics, evidence)
    assert solved.levels[0, :, 1] == pytest.approx([0.883, 0.883], abs=5e-4)
    assert solved.log_evidence == pytest.approx(-1.045546, abs=1e-6)


FIVE = [True, True, False, True, True]
SMOOTHED = [0.8673, 0.8204, 0.3075, 0.8204, 0.8673]


def test_five_umbrella_days_smooth_to_their_printed_numbers():
    dynamics, evidence = umbrella(FIVE)
    _, _, alpha = filtered_by_kernel(dynamics, evidence)
    assert alpha[:, 1] == pytest.approx([0.8182, 0.8834, 0.1907, 0.7308, 0.8673], abs=5e-5)
    solved = exact.solve(ALONE, dynamics, evidence)
    assert solved.levels[0, :, 1] == pytest.approx(SMOOTHED, abs=5e-5)
    assert solved.log_evidence == pytest.approx(-3.3725, abs=5e-5)


def test_backward_draws_follow_the_five_day_smoother():
    """20,000 independent paths: four standard errors are at most 0.014."""
    dynamics, evidence = umbrella(FIVE)
    model, escape, alpha = filtered_by_kernel(dynamics, evidence)
    rng, path, wet = np.random.default_rng(5), np.empty(5, dtype=np.int8), np.zeros(5)
    n = 20_000
    for _ in range(n):
        unit_path.sample_backward(model, 0, escape, alpha, path, rng)
        wet += path == 1
        assert path.max() <= 1
    error = np.sqrt(np.array(SMOOTHED) * (1 - np.array(SMOOTHED)) / n)
    assert np.all(np.abs(wet / n - SMOOTHED) < 4 * error + 5e-5)


def test_rabiners_weather_chain_has_its_printed_probability():
    """P(sun sun sun rain rain sun cloud sun) = 1.536e-4 when day one is sunny."""
    chain = np.array([[0.4, 0.3, 0.3], [0.2, 0.6, 0.2], [0.1, 0.1, 0.8]])
    days = np.array([3, 3, 3, 1, 1, 3, 2, 3]) - 1
    filtered, smoothed, log_likelihood = exact.forward_backward(
        np.eye(3)[2], np.broadcast_to(chain, (7, 3, 3)), np.eye(3)[days]
    )
    assert np.exp(log_likelihood) == pytest.approx(1.536e-4, rel=1e-12)
    np.testing.assert_allclose(smoothed, np.eye(3)[days], rtol=0, atol=1e-15)
    np.testing.assert_allclose(filtered, np.eye(3)[days], rtol=0, atol=1e-15)


@pytest.mark.parametrize("seed", range(3))
def test_one_isolated_unit_equals_an_outside_library(seed):
    rng = np.random.default_rng(seed)
    dynamics = strong(
        rate=0.0, mixing=0.0, brought_in=rng.uniform(0.01, 0.3), prevalence=rng.uniform(0.1, 0.6)
    )
    emission = rng.dirichlet(np.ones(4), size=LEVELS)
    seen = rng.integers(0, 4, size=30)
    evidence = evidence_of(emission[:, seen].T, dynamics.brought_in)

    from hmmlearn.hmm import CategoricalHMM

    outside = CategoricalHMM(n_components=LEVELS, init_params="", params="")
    outside.startprob_ = dynamics.start
    outside.transmat_ = matrix_of(dynamics)
    outside.emissionprob_ = emission
    smoother = outside.predict_proba(seen[:, None])
    filters = np.array([outside.predict_proba(seen[: k + 1, None])[-1] for k in range(len(seen))])

    _, _, alpha = filtered_by_kernel(dynamics, evidence)
    np.testing.assert_allclose(alpha, filters, rtol=0, atol=1e-8)
    filtered, smoothed, log_likelihood = exact.forward_backward(
        dynamics.start, np.broadcast_to(matrix_of(dynamics), (29, LEVELS, LEVELS)), evidence.likelihood[0]
    )
    np.testing.assert_allclose(filtered, filters, rtol=0, atol=1e-8)
    np.testing.assert_allclose(smoothed, smoother, rtol=0, atol=1e-8)
    assert log_likelihood == pytest.approx(outside.score(seen[:, None]), abs=1e-8)
    np.testing.assert_allclose(exact.solve(ALONE, dynamics, evidence).levels[0], smoother, rtol=0, atol=1e-8)


def test_a_treated_and_vacated_unit_filters_as_the_exact_answer_says():
    """What the outside library cannot do, for its matrix never changes: kernel against the exact filter."""
    building = replace(PAIR, network=contacts("AB", []), weeks=4)
    evidence = building.evidence()
    treated = evidence.treated.copy()
    treated[0] = [-1, 0, 1, -1]
    from spread.trade.treatment import effect_matrix

    effects = np.stack([effect_matrix("spray"), effect_matrix("whole-room-heat") @ effect_matrix("combined")])
    vacant = evidence.vacant.copy()
    vacant[0, 2:] = True
    rng = np.random.default_rng(3)
    evidence = replace(
        evidence,
        treated=treated,
        effects=effects,
        vacant=vacant,
        likelihood=rng.uniform(0.1, 1, evidence.likelihood.shape),
    )
    model = arrays.assemble(building.network, building.dynamics, evidence)
    state = arrays.new_state(model, np.zeros((2, 4), dtype=np.int8))
    escape, factor, alpha = np.empty(4), np.ones((4, LEVELS)), np.empty((4, LEVELS))
    unit_path.clear_chance(model, state, 0, escape)
    unit_path.filter_forward(model, 0, escape, factor, alpha)
    alpha /= alpha.sum(axis=1, keepdims=True)
    steps = np.stack([exact.unit_step(building.dynamics, evidence, 0, t, 0.0) for t in range(3)])
    filtered, _, _ = exact.forward_backward(building.dynamics.start, steps, evidence.likelihood[0])
    np.testing.assert_allclose(alpha, filtered, rtol=0, atol=1e-13)

"""The compiled sampler against exact answers, against equations of the model, and against itself.

Gates for random numbers: fixed seeds, an absolute error of 0.01 and |z| < 4 for every number, z being the
difference over the Monte Carlo error (standard deviation over the root of the effective sample size).
"""

from __future__ import annotations

import functools
from dataclasses import replace

import enumeration as exact
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from posterior_buildings import (
    CENTRAL,
    SMALL,
    SPARSE,
    TANGLE,
    TREATED,
    TURNED,
    contacts,
    mean_and_error,
    sample,
    strong,
    z_scores,
)
from test_exact import relabelled

from spread.posterior import arrays, exponential, kernel, unit_path
from spread.posterior.dynamics import LEVELS
from spread.posterior.fit import FitSettings, fit
from spread.posterior.observations import Evidence
from spread.records.kinds import EVIDENCE, FOUND, KINDS, METHODS_OF
from spread.records.kinds import LEVELS as GRADES
from spread.trade.biology import growth_matrix, vacant_matrix
from spread.trade.registry import TREATMENTS
from spread.trade.treatment import effect_matrix

by_name = pytest.mark.parametrize("building", SMALL, ids=lambda b: b.name)


@functools.cache
def solved(building_name):
    building = next(b for b in SMALL if b.name == building_name)
    return exact.solve(building.network, building.dynamics, building.evidence())


@functools.cache
def sampled(building_name):
    return sample(next(b for b in SMALL if b.name == building_name), seed=11)


def test_the_small_buildings_hold_every_kind_of_record_between_them():
    rows = [r for building in SMALL for r in building.records]
    assert {r.kind for r in rows} == set(KINDS)
    for kind, methods in METHODS_OF.items():
        if kind == "note":
            continue  # what a note is about is nothing to the model
        assert {r.method for r in rows if r.kind == kind} >= set(methods), kind
    assert {r.found for r in rows if r.is_look} == set(FOUND)
    assert {r.level for r in rows} >= set(GRADES)
    assert set().union(*(r.evidence for r in rows)) == set(EVIDENCE)
    assert len({r.days for r in rows if r.kind == "monitor"}) >= 4
    assert any(r.kind == "turnover" and not r.method for r in rows)
    assert TREATED.evidence().effects.shape[0] > len(tuple(TREATMENTS))  # the product of two in one week
    routes = [b.network.exposure[:, r].max() > 0 for b in SMALL for r in range(5)]
    assert np.reshape(routes, (-1, 5)).any(axis=0).all()


@by_name
def test_infested_every_week_equals_exact_enumeration(building):
    truth = 1 - solved(building.name).levels[:, :, 0]
    run = sampled(building.name)
    assert np.abs(run.weekly - truth).max() < 0.01
    assert z_scores(run.weekly, run.weekly_error, truth).max() < 4
    assert run.weekly_error.max() < 0.005  # the gate above could not pass by noise alone


@by_name
def test_levels_now_equal_exact_enumeration(building):
    truth = solved(building.name).levels[:, -1]
    run = sampled(building.name)
    assert np.abs(run.now - truth).max() < 0.01
    assert z_scores(run.now, run.now_error, truth).max() < 4
    assert run.now_error.max() < 0.003


@by_name
def test_pairs_infested_together_equal_exact_enumeration(building):
    joint = solved(building.name).joint_now
    n = joint.ndim
    infested = sampled(building.name).draws > 0
    for a in range(n):
        for b in range(a + 1, n):
            inside = tuple(slice(1, None) if k in (a, b) else slice(None) for k in range(n))
            truth = joint[inside].sum()
            both = (infested[:, :, a] & infested[:, :, b]).astype(float)[:, :, None]
            found, error = mean_and_error(both)
            assert abs(found[0] - truth) < 0.01
            assert z_scores(found, error, np.array([truth])).max() < 4


@by_name
def test_a_whole_fit_from_the_log_equals_exact_enumeration(building):
    """Through the front door: starts, warm-up, kept sums, draws."""
    posterior = fit(
        building.network,
        building.records,
        building.dynamics,
        on=building.on,
        settings=FitSettings(
            learn=False, weeks=building.weeks, sweeps=8000, most_sweeps=8000, warmup=100, seed=3
        ),
    )
    answer = solved(building.name)
    evidence = building.evidence()
    now, weekly = answer.levels[:, -1].copy(), 1 - answer.levels[:, :, 0]
    for i in np.flatnonzero(evidence.treated[:, -1] >= 0):
        # In the model a treatment acts at the end of its week; a fit shows it done.
        now[i] = now[i] @ evidence.effects[evidence.treated[i, -1]]
    weekly[:, -1] = 1 - now[:, 0]
    error = 0.5 / np.sqrt(posterior.diagnostics.ess_count)
    assert error < 0.006
    assert np.abs(posterior.levels - now).max() < 0.01
    assert np.abs(posterior.weekly - weekly).max() < max(0.01, 3 * error)
    levels = np.concatenate([answer.levels[:, :-1], now[:, None]], axis=1)
    shed = levels @ building.dynamics.shedding * evidence.export
    assert np.abs(posterior.shedding - shed).max() < 0.01
    from_draws = np.stack([(posterior.draws == a).mean(axis=0) for a in range(LEVELS)], axis=1)
    assert np.abs(from_draws - now).max() < max(0.01, 3 * error)
    assert posterior.diagnostics.good


# A broken sampler must be seen to be broken.


def sweep_in_python(building, *, broken, sweeps, seed):
    """The sweep put together from its compiled pieces; ``broken`` leaves out what the others did next.

    Returns the conditional chance of infestation now, shape (1, sweeps, N).
    """
    model = arrays.assemble(building.network, building.dynamics, building.evidence())
    n, t = model.treated.shape
    rng = np.random.default_rng(seed)
    state = arrays.new_state(model, np.zeros((n, t), dtype=np.int8))
    escape, factor, alpha = np.empty(t), np.ones((t, LEVELS)), np.empty((t, LEVELS))
    path = np.empty(t, dtype=np.int8)
    chance = np.empty((1, sweeps, n))
    for k in range(sweeps):
        for i in rng.permutation(n):
            unit_path.clear_chance(model, state, i, escape)
            if not broken:
                unit_path.influence(model, state, i, factor)
            unit_path.filter_forward(model, i, escape, factor, alpha)
            unit_path.sample_backward(model, i, escape, alpha, path, rng)
            arrays.put_path(model, state, i, path)
            chance[0, k, i] = 1 - alpha[-1, 0]
    return chance


@pytest.mark.slow
def test_leaving_out_what_the_neighbours_did_next_is_caught():
    # Bugs that grow fast press on the neighbours soon, so that what these did next tells much.
    growth = np.stack([growth_matrix(0.035, np.array([0.03, 0.015, 0.01, 0.01])), vacant_matrix()])
    fast = replace(SPARSE, dynamics=replace(SPARSE.dynamics, growth=growth))
    truth = 1 - exact.solve(fast.network, fast.dynamics, fast.evidence()).levels[:, -1, 0]
    sound, wrong = (
        mean_and_error(sweep_in_python(fast, broken=broken, sweeps=3000, seed=2)) for broken in (False, True)
    )
    assert z_scores(*sound, truth).max() < 4
    assert z_scores(*wrong, truth).max() > 8
    assert np.abs(wrong[0] - truth).max() > 0.05


# The pieces against the equations, on random buildings.


@st.composite
def random_states(draw, most_units=5, most_weeks=7):
    """A model and a random joint path: any contacts, vacancies, treatments and evidence."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    n, t = draw(st.integers(1, most_units)), draw(st.integers(1, most_weeks))
    units = "ABCDEFGH"[:n]
    edges = [
        (units[i], units[j], route, rng.uniform(0.01, 2))
        for i in range(n)
        for j in range(i)
        for route in ("wall", "riser")
        if rng.random() < 0.6
    ]
    dynamics = strong(
        rate=10 ** rng.uniform(-3, 0.3),
        mixing=draw(st.sampled_from([0.0, 0.01, 1.0])),
        brought_in=10 ** rng.uniform(-6, -1),
        prevalence=rng.uniform(0.01, 0.9),
    )
    effects = np.stack([effect_matrix("spray"), effect_matrix("whole-room-heat") @ effect_matrix("combined")])
    evidence = Evidence(
        first_week=0,
        likelihood=rng.uniform(0.01, 1, (n, t, LEVELS)),
        treated=np.where(rng.random((n, t)) < 0.3, rng.integers(0, 2, (n, t)), -1),
        effects=effects,
        vacant=rng.random((n, t)) < 0.3,
        introduction=dynamics.brought_in * rng.uniform(1, 3, (n, t)),
        openness=rng.uniform(0.2, 1, (n, t)),
        export=rng.uniform(0.5, 1.5, (n, t)),
    )
    network = contacts(units, edges)
    model = arrays.assemble(network, dynamics, evidence)
    state = arrays.new_state(model, rng.integers(0, LEVELS, (n, t)) * (rng.random((n, t)) < 0.5))
    # Walk to a joint path that is possible under the model.
    for _ in range(2):
        kernel.sweep(model, state, rng, np.empty((n, LEVELS)))
    return network, dynamics, evidence, model, state, rng


def push_on(network, dynamics, evidence, levels, j, t):
    weights = network.dense(dynamics.rates) + dynamics.mixing / network.size
    return sum(
        weights[i, j] * dynamics.shedding[levels[i]] * evidence.export[i, t]
        for i in range(network.size)
        if i != j
    )


@settings(max_examples=60, deadline=None)
@given(random_states())
def test_what_the_others_did_next_is_the_product_of_their_transitions(made):
    network, dynamics, evidence, model, state, _ = made
    n, weeks = evidence.shape
    out = np.empty((weeks, LEVELS))
    for i in range(n):
        unit_path.influence(model, state, i, out)
        want = np.ones((weeks, LEVELS))
        for t in range(weeks - 1):
            for a in range(LEVELS):
                levels = state.x[:, t].copy()
                levels[i] = a
                for j in range(n):
                    if j != i:
                        push = push_on(network, dynamics, evidence, levels, j, t)
                        step = exact.unit_step(dynamics, evidence, j, t, push)
                        want[t, a] *= step[levels[j], state.x[j, t + 1]]
        assert np.all(want[:, 0] > 0)
        ours, theirs = out / out.max(axis=1)[:, None], want / want.max(axis=1)[:, None]
        # The plain product loses digits in 1 - exp(-hazard) where hazards are as small as 1e-6.
        np.testing.assert_allclose(ours, theirs, rtol=1e-8, atol=1e-12)
        np.testing.assert_array_equal(out[-1], 1.0)


@settings(max_examples=40, deadline=None)
@given(random_states())
def test_sums_kept_over_many_sweeps_equal_a_fresh_count(made):
    _, _, evidence, model, state, rng = made
    n = len(evidence.treated)
    chance = np.empty((n, LEVELS))
    for _ in range(50):
        kernel.sweep(model, state, rng, chance)
    fresh = arrays.new_state(model, state.x)
    for name in ("pressure", "shed", "staying", "stays"):
        np.testing.assert_allclose(getattr(state, name), getattr(fresh, name), rtol=0, atol=1e-12)
    np.testing.assert_array_equal(state.event_count, fresh.event_count)
    events = [(i, t) for i in range(n) for t in state.event_week[i, : state.event_count[i]]]
    clear = state.x[:, :-1] == 0
    assert events == list(
        zip(*np.nonzero(clear & ((state.x[:, 1:] > 0) | (model.treated[:, :-1] >= 0))), strict=True)
    )
    assert state.wide_count[0] == len(events)
    assert sorted(zip(*state.wide[:2, : len(events)], strict=True)) == events
    assert not state.wide[2, : len(events)].any()
    assert not state.near.any()
    assert state.stays[-1] == 0.0


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 100))
def test_the_series_for_small_hazards_keeps_its_digits(u):
    assert exponential.lost(u) == pytest.approx(-np.expm1(-u), rel=1e-12, abs=1e-300)
    little = min(u, exponential.LITTLE)
    assert exponential.lost_little(little) == pytest.approx(-np.expm1(-little), rel=1e-13)
    for edge in (np.nextafter(exponential.SMALL, 0), exponential.SMALL, np.nextafter(exponential.SMALL, 1)):
        assert exponential.lost(edge) == pytest.approx(-np.expm1(-edge), rel=1e-12)


def test_a_draw_never_picks_what_has_no_weight():
    weights = np.array([0.0, 0.3, 0.0, 0.7, 0.0])
    for uniform in (0.0, 0.2999, 0.30001, 1 - 2**-53):
        assert weights[unit_path.pick(weights, 1.0, uniform)] > 0
    assert unit_path.pick(weights, 1.0, 0.29) == 1
    assert unit_path.pick(weights, 1.0, 0.31) == 3


# Seeds and labels.

SHORT = FitSettings(learn=False, weeks=6, sweeps=200, most_sweeps=400, warmup=30, seed=5)


def short_fit(building, **more):
    return fit(
        building.network, building.records, building.dynamics, on=building.on, settings=replace(SHORT, **more)
    )


def test_a_seed_gives_the_same_answer_bit_for_bit_whatever_the_threads():
    one, again, two = (short_fit(TURNED, workers=w) for w in (1, 1, 2))
    for other in (again, two):
        for name in ("levels", "weekly", "shedding", "draws", "log_weights"):
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
        np.testing.assert_array_equal(one.ends, other.ends)
        assert one.diagnostics.rhat_worst_unit == other.diagnostics.rhat_worst_unit
    assert np.any(short_fit(TURNED, seed=6).levels != one.levels)


@pytest.mark.parametrize("building", [TREATED, CENTRAL], ids=lambda b: b.name)
def test_relabelling_the_units_changes_the_sample_by_its_error_only(building):
    turned, order = relabelled(building)
    one, other = sampled(building.name), sample(turned, seed=11)
    error = np.hypot(one.now_error[order], other.now_error)
    assert z_scores(other.now, error, one.now[order]).max() < 4
    error = np.hypot(one.weekly_error[order], other.weekly_error)
    assert z_scores(other.weekly, error, one.weekly[order]).max() < 4


def test_a_warm_start_ends_at_the_same_answer():
    cold = short_fit(TANGLE)
    warm = fit(
        TANGLE.network,
        TANGLE.records,
        TANGLE.dynamics,
        on=TANGLE.on,
        settings=replace(SHORT, sweeps=8000, most_sweeps=8000),
        warm=cold,
    )
    assert np.abs(warm.levels - solved(TANGLE.name).levels[:, -1]).max() < 0.01


def test_one_week_and_one_unit_are_no_special_case():
    alone = replace(SPARSE, network=contacts("C", []), weeks=1)
    posterior = fit(
        alone.network, alone.records, alone.dynamics, on=alone.on, settings=replace(SHORT, weeks=1)
    )
    truth = exact.solve(alone.network, alone.dynamics, alone.evidence()).levels[:, -1]
    np.testing.assert_allclose(posterior.levels, truth, rtol=0, atol=1e-12)

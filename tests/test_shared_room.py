"""A shared room that no plan shows, against enumeration and integration; all of it: ``proofs.joint_room``.

Three units, every path and every set of members summed, the rate integrated: the sampler must agree.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import replace

import enumeration as exact
import numpy as np
import pytest
from posterior_buildings import PAIR, contacts, mean_and_error, row, strong, z_scores
from scipy.special import betaln, roots_genlaguerre

from proofs import joint, joint_room
from spread.posterior import arrays, kernel
from spread.posterior.chain import Learning, new_kept, new_sums, run
from spread.posterior.dynamics import LEVELS
from spread.posterior.rates import draw_rates
from spread.posterior.room import FIRST_MEMBER, ON, RATE, SHARE, Belief, draw_room, exposed, put_room
from spread.trade.routes import ROUTES

THREE = replace(
    PAIR,
    network=contacts("ABC", [("A", "B", "wall", 0.5)]),
    dynamics=strong(rate=0.2, mixing=0.02, brought_in=0.03, prevalence=0.2),
    records=(
        row(5, "A", "inspection", "brief-visual", "yes", level="heavy", evidence="live"),
        row(4, "C", "inspection", "thorough-visual", "no"),
        row(4, "B", "treatment", "spray"),
        row(2, "C", "inspection", "thorough-visual", "yes", level="trace", evidence="live"),
        row(1, "C", "treatment", "whole-room-heat"),
        row(0, "B", "inspection", "thorough-visual", "no"),
    ),
    weeks=6,
)
HELD = np.full(8, 1e10), 1e10 / np.maximum(THREE.dynamics.theta, 1e-12)
"""Gamma priors that hold the rates of the routes."""
BELIEF = Belief(0.4, np.array([2.0, 3.0]), np.array([2.0, 4.0]))
LINK = ROUTES.index("link")


def evidence_with(members, rate, evidence):
    """Log evidence and weekly chances with a room of these members, as links between them."""
    pairs = itertools.combinations(sorted(members), 2)
    network = contacts("ABC", [("A", "B", "wall", 0.5), *((*pair, "link", 1.0) for pair in pairs)])
    rates = THREE.dynamics.rates.copy()
    rates[LINK] = rate
    return exact.solve(network, replace(THREE.dynamics, rates=rates), evidence)


def by_summing(nodes):
    """Weekly chances; and of a room, of each member, and the means of rate and of rate times A beside C."""
    evidence = THREE.evidence()
    x, w = roots_genlaguerre(nodes, BELIEF.rate[0] - 1.0)
    a, b = BELIEF.share
    none = evidence_with("", 0.0, evidence)
    logs, weekly, values = [np.log(0.6) + none.log_evidence], [none.levels], [np.zeros(6)]
    for k, flags in itertools.product(range(nodes), itertools.product((0, 1), repeat=3)):
        rate, count = x[k] / BELIEF.rate[1], sum(flags)
        members = [unit for unit, flag in zip("ABC", flags, strict=True) if flag]
        solved = none if count < 2 else evidence_with(members, rate, evidence)
        prior = np.log(0.4) + np.log(w[k] / w.sum()) + betaln(a + count, b + 3 - count) - betaln(a, b)
        logs.append(prior + solved.log_evidence)
        weekly.append(solved.levels)
        values.append([1.0, *flags, rate, rate * flags[0] * flags[2]])
    p = np.exp(np.array(logs) - max(logs))
    p /= p.sum()
    clear = np.tensordot(p, np.array(weekly), 1)[:, :, 0]
    return 1.0 - clear.ravel(), p @ np.array(values)


@functools.cache
def sampled(batches=200, sweeps=100):
    """Means and errors of the same, from the product's own loop; rates of routes hardly move."""
    evidence = THREE.evidence()
    n, t = evidence.shape
    theta = THREE.dynamics.theta
    learning = Learning(*HELD, room=BELIEF)
    weekly, values = [], []
    for c in range(2):
        rng = np.random.default_rng([6, c])
        model = arrays.assemble(THREE.network, THREE.dynamics, evidence)
        state = arrays.new_state(model, np.full((n, t), 4 * c, dtype=np.int8))
        start = np.concatenate([theta, np.zeros(FIRST_MEMBER + n)])
        for batch in range(-5, batches):
            sums, kept = new_sums(model, n, t), new_kept(sweeps, n, t, len(start))
            run(model, state, start, learning, rng, sums, kept)
            if batch < 0:
                continue
            block = kept.theta[:, len(theta) :]
            flags = block[:, FIRST_MEMBER:]
            both = block[:, RATE] * flags[:, 0] * flags[:, 2]
            weekly.append(sums.infested.ravel() / sweeps)
            values.append(np.column_stack([block[:, ON], flags, block[:, RATE], both]).mean(axis=0))
    return tuple(mean_and_error(np.array(part).reshape(2, batches, -1)) for part in (weekly, values))


def test_three_units_equal_the_sum_over_paths_and_members():
    found = sampled()
    truths = by_summing(8)
    for rough, fine in zip(by_summing(5), truths, strict=True):
        np.testing.assert_allclose(rough, fine, rtol=2e-3)  # the integration has converged
    for (mean, error), truth in zip(found, truths, strict=True):
        assert np.abs(mean - truth).max() < 0.02
        assert np.all(np.abs(mean - truth) < 4 * error)
    on, _, b, c, rate, _ = truths[1]
    # The log says something: C likelier shares a room with A than B does, and the rate is not its prior.
    assert on > 0.45
    assert c > b + 0.02
    assert abs(rate / on / 0.5 - 1.0) > 0.03


def test_members_drawn_without_a_look_at_the_paths_are_caught():
    evidence = THREE.evidence()
    model = arrays.assemble(THREE.network, THREE.dynamics, evidence)
    n, weeks = evidence.shape
    theta = THREE.dynamics.theta
    means = []
    for deaf in (False, True):
        rng = np.random.default_rng(8)
        state = arrays.new_state(model, np.zeros((n, weeks), dtype=np.int8))
        block, flags = np.zeros(FIRST_MEMBER + n), np.empty((1, 12_000, n))
        for k in range(flags.shape[1]):
            kernel.sweep(model, state, rng, np.empty((n, LEVELS)))
            draw_room(
                model, state, BELIEF, draw_rates(model, state, theta, *HELD, np.zeros(3), rng), block, rng
            )
            if deaf and block[ON]:
                block[FIRST_MEMBER:] = rng.random(n) < block[SHARE]
                put_room(model, block)
                arrays.recompute(model, state)
            flags[0, k] = block[FIRST_MEMBER:]
        means.append(z_scores(*mean_and_error(flags), by_summing(5)[1][1:4]).max())
    assert means[0] < 4
    assert means[1] > 6


def test_without_belief_in_a_room_there_is_none():
    evidence = THREE.evidence()
    theta = THREE.dynamics.theta
    model = arrays.assemble(THREE.network, THREE.dynamics, evidence)
    state = arrays.new_state(model, np.zeros(evidence.shape, dtype=np.int8))
    sums, kept = new_sums(model, *evidence.shape), new_kept(5, *evidence.shape, len(theta))
    learning = Learning(*HELD)
    run(model, state, theta, learning, np.random.default_rng(1), sums, kept)
    assert not model.members.any()
    assert not sums.blame.other[:, -1].any()


def test_exposure_and_pressure_of_the_room_by_hand():
    """Members A and C: A heavy in weeks 0 to 3, C clear until 2 and infested after; B is no member."""
    evidence = replace(THREE.evidence(), openness=np.full((3, 6), 0.5))
    model = arrays.assemble(THREE.network, THREE.dynamics, evidence)
    path = np.array([[4, 4, 4, 4, 0, 0], [0, 0, 0, 0, 0, 0], [0, 0, 0, 1, 2, 2]], dtype=np.int8)
    state = arrays.new_state(model, path)
    before = state.pressure.copy()
    put_room(model, np.array([1.0, 0.25, 0.5, 1.0, 0.0, 1.0]))
    arrays.recompute(model, state)
    kappa = THREE.dynamics.shedding
    more = np.zeros((3, 6))
    more[0] = 0.25 * kappa[path[2]]
    more[2] = 0.25 * kappa[path[0]]
    np.testing.assert_allclose(state.pressure - before, more, atol=1e-12)
    # C is clear beside A in weeks 0 to 2, A beside C in week 4; the last week leads nowhere.
    assert exposed(model, state) == pytest.approx(0.5 * (3 * kappa[4] + kappa[2]))


@functools.cache
def plain():
    made = joint.scene()
    return made, joint_room.from_the_model(made, 100_000, np.random.default_rng(1))


def z_of(step, cycles):
    made, model = plain()
    chain = joint_room.from_the_chain(made, cycles=cycles, chains=2, seed=2, step=step)
    return dict(zip(joint_room.NAMES, joint.z_values(chain, model), strict=True))


@pytest.mark.slow
def test_chain_and_model_agree_in_every_statistic_of_the_room():
    assert {name: z for name, z in z_of(joint_room.sound_room, 10_000).items() if abs(z) >= 4} == {}


@pytest.mark.slow
@pytest.mark.parametrize("step", [joint_room.deaf_to_arrivals, joint_room.slow_to_go])
def test_a_wrong_step_is_caught(step):
    assert max(map(abs, z_of(step, 3000).values())) > 6

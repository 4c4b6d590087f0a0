"""The sampler with learned rates against its own model, from both ends.

Geweke 2004, JASA 99:799-804, from memory.

The chain alternates one sweep, one draw of the rates and fresh observations; its means must be those of
independent draws from the model. Gates: |z| < 4 for each of 43 statistics at fixed seeds with errors that
allow for autocorrelation; every wrong kernel must reach |z| > 6 here or against exact answers.
"""

from __future__ import annotations

import functools

import enumeration as exact
import numpy as np
import pytest
from posterior_buildings import SPARSE, TREATED, mean_and_error, z_scores

from proofs import joint
from spread.posterior import kernel
from spread.posterior.arrays import assemble, new_state
from spread.posterior.dynamics import LEVELS

pytestmark = pytest.mark.slow


@functools.cache
def plain():
    made = joint.scene()
    return made, joint.from_the_model(made, 100_000, np.random.default_rng(1))


def worst(*, cycles, **parts):
    made, model = plain()
    z = joint.z_values(joint.from_the_chain(made, cycles=cycles, chains=2, seed=2, **parts), model)
    return dict(zip(joint.NAMES, z, strict=True))


def test_chain_and_model_agree_in_every_statistic():
    z = worst(cycles=20_000)
    assert len(z) == 43
    assert {name: value for name, value in z.items() if abs(value) >= 4} == {}


def test_the_sampler_put_together_from_its_pieces_agrees_too():
    """Or the faults below would be seen for another reason."""
    z = worst(cycles=3000, sweep=joint.pieced_sweep(), draw=joint.pieced_rates())
    assert max(map(abs, z.values())) < 4


FAULTS = {
    "what the neighbours did next is left out": {
        "cycles": 25_000,  # bugs grow slowly: what they did next tells little
        "sweep": joint.pieced_sweep(neighbours=False),
    },
    "treatment acts before growth": {"cycles": 4000, "sweep": joint.pieced_sweep(treat_first=True)},
    "arrivals are not truncated": {"cycles": 3000, "draw": joint.pieced_rates(truncated=False)},
    "which prior of move-ins holds is not asked of the log": {
        "cycles": 3000,
        "draw": joint.pieced_rates(weighed=False),
    },
    "exposure counted over all unit-weeks": {"cycles": 3000, "draw": joint.pieced_rates(clear_only=False)},
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_wrong_kernel_is_caught(fault):
    z = worst(**FAULTS[fault])
    assert max(map(abs, z.values())) > 6


def chances(building, sweep, *, sweeps, seed=3):
    """Share of sweeps with each unit infested in each week, with errors, at known rates."""
    rng = np.random.default_rng(seed)
    model = assemble(building.network, building.dynamics, building.evidence())
    n, weeks = model.treated.shape
    state = new_state(model, np.zeros((n, weeks), dtype=np.int8))
    infested = np.empty((1, sweeps, n * weeks))
    for k in range(sweeps):
        sweep(model, state, rng)
        infested[0, k] = (state.x > 0).ravel()
    return mean_and_error(infested)


@pytest.mark.parametrize(
    ("building", "fault"),
    [(SPARSE, {"neighbours": False}), (TREATED, {"treat_first": True})],
    ids=["no neighbour factor", "treatment before growth"],
)
def test_exact_enumeration_catches_the_wrong_sweeps_as_well(building, fault):
    truth = 1 - exact.solve(building.network, building.dynamics, building.evidence()).levels[:, :, 0].ravel()
    sound = chances(building, joint.pieced_sweep(), sweeps=6000)
    wrong = chances(building, joint.pieced_sweep(**fault), sweeps=6000)
    assert z_scores(*sound, truth).max() < 4
    assert z_scores(*wrong, truth).max() > 6


def test_one_draw_of_the_rates_in_the_product_is_the_one_written_down_here():
    """The two draws differ in their random numbers only: equal means over many draws from one path."""
    made, _ = plain()
    rng = np.random.default_rng(5)
    model = assemble(made.network, made.dynamics, made.evidence)
    path = rng.integers(0, LEVELS, made.evidence.shape) * (rng.random(made.evidence.shape) < 0.5)
    state = new_state(model, path)
    for _ in range(3):
        kernel.sweep(model, state, rng, np.empty((len(path), LEVELS)))
    found = []
    for draw in (joint.sound_rates, joint.pieced_rates()):
        theta = joint.MEANS.copy()
        kept = np.empty((1, 4000, len(theta)))
        for k in range(kept.shape[1]):
            draw(model, state, theta, rng)
            kept[0, k] = np.log(theta)
        found.append(mean_and_error(kept))
    (one, one_error), (two, two_error) = found
    assert z_scores(one, np.hypot(one_error, two_error), two).max() < 4

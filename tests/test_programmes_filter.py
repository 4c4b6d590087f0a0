"""A week of the fast filter by hand: what an empty unit takes, and what it sheds at first."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from spread.posterior.dynamics import LEVELS, central_dynamics
from spread.programmes.filter import predict
from spread.programmes.rules import EMPTY_WEEKS, MOVED_IN, N_STATE, VACANT
from spread.programmes.tables import stacked, tables_of

DYNAMICS = replace(central_dynamics(), vacant_target=0.25, vacant_source=3.0, vacant_source_weeks=4)
WEIGHT, BROUGHT_IN, MIXING = 0.04, 0.001, 0.0


def chance_after(*, source_empty=None, target_empty=False):
    """Let A (heavy for sure) live a week beside B (clear for sure); return B's chance after it."""
    belief = np.zeros((2, LEVELS))
    belief[0, LEVELS - 1] = belief[1, 0] = 1.0
    state = np.zeros((N_STATE, 2), dtype=np.int32)
    if source_empty is not None:
        state[VACANT, 0], state[EMPTY_WEEKS, 0] = 1, source_empty
    state[VACANT, 1] = target_empty
    contacts = np.array([0, 1, 2]), np.array([1, 0]), np.full(2, WEIGHT)
    predict(belief[None], state[None], contacts, BROUGHT_IN, MIXING, *stacked([tables_of(DYNAMICS)]))
    np.testing.assert_allclose(belief.sum(axis=1), 1.0)
    return 1.0 - belief[1, 0]


@pytest.mark.parametrize(
    ("where", "factor"),
    [
        ({}, 1.0),
        ({"target_empty": True}, 0.25),
        ({"source_empty": 0}, 3.0),
        ({"source_empty": 3}, 3.0),
        ({"source_empty": 4}, 1.0),
        ({"source_empty": 0, "target_empty": True}, 0.75),
    ],
    ids=[
        "both lived in",
        "target empty",
        "source just empty",
        "in its last week",
        "long empty",
        "both empty",
    ],
)
def test_vacancy_is_in_the_exposure(where, factor):
    push = DYNAMICS.shedding[-1] * WEIGHT
    assert chance_after(**where) == pytest.approx(-math.expm1(-(BROUGHT_IN + factor * push)))


def test_runs_side_by_side_are_those_of_a_run_alone():
    """To the last bit: the ranking goes by it, and ties in it are real."""
    rng = np.random.default_rng(3)
    n, runs = 11, 7
    indptr = np.arange(n + 1) * 4
    indices = np.concatenate([rng.choice(n, 4, replace=False) for _ in range(n)])
    contacts = indptr, indices, rng.random(4 * n) * 0.1
    belief = rng.dirichlet(np.ones(LEVELS), (runs, n))
    state = np.zeros((runs, N_STATE, n), dtype=np.int32)
    state[:, VACANT], state[:, EMPTY_WEEKS] = rng.integers(0, 2, (2, runs, n))
    dynamics = [replace(DYNAMICS, move_in=DYNAMICS.move_in * k) for k in (1.0, 2.0)]
    tables = [tables_of(dynamics[k]) for k in rng.integers(0, 2, runs)]
    state[:, MOVED_IN] = rng.integers(0, 2, (runs, n))
    alone = belief.copy()
    for run in range(runs):
        one = slice(run, run + 1)
        predict(alone[one], state[one], contacts, BROUGHT_IN, 0.003, *stacked(tables[one]))
    predict(belief, state, contacts, BROUGHT_IN, 0.003, *stacked(tables))
    np.testing.assert_array_equal(belief, alone)

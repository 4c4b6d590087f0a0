"""Exact answers for tiny buildings, by brute force, to check the sampler against.

Nothing here shares code with :mod:`spread.posterior.kernel`: the joint state of all units is
one hidden Markov chain on ``levels ** units`` states, solved by textbook forward-backward.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from spread.posterior.dynamics import LEVELS, Dynamics, Floats, Network
from spread.posterior.observations import Evidence

LARGEST = 729
"""Most joint states that are enumerated: four units of five levels (625), or six of three."""


@dataclass(frozen=True)
class ExactPosterior:
    """Smoothed marginals.

    Parameters
    ----------
    levels
        Shape (N, T, levels): P(level of a unit in a week | all evidence).
    joint_now
        Shape (levels,) * N: joint distribution in the last week.
    log_evidence
        Log of P(evidence).
    """

    levels: Floats
    joint_now: Floats
    log_evidence: float


def forward_backward(start: Floats, steps: Floats, likelihood: Floats) -> tuple[Floats, Floats, float]:
    """Solve a hidden Markov model whose transitions may change every week.

    Parameters
    ----------
    start
        Shape (S,).
    steps
        Shape (T - 1, S, S): row-stochastic transition from week ``t`` to ``t + 1``.
    likelihood
        Shape (T, S).

    Returns
    -------
    filtered, smoothed, log_likelihood
        Shapes (T, S), (T, S), scalar.
    """
    weeks, states = likelihood.shape
    filtered = np.empty((weeks, states))
    log_likelihood = 0.0
    ahead = start
    for t in range(weeks):
        joint = ahead * likelihood[t]
        total = joint.sum()
        log_likelihood += float(np.log(total))
        filtered[t] = joint / total
        if t < weeks - 1:
            ahead = filtered[t] @ steps[t]
    smoothed = np.empty_like(filtered)
    message = np.ones(states)
    for t in range(weeks - 1, -1, -1):
        smoothed[t] = filtered[t] * message
        smoothed[t] /= smoothed[t].sum()
        if t > 0:
            message = steps[t - 1] @ (likelihood[t] * message)
            message /= message.max()
    return filtered, smoothed, log_likelihood


def unit_step(dynamics: Dynamics, evidence: Evidence, i: int, t: int, push: float) -> Floats:
    """Return the transition matrix (levels, levels) of unit ``i`` from week ``t``.

    ``push`` is the pressure from all other units, before the unit's own openness.

    Parameters
    ----------
    dynamics, evidence
        Of the model.
    i, t
        Unit and week.
    push
        Pressure from all other units, before the unit's own openness.
    """
    hazard = evidence.introduction[i, t] + evidence.openness[i, t] * push
    step = dynamics.growth[int(evidence.vacant[i, t])].copy()
    step[0] = 0.0
    step[0, 0] = np.exp(-hazard)
    step[0, 1] = 1.0 - np.exp(-hazard)
    if evidence.treated[i, t] >= 0:
        step = step @ evidence.effects[evidence.treated[i, t]]
    return step


def solve(
    network: Network, dynamics: Dynamics, evidence: Evidence, *, levels_used: int = LEVELS
) -> ExactPosterior:
    """Enumerate every joint trajectory of at most :data:`LARGEST` joint states.

    Parameters
    ----------
    network, dynamics, evidence
        Of the model.
    levels_used
        How many of the levels can be reached, from clear up: where nothing starts in the others or
        grows into them they are left out, and more units can be enumerated.

    Raises
    ------
    ValueError
        If the building is too large to enumerate, or the levels left out can be reached.
    """
    units, weeks = evidence.shape
    if levels_used**units > LARGEST:
        raise ValueError(
            f"{units} units are too many to enumerate; the limit is {LARGEST} joint states of "
            f"{levels_used} levels each"
        )
    if dynamics.start[levels_used:].any() or dynamics.growth[:, 1:levels_used, levels_used:].any():
        raise ValueError(f"levels from {levels_used} on can be reached, so they cannot be left out")
    states = np.array(list(itertools.product(range(levels_used), repeat=units)))
    weights = network.dense(dynamics.rates) + dynamics.mixing / units
    np.fill_diagonal(weights, 0.0)

    start = np.prod(dynamics.start[states], axis=1)
    likelihood = np.ones((weeks, len(states)))
    for i in range(units):
        likelihood *= evidence.likelihood[i][:, states[:, i]]
    steps = np.ones((weeks - 1, len(states), len(states)))
    for t in range(weeks - 1):
        out = dynamics.shedding[states] * evidence.export[:, t]
        push = out @ weights
        for s, state in enumerate(states):
            for i in range(units):
                row = unit_step(dynamics, evidence, i, t, push[s, i])[state[i]]
                steps[t, s] *= row[states[:, i]]
    _, smoothed, log_evidence = forward_backward(start, steps, likelihood)
    levels = np.zeros((units, weeks, LEVELS))
    for i in range(units):
        for a in range(LEVELS):
            levels[i, :, a] = smoothed[:, states[:, i] == a].sum(axis=1)
    return ExactPosterior(levels, smoothed[-1].reshape((levels_used,) * units), log_evidence)

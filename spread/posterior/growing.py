"""Joint draws that live on for some days after the fit."""

from __future__ import annotations

import numpy as np

from spread.posterior.arrays import Levels
from spread.posterior.dynamics import LEVELS, Dynamics, Floats, Network
from spread.posterior.observations import Conditions
from spread.posterior.room import Shared

GROW_BLOCK = 500  #: Draws grown at a time, to bound memory on large buildings


def grow(
    draws: Levels,
    network: Network,
    dynamics: Dynamics,
    conditions: Conditions | None = None,
    *,
    days: int,
    shared: Shared | None = None,
    rng: np.random.Generator,
) -> Levels:
    """Let the joint draws live for some days: whole weeks, and the rest by chance.

    Returned: shape (K, N); the draws that were given are left as they are.

    Parameters
    ----------
    draws : Shape (K, N)
    network, dynamics : Those of the fit
    conditions
        Who lives where; as in the last week of the fit, kept for all the days. Without them every unit is
        occupied.
    days : Days to pass; five days are one weekly step in five draws of seven
    shared : What is known of a shared room that no plan shows; its mean pressure counts
    rng : Source of chance
    """
    weeks, rest = divmod(days, 7)
    if not days:
        return draws
    n = draws.shape[1]
    if conditions is None:
        conditions = Conditions(np.zeros(n, bool), np.full(n, dynamics.brought_in), np.ones(n), np.ones(n))
    weights = network.dense(dynamics.rates) + dynamics.mixing / max(1, n)
    if shared is not None:
        weights = weights + shared.pairs
    np.fill_diagonal(weights, 0.0)
    # A move-in brings bugs in its own week only.
    introduction = np.minimum(conditions.introduction, dynamics.brought_in)
    draws = draws.copy()
    for week in range(weeks + (rest > 0)):
        moving = np.arange(len(draws))
        if week == weeks:
            moving = moving[rng.random(len(draws)) < rest / 7]
        for block in np.array_split(moving, max(1, len(moving) // GROW_BLOCK)):
            x = draws[block]
            push = (dynamics.shedding[x] * conditions.export) @ weights
            escape = np.exp(-(introduction + conditions.openness * push))
            rows = dynamics.growth[conditions.vacant.astype(int), x]
            clear = x == 0
            rows[clear] = 0.0
            rows[clear, 0] = escape[clear]
            rows[clear, 1] = 1.0 - escape[clear]
            draws[block] = step(rows, rng)
    return draws


def step(rows: Floats, rng: np.random.Generator) -> Levels:
    """Draw one level from each row of chances, shape (..., levels)."""
    uniform = rng.random(rows.shape[:-1])[..., None]
    return (uniform > np.cumsum(rows, axis=-1)).sum(axis=-1).clip(0, LEVELS - 1).astype(np.int8)

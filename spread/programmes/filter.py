"""What the firm believes inside a run: a fast filter of the same model, one step a week.

An assumed-density filter: it keeps the chances of each unit's levels (N, levels) and takes the units as
independent. A week's pressure upon a unit is that of its contacts' expected shedding (a mean field), a look,
a report or silence multiplies its likelihood in, and a treatment moves the chances. The full sampler keeps
what the units have to do with one another and what later answers say of earlier weeks; what the filter gives
away is measured in ``proofs/programmes_filter.py``.
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats
from spread.programmes.rules import EMPTY_WEEKS, HOLD_UNTIL, MOVED_IN, REPORTED, VACANT
from spread.programmes.tables import Tables

LEAST = 1e-9  #: Shedding below this presses on nobody: 1e-9 of a heavy unit


@nb.njit(cache=True, nogil=True, error_model="numpy")
def multiply(belief: Floats, i: int, likelihood: Floats) -> None:
    """Multiply a likelihood, shape (levels,), into one unit's chances."""
    total = 0.0
    for a in range(belief.shape[1]):
        belief[i, a] *= likelihood[a]
        total += belief[i, a]
    for a in range(belief.shape[1]):
        belief[i, a] /= total


@nb.njit(cache=True, nogil=True, error_model="numpy")
def hear(belief: Floats, state: NDArray[np.int32], week: int, report: Floats) -> None:
    """Take in a week's reports, and silence where it says something.

    ``belief``: shape (N, levels); ``state``: state of the units (:mod:`spread.programmes.rules`); ``report``:
    shape (2, levels): weekly chance of a report, occupied then vacant.
    """
    for i in range(belief.shape[0]):
        row = report[state[VACANT, i]]
        heard = state[REPORTED, i] == 1
        if not heard and state[HOLD_UNTIL, i] > week:
            continue
        total = 0.0
        for a in range(belief.shape[1]):
            belief[i, a] *= row[a] if heard else 1.0 - row[a]
            total += belief[i, a]
        for a in range(belief.shape[1]):
            belief[i, a] /= total


@nb.njit(cache=True, nogil=True, error_model="numpy")
def predict(
    belief: Floats,
    state: NDArray[np.int32],
    indptr: NDArray[np.int64],
    indices: NDArray[np.int64],
    weights: Floats,
    brought_in: float,
    mixing: float,
    t: Tables,
    push: Floats,
) -> None:
    """Let the chances live a week.

    Parameters
    ----------
    belief : Shape (N, levels), moved in place
    weights : Shape (contacts,): weekly hazard along each stored contact from a heavy unit
    brought_in, mixing : Weekly hazards, mixing spread evenly over the units
    push : Shape (N,): room to work in
    """
    shedding, growth, odds = t.shedding, t.growth, t.odds
    n, levels = belief.shape
    push[:] = 0.0
    everywhere = 0.0
    for j in range(n):
        out = 0.0
        for a in range(1, levels):
            out += belief[j, a] * shedding[a]
        if state[VACANT, j] and state[EMPTY_WEEKS, j] < odds[3]:
            out *= odds[2]
        push[j] -= out * mixing / n  # a unit does not mix with itself
        everywhere += out
        if out > LEAST:
            for k in range(indptr[j], indptr[j + 1]):
                push[indices[k]] += out * weights[k]
    for i in range(n):
        openness = odds[1] if state[VACANT, i] else 1.0
        hazard = brought_in + openness * (push[i] + everywhere * mixing / n)
        if state[MOVED_IN, i]:
            hazard += odds[0]
        step = growth[state[VACANT, i]]
        came = belief[i, 0] * -math.expm1(-hazard)
        below = belief[i, 0] - came
        here = belief[i, 1]
        # Growth moves a unit by one level at most, so three terms make each new chance.
        belief[i, 0] = below + here * step[1, 0]
        carried = came
        for a in range(1, levels):
            above = belief[i, a + 1] if a + 1 < levels else 0.0
            new = carried + here * step[a, a]
            if a + 1 < levels:
                new += above * step[a + 1, a]
                carried = here * step[a, a + 1]
            belief[i, a] = new
            here = above


@nb.njit(cache=True, nogil=True, error_model="numpy")
def treat(belief: Floats, i: int, effect: Floats) -> None:
    """Let a treatment, shape (levels, levels), act on one unit's chances."""
    levels = belief.shape[1]
    after = np.zeros(levels)
    for a in range(levels):
        for b in range(levels):
            after[b] += belief[i, a] * effect[a, b]
    for b in range(levels):
        belief[i, b] = after[b]


@nb.njit(cache=True, nogil=True, error_model="numpy")
def chance_of_find(belief: Floats, i: int, found: Floats) -> float:
    """Return the chance that a look finds bugs that are there; mistakes do not count."""
    total = 0.0
    for a in range(1, belief.shape[1]):
        total += belief[i, a] * found[a]
    return total

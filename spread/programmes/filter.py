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

from spread.posterior.dynamics import LEVELS, Floats
from spread.programmes.inside import BORROWS, COMPILED
from spread.programmes.rules import EMPTY_WEEKS, HOLD_UNTIL, MOVED_IN, REPORTED, VACANT
from spread.programmes.tables import Tables, at

Contacts = tuple[NDArray[np.int64], NDArray[np.int64], Floats]

LEAST = 1e-9  #: Shedding below this presses on nobody: 1e-9 of a heavy unit


@nb.njit(**BORROWS)
def multiply(belief: Floats, i: int, likelihood: Floats) -> None:
    """Multiply a likelihood, shape (levels,), into one unit's chances."""
    total = 0.0
    for a in range(LEVELS):
        belief[i, a] *= likelihood[a]
        total += belief[i, a]
    for a in range(LEVELS):
        belief[i, a] /= total


@nb.njit(**BORROWS)
def hear(belief: Floats, state: NDArray[np.int32], week: int, report: Floats) -> None:
    """Take in a week's reports, and silence where it says something.

    ``belief``: shape (N, levels); ``state``: state of the units (:mod:`spread.programmes.rules`); ``report``:
    shape (2, levels): weekly chance of a report, occupied then vacant.
    """
    for i in range(belief.shape[0]):
        heard = state[REPORTED, i] == 1
        if not heard and state[HOLD_UNTIL, i] > week:
            continue
        empty, total = state[VACANT, i], 0.0
        for a in range(LEVELS):
            belief[i, a] *= report[empty, a] if heard else 1.0 - report[empty, a]
            total += belief[i, a]
        for a in range(LEVELS):
            belief[i, a] /= total


@nb.njit(**COMPILED)
def predict(
    belief: Floats, state: NDArray[np.int32], contacts: Contacts, brought_in: float, mixing: float,
    tables: Tables, which: NDArray[np.int64],
) -> None:  # fmt: skip
    """Let the chances of several runs live a week.

    The runs go side by side for speed: a contact is read once for all of them, and the processor adds up
    several runs at a time. The sums of each run are those of a run alone, to the last bit.

    Parameters
    ----------
    belief : Shape (runs or more, N, levels), moved in place
    state : Shape (runs or more, rows, N)
    contacts : Compressed rows with the weekly hazard along each contact from a heavy unit
    brought_in, mixing : Weekly hazards, mixing spread evenly over the units
    tables, which : All tables, and which of them is each run's, shape (runs,)
    """
    indptr, indices, weights = contacts
    n, runs = belief.shape[1], which.shape[0]
    shed, push, everywhere = np.empty((n, runs)), np.zeros((n, runs)), np.zeros(runs)
    for run in range(runs):
        _shed(belief[run], state[run], at(tables, which[run]), shed[:, run])
    for j in range(n):
        for run in range(runs):
            push[j, run] -= shed[j, run] * mixing / n  # a unit does not mix with itself
            everywhere[run] += shed[j, run]
            shed[j, run] = shed[j, run] if shed[j, run] > LEAST else 0.0
        for place in range(indptr[j], indptr[j + 1]):
            i, weight = indices[place], weights[place]
            for run in range(runs):
                push[i, run] += shed[j, run] * weight
    for run in range(runs):
        around = everywhere[run] * mixing / n
        _step(belief[run], state[run], brought_in, around, at(tables, which[run]), push[:, run])


@nb.njit(**BORROWS)
def _shed(belief: Floats, state: NDArray[np.int32], t: Tables, shed: Floats) -> None:
    """Write down what each unit of one run is expected to shed."""
    shedding, odds = t.shedding, t.odds
    for j in range(belief.shape[0]):
        out = 0.0
        for a in range(1, LEVELS):
            out += belief[j, a] * shedding[a]
        if state[VACANT, j] and state[EMPTY_WEEKS, j] < odds[3]:
            out *= odds[2]
        shed[j] = out


@nb.njit(**BORROWS)
def _step(
    belief: Floats, state: NDArray[np.int32], brought_in: float, around: float, t: Tables, push: Floats
) -> None:
    """Move the chances of one run under the pressure of contacts, shape (N,), and from anywhere inside."""
    growth, odds = t.growth, t.odds
    for i in range(belief.shape[0]):
        empty = state[VACANT, i]
        hazard = brought_in + (odds[1] if empty else 1.0) * (push[i] + around)
        if state[MOVED_IN, i]:
            hazard += odds[0]
        came = belief[i, 0] * -math.expm1(-hazard)
        below = belief[i, 0] - came
        here = belief[i, 1]
        # Growth moves a unit by one level at most, so three terms make each new chance.
        belief[i, 0] = below + here * growth[empty, 1, 0]
        carried = came
        for a in range(1, LEVELS):
            above = belief[i, a + 1] if a + 1 < LEVELS else 0.0
            new = carried + here * growth[empty, a, a]
            if a + 1 < LEVELS:
                new += above * growth[empty, a + 1, a]
                carried = here * growth[empty, a, a + 1]
            belief[i, a] = new
            here = above


@nb.njit(**COMPILED)
def treat(belief: Floats, i: int, effect: Floats) -> None:
    """Let a treatment, shape (levels, levels), act on one unit's chances."""
    after = np.zeros(LEVELS)
    for a in range(LEVELS):
        for b in range(LEVELS):
            after[b] += belief[i, a] * effect[a, b]
    for b in range(LEVELS):
        belief[i, b] = after[b]


@nb.njit(**BORROWS)
def chance_of_find(belief: Floats, i: int, found: Floats) -> float:
    """Return the chance that a look finds bugs that are there; mistakes do not count."""
    total = 0.0
    for a in range(1, LEVELS):
        total += belief[i, a] * found[a]
    return total

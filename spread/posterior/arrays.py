"""What a sweep reads (the model) and what it keeps (a joint path of all units and its sums), as arrays.

A contact that stays clear contributes ``exp(-w shedding(a))``, so all such contacts of a week add up to one
exponent; and only *events* (a contact newly infested, or treated while clear) need a term of their own, so
they are kept in a list for each week. The sums are brought up to date with every path that is put in.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Dynamics, Floats, Network
from spread.posterior.observations import Evidence

Levels = NDArray[np.int8]
SMALL = 1.0 / 16.0
"""Below this, exp is replaced by its series to the seventh power (error under 1e-14): most hazards are."""


# In the compiled functions the parts of the tuples are taken out before the loops: a loop over
# ``m.weights[k]`` counts the references of ``m`` at every step and runs several times slower.


class Model(NamedTuple):
    """What a sweep reads and never changes."""

    likelihood: Floats  # (N, T, levels)
    treated: NDArray[np.int64]  # (N, T)
    effects: Floats  # (kinds, levels, levels)
    vacant: NDArray[np.bool_]  # (N, T)
    introduction: Floats  # (N, T): brought in and moved in; rewritten when rates are learned
    moving: Floats  # (N, T): the part of it that comes with a move-in
    openness: Floats  # (N, T)
    export: Floats  # (N, T)
    start: Floats  # (levels,)
    growth: Floats  # (2, levels, levels)
    shedding: Floats  # (levels,)
    indptr: NDArray[np.int64]
    indices: NDArray[np.int64]
    exposure: Floats  # (contacts, routes)
    weights: Floats  # (contacts,): rewritten when rates are learned
    dense: Floats  # (N, N): the same as a matrix
    mixing: Floats  # (1,): hazard upon one unit from one heavy unit anywhere


class State(NamedTuple):
    """A joint path of all units, and the sums that are kept up to date with it."""

    x: Levels  # (N, T)
    pressure: Floats  # (N, T): sum over contacts of weight x shedding
    shed: Floats  # (T,): sum over all units of shedding
    staying: Floats  # (N, T): openness where the unit stays clear untreated, else 0
    stays: Floats  # (T,): sum of staying
    event_unit: NDArray[np.int64]  # (T, N): units with an event in that week
    event_count: NDArray[np.int64]  # (T,)
    event_place: NDArray[np.int64]  # (N, T): place in the list, or -1


def assemble(network: Network, dynamics: Dynamics, evidence: Evidence) -> Model:
    """Bring the parts together as the arrays that the compiled code takes.

    ``network``: contacts and their exposure; ``dynamics``: rates per week, growth and start; ``evidence``:
    what the log says, by unit and week.
    """
    return Model(
        likelihood=np.ascontiguousarray(evidence.likelihood),
        treated=evidence.treated,
        effects=evidence.effects,
        vacant=evidence.vacant,
        introduction=evidence.introduction.copy(),
        moving=evidence.introduction - dynamics.brought_in,
        openness=evidence.openness,
        export=evidence.export,
        start=dynamics.start,
        growth=dynamics.growth,
        shedding=dynamics.shedding,
        indptr=network.indptr,
        indices=network.indices,
        exposure=network.exposure,
        weights=network.weights(dynamics.rates),
        dense=network.dense(dynamics.rates),
        mixing=np.array([dynamics.mixing / max(1, network.size)]),
    )


def new_state(model: Model, x: Levels) -> State:
    """Return the state of a joint path ``x`` (N, T), with its sums computed afresh.

    ``model``: what the sweep reads; ``x``: shape (N, T): a level for every unit and week.
    """
    n, t = x.shape
    state = State(
        x=np.ascontiguousarray(x, dtype=np.int8).copy(),
        pressure=np.zeros((n, t)),
        shed=np.zeros(t),
        staying=np.zeros((n, t)),
        stays=np.zeros(t),
        event_unit=np.zeros((t, n), dtype=np.int64),
        event_count=np.zeros(t, dtype=np.int64),
        event_place=np.full((n, t), -1, dtype=np.int64),
    )
    recompute(model, state)
    return state


@nb.njit(cache=True, nogil=True, error_model="numpy")
def lost(u: float) -> float:
    """Return 1 - exp(-u) for u >= 0, without loss of digits near zero."""
    if u > SMALL:
        return -math.expm1(-u)
    inner = 1.0 / 120.0 - u * (1.0 / 720.0 - u / 5040.0)
    return u * (1.0 - u * (0.5 - u * (1.0 / 6.0 - u * (1.0 / 24.0 - u * inner))))


@nb.njit(cache=True, nogil=True, error_model="numpy")
def press(m: Model, s: State) -> None:
    """Compute the pressure on every unit from the path and the weights."""
    export, shedding, indptr, indices, weights = m.export, m.shedding, m.indptr, m.indices, m.weights
    x, pressure, shed = s.x, s.pressure, s.shed
    n_units, n_weeks = x.shape
    pressure[:] = 0.0
    shed[:] = 0.0
    out = np.empty(n_weeks)
    for i in range(n_units):
        first = n_weeks
        last = -1
        for t in range(n_weeks):
            out[t] = shedding[x[i, t]] * export[i, t]
            if out[t] > 0.0:
                shed[t] += out[t]
                first = min(first, t)
                last = t
        for k in range(indptr[i], indptr[i + 1]):
            j = indices[k]
            w = weights[k]
            for t in range(first, last + 1):
                pressure[j, t] += w * out[t]


@nb.njit(cache=True, nogil=True, error_model="numpy")
def recompute(m: Model, s: State) -> None:
    """Compute every kept sum from the path alone."""
    n_units, n_weeks = s.x.shape
    press(m, s)
    s.staying[:] = 0.0
    s.stays[:] = 0.0
    s.event_count[:] = 0
    s.event_place[:] = -1
    for i in range(n_units):
        for t in range(n_weeks):
            classify(m, s, i, t)


@nb.njit(cache=True, nogil=True, error_model="numpy", inline="always")
def classify(m: Model, s: State, i: int, t: int) -> None:
    """File what unit ``i`` does from week ``t`` to the next: it stays clear, it has an event, or neither.

    ``m``, ``s``: model and state; the sums of the state are brought up to date; ``i``, ``t``: unit and week.
    """
    if t >= s.x.shape[1] - 1:
        return
    clear = s.x[i, t] == 0
    event = clear and (m.treated[i, t] >= 0 or s.x[i, t + 1] > 0)
    value = m.openness[i, t] if clear and not event else 0.0
    s.stays[t] += value - s.staying[i, t]
    s.staying[i, t] = value
    place = s.event_place[i, t]
    if event and place < 0:
        place = s.event_count[t]
        s.event_unit[t, place] = i
        s.event_place[i, t] = place
        s.event_count[t] += 1
    elif not event and place >= 0:
        last = s.event_count[t] - 1
        moved = s.event_unit[t, last]
        s.event_unit[t, place] = moved
        s.event_place[moved, t] = place
        s.event_place[i, t] = -1
        s.event_count[t] = last


@nb.njit(cache=True, nogil=True, error_model="numpy")
def put_path(m: Model, s: State, i: int, path: Levels) -> None:
    """Replace the path of unit ``i`` and bring every kept sum up to date.

    ``m``, ``s``: model and state; the state is changed; ``i``: the unit; ``path``: shape (T,): its new
    levels.
    """
    n_weeks = path.shape[0]
    change = np.zeros(n_weeks)
    changed = np.zeros(n_weeks + 1, dtype=np.bool_)
    first = n_weeks
    last = -1
    for t in range(n_weeks):
        if path[t] != s.x[i, t]:
            change[t] = (m.shedding[path[t]] - m.shedding[s.x[i, t]]) * m.export[i, t]
            s.shed[t] += change[t]
            changed[t] = True
            first = min(first, t)
            last = t
            s.x[i, t] = path[t]
    if last < 0:
        return
    for k in range(m.indptr[i], m.indptr[i + 1]):
        j = m.indices[k]
        w = m.weights[k]
        for t in range(first, last + 1):
            s.pressure[j, t] += w * change[t]
    for t in range(max(0, first - 1), last + 1):
        if changed[t] or changed[t + 1]:
            classify(m, s, i, t)

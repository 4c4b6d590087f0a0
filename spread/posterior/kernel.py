"""The compiled sweep: individual forward filtering, backward sampling.

One unit's whole path is drawn given all the others (method from memory of Touloupou,
Finkenstädt & Spencer 2020, J. Comput. Graph. Stat. 29:238-249; formulas in ``model.md`` 5),
then the next unit's, until every unit had its turn: one sweep.

What a unit would have done to the others enters as a factor on its own path. Two facts keep
that factor cheap. A contact that stays clear contributes ``exp(-w shedding(a))``, so all such
contacts of a week add up to one exponent; and only *events* (a contact newly infested, or
treated while clear) need a term of their own, so they are kept in a list for each week.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import LEVELS, Dynamics, Floats, Network
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

    Parameters
    ----------
    network
        Contacts and their exposure.
    dynamics
        Rates per week, growth and start.
    evidence
        What the log says, by unit and week.
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

    Parameters
    ----------
    model
        What the sweep reads.
    x
        Shape (N, T): a level for every unit and week.
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

    Parameters
    ----------
    m, s
        Model and state; the sums of the state are brought up to date.
    i, t
        Unit and week.
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
def influence(m: Model, s: State, i: int, out: Floats) -> None:
    """Write into ``out`` (T, levels) the chance of what the others did next given each level of ``i``.

    It is known up to a factor in each week; level 0 has 1.

    Parameters
    ----------
    m, s
        Model and state.
    i
        The unit.
    out
        Shape (T, levels); written.
    """
    treated, effects, introduction, openness, export, shedding, indptr, indices, weights, dense, mixing = (
        m.treated,
        m.effects,
        m.introduction,
        m.openness,
        m.export,
        m.shedding,
        m.indptr,
        m.indices,
        m.weights,
        m.dense,
        m.mixing,
    )
    x, pressure, shed, staying, stays, event_unit, event_count = (
        s.x,
        s.pressure,
        s.shed,
        s.staying,
        s.stays,
        s.event_unit,
        s.event_count,
    )
    n_weeks = out.shape[0]
    mean_field = mixing[0]
    exponent = np.empty(n_weeks)
    for t in range(n_weeks):
        exponent[t] = mean_field * (stays[t] - staying[i, t])
    for k in range(indptr[i], indptr[i + 1]):
        j = indices[k]
        w = weights[k]
        for t in range(n_weeks):
            exponent[t] += w * staying[j, t]
    for t in range(n_weeks):
        out[t, 0] = 1.0
        power = exponent[t] * export[i, t]
        for a in range(1, LEVELS):
            out[t, a] = 1.0 - lost(power * shedding[a])
        for e in range(event_count[t]):
            j = event_unit[t, e]
            if j == i:
                continue
            unit_push = openness[j, t] * (dense[i, j] + mean_field) * export[i, t]
            if unit_push == 0.0:
                continue
            hazard = introduction[j, t] + openness[j, t] * (pressure[j, t] + mean_field * shed[t])
            hazard -= unit_push * shedding[x[i, t]]
            hit = lost(hazard)
            base = 1.0 - hit
            if treated[j, t] >= 0:
                y = x[j, t + 1]
                if_clear = effects[treated[j, t], 0, y]
                if_hit = effects[treated[j, t], 1, y]
            else:
                if_clear = 0.0
                if_hit = 1.0
            # P(y) = if_hit + (if_clear - if_hit) exp(-hazard); as a ratio to level 0, so that many
            # of them multiplied neither vanish nor overflow.
            at_zero = if_clear * base + if_hit * hit
            if at_zero <= 0.0:
                continue
            change = (if_hit - if_clear) * base / at_zero
            for a in range(1, LEVELS):
                out[t, a] *= 1.0 + change * lost(unit_push * shedding[a])


@nb.njit(cache=True, nogil=True, error_model="numpy")
def clear_chance(m: Model, s: State, i: int, out: Floats) -> None:
    """Write into ``out`` (T,) the chance that unit ``i``, if clear, escapes infestation that week.

    Parameters
    ----------
    m, s
        Model and state.
    i
        The unit.
    out
        Shape (T,); written.
    """
    introduction, openness, export, shedding, mixing = (
        m.introduction,
        m.openness,
        m.export,
        m.shedding,
        m.mixing,
    )
    x, pressure, shed = s.x, s.pressure, s.shed
    for t in range(out.shape[0]):
        own = shedding[x[i, t]] * export[i, t]
        push = pressure[i, t] + mixing[0] * (shed[t] - own)
        out[t] = 1.0 - lost(introduction[i, t] + openness[i, t] * push)


@nb.njit(cache=True, nogil=True, error_model="numpy")
def filter_forward(m: Model, i: int, escape: Floats, factor: Floats, alpha: Floats) -> None:
    """Write the forward filter of unit ``i`` into ``alpha`` (T, levels), each week summing to one.

    Parameters
    ----------
    m
        Model.
    i
        The unit.
    escape
        Shape (T,), of :func:`clear_chance`.
    factor
        Shape (T, levels), of :func:`influence`.
    alpha
        Shape (T, levels); written.
    """
    likelihood, treated, effects, vacant, start, growth = (
        m.likelihood,
        m.treated,
        m.effects,
        m.vacant,
        m.start,
        m.growth,
    )
    n_weeks = alpha.shape[0]
    step = np.empty(LEVELS)
    mixed = np.empty(LEVELS)
    total = 0.0
    for a in range(LEVELS):
        alpha[0, a] = start[a] * likelihood[i, 0, a] * factor[0, a]
        total += alpha[0, a]
    for a in range(LEVELS):
        alpha[0, a] /= total
    for t in range(n_weeks - 1):
        g = 1 if vacant[i, t] else 0
        clear = alpha[t, 0]
        # Growth moves a unit by one level at most, so three terms a level suffice.
        step[0] = clear * escape[t] + alpha[t, 1] * growth[g, 1, 0]
        step[1] = clear * (1.0 - escape[t]) + alpha[t, 1] * growth[g, 1, 1] + alpha[t, 2] * growth[g, 2, 1]
        for a in range(2, LEVELS):
            step[a] = alpha[t, a - 1] * growth[g, a - 1, a] + alpha[t, a] * growth[g, a, a]
            if a + 1 < LEVELS:
                step[a] += alpha[t, a + 1] * growth[g, a + 1, a]
        k = treated[i, t]
        if k >= 0:
            mixed[:] = step
            for a in range(LEVELS):
                step[a] = 0.0
                for r in range(LEVELS):
                    step[a] += mixed[r] * effects[k, r, a]
        total = 0.0
        for a in range(LEVELS):
            step[a] *= likelihood[i, t + 1, a] * factor[t + 1, a]
            total += step[a]
        scale = 1.0 / total
        for a in range(LEVELS):
            alpha[t + 1, a] = step[a] * scale


@nb.njit(cache=True, nogil=True, error_model="numpy")
def sample_backward(
    m: Model, i: int, escape: Floats, alpha: Floats, path: Levels, rng: np.random.Generator
) -> None:
    """Draw a path of unit ``i`` into ``path`` (T,) from its filter.

    Parameters
    ----------
    m
        Model.
    i
        The unit.
    escape
        Shape (T,), of :func:`clear_chance`.
    alpha
        Shape (T, levels), of :func:`filter_forward`.
    path
        Shape (T,); written.
    rng
        Source of chance.
    """
    treated, effects, vacant, growth = m.treated, m.effects, m.vacant, m.growth
    n_weeks = alpha.shape[0]
    path[n_weeks - 1] = pick(alpha[n_weeks - 1], 1.0, rng.random())
    weight = np.empty(LEVELS)
    for t in range(n_weeks - 2, -1, -1):
        y = path[t + 1]
        k = treated[i, t]
        g = 1 if vacant[i, t] else 0
        total = 0.0
        if k < 0:
            into = escape[t] if y == 0 else (1.0 - escape[t] if y == 1 else 0.0)
            weight[0] = alpha[t, 0] * into
            total = weight[0]
            for r in range(1, LEVELS):
                weight[r] = alpha[t, r] * growth[g, r, y]
                total += weight[r]
        else:
            weight[0] = alpha[t, 0] * (escape[t] * effects[k, 0, y] + (1.0 - escape[t]) * effects[k, 1, y])
            total = weight[0]
            for r in range(1, LEVELS):
                reach = 0.0
                for a in range(LEVELS):
                    reach += growth[g, r, a] * effects[k, a, y]
                weight[r] = alpha[t, r] * reach
                total += weight[r]
        path[t] = pick(weight, total, rng.random())


@nb.njit(cache=True, nogil=True, error_model="numpy")
def pick(weights: Floats, total: float, uniform: float) -> int:
    """Return an index drawn from ``weights`` (summing to ``total``) by one uniform number.

    Parameters
    ----------
    weights
        Shape (levels,): 0 or more.
    total
        Their sum.
    uniform
        A number from 0 to below 1.
    """
    left = uniform * total
    last = LEVELS - 1
    for a in range(last):
        left -= weights[a]
        if left < 0.0:
            return a
    while last > 0 and weights[last] == 0.0:
        last -= 1
    return last


@nb.njit(cache=True, nogil=True, error_model="numpy")
def put_path(m: Model, s: State, i: int, path: Levels) -> None:
    """Replace the path of unit ``i`` and bring every kept sum up to date.

    Parameters
    ----------
    m, s
        Model and state; the state is changed.
    i
        The unit.
    path
        Shape (T,): its new levels.
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


@nb.njit(cache=True, nogil=True, error_model="numpy")
def sweep(m: Model, s: State, rng: np.random.Generator, now: Floats) -> None:
    """Draw every unit's path once, in random order.

    ``now`` (N, levels) receives each unit's chances in the last week given all the others:
    their mean over sweeps estimates the same as the draws' with less noise.

    Parameters
    ----------
    m, s
        Model and state; the state is changed.
    rng
        Source of chance.
    now
        Shape (N, levels); written.
    """
    n_units, n_weeks = s.x.shape
    order = np.arange(n_units)
    for last in range(n_units - 1, 0, -1):
        other = int(rng.random() * (last + 1))
        order[last], order[other] = order[other], order[last]
    escape = np.empty(n_weeks)
    factor = np.empty((n_weeks, LEVELS))
    alpha = np.empty((n_weeks, LEVELS))
    path = np.empty(n_weeks, dtype=np.int8)
    for i in order:
        clear_chance(m, s, i, escape)
        influence(m, s, i, factor)
        filter_forward(m, i, escape, factor, alpha)
        sample_backward(m, i, escape, alpha, path, rng)
        put_path(m, s, i, path)
        now[i] = alpha[n_weeks - 1]

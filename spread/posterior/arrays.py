"""What a sweep reads (the model) and what it keeps (a joint path of all units and its sums), as arrays.

A contact that stays clear contributes ``exp(-w shedding(a))``, so all such contacts of a week add up to one
exponent; and only *events* (a contact newly infested, or treated while clear) need a term of their own, so
they are kept in a list for each week. The sums are brought up to date with every path that is put in.
"""

from __future__ import annotations

from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.compiling import CALLED, INNER
from spread.posterior.dynamics import Dynamics, Floats, Network
from spread.posterior.observations import Evidence

Levels = NDArray[np.int8]
LANES = 16
"""The list of events is filled up to a multiple of this with ones that nobody can have caused: what is left
over of a loop done several at a time costs as much as the rest of it."""


# In the compiled functions the parts of the tuples are taken out before the loops: a loop over
# ``m.weights[k]`` counts the references of ``m`` at every step and runs several times slower.


class Model(NamedTuple):
    """What a sweep reads and never changes."""

    likelihood: Floats  # (N, T, levels)
    treated: NDArray[np.int64]  # (N, T)
    effects: Floats  # (kinds, levels, levels)
    vacant: NDArray[np.bool_]  # (N, T)
    introduction: Floats  # (N, T): brought in and moved in; rewritten when rates are learned
    moving: Floats  # (N, T): move-ins of the week; the last rate is what comes with one
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
    members: NDArray[np.bool_]  # (N,): who shares a room that no plan shows; rewritten when it is learned
    room: Floats  # (1,): hazard upon a member from another that is heavy; the same


class State(NamedTuple):
    """A joint path of all units, and the sums that are kept up to date with it."""

    x: Levels  # (N, T)
    pressure: Floats  # (N, T): sum over contacts, and over members of a shared room, of weight x shedding
    sheds: Floats  # (N, T): what each unit sheds
    shed: Floats  # (T,): sum of sheds over all units
    staying: Floats  # (N, T): openness where the unit stays clear untreated, else 0
    stays: Floats  # (T,): sum of staying
    event_unit: NDArray[np.int64]  # (T, N): units with an event in that week
    event_count: NDArray[np.int64]  # (T,)
    event_place: NDArray[np.int64]  # (N, T): place in the list, or -1
    listed: NDArray[np.int64]  # (1,): how many events the lists below hold; -1 when a path has changed since
    listed_unit: NDArray[np.uint32]  # (N x T + LANES,): all events as one list: whose
    listed_week: NDArray[np.uint32]  # the same shape: and when
    listed_terms: (
        Floats  # (4, the same): hazard, openness, chance of what followed if it stayed clear, if hit
    )


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
        moving=(evidence.introduction - dynamics.brought_in) / (dynamics.move_in or 1.0),
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
        members=np.zeros(network.size, dtype=np.bool_),
        room=np.zeros(1),
    )


def new_state(model: Model, x: Levels) -> State:
    """Return the state of a joint path ``x`` (N, T), with its sums computed afresh.

    ``model``: what the sweep reads; ``x``: shape (N, T): a level for every unit and week.
    """
    n, t = x.shape
    state = State(
        x=np.ascontiguousarray(x, dtype=np.int8).copy(),
        pressure=np.zeros((n, t)),
        sheds=np.zeros((n, t)),
        shed=np.zeros(t),
        staying=np.zeros((n, t)),
        stays=np.zeros(t),
        event_unit=np.zeros((t, n), dtype=np.int64),
        event_count=np.zeros(t, dtype=np.int64),
        event_place=np.full((n, t), -1, dtype=np.int64),
        listed=np.full(1, -1, dtype=np.int64),
        listed_unit=np.zeros(n * t + LANES, dtype=np.uint32),
        listed_week=np.zeros(n * t + LANES, dtype=np.uint32),
        listed_terms=np.zeros((4, n * t + LANES)),
    )
    recompute(model, state)
    return state


@nb.njit(**INNER)
def press(m: Model, s: State) -> None:
    """Compute the pressure on every unit from what all shed and the weights."""
    s.listed[0] = -1
    indptr, indices, weights = m.indptr, m.indices, m.weights
    members, room = m.members, m.room[0]
    pressure, sheds, shed = s.pressure, s.sheds, s.shed
    n_units, n_weeks = sheds.shape
    pressure[:] = 0.0
    shed[:] = 0.0
    for i in range(n_units):
        first, last = 0, n_weeks - 1
        while first < n_weeks and sheds[i, first] == 0.0:
            first += 1
        while last > first and sheds[i, last] == 0.0:
            last -= 1
        for t in range(first, last + 1):
            shed[t] += sheds[i, t]
        for k in range(indptr[i], indptr[i + 1]):
            j = indices[k]
            w = weights[k]
            for t in range(first, last + 1):
                pressure[j, t] += w * sheds[i, t]
        if members[i]:
            press_members(members, i, room, sheds[i], first, last, pressure)


@nb.njit(**INNER)
def press_members(
    members: NDArray[np.bool_], i: int, room: float, out: Floats, first: int, last: int, pressure: Floats
) -> None:
    """Add to the pressure on the other members of a shared room what member ``i`` sheds in these weeks.

    ``members``: shape (N,); ``i``: the unit; ``room``: hazard from a heavy member; ``out``: shape (T,): what
    it sheds; ``first``, ``last``: weeks; ``pressure``: shape (N, T); added to.
    """
    for j in range(members.shape[0]):
        if members[j] and j != i:
            for t in range(first, last + 1):
                pressure[j, t] += room * out[t]


@nb.njit(**CALLED)
def recompute(m: Model, s: State) -> None:
    """Compute every kept sum from the path alone."""
    n_units, n_weeks = s.x.shape
    export, shedding, x, sheds = m.export, m.shedding, s.x, s.sheds
    for i in range(n_units):
        for t in range(n_weeks):
            sheds[i, t] = shedding[x[i, t]] * export[i, t]
    press(m, s)
    s.staying[:] = 0.0
    s.stays[:] = 0.0
    s.event_count[:] = 0
    s.event_place[:] = -1
    moved = np.ones(n_weeks, dtype=np.bool_)
    for i in range(n_units):
        classify(m, s, i, moved, np.int64(0), n_weeks - 1)


@nb.njit(**INNER)
def list_events(m: Model, s: State) -> None:
    """Write all events of all weeks into one list, with what does not depend on who asks.

    Most units keep their path in a sweep, so the list serves several units before it is written again.

    Parameters
    ----------
    m, s
        Model and state; the ``listed`` parts of the state are written.
    """
    treated, effects, introduction, openness, mixing = (
        m.treated,
        m.effects,
        m.introduction,
        m.openness,
        m.mixing,
    )
    x, pressure, shed, event_unit, event_count = s.x, s.pressure, s.shed, s.event_unit, s.event_count
    unit, week, terms = s.listed_unit, s.listed_week, s.listed_terms
    mean_field = mixing[0]
    n = 0
    for t in range(event_count.shape[0]):
        for e in range(event_count[t]):
            j = event_unit[t, e]
            unit[n] = j
            week[n] = t
            terms[0, n] = introduction[j, t] + openness[j, t] * (pressure[j, t] + mean_field * shed[t])
            terms[1, n] = openness[j, t]
            k = treated[j, t]
            if k >= 0:
                y = x[j, t + 1]
                terms[2, n] = effects[k, 0, y]
                terms[3, n] = effects[k, 1, y]
            else:
                terms[2, n] = 0.0
                terms[3, n] = 1.0
            n += 1
    while n % LANES:
        unit[n], week[n] = 0, 0
        terms[0, n], terms[1, n], terms[2, n], terms[3, n] = 1.0, 0.0, 0.0, 1.0
        n += 1
    s.listed[0] = n


@nb.njit(**INNER)
def classify(m: Model, s: State, i: int, moved: NDArray[np.bool_], first: int, last: int) -> None:
    """File what unit ``i`` does from each week to the next: it stays clear, it has an event, or neither.

    ``m``, ``s``: model and state; the sums of the state are brought up to date; ``i``: the unit; ``moved``:
    shape (T,), weeks whose level has changed, steps from or into which are filed anew; ``first``, ``last``:
    first and last of them.
    """
    treated, openness = m.treated, m.openness
    x, staying, stays, event_unit, event_count, event_place = (
        s.x,
        s.staying,
        s.stays,
        s.event_unit,
        s.event_count,
        s.event_place,
    )
    for t in range(max(0, first - 1), min(last + 1, x.shape[1] - 1)):
        if not (moved[t] or moved[t + 1]):
            continue
        clear = x[i, t] == 0
        event = clear and (treated[i, t] >= 0 or x[i, t + 1] > 0)
        value = openness[i, t] if clear and not event else 0.0
        stays[t] += value - staying[i, t]
        staying[i, t] = value
        place = event_place[i, t]
        if event and place < 0:
            place = event_count[t]
            event_unit[t, place] = i
            event_place[i, t] = place
            event_count[t] += 1
        elif not event and place >= 0:
            end = event_count[t] - 1
            other = event_unit[t, end]
            event_unit[t, place] = other
            event_place[other, t] = place
            event_place[i, t] = -1
            event_count[t] = end


@nb.njit(**INNER)
def differs(x: Levels, i: int, path: Levels) -> bool:
    """Return whether a path is another than the present one of unit ``i``: mostly it is not."""
    different = 0
    for t in range(path.shape[0]):
        different |= path[t] ^ x[i, t]
    return different != 0


@nb.njit(**CALLED)
def put_path(m: Model, s: State, i: int, path: Levels) -> None:
    """Replace the path of unit ``i`` and bring every kept sum up to date.

    ``m``, ``s``: model and state; the state is changed; ``i``: the unit; ``path``: shape (T,): its new
    levels.
    """
    shedding, export, indptr, indices, weights = m.shedding, m.export, m.indptr, m.indices, m.weights
    x, shed, sheds, pressure = s.x, s.shed, s.sheds, s.pressure
    n_weeks = path.shape[0]
    change = np.zeros(n_weeks)
    moved = np.zeros(n_weeks, dtype=np.bool_)
    first = n_weeks
    last = -n_weeks  # before any week, and no constant: for one, what is called with it is compiled again
    for t in range(n_weeks):
        if path[t] != x[i, t]:
            now = shedding[path[t]] * export[i, t]
            change[t] = now - sheds[i, t]
            shed[t] += change[t]
            sheds[i, t] = now
            moved[t] = True
            first = min(first, t)
            last = t
            x[i, t] = path[t]
    for k in range(indptr[i], indptr[i + 1]):
        j = indices[k]
        w = weights[k]
        for t in range(first, last + 1):
            pressure[j, t] += w * change[t]
    if m.members[i]:
        press_members(m.members, i, m.room[0], change, first, last, pressure)
    classify(m, s, i, moved, first, last)
    s.listed[0] = -1

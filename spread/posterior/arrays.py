"""What a sweep reads (the model) and what it keeps (a joint path of all units and its sums), as arrays.

A contact that stays clear contributes ``exp(-w shedding(a))``, so all such contacts of a week add up to one
exponent; and only *events* (a unit newly infested, or treated while clear) need a term of their own, so each
unit's are kept in a list. The sums are brought up to date with every path that is put in.

Through building-wide mixing every unit has a part in every event. So a sweep draws for each event whether
mixing had one (:func:`split`): where it had none, mixing adds to the exponent and only contacts need the
term; where it had one, contacts need none. The paths are then drawn given that, and it is drawn afresh in
every sweep and with every path: the same posterior, with few terms a unit in place of all.
"""

from __future__ import annotations

from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.compiling import BARE, CALLED, INNER
from spread.posterior.dynamics import Dynamics, Floats, Network
from spread.posterior.exponential import lost
from spread.posterior.observations import Evidence

Levels = NDArray[np.int8]
LANES = 16
"""A list of terms is filled up to a multiple of this with ones that nobody can have caused: what is left over
of a loop done several at a time costs as much as the rest of it."""
WHOLE, NEAR, MIXED = range(3)
"""Whether mixing had a part in an event: not drawn, so that everybody reads the event as it is; no; yes."""


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
    event_week: NDArray[np.int64]  # (N, T): weeks of each unit's events, in order
    event_kind: Levels  # (N, T): and whether mixing had a part in them
    event_count: NDArray[np.int64]  # (N,): how many they are
    near: Floats  # (T,): sum of the openness of events in which mixing had no part
    wide: NDArray[np.int64]  # (3, N x T): all other events: whose, when, of what kind
    wide_count: NDArray[np.int64]  # (1,)
    term_unit: NDArray[np.uint32]  # (N x T + LANES,): room for the terms of one unit's turn: whose event,
    term_week: NDArray[np.uint32]  # the same shape: and when
    # (6, the same): hazard from others, from a heavy unit, chance if it stayed clear, if hit, and results
    terms: Floats


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
        event_week=np.zeros((n, t), dtype=np.int64),
        event_kind=np.zeros((n, t), dtype=np.int8),
        event_count=np.zeros(n, dtype=np.int64),
        near=np.zeros(t),
        wide=np.zeros((3, n * t), dtype=np.int64),
        wide_count=np.zeros(1, dtype=np.int64),
        term_unit=np.zeros(n * t + LANES, dtype=np.uint32),
        term_week=np.zeros(n * t + LANES, dtype=np.uint32),
        terms=np.zeros((6, n * t + LANES)),
    )
    recompute(model, state)
    return state


@nb.njit(**INNER, **BARE)
def press(m: Model, s: State) -> None:
    """Compute the pressure on every unit from what all shed and the weights."""
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


@nb.njit(**INNER, **BARE)
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


@nb.njit(**CALLED, **BARE)
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
    s.near[:] = 0.0
    s.wide_count[0] = 0
    for i in range(n_units):
        classify(m, s, i, np.int64(0), n_weeks - 1)


@nb.njit(**INNER, **BARE)
def classify(m: Model, s: State, i: int, first: int, last: int) -> None:
    """File what unit ``i`` does from each week to the next: it stays clear, it has an event, or neither.

    ``m``, ``s``: model and state; the sums of the state are brought up to date, but those of earlier events
    (:func:`withdraw`); ``i``: the unit; ``first``, ``last``: first and last week whose level may have
    changed.
    """
    treated, openness = m.treated, m.openness
    x, staying, stays, event_week, event_kind, wide = (
        s.x,
        s.staying,
        s.stays,
        s.event_week,
        s.event_kind,
        s.wide,
    )
    n_weeks = x.shape[1]
    for t in range(max(0, first - 1), min(last + 1, n_weeks - 1)):
        stay = (x[i, t] | x[i, t + 1]) == 0 and treated[i, t] < 0
        value = openness[i, t] if stay else 0.0
        stays[t] += value - staying[i, t]
        staying[i, t] = value
    count = 0
    for t in range(n_weeks - 1):
        event_week[i, count] = t
        count += (x[i, t] == 0) & ((x[i, t + 1] > 0) | (treated[i, t] >= 0))
    end = s.wide_count[0]
    for e in range(count):
        event_kind[i, e] = WHOLE
        wide[0, end + e], wide[1, end + e], wide[2, end + e] = i, event_week[i, e], WHOLE
    s.wide_count[0] = end + count
    s.event_count[i] = count


@nb.njit(**INNER, **BARE)
def withdraw(m: Model, s: State, i: int) -> None:
    """Take the events of unit ``i`` out of the sums and lists over all units."""
    near, openness, wide, event_week, event_kind = s.near, m.openness, s.wide, s.event_week, s.event_kind
    left = 0
    for e in range(s.event_count[i]):
        if event_kind[i, e] == NEAR:
            near[event_week[i, e]] -= openness[i, event_week[i, e]]
        else:
            left += 1
    end, place = s.wide_count[0], 0
    while left > 0:
        if wide[0, place] == i:
            end -= 1
            wide[0, place], wide[1, place], wide[2, place] = wide[0, end], wide[1, end], wide[2, end]
            left -= 1
        else:
            place += 1
    s.wide_count[0] = end


@nb.njit(**INNER, **BARE)
def split(m: Model, s: State, first: int, end: int, rng: np.random.Generator) -> None:
    """Draw for every event of some units whether mixing had a part in it, and file it so.

    ``m``, ``s``: model and state; ``first``, ``end``: the units; their events are the last in the list of
    whole ones; ``rng``: source of chance.
    """
    introduction, openness, treated, effects, mixing = (
        m.introduction,
        m.openness,
        m.treated,
        m.effects,
        m.mixing[0],
    )
    x, pressure, shed, near, wide, event_week, event_kind, event_count = (
        s.x,
        s.pressure,
        s.shed,
        s.near,
        s.wide,
        s.event_week,
        s.event_kind,
        s.event_count,
    )
    place = s.wide_count[0]
    for i in range(first, end):
        place -= event_count[i]
    for i in range(first, end):
        for e in range(event_count[i]):
            t = event_week[i, e]
            k = treated[i, t]
            if_clear, if_hit = 0.0, 1.0
            if k >= 0:
                if_clear, if_hit = effects[k, 0, x[i, t + 1]], effects[k, 1, x[i, t + 1]]
            hit = lost(introduction[i, t] + openness[i, t] * pressure[i, t])
            mixed = lost(openness[i, t] * mixing * shed[t])
            without = (1.0 - mixed) * (if_clear + (if_hit - if_clear) * hit)
            mixed *= if_hit
            if rng.random() * (mixed + without) < mixed:
                event_kind[i, e] = MIXED
                wide[0, place], wide[1, place], wide[2, place] = i, t, MIXED
                place += 1
            else:
                event_kind[i, e] = NEAR
                near[t] += openness[i, t]
    s.wide_count[0] = place


@nb.njit(**INNER, **BARE)
def make_whole(s: State) -> None:
    """Forget in which events mixing had a part."""
    wide, event_week, event_kind, event_count = s.wide, s.event_week, s.event_kind, s.event_count
    place = 0
    for i in range(event_count.shape[0]):
        for e in range(event_count[i]):
            event_kind[i, e] = WHOLE
            wide[0, place], wide[1, place], wide[2, place] = i, event_week[i, e], WHOLE
            place += 1
    s.wide_count[0] = place
    s.near[:] = 0.0


@nb.njit(**INNER, **BARE)
def differs(x: Levels, i: int, path: Levels) -> bool:
    """Return whether a path is another than the present one of unit ``i``: mostly it is not."""
    different = 0
    for t in range(path.shape[0]):
        different |= path[t] ^ x[i, t]
    return different != 0


@nb.njit(**CALLED, **BARE)
def put_path(m: Model, s: State, i: int, path: Levels) -> None:
    """Replace the path of unit ``i`` and bring every kept sum up to date; its events are whole again.

    ``m``, ``s``: model and state; the state is changed; ``i``: the unit; ``path``: shape (T,): its new
    levels.
    """
    shedding, export, indptr, indices, weights = m.shedding, m.export, m.indptr, m.indices, m.weights
    x, shed, sheds, pressure = s.x, s.shed, s.sheds, s.pressure
    n_weeks = path.shape[0]
    withdraw(m, s, i)
    change = s.terms[5]
    first, last = 0, n_weeks - 1
    while first < last and path[first] == x[i, first]:
        first += 1
    while last > first and path[last] == x[i, last]:
        last -= 1
    for t in range(first, last + 1):
        now = shedding[path[t]] * export[i, t]
        change[t] = now - sheds[i, t]
        shed[t] += change[t]
        sheds[i, t] = now
        x[i, t] = path[t]
    for k in range(indptr[i], indptr[i + 1]):
        j = indices[k]
        w = weights[k]
        for t in range(first, last + 1):
            pressure[j, t] += w * change[t]
    if m.members[i]:
        press_members(m.members, i, m.room[0], change, first, last, pressure)
    classify(m, s, i, first, last)

"""A room that some units share and no plan shows: what is believed of it, and how a chain learns it.

Whether there is such a room is learned, and if so which units use it (the *members*), which share of the
units does, and the weekly hazard upon a member from another that is heavily infested: one more route between
all pairs of members. The parameters of a chain then end with this *block*: 1 if there is a room, the rate,
the share, and a flag for each unit; all zeros where there is none.

Given the members, the rate is drawn as every other (arrivals split over their sources; Poisson thinning), the
share is Beta, and each flag is drawn from its conditional given the paths. A whole room comes or goes in one
step (:func:`come_or_go`): its members are proposed one after another, each by its chance given those before,
so that the odds of acceptance are those of the room times the product of the normalisers.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.arrays import Model, State, press
from spread.posterior.compiling import BARE, CALLED, INNER
from spread.posterior.dynamics import Floats
from spread.posterior.seeing_steps import draw_share
from spread.trade import priors, routes

ON, RATE, SHARE, FIRST_MEMBER = range(4)
"""Places in the block."""
OFFERED = 0.5
"""Chance that a room is proposed in a sweep where there is none; one that is there may go in every sweep. The
odds of acceptance allow for it, so that it saves time and costs little mixing."""
LEAST_UNITS = 10
"""In a smaller building nearly every pair has a route of its own, and a room could not be told from it."""


class Belief(NamedTuple):
    """What is believed of a shared room before a log."""

    chance: float  # that there is one that no plan shows; 0: nothing is learned of it
    share: Floats  # (2,): Beta prior of the share of units that use it
    rate: Floats  # (2,): shape and rate of the Gamma prior of the hazard a week


NO_ROOM = Belief(0.0, np.ones(2), np.ones(2))
"""Of the same types, with nothing to learn."""


def belief() -> Belief:
    """Return what is believed of any building."""
    return Belief(routes.ROOM, np.array(routes.ROOM_SHARE), np.array(priors.gamma_prior(routes.ROOM_RATE)))


class Shared(NamedTuple):
    """What was learned of a shared room.

    Parameters
    ----------
    draws
        Shape (K, 3): whether there is one, its rate and the share of units that use it.
    members
        Shape (N,): chance that there is one and the unit uses it.
    pairs
        Shape (N, N): mean weekly hazard upon a unit from another that is heavy, through the room.
    """

    draws: Floats
    members: Floats
    pairs: Floats


def shared_of(blocks: Floats) -> Shared:
    """Return what draws of the block, shape (K, 3 + N), say."""
    flags = blocks[:, FIRST_MEMBER:]
    pairs = (flags * blocks[:, [RATE]]).T @ flags / len(blocks)
    np.fill_diagonal(pairs, 0.0)
    return Shared(blocks[:, :FIRST_MEMBER], flags.mean(axis=0), pairs)


class Sides(NamedTuple):
    """What the steps read of the paths, and what the members so far shed and hold open."""

    given: Floats  # (N,): what each unit sheds in all weeks together
    first: NDArray[np.int64]  # (N + 1,): where the events of each unit begin in these:
    week: NDArray[np.int64]
    base: Floats  # hazard without the room
    terms: Floats  # (3, events): openness, chance of what followed if the unit stayed clear, if it was hit
    shed: Floats  # (T,): what the members shed
    stays: Floats  # (T,): the members' openness where they stay clear


@nb.njit(**CALLED, fastmath={"reassoc", "contract"})
def sides(m: Model, s: State) -> Sides:
    """Return what the steps read, with no members yet; ``m``, ``s``: model and state."""
    sheds, members, room, mixing = s.sheds, m.members, m.room[0], m.mixing[0]
    introduction, openness, pressure, treated, effects = (
        m.introduction,
        m.openness,
        s.pressure,
        m.treated,
        m.effects,
    )
    n_units, n_weeks = sheds.shape
    given, shed = np.empty(n_units), np.zeros(n_weeks)
    for i in range(n_units):
        total = 0.0
        for t in range(n_weeks):
            total += sheds[i, t]
        given[i] = total
        if members[i]:
            for t in range(n_weeks):
                shed[t] += sheds[i, t]
    first = np.zeros(n_units + 1, dtype=np.int64)
    for i in range(n_units):
        first[i + 1] = first[i] + s.event_count[i]
    week, base = np.empty(first[n_units], dtype=np.int64), np.empty(first[n_units])
    terms = np.empty((3, first[n_units]))
    for i in range(n_units):
        for e in range(first[i], first[i + 1]):
            t = s.event_week[i, e - first[i]]
            week[e], terms[0, e] = t, openness[i, t]
            base[e] = introduction[i, t] + openness[i, t] * (pressure[i, t] + mixing * s.shed[t])
            if members[i]:
                base[e] = max(base[e] - openness[i, t] * room * shed[t], 0.0)
            k = treated[i, t]
            terms[1, e] = effects[k, 0, s.x[i, t + 1]] if k >= 0 else 0.0
            terms[2, e] = effects[k, 1, s.x[i, t + 1]] if k >= 0 else 1.0
    return Sides(given, first, week, base, terms, np.zeros(n_weeks), np.zeros(n_weeks))


@nb.njit(**INNER, **BARE)
def add(s: State, side: Sides, i: int, sign: float) -> None:
    """Let unit ``i`` join the members' sums (``sign`` 1) or leave them (-1)."""
    out, shed, stays, staying = s.sheds, side.shed, side.stays, s.staying
    for t in range(shed.shape[0]):
        shed[t] += sign * out[i, t]
        stays[t] += sign * staying[i, t]


@nb.njit(**INNER, **BARE)
def log_ratio(hazard: float, more: float, if_clear: float, if_hit: float) -> float:
    """Return the log of by how much a further hazard makes likelier what followed an event."""
    before, after = math.exp(-hazard), math.exp(-hazard - more)
    was = if_clear * before + if_hit * (1.0 - before)
    now = if_clear * after + if_hit * (1.0 - after)
    return math.log(max(now, 1e-300) / max(was, 1e-300))


@nb.njit(**CALLED, **BARE, fastmath={"reassoc", "contract"})
def gain(s: State, side: Sides, members: NDArray[np.bool_], room: float, i: int) -> float:
    """Return the log of by how much likelier the paths are if unit ``i`` is a member beside ``members``.

    Parameters
    ----------
    s : State
    side : Of :func:`sides`, with the sums of ``members``
    members : Shape (N,): the other members; not ``i``
    room : Hazard upon a member from another that is heavy
    i : The unit
    """
    out, base, shed, stays, staying = s.sheds, side.base, side.shed, side.stays, s.staying
    first, week, terms = side.first, side.week, side.terms
    exposed = 0.0
    for t in range(shed.shape[0]):
        exposed += staying[i, t] * shed[t]
    log = 0.0
    for e in range(first[i], first[i + 1]):
        t, each = week[e], terms[0, e] * room
        if shed[t] > 0.0 and each > 0.0:
            log += log_ratio(base[e], each * shed[t], terms[1, e], terms[2, e])
    if side.given[i] > 0.0:
        for t in range(shed.shape[0]):
            exposed += out[i, t] * stays[t]
        for j in range(members.shape[0]):
            if members[j]:
                for e in range(first[j], first[j + 1]):
                    t, each = week[e], terms[0, e] * room
                    if out[i, t] > 0.0 and each > 0.0:
                        more = each * out[i, t]
                        log += log_ratio(base[e] + each * shed[t], more, terms[1, e], terms[2, e])
    return log - room * exposed


@nb.njit(**CALLED)
def in_order(side: Sides, rng: np.random.Generator) -> NDArray[np.int64]:
    """Return the units in the order in which they are proposed: by chance, those that shed most first.

    It depends on the paths and on chance alone, so it is the same for a room that comes and one that goes.
    """
    keys = np.empty(len(side.given))
    for i in range(len(keys)):
        keys[i] = -math.log(1.0 - rng.random()) / (1e-3 + side.given[i])
    return np.argsort(keys)


@nb.njit(**CALLED)
def come_or_go(m: Model, s: State, belief: Belief, block: Floats, rng: np.random.Generator) -> None:
    """Propose a whole room where there is none, or none where there is one, and write the block.

    ``m``, ``s``: model and state, not changed; ``belief``: before the log;
    ``block``: written; ``rng``: source of chance.
    """
    there = block[ON] > 0.0
    if not there and rng.random() >= OFFERED:
        return
    side = sides(m, s)
    order = in_order(side, rng)
    n_units = len(order)
    if there:
        rate, share = block[RATE], block[SHARE]
    else:
        rate = max(rng.standard_gamma(belief.rate[0]) / belief.rate[1], 1e-12)
        share = draw_share(belief.share, 0.0, 0.0, rng)
    members = np.zeros(n_units, dtype=np.bool_)
    log = math.log(belief.chance / (1.0 - belief.chance) / OFFERED)
    for i in order:
        with_it = share * math.exp(min(gain(s, side, members, rate, i), 600.0))
        total = with_it + 1.0 - share
        log += math.log(total)
        member = block[FIRST_MEMBER + i] > 0.0 if there else rng.random() * total < with_it
        if member:
            members[i] = True
            add(s, side, i, 1.0)
    if math.log(1.0 - rng.random()) >= (-log if there else log):
        return
    if there:
        block[:] = 0.0
    else:
        block[ON], block[RATE], block[SHARE] = 1.0, rate, share
        for i in range(n_units):
            block[FIRST_MEMBER + i] = 1.0 if members[i] else 0.0


@nb.njit(**CALLED)
def draw_members(m: Model, s: State, belief: Belief, block: Floats, rng: np.random.Generator) -> None:
    """Draw every flag given the others, and the share of units that use the room.

    ``m``, ``s``, ``belief``, ``block``, ``rng``: as in :func:`come_or_go`; the model holds the room of the
    block.
    """
    side = sides(m, s)
    n_units = len(m.members)
    members = m.members.copy()
    for i in range(n_units):
        if members[i]:
            add(s, side, i, 1.0)
    for place in range(n_units):
        i = place
        if members[i]:
            members[i] = False
            add(s, side, i, -1.0)
        with_it = block[SHARE] * math.exp(min(gain(s, side, members, block[RATE], i), 600.0))
        if rng.random() * (with_it + 1.0 - block[SHARE]) < with_it:
            members[i] = True
            add(s, side, i, 1.0)
    count = 0
    for i in range(n_units):
        count += members[i]
        block[FIRST_MEMBER + i] = 1.0 if members[i] else 0.0
    block[SHARE] = draw_share(belief.share, count, n_units - count, rng)


@nb.njit(**CALLED, **BARE)
def exposed(m: Model, s: State) -> float:
    """Return the exposure to the room, summed over clear weeks of members; ``m``, ``s``: model and state."""
    x, sheds, openness, members = s.x, s.sheds, m.openness, m.members
    n_units, n_weeks = x.shape
    total = 0.0
    for t in range(n_weeks - 1):
        shed, clear = 0.0, 0.0
        for i in range(n_units):
            if members[i]:
                shed += sheds[i, t]
                clear += openness[i, t] if x[i, t] == 0 else 0.0
        total += shed * clear  # who is clear sheds nothing, so nobody presses upon itself
    return total


@nb.njit(**CALLED, **BARE)
def put_room(m: Model, block: Floats) -> None:
    """Write the room of a block into the model; the pressures are then out of date."""
    m.room[0] = block[RATE]
    for i in range(len(m.members)):
        m.members[i] = block[FIRST_MEMBER + i] > 0.0


@nb.njit(**CALLED)
def draw_room(
    m: Model, s: State, belief: Belief, arrived: float, block: Floats, rng: np.random.Generator
) -> None:
    """Draw the block given the paths and all other parameters, and put it into the model.

    Parameters
    ----------
    m, s : Model and state; members, rate and pressures are changed
    belief : Before the log
    arrived : How many arrivals came through the room
    block : The parameters; written
    rng : Source of chance
    """
    was = block[ON] > 0.0
    if was:
        shape, rate = belief.rate[0] + arrived, belief.rate[1] + exposed(m, s)
        block[RATE] = max(rng.standard_gamma(shape) / rate, 1e-12)
        put_room(m, block)
        press(m, s)
        draw_members(m, s, belief, block, rng)
        put_room(m, block)
        press(m, s)
    come_or_go(m, s, belief, block, rng)
    if was != (block[ON] > 0.0):
        put_room(m, block)
        press(m, s)

"""A week of bugs inside a run: spread, growth and what treatment does, in truth and as the firm believes."""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes import filter as firm
from spread.programmes import keys as k
from spread.programmes import rules as r
from spread.programmes.begin import Begin
from spread.programmes.inside import BORROWS, COMPILED
from spread.programmes.tables import Tables
from spread.programmes.visits import State, Whole


@nb.njit(**BORROWS)
def live(
    state: State, begin: Begin, weights: Floats, brought_in: float, mixing: float, key: np.uint64, t: Tables,
    push: Floats, counts: Whole,
) -> None:  # fmt: skip
    """Let a week pass in truth: spread and growth first, then the week's treatments."""
    indptr, indices, shedding, grow, odds = begin.indptr, begin.indices, t.shedding, t.grow, t.odds
    n = state.shape[1]
    push[:] = 0.0
    everywhere = 0.0
    for j in range(n):
        if state[r.LEVEL, j]:
            out = shedding[state[r.LEVEL, j]]
            if state[r.VACANT, j] and state[r.EMPTY_WEEKS, j] < odds[3]:
                out *= odds[2]
            everywhere += out
            for place in range(indptr[j], indptr[j + 1]):
                push[indices[place]] += out * weights[place]
    everywhere *= mixing / n
    for i in range(n):
        level = state[r.LEVEL, i]
        empty = state[r.VACANT, i]
        if level == 0:
            hazard = push[i] + everywhere
            hazard = brought_in + (hazard * odds[1] if empty else hazard)
            if state[r.MOVED_IN, i]:
                hazard += odds[0]
            luck = k.uniform(key, i, k.SPREAD)
            # A chance is never more than its hazard: most units need no exponential.
            if luck < hazard and luck < -math.expm1(-hazard):
                level = 1
                counts[c.NEW] += 1
                if not state[r.EVER, i]:
                    counts[c.NEW_UNITS] += 1
                    state[r.EVER, i] = 1
        else:
            level = draw(grow[empty, level], k.uniform(key, i, k.GROWTH))
        if state[r.TREATED, i] >= 0:
            level = draw(t.act[state[r.TREATED, i], level], k.uniform(key, i, k.TREAT))
            state[r.TREATED, i] = r.NOT
        state[r.LEVEL, i] = level
        if empty:
            state[r.EMPTY_WEEKS, i] += 1


@nb.njit(**BORROWS)
def draw(reach: Floats, luck: float) -> int:
    """Return the level that a uniform number falls on, from cumulated chances of shape (levels,)."""
    level = 0
    while level < reach.shape[0] - 1 and luck > reach[level]:
        level += 1
    return level


@nb.njit(**BORROWS)
def weigh(exposure: Floats, rates: Floats, weights: Floats) -> None:
    """Set the weekly hazard along each contact, shape (contacts,), from rates (2 + routes,)."""
    for place in range(exposure.shape[0]):
        weights[place] = 0.0
        for route in range(exposure.shape[1]):
            weights[place] += exposure[place, route] * rates[2 + route]


@nb.njit(**COMPILED)
def believe(
    belief: Floats, states: State, begin: Begin, weights: Floats, tables: Tables, which: Whole
) -> None:
    """Let a week pass in what the firm believes in several runs (:func:`spread.programmes.filter.predict`).

    Treatments come last; call it before :func:`live`.
    """
    rates, contacts = begin.mean_rates, (begin.indptr, begin.indices, weights)
    firm.predict(belief, states, contacts, rates[0], rates[1], tables, which)
    for run in range(which.shape[0]):
        state = states[run]
        for i in range(belief.shape[1]):
            if state[r.TREATED, i] >= 0:
                firm.treat(belief[run], i, tables.effect[which[run], state[r.TREATED, i]])

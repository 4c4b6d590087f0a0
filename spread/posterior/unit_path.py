"""One unit's whole path given all the others: what it would have done to them, the filter, the draw.

What a unit would have done to the others enters as a factor on its own path; the sums of
:mod:`spread.posterior.arrays` keep that factor cheap.

Speed comes from loops over weeks or events without branches or calls, which the compiler does several at a
time. ``out`` and ``factor`` are indexed (week, level); the sweep hands in arrays that lie level by level in
memory, so that such a loop runs along them.
"""

from __future__ import annotations

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.arrays import LANES, NEAR, WHOLE, Levels, Model, State
from spread.posterior.compiling import BARE, CALLED, INNER
from spread.posterior.dynamics import LEVELS, Floats
from spread.posterior.exponential import LITTLE, lost, lost_little

TINY, HUGE = 1e-100, 1e100
"""The filter is brought back to a sum of one where its sum has left these: seldom, for a division a week in
a chain where every week waits for the last is most of its time."""
assert LEVELS == 5, "the filter is written out for five levels"
SPENT = 1e-6
"""A uniform number of which so small a part is left is replaced: the part would be too coarse."""

# As in ``arrays``, the parts of the tuples are taken out before the loops, for speed.


@nb.njit(**CALLED, **BARE, fastmath={"contract"})
def influence(m: Model, s: State, i: int, out: Floats) -> None:
    """Write into ``out`` (T, levels) the chance of what the others did next given each level of ``i``.

    It is known up to a factor in each week.

    ``m``, ``s``: model and state; ``i``: the unit; ``out``: shape (T, levels); written.
    """
    export, shedding, indptr, indices, weights, mixing = (
        m.export,
        m.shedding,
        m.indptr,
        m.indices,
        m.weights,
        m.mixing,
    )
    members, room = m.members, m.room[0]
    staying, stays, near, event_week, event_kind = s.staying, s.stays, s.near, s.event_week, s.event_kind
    openness = m.openness
    n_weeks = out.shape[0]
    mean_field = mixing[0]
    exponent = out.T[0]
    for t in range(n_weeks):
        exponent[t] = mean_field * (stays[t] + near[t] - staying[i, t])
    for e in range(s.event_count[i]):
        if event_kind[i, e] == NEAR:
            exponent[event_week[i, e]] -= mean_field * openness[i, event_week[i, e]]
    for k in range(indptr[i], indptr[i + 1]):
        j = indices[k]
        w = weights[k]
        for t in range(n_weeks):
            exponent[t] += w * staying[j, t]
    if members[i]:
        stay_members(members, i, room, staying, exponent)
    large = 0
    for t in range(n_weeks):
        exponent[t] *= export[i, t]
        large += exponent[t] > LITTLE
    for a in range(1, LEVELS):
        still_clear(exponent, shedding[a], large == 0, out.T[a])
    for t in range(n_weeks):
        exponent[t] = 1.0
    events(m, s, i, out)


@nb.njit(**INNER, **BARE, fastmath={"contract"})
def still_clear(exponent: Floats, each: float, little: bool, out: Floats) -> None:
    """Write ``exp(-exponent * each)`` into ``out``; ``little``: whether :data:`LITTLE` is never exceeded."""
    if little:
        for t in range(out.shape[0]):
            out[t] = 1.0 - lost_little(exponent[t] * each)
    else:
        for t in range(out.shape[0]):
            out[t] = 1.0 - lost(exponent[t] * each)


@nb.njit(**INNER, **BARE)
def stay_members(members: NDArray[np.bool_], i: int, room: float, staying: Floats, exponent: Floats) -> None:
    """Add to ``exponent`` (T,) that the other members of a shared room stay clear beside member ``i``."""
    for j in range(members.shape[0]):
        if members[j] and j != i:
            for t in range(exponent.shape[0]):
                exponent[t] += room * staying[j, t]


@nb.njit(**INNER, **BARE, fastmath={"contract"})
def events(m: Model, s: State, i: int, out: Floats) -> None:
    """Multiply ``out`` by the chance of every event of another unit given each level of ``i``.

    Parameters
    ----------
    m, s, i, out
        As in :func:`influence`.
    """
    shedding, week, terms = m.shedding, s.term_week, s.terms
    n = list_terms(m, s, i)
    padded = -(-n // LANES) * LANES
    # P(y) = if_clear + (if_hit - if_clear) (1 - exp(-hazard)); as a ratio to a heavy unit, from whom it is
    # never impossible, so that many of them multiplied neither vanish nor overflow.
    each = shedding[LEVELS - 1]
    for e in range(padded):
        chance = terms[2, e] + (terms[3, e] - terms[2, e]) * lost(terms[0, e] + terms[1, e] * each)
        terms[4, e] = 1.0 / chance if chance > 0.0 else 0.0
    for a in range(LEVELS - 1):
        each = shedding[a]
        for e in range(padded):
            chance = terms[2, e] + (terms[3, e] - terms[2, e]) * lost(terms[0, e] + terms[1, e] * each)
            terms[5, e] = chance * terms[4, e] if terms[4, e] > 0.0 else 1.0
        for e in range(n):
            out[week[e], a] *= terms[5, e]


@nb.njit(**INNER, **BARE)
def list_terms(m: Model, s: State, i: int) -> int:
    """Write a term for every event in which unit ``i`` may have had a part, and return how many they are.

    ``m``, ``s``: model and state; ``term_unit``, ``term_week`` and ``terms`` of the state are written; ``i``:
    the unit.
    """
    members, room, mixing = m.members, m.room[0], m.mixing[0]
    indptr, indices, weights, dense, export, openness, introduction, treated, effects = (
        m.indptr,
        m.indices,
        m.weights,
        m.dense,
        m.export,
        m.openness,
        m.introduction,
        m.treated,
        m.effects,
    )
    x, wide, unit, week, terms, pressure, shed, sheds, event_week, event_kind, event_count = (
        s.x,
        s.wide,
        s.term_unit,
        s.term_week,
        s.terms,
        s.pressure,
        s.shed,
        s.sheds,
        s.event_week,
        s.event_kind,
        s.event_count,
    )
    # First whose events, when, by which hazard from a heavy unit ``i`` (terms[1]), and by what in all: only
    # mixing (terms[0] is 0), or the rest as well, in which mixing has a part (1) or none (2).
    n = 0
    for e in range(s.wide_count[0]):
        j = wide[0, e]
        unit[n], week[n] = j, wide[1, e]
        if wide[2, e] == WHOLE:
            terms[0, n] = 1.0
            terms[1, n] = mixing + dense[i, j] + (room if members[i] and members[j] else 0.0)
        else:
            terms[0, n], terms[1, n] = 0.0, mixing
        n += j != i
    for k in range(indptr[i], indptr[i + 1]):
        j = indices[k]
        for e in range(event_count[j]):
            unit[n], week[n] = j, event_week[j, e]
            terms[0, n], terms[1, n] = 2.0, weights[k]
            n += event_kind[j, e] == NEAR and not (members[i] and members[j])
    if members[i]:
        for j in range(members.shape[0]):
            if members[j] and j != i:
                for e in range(event_count[j]):
                    unit[n], week[n] = j, event_week[j, e]
                    terms[0, n], terms[1, n] = 2.0, dense[i, j] + room
                    n += event_kind[j, e] == NEAR
    for e in range(n):
        j, t = unit[e], week[e]
        hazard = (introduction[j, t] + openness[j, t] * pressure[j, t]) * (terms[0, e] > 0.0)
        hazard += openness[j, t] * mixing * shed[t] * (terms[0, e] < 2.0)
        k = treated[j, t]
        whole = k >= 0 and terms[0, e] > 0.0
        terms[2, e] = effects[k, 0, x[j, t + 1]] if whole else 0.0
        terms[3, e] = effects[k, 1, x[j, t + 1]] if whole else 1.0
        push = openness[j, t] * terms[1, e]
        terms[0, e] = max(hazard - push * sheds[i, t], 0.0)
        terms[1, e] = push * export[i, t]
    for e in range(n, -(-n // LANES) * LANES):
        terms[0, e], terms[1, e], terms[2, e], terms[3, e] = 1.0, 0.0, 0.0, 1.0
    return n


@nb.njit(**CALLED, **BARE, fastmath={"contract"})
def clear_chance(m: Model, s: State, i: int, out: Floats) -> None:
    """Write into ``out`` (T,) the chance that unit ``i``, if clear, escapes infestation that week.

    ``m``, ``s``: model and state; ``i``: the unit; ``out``: shape (T,); written.
    """
    introduction, openness, mixing = m.introduction, m.openness, m.mixing
    pressure, shed, sheds = s.pressure, s.shed, s.sheds
    mean_field = mixing[0]
    for t in range(out.shape[0]):
        push = pressure[i, t] + mean_field * (shed[t] - sheds[i, t])
        out[t] = 1.0 - lost(introduction[i, t] + openness[i, t] * push)


@nb.njit(**CALLED, **BARE, fastmath={"contract"})
def filter_forward(m: Model, i: int, escape: Floats, factor: Floats, alpha: Floats) -> None:
    """Write the forward filter of unit ``i`` into ``alpha`` (T, levels), each week up to a factor.

    The last week sums to one.

    Parameters
    ----------
    m : Model
    i : The unit
    escape : Shape (T,), of :func:`clear_chance`
    factor : Shape (T, levels), of :func:`influence`
    alpha : Shape (T, levels); written
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
    # Five numbers in registers: an array of five would be written and read again in every week.
    a0 = start[0] * likelihood[i, 0, 0] * factor[0, 0]
    a1 = start[1] * likelihood[i, 0, 1] * factor[0, 1]
    a2 = start[2] * likelihood[i, 0, 2] * factor[0, 2]
    a3 = start[3] * likelihood[i, 0, 3] * factor[0, 3]
    a4 = start[4] * likelihood[i, 0, 4] * factor[0, 4]
    for t in range(n_weeks):
        alpha[t, 0], alpha[t, 1], alpha[t, 2], alpha[t, 3], alpha[t, 4] = a0, a1, a2, a3, a4
        if t + 1 == n_weeks:
            break
        g = 1 if vacant[i, t] else 0
        # Growth moves a unit by one level at most, so three terms a level suffice.
        b0 = a1 * growth[g, 1, 0] + a0 * escape[t]
        b1 = a1 * growth[g, 1, 1] + a2 * growth[g, 2, 1] + a0 * (1.0 - escape[t])
        b2 = a1 * growth[g, 1, 2] + a2 * growth[g, 2, 2] + a3 * growth[g, 3, 2]
        b3 = a2 * growth[g, 2, 3] + a3 * growth[g, 3, 3] + a4 * growth[g, 4, 3]
        b4 = a3 * growth[g, 3, 4] + a4 * growth[g, 4, 4]
        k = treated[i, t]
        if k >= 0:
            a0, a1, a2, a3, a4 = b0, b1, b2, b3, b4
            e = effects[k]
            b0 = a0 * e[0, 0] + a1 * e[1, 0] + a2 * e[2, 0] + a3 * e[3, 0] + a4 * e[4, 0]
            b1 = a0 * e[0, 1] + a1 * e[1, 1] + a2 * e[2, 1] + a3 * e[3, 1] + a4 * e[4, 1]
            b2 = a0 * e[0, 2] + a1 * e[1, 2] + a2 * e[2, 2] + a3 * e[3, 2] + a4 * e[4, 2]
            b3 = a0 * e[0, 3] + a1 * e[1, 3] + a2 * e[2, 3] + a3 * e[3, 3] + a4 * e[4, 3]
            b4 = a0 * e[0, 4] + a1 * e[1, 4] + a2 * e[2, 4] + a3 * e[3, 4] + a4 * e[4, 4]
        a0 = b0 * (likelihood[i, t + 1, 0] * factor[t + 1, 0])
        a1 = b1 * (likelihood[i, t + 1, 1] * factor[t + 1, 1])
        a2 = b2 * (likelihood[i, t + 1, 2] * factor[t + 1, 2])
        a3 = b3 * (likelihood[i, t + 1, 3] * factor[t + 1, 3])
        a4 = b4 * (likelihood[i, t + 1, 4] * factor[t + 1, 4])
        total = (a0 + a1) + (a2 + a3) + a4
        if total < TINY or total > HUGE:
            scale = 1.0 / total
            a0, a1, a2, a3, a4 = a0 * scale, a1 * scale, a2 * scale, a3 * scale, a4 * scale
    last = n_weeks - 1
    scale = 1.0 / ((a0 + a1) + (a2 + a3) + a4)
    for a in range(LEVELS):
        alpha[last, a] *= scale


@nb.njit(**CALLED, **BARE)
def sample_backward(
    m: Model, i: int, escape: Floats, alpha: Floats, path: Levels, rng: np.random.Generator
) -> None:
    """Draw a path of unit ``i`` into ``path`` (T,) from its filter.

    A stay at a level takes one uniform number: it is held against the chance of having stayed so far.

    Parameters
    ----------
    m : Model
    i : The unit
    escape : Shape (T,), of :func:`clear_chance`
    alpha : Shape (T, levels), of :func:`filter_forward`
    path : Shape (T,); written
    rng : Source of chance
    """
    treated, effects, vacant, growth = m.treated, m.effects, m.vacant, m.growth
    n_weeks = alpha.shape[0]
    y = pick(alpha[n_weeks - 1], 1.0, rng.random())
    path[n_weeks - 1] = y
    uniform, stayed = rng.random(), 1.0
    for t in range(n_weeks - 2, -1, -1):
        k = treated[i, t]
        g = 1 if vacant[i, t] else 0
        if k < 0:
            # Growth moves a unit by one level at most: it was at this level, or at the one below or above.
            below, above = 0.0, 0.0
            if y == 0:
                same = alpha[t, 0] * escape[t]
            else:
                same = alpha[t, y] * growth[g, y, y]
                below = alpha[t, y - 1] * (1.0 - escape[t] if y == 1 else growth[g, y - 1, y])
            if y < LEVELS - 1:
                above = alpha[t, y + 1] * growth[g, y + 1, y]
            stayed *= same / (below + same + above)
            if uniform >= stayed:
                y += 1 if rng.random() * (below + above) >= below else -1
                uniform, stayed = rng.random(), 1.0
            elif stayed < SPENT:
                uniform, stayed = rng.random(), 1.0
            path[t] = y
            continue
        y = before_treatment(alpha[t], escape[t], growth[g], effects[k], y, rng.random())
        path[t] = y
        uniform, stayed = rng.random(), 1.0


@nb.njit(**INNER, **BARE)
def before_treatment(
    alpha: Floats, escape: float, growth: Floats, effect: Floats, y: int, uniform: float
) -> int:
    """Return the level, drawn by one uniform number, from which a treated week led to ``y``.

    ``alpha``: shape (levels,): chances of the levels before; ``escape``: chance of staying clear untreated;
    ``growth``, ``effect``: shape (levels, levels): of an untreated week and of the treatment.
    """
    total, left, last = 0.0, 0.0, 0
    for turn in range(2):
        for r in range(LEVELS):
            reach = escape * effect[0, y] + (1.0 - escape) * effect[1, y] if r == 0 else 0.0
            for a in range(LEVELS):
                reach += growth[r, a] * effect[a, y] if r > 0 else 0.0
            if turn == 0:
                total += alpha[r] * reach
                last = r if alpha[r] * reach > 0.0 else last
            else:
                left -= alpha[r] * reach
                if left < 0.0:
                    return r
        left = uniform * total
    return last


@nb.njit(**CALLED, **BARE)
def pick(weights: Floats, total: float, uniform: float) -> int:
    """Return an index drawn from ``weights`` (summing to ``total``) by one uniform number.

    ``weights``: shape (levels,): 0 or more; ``total``: their sum; ``uniform``: a number from 0 to below 1.
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

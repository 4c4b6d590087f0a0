"""One unit's whole path given all the others: what it would have done to them, the filter, the draw.

What a unit would have done to the others enters as a factor on its own path; the sums of
:mod:`spread.posterior.arrays` keep that factor cheap.
"""

from __future__ import annotations

import numba as nb
import numpy as np

from spread.posterior.arrays import Levels, Model, State, lost
from spread.posterior.dynamics import LEVELS, Floats

# As in ``arrays``, the parts of the tuples are taken out before the loops, for speed.


@nb.njit(cache=True, nogil=True, error_model="numpy")
def influence(m: Model, s: State, i: int, out: Floats) -> None:
    """Write into ``out`` (T, levels) the chance of what the others did next given each level of ``i``.

    It is known up to a factor in each week; level 0 has 1.

    ``m``, ``s``: model and state; ``i``: the unit; ``out``: shape (T, levels); written.
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

    ``m``, ``s``: model and state; ``i``: the unit; ``out``: shape (T,); written.
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
    m : Model
    i : The unit
    escape : Shape (T,), of :func:`clear_chance`
    alpha : Shape (T, levels), of :func:`filter_forward`
    path : Shape (T,); written
    rng : Source of chance
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

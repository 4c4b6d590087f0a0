"""The compiled sweep: individual forward filtering, backward sampling.

One unit's whole path is drawn given all the others (method from memory of Touloupou,
Finkenstädt & Spencer 2020, J. Comput. Graph. Stat. 29:238-249; formulas in ``model.md`` 5),
then the next unit's, until every unit had its turn: one sweep. During it, every event has a drawn
flag that says whether building-wide mixing had a part in it (:mod:`spread.posterior.arrays`).
"""

from __future__ import annotations

import numba as nb
import numpy as np

from spread.posterior.arrays import Model, State, differs, make_whole, put_path, split
from spread.posterior.compiling import CALLED
from spread.posterior.dynamics import LEVELS, Floats
from spread.posterior.unit_path import clear_chance, filter_forward, influence, sample_backward


@nb.njit(**CALLED)
def sweep(m: Model, s: State, rng: np.random.Generator, now: Floats) -> None:
    """Draw every unit's path once, in random order.

    ``now`` (N, levels) receives each unit's chances in the last week given all the others:
    their mean over sweeps estimates the same as the draws' with less noise.

    ``m``, ``s``: model and state; the state is changed; ``rng``: source of chance; ``now``: shape (N,
    levels); written.
    """
    x = s.x
    n_units, n_weeks = x.shape
    order = np.arange(n_units)
    for last in range(n_units - 1, 0, -1):
        other = int(rng.random() * (last + 1))
        order[last], order[other] = order[other], order[last]
    escape = np.empty(n_weeks)
    factor = np.empty((LEVELS, n_weeks)).T  # (T, levels) that lies level by level
    alpha = np.empty((LEVELS, n_weeks)).T
    path = np.empty(n_weeks, dtype=np.int8)
    split(m, s, np.int64(0), n_units, rng)
    for i in order:
        clear_chance(m, s, i, escape)
        influence(m, s, i, factor)
        filter_forward(m, i, escape, factor, alpha)
        sample_backward(m, i, escape, alpha, path, rng)
        if differs(x, i, path):
            put_path(m, s, i, path)
            split(m, s, i, i + 1, rng)
        for a in range(LEVELS):
            now[i, a] = alpha[n_weeks - 1, a]
    make_whole(s)

"""One chain: sweep, learn rates, and keep what the posterior needs; the outermost compiled loop."""

from __future__ import annotations

from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import LEVELS, Floats
from spread.posterior.kernel import Levels, Model, State, recompute, sweep
from spread.posterior.rates import Blame, attribute, draw_rates, new_blame, set_rates


class Learning(NamedTuple):
    """Gamma priors of the learned rates; empty arrays of length 0 mean that rates stay as they are."""

    shape: Floats  # (rates,)
    rate: Floats  # (rates,)


class Sums(NamedTuple):
    """What grows by every kept sweep."""

    infested: Floats  # (N, T): sweeps with the unit infested
    shed: Floats  # (N, T): what the unit sheds
    now: Floats  # (N, levels): conditional chances in the last week
    blame: Blame


class Kept(NamedTuple):
    """What is kept of each sweep of a piece."""

    draws: Levels  # (K, N): levels in the last week
    trace: Floats  # (K, N): conditional chance of infestation in the last week
    totals: NDArray[np.int32]  # (K, T): units infested in each week
    theta: Floats  # (K, rates)


def new_sums(m: Model, n_units: int, n_weeks: int) -> Sums:
    """Return empty sums."""
    return Sums(
        infested=np.zeros((n_units, n_weeks)),
        shed=np.zeros((n_units, n_weeks)),
        now=np.zeros((n_units, LEVELS)),
        blame=new_blame(len(m.indices), m.exposure.shape[1], n_units, n_weeks),
    )


def new_kept(sweeps: int, n_units: int, n_weeks: int, n_rates: int) -> Kept:
    """Return room for a piece of ``sweeps``."""
    return Kept(
        draws=np.empty((sweeps, n_units), dtype=np.int8),
        trace=np.empty((sweeps, n_units)),
        totals=np.empty((sweeps, n_weeks), dtype=np.int32),
        theta=np.empty((sweeps, n_rates)),
    )


@nb.njit(cache=True, nogil=True, error_model="numpy")
def run(
    m: Model, s: State, theta: Floats, learning: Learning, rng: np.random.Generator, sums: Sums, kept: Kept
) -> None:
    """Run as many sweeps as ``kept`` has room for.

    Parameters
    ----------
    theta
        Shape (rates,): the rates, moved in place when they are learned.
    """
    n_units, n_weeks = s.x.shape
    conditional = np.empty((n_units, LEVELS))
    learns = learning.shape.shape[0] > 0
    if learns:
        set_rates(m, s, theta)
    else:
        recompute(m, s)
    for k in range(kept.draws.shape[0]):
        sweep(m, s, rng, conditional)
        if learns:
            draw_rates(m, s, theta, learning.shape, learning.rate, rng)
        attribute(m, s, theta, rng, sums.blame)
        kept.theta[k] = theta
        kept.totals[k] = 0
        for i in range(n_units):
            kept.draws[k, i] = s.x[i, n_weeks - 1]
            kept.trace[k, i] = 1.0 - conditional[i, 0]
            for a in range(LEVELS):
                sums.now[i, a] += conditional[i, a]
            for t in range(n_weeks):
                if s.x[i, t] > 0:
                    kept.totals[k, t] += 1
                    sums.infested[i, t] += 1.0
                    sums.shed[i, t] += m.shedding[s.x[i, t]] * m.export[i, t]

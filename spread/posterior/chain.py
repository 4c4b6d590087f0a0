"""One chain: sweep, learn rates, and keep what the posterior needs; the outermost compiled loop."""

from __future__ import annotations

from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.arrays import Levels, Model, State, recompute
from spread.posterior.compiling import BARE, CALLED, INNER
from spread.posterior.dynamics import LEVELS, Floats
from spread.posterior.kernel import sweep
from spread.posterior.rates import Blame, attribute, draw_rates, new_blame, set_rates
from spread.posterior.room import FIRST_MEMBER, NO_ROOM, Belief, draw_room, put_room
from spread.posterior.seeing import NOTHING, Seeing
from spread.posterior.seeing_steps import draw_seeing, put_seeing


class Learning(NamedTuple):
    """Gamma priors of the learned rates; empty arrays of length 0 mean that rates stay as they are."""

    shape: Floats  # (rates,)
    rate: Floats  # (rates,)
    seeing: Seeing = NOTHING  # and what else is learned; parameters then have its tail after the rates
    room: Belief = NO_ROOM  # of a shared room; parameters then end with its block
    often: Floats = np.zeros(3)  # of the other prior of move-ins (:data:`spread.trade.priors.Often`)


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
    """Return empty sums; ``m``: model; ``n_units``, ``n_weeks``: how many there are."""
    return Sums(
        infested=np.zeros((n_units, n_weeks)),
        shed=np.zeros((n_units, n_weeks)),
        now=np.zeros((n_units, LEVELS)),
        blame=new_blame(len(m.indices), m.exposure.shape[1], n_units, n_weeks),
    )


def new_kept(sweeps: int, n_units: int, n_weeks: int, n_rates: int) -> Kept:
    """Return room for a piece of ``sweeps``.

    ``sweeps``: how many it has room for; ``n_units``, ``n_weeks``, ``n_rates``: how many there are.
    """
    return Kept(
        draws=np.empty((sweeps, n_units), dtype=np.int8),
        trace=np.empty((sweeps, n_units)),
        totals=np.empty((sweeps, n_weeks), dtype=np.int32),
        theta=np.empty((sweeps, n_rates)),
    )


@nb.njit(**INNER, **BARE)
def collect(
    x: Levels,
    sheds: Floats,
    conditional: Floats,
    draws: Levels,
    trace: Floats,
    totals: NDArray[np.int32],
    infested: Floats,
    shed: Floats,
    now: Floats,
) -> None:
    """Add one sweep to the sums. Plain arrays: a loop over parts of tuples counts references all the time.

    Parameters
    ----------
    x : Shape (N, T): the path of the sweep
    sheds : Shape (N, T): what each unit sheds
    conditional : Shape (N, levels): chances in the last week given all other units
    draws, trace : Shape (N,); written: level and conditional chance in the last week
    totals : Shape (T,); written: units infested
    infested, shed : Shape (N, T); added to
    now : Shape (N, levels); added to
    """
    n_units, n_weeks = x.shape
    totals[:] = 0
    for i in range(n_units):
        draws[i] = x[i, n_weeks - 1]
        trace[i] = 1.0 - conditional[i, 0]
        for a in range(LEVELS):
            now[i, a] += conditional[i, a]
        for t in range(n_weeks):
            there = x[i, t] > 0
            totals[t] += there
            infested[i, t] += there
            shed[i, t] += sheds[i, t]


@nb.njit(**CALLED)
def run(
    m: Model, s: State, theta: Floats, learning: Learning, rng: np.random.Generator, sums: Sums, kept: Kept
) -> None:
    """Run as many sweeps as ``kept`` has room for.

    Parameters
    ----------
    m, s : Model and state; the state is changed
    learning : Gamma priors of the rates; empty where they are not learned
    rng : Source of chance
    sums, kept : What is added to and what is filled
    theta : Shape (rates,): the rates, moved in place when they are learned
    """
    n_units = s.x.shape[0]
    conditional = np.empty((n_units, LEVELS))
    n_rates = learning.shape.shape[0]
    learns = n_rates > 0
    sees = learning.seeing.kinds > 0
    shares = learning.room.chance > 0.0
    end = theta.shape[0] - (FIRST_MEMBER + n_units if shares else 0)
    rates, tail, block = theta[:n_rates] if learns else theta, theta[n_rates:end], theta[end:]
    if sees:
        put_seeing(m, learning.seeing, tail, tail[len(tail) - 2 * n_units : len(tail) - n_units])
    if shares:
        put_room(m, block)
    if learns:
        set_rates(m, s, rates)
    else:
        recompute(m, s)
    for k in range(kept.draws.shape[0]):
        sweep(m, s, rng, conditional)
        arrived = 0.0
        if learns:
            arrived = draw_rates(m, s, rates, learning.shape, learning.rate, learning.often, rng)
        if shares:
            draw_room(m, s, learning.room, arrived, block, rng)
        if sees:
            draw_seeing(m, s, learning.seeing, tail, rng)
        attribute(m, s, rates, rng, sums.blame)
        row = kept.theta[k]
        for r in range(theta.shape[0]):
            row[r] = theta[r]
        collect(
            s.x,
            s.sheds,
            conditional,
            kept.draws[k],
            kept.trace[k],
            kept.totals[k],
            sums.infested,
            sums.shed,
            sums.now,
        )

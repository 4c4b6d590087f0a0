"""Independent chains of one fit: where they start, and running them side by side."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from typing import Protocol

import numpy as np

from spread.posterior import arrays
from spread.posterior.arrays import Levels
from spread.posterior.chain import Kept, Learning, Sums, new_kept, new_sums, run
from spread.posterior.checks import Counts, expectations
from spread.posterior.dynamics import LEVELS, Dynamics, Floats
from spread.posterior.observations import Evidence
from spread.posterior.room import FIRST_MEMBER
from spread.posterior.seeing import first_tail, tail_length


class Ended(Protocol):
    """Where the chains of an earlier fit ended, as :class:`spread.posterior.draws.Posterior` has it."""

    @property
    def first_week(self) -> int:
        """Week number of the first column of the paths."""

    @property
    def ends(self) -> tuple[Levels, ...]:
        """Last joint path (N, T) of each chain."""

    @property
    def last_rates(self) -> Floats | None:
        """Shape (chains, rates)."""


@dataclass
class Chain:
    """One chain: its random stream, its rates and state, and what it has kept so far."""

    rng: np.random.Generator
    model: arrays.Model
    state: arrays.State
    theta: Floats
    sums: Sums
    pieces: list[Kept] = field(default_factory=list)
    expected: list[Floats] = field(default_factory=list)

    def kept(self) -> Kept:
        """Return all kept pieces as one."""
        return Kept(*(np.concatenate(parts) for parts in zip(*self.pieces, strict=True)))


def start_chains(
    model: arrays.Model,
    dynamics: Dynamics,
    evidence: Evidence,
    *,
    number: int,
    seed: int,
    learning: Learning,
    ends: tuple[Levels, ...] = (),
    rates: Floats | None = None,
) -> list[Chain]:
    """Give every chain its random stream, its rates and a path to start from.

    Parameters
    ----------
    model, dynamics, evidence : Of the fit; the model is copied for each chain
    number : How many chains
    seed : Each chain has its own stream spawned from it
    learning : Priors of the rates; chains then start from rates drawn from them
    ends
        Paths to start from; without them half the chains start all clear and half from draws of the prior
        without contacts.
    rates : Shape (chains, rates): rates to start from instead
    """
    units, weeks = evidence.shape
    central = dynamics.theta
    chains = []
    for k, stream in enumerate(np.random.SeedSequence(seed).spawn(number)):
        rng = np.random.default_rng(stream)
        if ends:
            path = ends[k % len(ends)]
        elif k % 2 == 0:
            path = np.zeros((units, weeks), dtype=np.int8)
        else:
            path = _prior_path(dynamics, evidence, rng)
        theta = rng.gamma(learning.shape, 1.0 / learning.rate) if len(learning.shape) else central.copy()
        if learning.seeing.kinds:
            theta = np.concatenate([theta, first_tail(learning.seeing)])
        if learning.room.chance:
            theta = np.concatenate([theta, np.zeros(FIRST_MEMBER + units)])
        if rates is not None:
            # Who looked may have changed since; then only the rates go on from where they were.
            kept = rates.shape[1] if rates.shape[1] == len(theta) else len(central)
            theta[:kept] = rates[k % len(rates)][:kept]
        # A copy each: learned rates are written into it, and threads that share an array slow one
        # another down by counting its references.
        own = model._replace(**{name: part.copy() for name, part in model._asdict().items()})
        if learning.seeing.kinds:
            flags = len(learning.shape) + tail_length(learning.seeing) - units
            resists = theta[flags : flags + units].astype(np.int64)[:, None]
            own.treated[:] = np.where(own.treated < 0, -1, own.treated + resists * learning.seeing.kinds)
        state = arrays.new_state(own, path)
        chains.append(Chain(rng, own, state, theta, new_sums(own, units, weeks)))
    return chains


def shifted(path: Levels, by: int, weeks: int) -> Levels:
    """Move an old path into a newer window: drop weeks at the front, repeat the last at the end.

    ``path``: shape (N, weeks of the old window); ``by``: weeks by which the newer window begins later;
    ``weeks``: weeks of the newer window.
    """
    columns = np.clip(np.arange(weeks) + by, 0, path.shape[1] - 1)
    return np.ascontiguousarray(path[:, columns])


def _prior_path(dynamics: Dynamics, evidence: Evidence, rng: np.random.Generator) -> Levels:
    """Draw a path without contacts; a start spread out enough to show chains that do not meet.

    Treated weeks act as in the model, so that the path is possible.
    """
    units, weeks = evidence.shape
    path = np.zeros((units, weeks), dtype=np.int8)
    path[:, 0] = rng.choice(LEVELS, size=units, p=dynamics.start)
    for t in range(weeks - 1):
        escape = np.exp(-evidence.introduction[:, t])
        step = dynamics.growth[evidence.vacant[:, t].astype(int), path[:, t]]
        clear = path[:, t] == 0
        step[clear] = 0.0
        step[clear, 0] = escape[clear]
        step[clear, 1] = 1.0 - escape[clear]
        for i in np.flatnonzero(evidence.treated[:, t] >= 0):
            step[i] = step[i] @ evidence.effects[evidence.treated[i, t]]
        path[:, t + 1] = (rng.random((units, 1)) > np.cumsum(step, axis=1)).sum(axis=1).clip(0, LEVELS - 1)
    return path


def advance(
    pool: ThreadPoolExecutor,
    chains: list[Chain],
    learning: Learning,
    sweeps: int,
    *,
    keep: bool,
    report: Callable[[float], None],
    counts: Counts | None = None,
) -> None:
    """Run every chain by ``sweeps``, in pieces, so that progress can be told between them.

    Parameters
    ----------
    pool : Threads to run in
    chains : They are moved in place
    learning : Gamma priors of the rates
    sweeps : How many for each chain
    keep : Whether what they give is kept; not while they warm up
    report : Called with the share that is done
    counts : What of the log is held against each piece's last path
    """
    size = max(10, sweeps // 10)
    done = 0
    while done < sweeps:
        piece = min(size, sweeps - done)
        run_piece = partial(_run_piece, learning=learning, sweeps=piece, keep=keep, counts=counts)
        list(pool.map(run_piece, chains))
        done += piece
        report(done / sweeps)


def _run_piece(chain: Chain, *, learning: Learning, sweeps: int, keep: bool, counts: Counts | None) -> None:
    units, weeks = chain.state.x.shape
    kept = new_kept(sweeps, units, weeks, len(chain.theta))
    sums = chain.sums if keep else new_sums(chain.model, units, weeks)
    run(chain.model, chain.state, chain.theta, learning, chain.rng, sums, kept)
    if keep:
        chain.pieces.append(kept)
        if counts is not None:
            tail = chain.theta[len(learning.shape) :][: tail_length(learning.seeing)]
            chain.expected.append(expectations(learning.seeing, counts, chain.state.x, tail))

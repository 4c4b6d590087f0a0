"""Fit the model to a building's log: several chains, in threads, from different starts."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from spread.posterior import arrays
from spread.posterior.chain import Kept, Learning
from spread.posterior.chains import Chain, Ended, advance, shifted, start_chains
from spread.posterior.checks import checks_of, counts_of
from spread.posterior.diagnostics import Diagnostics, effective_size, split_rhat
from spread.posterior.draws import Posterior, finish
from spread.posterior.dynamics import Dynamics, Network
from spread.posterior.observations import Evidence, build_evidence
from spread.posterior.rates import Blame
from spread.posterior.room import FIRST_MEMBER, LEAST_UNITS, NO_ROOM, belief, shared_of
from spread.posterior.seeing import NOTHING, Traits, resisting
from spread.records.kinds import Record


@dataclass(frozen=True)
class FitSettings:
    """How long and from where the chains run."""

    weeks: int = 104  #: Length of the history window
    chains: int = 4  #: Independent chains; half start all clear, half from draws of the prior
    #: warmup, sweeps: Sweeps thrown away, and sweeps kept, a chain
    warmup: int = 150
    sweeps: int = 500
    #: While the chains are not good (:attr:`Diagnostics.good`), the kept sweeps are doubled until this many
    most_sweeps: int = 4000
    seed: int = 1  #: The same seed and input give the same answer
    workers: int = 2  #: Threads; the compiled sweep releases the interpreter lock
    learn: bool = True  #: Whether brought-in hazard, mixing and route rates are learned from the log


def fit(
    network: Network,
    records: Iterable[Record],
    dynamics: Dynamics,
    *,
    on: dt.date,
    settings: FitSettings | None = None,
    warm: Ended | None = None,
    progress: Callable[[float], None] | None = None,
) -> Posterior:
    """Infer who is infested on a day.

    Returned: chances, levels through the weeks, joint draws and diagnostics.

    Parameters
    ----------
    network : Contacts as arrays (:func:`spread.posterior.dynamics.network_of`)
    records : Current records; those after ``on`` are ignored
    dynamics : Rates, growth and priors
    on : The day the answer is for; the last week of the window holds it
    settings : Lengths, seed and threads
    warm
        An earlier posterior of the same building: its last joint paths are the starts, and the warm-up is
        a third as long.
    progress : Called with the share done, 0 to 1, from the calling thread
    """
    settings = settings or FitSettings()
    evidence = build_evidence(records, network.units, dynamics, on=on, weeks=settings.weeks)
    return fit_evidence(network, evidence, dynamics, on=on, settings=settings, warm=warm, progress=progress)


def fit_evidence(
    network: Network,
    evidence: Evidence,
    dynamics: Dynamics,
    *,
    on: dt.date,
    settings: FitSettings,
    warm: Ended | None = None,
    progress: Callable[[float], None] | None = None,
) -> Posterior:
    """As :func:`fit`, from evidence already gathered.

    ``network``, ``dynamics``, ``on``, ``settings``, ``warm``, ``progress``: as in :func:`fit`; ``evidence``:
    what the log says, by unit and week.
    """
    began = time.perf_counter()
    learning = Learning(np.empty(0), np.empty(0))
    if settings.learn:
        shape, rate = (np.array(part) for part in dynamics.rate_priors)
        room = belief() if dynamics.room and network.size >= LEAST_UNITS else NO_ROOM
        learning = Learning(shape, rate, evidence.seeing or NOTHING, room, np.array(dynamics.often))
    model = arrays.assemble(network, dynamics, evidence)
    if learning.seeing.kinds:
        model = model._replace(effects=resisting(evidence.effects))
    chains = start_chains(
        model,
        dynamics,
        evidence,
        number=settings.chains,
        seed=settings.seed,
        learning=learning,
        ends=tuple(
            shifted(end, evidence.first_week - warm.first_week, evidence.shape[1]) for end in warm.ends
        )
        if warm
        else (),
        rates=warm.last_rates if warm else None,
    )
    counts = None
    if learning.seeing.kinds and evidence.names:
        counts = counts_of(learning.seeing, evidence.names, network)
    warmup = settings.warmup if warm is None else max(30, settings.warmup // 3)
    done = 0
    target = settings.sweeps
    report = progress or (lambda share: None)
    with ThreadPoolExecutor(max_workers=max(1, settings.workers)) as pool:
        advance(pool, chains, learning, warmup, keep=False, report=_span(report, 0.0, 0.15))
        while True:
            span = _span(report, 0.15, 0.9) if done == 0 else _span(report, 0.9, 0.97)
            advance(pool, chains, learning, target - done, keep=True, report=span, counts=counts)
            done = target
            kept = [chain.kept() for chain in chains]
            diagnostics = _diagnose(kept, settings, warmup, len(dynamics.theta))
            if diagnostics.good or done >= settings.most_sweeps:
                break
            target = min(2 * done, settings.most_sweeps)
    seconds = time.perf_counter() - began
    steps = settings.chains * (warmup + done) * evidence.treated.size
    threads = min(settings.workers, settings.chains)
    report(1.0)
    posterior = _posterior(
        network,
        evidence,
        dynamics,
        on,
        chains,
        kept,
        replace(
            diagnostics, seconds=seconds, nanoseconds_per_unit_week=1e9 * seconds * threads / max(1, steps)
        ),
        settings,
        learning.room.chance > 0.0,
    )
    if counts is None:
        return posterior
    drawn = np.array([one for chain in chains for one in chain.expected])
    return replace(posterior, checks=checks_of(learning.seeing, counts, drawn), prior=learning.seeing)


def _diagnose(kept: list[Kept], settings: FitSettings, warmup: int, n_rates: int) -> Diagnostics:
    """Compare the chains."""
    trace = np.stack([piece.trace for piece in kept])
    counts = np.stack([piece.totals[:, -1] for piece in kept])[:, :, None].astype(np.float64)
    logs = np.log(np.maximum(np.stack([piece.theta[:, :n_rates] for piece in kept]), 1e-300))
    draws = trace.shape[0] * trace.shape[1]
    return Diagnostics(
        chains=settings.chains,
        sweeps=trace.shape[1],
        warmup=warmup,
        seconds=0.0,
        rhat_count=float(split_rhat(counts)[0]),
        rhat_worst_unit=float(split_rhat(trace).max(initial=1.0)),
        rhat_worst_rate=float(split_rhat(logs).max(initial=1.0)) if settings.learn else 1.0,
        ess_count=float(effective_size(counts)[0]),
        ess_worst_unit=float(effective_size(trace).min(initial=float(draws))),
        ess_worst_rate=float(effective_size(logs).min(initial=float(draws)))
        if settings.learn
        else float(draws),
        nanoseconds_per_unit_week=0.0,
    )


def _posterior(
    network: Network,
    evidence: Evidence,
    dynamics: Dynamics,
    on: dt.date,
    chains: list[Chain],
    kept: list[Kept],
    diagnostics: Diagnostics,
    settings: FitSettings,
    learns_room: bool,
) -> Posterior:
    """Gather what the chains kept."""
    sweeps = sum(len(piece.draws) for piece in kept)
    sums = [chain.sums for chain in chains]
    theta = np.concatenate([piece.theta for piece in kept])
    n_rates = len(dynamics.theta)
    block = FIRST_MEMBER + network.size if learns_room else 0
    rates, tail, blocks = np.split(theta, [n_rates, theta.shape[1] - block], axis=1)
    draws = np.concatenate([piece.draws for piece in kept])
    posterior = Posterior(
        units=network.units,
        on=on,
        first_week=evidence.first_week,
        levels=np.sum([each.now for each in sums], axis=0) / sweeps,
        weekly=np.sum([each.infested for each in sums], axis=0) / sweeps,
        shedding=np.sum([each.shed for each in sums], axis=0) / sweeps,
        draws=draws,
        log_weights=np.zeros(len(draws)),
        diagnostics=diagnostics,
        seed=settings.seed,
        ends=tuple(chain.state.x.copy() for chain in chains),
        last_rates=np.stack([chain.theta for chain in chains]),
        rates=rates,
        traits=Traits(tail[:, : -2 * network.size], *tail[:, -2 * network.size :].mean(axis=0).reshape(2, -1))
        if tail.shape[1]
        else None,
        names=evidence.names,
        shared=shared_of(blocks) if block else None,
        totals=np.concatenate([piece.totals for piece in kept]),
        blame=Blame(*(np.sum([each.blame[part] for each in sums], axis=0) / sweeps for part in range(3))),
        dynamics=replace(
            dynamics,
            brought_in=rates[:, 0].mean(),
            mixing=rates[:, 1].mean(),
            rates=rates[:, 2:-1].mean(axis=0),
            move_in=rates[:, -1].mean(),
        )
        if settings.learn
        else dynamics,
        conditions=evidence.now,
    )
    return finish(posterior, evidence, dynamics)


def _span(report: Callable[[float], None], start: float, end: float) -> Callable[[float], None]:
    """Return a reporter whose 0 to 1 is the stretch from ``start`` to ``end`` of another."""
    return lambda share: report(start + share * (end - start))

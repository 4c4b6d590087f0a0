"""Fit the model to a building's log: several chains, in threads, from different starts."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from spread.posterior import kernel
from spread.posterior.diagnostics import effective_size, split_rhat
from spread.posterior.draws import Diagnostics, Posterior
from spread.posterior.dynamics import LEVELS, Dynamics, Floats, Network
from spread.posterior.kernel import Levels
from spread.posterior.observations import Evidence, build_evidence
from spread.records.kinds import Record

RHAT_LIMIT = 1.01
"""Largest R-hat that counts as agreement (Vehtari et al. 2021, Bayesian Analysis 16(2))."""


@dataclass(frozen=True)
class FitSettings:
    """How long and from where the chains run.

    Parameters
    ----------
    weeks
        Length of the history window.
    chains
        Independent chains; half start all clear, half from draws of the prior.
    warmup, sweeps
        Sweeps thrown away, and sweeps kept, a chain.
    most_sweeps
        If R-hat is above :data:`RHAT_LIMIT`, the kept sweeps are doubled until this many.
    seed
        The same seed and input give the same answer.
    workers
        Threads; the compiled sweep releases the interpreter lock.
    """

    weeks: int = 104
    chains: int = 4
    warmup: int = 150
    sweeps: int = 500
    most_sweeps: int = 4000
    seed: int = 1
    workers: int = 2


@dataclass
class _Chain:
    """One chain: its random stream, its state and what it has kept so far."""

    rng: np.random.Generator
    state: kernel.State
    draws: list[Levels]
    traces: list[Floats]
    infested_weeks: Floats
    shed_weeks: Floats
    now: Floats


def fit(
    network: Network,
    records: Iterable[Record],
    dynamics: Dynamics,
    *,
    on: dt.date,
    settings: FitSettings | None = None,
    warm: Posterior | None = None,
    progress: Callable[[float], None] | None = None,
) -> Posterior:
    """Infer who is infested on a day.

    Parameters
    ----------
    network
        Contacts as arrays (:func:`spread.posterior.dynamics.network_of`).
    records
        Current records; those after ``on`` are ignored.
    dynamics
        Rates, growth and priors.
    on
        The day the answer is for; the last week of the window holds it.
    settings
        Lengths, seed and threads.
    warm
        An earlier posterior of the same building: its last joint paths are the starts, and
        the warm-up is a third as long.
    progress
        Called with the share done, 0 to 1, from the calling thread.

    Returns
    -------
    Posterior
        Chances, levels through the weeks, joint draws and diagnostics.
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
    warm: Posterior | None = None,
    progress: Callable[[float], None] | None = None,
) -> Posterior:
    """As :func:`fit`, from evidence already gathered."""
    began = time.perf_counter()
    model = kernel.assemble(network, dynamics, evidence)
    chains = _start_chains(model, dynamics, evidence, settings, warm)
    warmup = settings.warmup if warm is None else max(30, settings.warmup // 3)
    done = 0
    target = settings.sweeps
    report = progress or (lambda share: None)
    with ThreadPoolExecutor(max_workers=max(1, settings.workers)) as pool:
        _advance(pool, model, chains, warmup, keep=False, report=_span(report, 0.0, 0.15))
        while True:
            span = _span(report, 0.15, 0.9) if done == 0 else _span(report, 0.9, 0.97)
            _advance(pool, model, chains, target - done, keep=True, report=span)
            done = target
            trace = np.stack([np.concatenate(chain.traces) for chain in chains]).astype(np.float64)
            counts = np.stack([(np.concatenate(chain.draws) > 0).sum(axis=1) for chain in chains])
            rhat = split_rhat(trace)
            rhat_count = float(split_rhat(counts[:, :, None].astype(np.float64))[0])
            worst = max(rhat_count, float(rhat.max(initial=1.0)))
            if worst < RHAT_LIMIT or done >= settings.most_sweeps:
                break
            target = min(2 * done, settings.most_sweeps)
    seconds = time.perf_counter() - began
    kept = settings.chains * done
    diagnostics = Diagnostics(
        chains=settings.chains,
        sweeps=done,
        warmup=warmup,
        seconds=seconds,
        rhat_count=rhat_count,
        rhat_worst_unit=float(rhat.max(initial=1.0)),
        ess_count=float(effective_size(counts[:, :, None].astype(np.float64))[0]),
        ess_worst_unit=float(effective_size(trace).min(initial=float(kept))),
        nanoseconds_per_unit_week=1e9
        * seconds
        * min(settings.workers, settings.chains)
        / max(1, settings.chains * (warmup + done) * evidence.treated.size),
    )
    report(1.0)
    draws = np.concatenate([np.concatenate(chain.draws) for chain in chains])
    return Posterior(
        units=network.units,
        on=on,
        first_week=evidence.first_week,
        levels=np.sum([chain.now for chain in chains], axis=0) / kept,
        weekly=np.sum([chain.infested_weeks for chain in chains], axis=0) / kept,
        shedding=np.sum([chain.shed_weeks for chain in chains], axis=0) / kept,
        draws=draws,
        log_weights=np.zeros(len(draws)),
        diagnostics=diagnostics,
        seed=settings.seed,
        ends=tuple(chain.state.x.copy() for chain in chains),
    )


def _span(report: Callable[[float], None], start: float, end: float) -> Callable[[float], None]:
    """Return a reporter whose 0 to 1 is the stretch from ``start`` to ``end`` of another."""
    return lambda share: report(start + share * (end - start))


def _start_chains(
    model: kernel.Model, dynamics: Dynamics, evidence: Evidence, settings: FitSettings, warm: Posterior | None
) -> list[_Chain]:
    """Give every chain its random stream and a path to start from."""
    units, weeks = evidence.shape
    chains = []
    for number, seed in enumerate(np.random.SeedSequence(settings.seed).spawn(settings.chains)):
        rng = np.random.default_rng(seed)
        if warm is not None and warm.ends:
            path = _shifted(warm.ends[number % len(warm.ends)], evidence.first_week - warm.first_week, weeks)
        elif number % 2 == 0:
            path = np.zeros((units, weeks), dtype=np.int8)
        else:
            path = _prior_path(dynamics, evidence, rng)
        chains.append(
            _Chain(
                rng=rng,
                state=kernel.new_state(model, path),
                draws=[],
                traces=[],
                infested_weeks=np.zeros((units, weeks)),
                shed_weeks=np.zeros((units, weeks)),
                now=np.zeros((units, LEVELS)),
            )
        )
    return chains


def _shifted(path: Levels, by: int, weeks: int) -> Levels:
    """Move an old path into a newer window: drop weeks at the front, repeat the last at the end."""
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


def _advance(
    pool: ThreadPoolExecutor,
    model: kernel.Model,
    chains: list[_Chain],
    sweeps: int,
    *,
    keep: bool,
    report: Callable[[float], None],
) -> None:
    """Run every chain by ``sweeps`` in pieces, so that progress can be told between them."""
    size = max(10, sweeps // 10)
    done = 0
    while done < sweeps:
        piece = min(size, sweeps - done)
        list(pool.map(partial(_run_piece, model, sweeps=piece, keep=keep), chains))
        done += piece
        report(done / sweeps)


def _run_piece(model: kernel.Model, chain: _Chain, sweeps: int, *, keep: bool) -> None:
    units = chain.state.x.shape[0]
    draws = np.empty((sweeps, units), dtype=np.int8)
    trace = np.empty((sweeps, units))
    sums = (chain.infested_weeks, chain.shed_weeks, chain.now)
    if not keep:
        sums = tuple(np.zeros_like(each) for each in sums)  # type: ignore[assignment]
    kernel.run(model, chain.state, chain.rng, draws, *sums, trace)
    if keep:
        chain.draws.append(draws)
        chain.traces.append(trace.astype(np.float32))

"""Running programmes: in pieces, in threads, stoppable, with what is done kept."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from spread.decisions.view import View
from spread.programmes.begin import Begin, begin_of, rings_of
from spread.programmes.clearing import settled
from spread.programmes.futures import tables_of_runs
from spread.programmes.kept import Kept, new_kept
from spread.programmes.kernel import run_block
from spread.programmes.programme import Programme
from spread.programmes.rules import encode
from spread.programmes.tables import Tables, stacked, tables_of
from spread.trade.pace import Pace

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class RunSettings:
    """How long, how often and with which luck."""

    weeks: int = 104  #: Weeks of every run
    runs: int = 400  #: Runs of every programme; four times as many halve the error of a figure
    seed: int = 1  #: The same seed and input give the same answer, whatever the threads
    workers: int = 2  #: Threads; the compiled kernel releases the interpreter lock
    chunk: int = 50  #: Runs of one piece; after every piece progress is told and a stop is heard
    snapshots: tuple[int, ...] = ()  #: Weeks of which every unit's level is kept too
    #: Minutes at doors that the crew has a week (:func:`spread.programmes.crew.crew_minutes`); 0: no end
    crew_minutes: float = 0.0


@dataclass(frozen=True)
class Runs:
    """What the runs of one programme gave; rows are runs, the same luck in the same row of each."""

    programme: Programme
    kept: Kept  #: Its figures (:class:`spread.programmes.kept.Kept`)

    @property
    def infested(self) -> NDArray[np.int32]:
        """Shape (R, W + 1): units infested at the start of each week."""
        return self.kept.infested

    @property
    def counts(self) -> NDArray[np.int64]:
        """Shape (R, columns): see :mod:`spread.programmes.columns`."""
        return self.kept.counts


@dataclass(frozen=True)
class Simulated:
    """Programmes run over the same futures of a building."""

    runs: tuple[Runs, ...]  #: One a programme
    settings: RunSettings  #: As asked for
    units: int  #: Number of units
    #: Runs that were finished, of every programme alike; fewer than asked for after a stop
    done: int = field(default=0)
    #: Shape (runs asked for,): the total of each run's rates of spread, in the order of the runs
    pace: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))

    @property
    def stopped(self) -> bool:
        """Whether it was stopped before all runs were done."""
        return self.done < self.settings.runs

    def of(self, key: str) -> Runs:
        """Return the runs of one programme by its key."""
        return next(runs for runs in self.runs if runs.programme.key == key)


Partial = Callable[[Simulated], None]


def simulate(
    view: View,
    programmes: Sequence[Programme],
    settings: RunSettings | None = None,
    *,
    pace: Pace | None = None,
    tables: Tables | Sequence[Tables] | None = None,
    begin: Begin | None = None,
    progress: Progress | None = None,
    partial: Partial | None = None,
    stop: threading.Event | None = None,
) -> Simulated:
    """Run programmes forward from what is known of a building.

    Returned: with at least the first piece of runs, unless it was stopped before that. Its programmes have
    the clearance that they ran with.

    Parameters
    ----------
    view
        The building on a day, as :attr:`spread.session.Session.view`. Its clearance rule is that of every
        programme, but for what a programme changes itself.
    programmes : What to compare
    settings : Lengths, seed and threads
    pace : Minutes and the prior of a shut door of the building; the trade's if None
    tables, begin
        Other facts of the trade, or another start, for what-if runs. Without them every run has its own draw
        of what is not known of the trade (:mod:`spread.programmes.futures`).
    progress : Called with the share done, 0 to 1, from the calling thread
    partial
        Called with what is done so far, after every piece and before ``progress``, from the calling
        thread.
    stop : Set it from another thread to stop soon; what is done is returned
    """
    settings = settings or RunSettings()
    pace = pace or Pace()
    begin = begin or begin_of(view, runs=settings.runs, seed=settings.seed, pace=pace)
    tables = tables or tables_of_runs(tables_of(view.dynamics, view.posterior.odds), begin, settings.seed)
    rule = view.clearance
    jobs = [
        (settled(p, rule), *encode(p, pace, rule, settings.crew_minutes), rings_of(view, p.ring))
        for p in programmes
    ]
    return run_jobs(jobs, begin, tables, settings, progress=progress, partial=partial, stop=stop)


Job = tuple[Programme, NDArray[np.int64], NDArray[np.float64], tuple[NDArray[np.int64], NDArray[np.int64]]]
"""A programme, its numbers and minutes, and its rings as compressed rows."""


def run_jobs(
    jobs: Sequence[Job],
    begin: Begin,
    tables: Tables | Sequence[Tables],
    settings: RunSettings,
    *,
    progress: Progress | None = None,
    partial: Partial | None = None,
    stop: threading.Event | None = None,
) -> Simulated:
    """Run programmes that are encoded already, from a start that need not be a building's.

    Parameters
    ----------
    jobs
        A programme, its numbers (:func:`spread.programmes.rules.encode`) and its rings
        (:func:`spread.programmes.begin.rings_of`).
    begin, tables, settings, progress, partial, stop
        As in :func:`simulate`; ``tables``: one for all runs, or one a run
    """
    units = begin.levels.shape[1]
    shots = np.array(settings.snapshots, dtype=np.int64)
    each = [tables] * settings.runs if isinstance(tables, Tables) else tables
    trade, which = stacked(each)
    kept = [new_kept(settings.runs, settings.weeks, units, len(shots)) for _ in jobs]

    def piece(job: int, first: int, last: int) -> None:
        if stop is not None and stop.is_set():
            return
        _, rules, minutes, ring = jobs[job]
        luck, weeks = settings.seed, settings.weeks
        run_block(first, last, luck, weeks, begin, trade, which, rules, minutes, ring, shots, kept[job])

    def so_far(done: int) -> Simulated:
        runs = tuple(Runs(job[0], rows.first(done)) for job, rows in zip(jobs, kept, strict=True))
        pace = begin.rates[:, 2:].sum(axis=1)
        return Simulated(runs=runs, settings=settings, units=units, done=done, pace=pace)

    done = 0
    with ThreadPoolExecutor(max_workers=max(1, settings.workers)) as pool:
        while done < settings.runs:
            last = min(done + settings.chunk, settings.runs)
            # All programmes do the same runs before any goes on, so that a stop leaves pairs.
            pieces = [pool.submit(piece, job, done, last) for job in range(len(jobs))]
            for future in pieces:
                future.result()
            if stop is not None and stop.is_set():
                break
            done = last
            if partial is not None:
                partial(so_far(done))
            if progress is not None:
                progress(done / settings.runs)
    return so_far(done)

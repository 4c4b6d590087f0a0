"""What a proposed programme is held against besides others: nothing at all, and beginning it later."""

from __future__ import annotations

import threading
from dataclasses import replace

from spread.decisions.view import View
from spread.programmes.begin import begin_of
from spread.programmes.choice import NOTHING, WAITS
from spread.programmes.programme import Programme
from spread.programmes.run import Progress, Simulated, simulate
from spread.trade.pace import Pace


def nothing_done(like: Programme) -> Programme:
    """Return doing nothing: reports lead to no look; courses under way are finished."""
    return replace(
        like, key=NOTHING, name="", words="", made=None,
        complaint=None, ring=None, ranked=None, survey=None, vacant=None, watch=None,
    )  # fmt: skip


def later(programme: Programme, months: int) -> Programme:
    """Return a programme that begins after so many months; until then only reports are answered."""
    return replace(programme, key=f"{programme.key}+{months}", begins=WAITS[months])


def yardsticks(programme: Programme) -> tuple[Programme, ...]:
    """Return what a programme is held against besides others: nothing at all, and beginning it later."""
    plans = any((programme.ring, programme.ranked, programme.survey, programme.vacant, programme.watch))
    return (nothing_done(programme), *(later(programme, months) for months in WAITS if plans))


def beside(
    view: View,
    simulated: Simulated,
    key: str,
    *,
    pace: Pace,
    progress: Progress | None = None,
    stop: threading.Event | None = None,
) -> Simulated:
    """Run the yardsticks of a programme in the futures in which it ran.

    ``view``, ``pace``: those of ``simulated``, which has at least one run done; ``key``: of the programme;
    ``progress``, ``stop``: as in :func:`spread.programmes.run.simulate`.
    """
    settings = simulated.settings
    return simulate(
        view,
        yardsticks(simulated.of(key).programme),
        replace(settings, runs=simulated.done),
        pace=pace,
        begin=begin_of(view, runs=settings.runs, seed=settings.seed, pace=pace),
        progress=progress,
        stop=stop,
    )

"""Accepted programmes whose building goes as forecast, or not: how often and how soon a departure is told.

``python -m proofs.held demo_buildings/ostrel-court --on 2026-11-20``. Each run of other luck is one building
that accepted the programme; its counts are those of the simulation, so nothing is said here of how well a log
is kept, and units infested, which are inferred and not counted, are left out of what may tell a departure.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from spread.commands.common import day
from spread.programmes.accepted import COUNTED, Accepted, accepted_of, counted
from spread.programmes.actual import Actual
from spread.programmes.begin import Begin, begin_of
from spread.programmes.futures import tables_of_runs
from spread.programmes.held import YEAR, held_to
from spread.programmes.money import Prices
from spread.programmes.offer import Terms
from spread.programmes.reading import preset
from spread.programmes.run import Runs, RunSettings, simulate
from spread.programmes.tables import Tables, tables_of
from spread.session import Session

Changed = Callable[[Begin, tuple[Tables, ...]], tuple[Begin, tuple[Tables, ...]]]


def _of_begin(**changed: Callable[[Begin], object]) -> Changed:
    return lambda begin, tables: (
        begin._replace(**{name: make(begin) for name, make in changed.items()}),
        tables,
    )


def _treatments(share: float) -> Changed:
    """Let so many treatment visits do nothing."""

    def change(begin: Begin, tables: tuple[Tables, ...]) -> tuple[Begin, tuple[Tables, ...]]:
        made = {}
        for one in tables:
            if id(one) not in made:
                own = np.diff(one.act, axis=2, prepend=0.0)
                made[id(one)] = one._replace(
                    act=np.cumsum((1.0 - share) * own + share * np.eye(own.shape[1]), axis=2)
                )
        return begin, tuple(made[id(one)] for one in tables)

    return change


def _brought(begin: Begin) -> object:
    rates = begin.rates.copy()
    rates[:, 0] *= 5.0
    return rates


CASES: dict[str, tuple[str, Changed]] = {
    "as forecast": ("", lambda begin, tables: (begin, tables)),
    "access halved": ("access", _of_begin(shut=lambda b: 1.0 - (1.0 - b.shut) / 2.0)),
    "half of treatments do nothing": ("treatment", _treatments(0.5)),
    "four of five treatments do nothing": ("treatment", _treatments(0.8)),
    "five times as many move in": ("arrivals", _of_begin(leave=lambda b: 5.0 * b.leave)),
    "five times as much brought in": ("", _of_begin(rates=_brought)),
}


def actual_of_run(runs: Runs, run: int, months: int) -> Actual:
    """Return one run as a log would have it, without what is inferred."""
    by_month = runs.kept.by_month[run, :months]
    nothing = (np.zeros(0, np.int64),) * months
    counts = {name: counted(by_month, name) for name in COUNTED}
    return Actual(counts, (0.0,) * months, nothing, np.ones(1), settled=True, looked=10**6)


def told(accepted: Accepted, runs: Runs, run: int) -> tuple[int, str, str]:
    """Return the month of a year in which a departure is told first (0 if none), its quantity and cause."""
    whole = held_to(accepted, actual_of_run(runs, run, YEAR))
    if not whole.departures:
        return 0, "", ""
    month = whole.departures[0].month
    then = held_to(accepted, actual_of_run(runs, run, month))
    return month, then.departures[0].quantity, then.causes[0].cause if then.causes else ""


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("building")
    parser.add_argument("--on", type=day)
    parser.add_argument("--programme", default="complaint-ranked")
    parser.add_argument("--runs", type=int, default=400, help="of the forecast, and buildings of each case")
    args = parser.parse_args()
    session = Session.open(args.building, on=args.on)
    view, pace = session.view, session.building.settings.pace
    settings = RunSettings(weeks=52, runs=args.runs, seed=1)
    programme = preset(args.programme)
    done = simulate(view, [programme], settings, pace=pace)
    accepted = accepted_of(view, done, programme.key, prices=Prices(), terms=Terms())
    print(f"{programme.key}, {args.runs} runs of each")
    for month in (3, 6, 9, 12):
        seen = held_to(accepted, actual_of_run(done.runs[0], 0, month)).seen
        print(f"half of the visits or three times the finds are seen within {month} months: {seen:.0%}")
    other = replace(settings, seed=2)
    begin = begin_of(view, runs=args.runs, seed=2, pace=pace)
    tables = tables_of_runs(tables_of(view.dynamics, view.posterior.odds), begin, 2)
    for name, (cause, change) in CASES.items():
        now, table = change(begin, tables)
        runs = simulate(view, [programme], other, pace=pace, begin=now, tables=table).runs[0]
        found = [told(accepted, runs, run) for run in range(args.runs)]
        months = np.array([month for month, _, _ in found])
        within = {m: float(((months > 0) & (months <= m)).mean()) for m in (1, 2, 3, 6, 12)}
        causes = Counter(why or "not shown" for month, _, why in found if month)
        first = Counter(what for month, what, _ in found if month)
        print(f"{name}: told within " + ", ".join(f"{m} months {share:.1%}" for m, share in within.items()))
        print(f"  by {dict(first.most_common())}; cause {dict(causes.most_common())}, is {cause or '-'}")


if __name__ == "__main__":
    main()

"""How fast programmes are simulated, as a ratio to the same in plain Python and NumPy.

``pytest benchmarks/test_programmes_speed.py -s -m slow`` prints seconds of the whole comparison (1,000
runs x 8 programmes x 104 weeks x 225 units) and the ratio. The plain program is
``tests/plain_programmes.py``: it gives the same counts, number for number.
"""

from __future__ import annotations

import time

import numpy as np
import pytest

from proofs.programmes_published import tower
from spread.posterior.dynamics import central_dynamics
from spread.programmes.begin import begin_from
from spread.programmes.reading import presets
from spread.programmes.rules import encode
from spread.programmes.run import RunSettings, run_jobs
from spread.programmes.tables import tables_of
from spread.trade.pace import Pace
from tests.plain_programmes import COLUMNS, PlainRun

AT_LEAST = 200


def prepared(runs):
    """Return jobs, start and tables of a tower at 8 %, rings by shared walls and floors for all."""
    network, dynamics = tower(), central_dynamics(rate_scale=0.5)
    rng = np.random.default_rng(1)
    levels = rng.integers(1, 5, (runs, network.size)) * (rng.random((runs, network.size)) < 0.08)
    rates = np.array([dynamics.brought_in, dynamics.mixing, *dynamics.rates])
    begin = begin_from(
        network,
        levels=levels.astype(np.int8),
        rates=np.tile(rates, (runs, 1)) * rng.gamma(4.0, 0.25, (runs, 1)),
        mean_rates=rates,
        belief=np.tile(dynamics.start, (network.size, 1)),
    )
    near = network.exposure[:, :2].sum(axis=1) > 0.5
    rows = np.repeat(np.arange(network.size), np.diff(network.indptr))[near]
    ring = (
        np.concatenate([[0], np.cumsum(np.bincount(rows, minlength=network.size))]).astype(np.int64),
        network.indices[near],
    )
    jobs = [(p, *encode(p, Pace()), ring) for p in presets()]
    return jobs, begin, tables_of(dynamics)


def compiled(jobs, begin, tables, settings):
    started = time.perf_counter()
    done = run_jobs(jobs, begin, tables, settings)
    return time.perf_counter() - started, done


def plainly(jobs, begin, tables, weeks):
    """Return seconds and counts of run 0 of every programme in plain Python."""
    counts = []
    started = time.perf_counter()
    for programme, _, _, (indptr, indices) in jobs:
        rings = [indices[indptr[i] : indptr[i + 1]].tolist() for i in range(len(indptr) - 1)]
        run = PlainRun(begin, tables, programme, rings, seed=1, run=0, pace=Pace())
        run.go(weeks)
        counts.append([run.counts[name] for name in COLUMNS])
    return time.perf_counter() - started, counts


def test_a_step_of_a_small_comparison(benchmark):
    jobs, begin, tables = prepared(20)
    settings = RunSettings(weeks=26, runs=20)
    compiled(jobs, begin, tables, settings)
    benchmark(lambda: compiled(jobs, begin, tables, settings))


@pytest.mark.slow
def test_the_whole_comparison_is_at_least_two_hundred_times_as_fast_as_plain_python():
    jobs, begin, tables = prepared(1000)
    weeks = 104
    compiled(jobs, begin, tables, RunSettings(weeks=2, runs=2))
    slow, counts = plainly(jobs, begin, tables, weeks)
    fast, done = compiled(jobs, begin, tables, RunSettings(weeks=weeks, runs=1000, workers=2))
    assert [runs.counts[0].tolist() for runs in done.runs] == counts, "the same answer"
    ratio = slow * 1000 / fast
    steps = 1000 * len(jobs) * weeks * done.units
    print(
        f"\n{fast:.1f} s for 1,000 runs x {len(jobs)} programmes x {weeks} weeks x {done.units} units "
        f"({1e9 * fast / steps:.0f} ns a unit-week); plain Python {slow:.1f} s for one run: {ratio:.0f} times"
    )
    assert ratio >= AT_LEAST

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
from spread.contacts.graph import build_contacts
from spread.plan.drawing.listed import UnitRow
from spread.plan.unit_list import UnitList, draw_plan
from spread.posterior.dynamics import central_dynamics, network_of
from spread.programmes.begin import begin_from
from spread.programmes.reading import presets
from spread.programmes.rules import encode
from spread.programmes.run import RunSettings, run_jobs
from spread.programmes.tables import tables_of
from spread.trade.pace import Pace
from tests.plain_programmes import COLUMNS, PlainRun

AT_LEAST = 200
RANKED_AT_MOST = 4.0  #: Times the seconds of complaints alone; it was 6 when every run believed by itself


def prepared(runs, network=None):
    """Return jobs, start and tables of a tower at 8 %, rings by shared walls and floors for all."""
    network, dynamics = network or tower(), central_dynamics(rate_scale=0.5)
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


def house(floors, a_floor):
    """Return contacts of a house on double-loaded hallways."""
    names = tuple(str(f + 1) for f in range(floors))
    rows = tuple(UnitRow(f"{f}{k:02d}", f) for f in names for k in range(1, a_floor + 1))
    plan = draw_plan(UnitList(rows, names), "double-loaded", floors=names, name="a house")
    return network_of(build_contacts(plan))


def least_seconds(cases, weeks=26, rounds=5):
    """Return the processor's seconds of each case, the least of rounds in which the cases take turns."""
    least = [float("inf")] * len(cases)
    for _ in range(rounds):
        for place, (job, begin, tables) in enumerate(cases):
            settings = RunSettings(weeks=weeks, runs=len(begin.levels), workers=1)
            started = time.process_time()
            run_jobs([job], begin, tables, settings)
            least[place] = min(least[place], time.process_time() - started)
    return least


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


def of_keys(prepared, *keys):
    jobs, begin, tables = prepared
    return [(job, begin, tables) for key in keys for job in jobs if job[0].key == key]


def test_ranked_doors_cost_a_few_times_complaints():
    alone, ranked = least_seconds(of_keys(prepared(50), "complaint", "complaint-ranked"))
    print(f"\nranked doors cost {ranked / alone:.1f} times complaints")
    assert ranked < RANKED_AT_MOST * alone


def test_a_thousand_units_cost_no_more_than_their_contacts():
    networks = [house(8, 11), house(25, 40)]
    keys = ("complaint", "complaint-ranked", "survey-dog")
    took = least_seconds([case for each in networks for case in of_keys(prepared(25, each), *keys)])
    small, large = (np.array(took[: len(keys)]), np.array(took[len(keys) :]))
    contacts = len(networks[1].indices) / len(networks[0].indices)
    times = ", ".join(f"{key} {x:.1f}" for key, x in zip(keys, large / small, strict=True))
    print(f"\n1,000 units beside 88, {contacts:.1f} times the contacts: {times} times the seconds")
    assert large.sum() < contacts * small.sum()


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

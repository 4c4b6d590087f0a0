"""How fast a sweep is, as a ratio to the same sweep in plain NumPy, so that a slow machine does not fail.

``pytest benchmarks --benchmark-enable`` prints the times; ``pytest
benchmarks/test_sampler_speed.py -s -m slow`` prints nanoseconds per unit-week and the ratio.
"""

from __future__ import annotations

import datetime as dt
import time

import networkx as nx
import numpy as np
import pytest

from spread.posterior import arrays, kernel, unit_path
from spread.posterior.chain import Learning, new_kept, run
from spread.posterior.chains import start_chains
from spread.posterior.dynamics import LEVELS, central_dynamics, network_of
from spread.posterior.observations import build_evidence
from spread.posterior.room import NO_ROOM, belief
from spread.posterior.seeing import resisting
from spread.records.kinds import Record
from tests import enumeration as exact

FLOORS, A_SIDE, WEEKS = 15, 8, 104
ON = dt.date(2026, 11, 25)


def tower():
    """An invented double-loaded tower: 15 floors of 15 units, with walls, floors, risers and doors across."""
    graph = nx.MultiGraph()
    spots = [(floor, k) for floor in range(FLOORS) for k in range(2 * A_SIDE - 1)]
    graph.add_nodes_from(spots)

    def tie(a, b, route, exposure):
        if b in graph:
            graph.add_edge(a, b, key=route, route=route, exposure=exposure)

    for floor, k in spots:
        tie((floor, k), (floor, k + 2), "wall", 1.2)
        tie((floor, k), (floor + 1, k), "floor", 1.0)
        for apart in (1, 2):
            tie((floor, k), (floor + apart, k), "riser", 0.5**apart)
        if k % 2 == 0:
            tie((floor, k), (floor, k + 1), "hallway", 1.0)
    graph = nx.relabel_nodes(graph, {(f, k): f"{f + 1}{k + 1:02d}" for f, k in spots})
    network = network_of(graph)
    rng = np.random.default_rng(4)
    records = [
        Record(
            id=f"r{n}",
            when=ON - dt.timedelta(days=int(rng.integers(0, 7 * WEEKS))),
            unit=str(rng.choice(network.units)),
            kind=kind,
            method=method,
            found=found,
        )
        for n in range(120)
        for kind, method, found in [
            [
                ("inspection", "brief-visual", "yes"),
                ("inspection", "dog", "no"),
                ("report", "", ""),
                ("treatment", "combined", ""),
            ][n % 4]
        ]
    ]
    dynamics = central_dynamics()
    evidence = build_evidence(records, network.units, dynamics, on=ON, weeks=WEEKS)
    return network, dynamics, evidence


def compiled(network, dynamics, evidence):
    """A state that has run in, and a function that makes one sweep."""
    model = arrays.assemble(network, dynamics, evidence)
    n, t = evidence.shape
    state, rng = arrays.new_state(model, np.zeros((n, t), dtype=np.int8)), np.random.default_rng(1)
    now = np.empty((n, LEVELS))
    for _ in range(60):
        kernel.sweep(model, state, rng, now)
    return state, lambda: kernel.sweep(model, state, rng, now)


def plain_filter(dynamics, evidence, x, i, dense, push):
    """One unit's filter given the others, in NumPy straight from the equations: (T, levels)."""
    weeks = evidence.shape[1]
    kappa = dynamics.shedding
    others = push - np.outer(dense[i], kappa[x[i]] * evidence.export[i])
    factor = np.ones((weeks, LEVELS))
    for t in range(weeks - 1):
        hazard = evidence.introduction[:, t, None] + evidence.openness[:, t, None] * (
            others[:, t, None] + dense[i][:, None] * kappa * evidence.export[i, t]
        )
        escape = np.exp(-hazard)
        chance = np.where(x[:, t + 1, None] == 0, escape, 1.0 - escape)
        for j in np.flatnonzero((evidence.treated[:, t] >= 0) & (x[:, t] == 0)):
            effect = evidence.effects[evidence.treated[j, t]][:, x[j, t + 1]]
            chance[j] = escape[j] * effect[0] + (1.0 - escape[j]) * effect[1]
        acts = x[:, t] == 0
        acts[i] = False
        log = np.log(chance[acts]).sum(axis=0)
        factor[t] = np.exp(log - log.max())
    alpha = np.empty((weeks, LEVELS))
    ahead = dynamics.start
    steps = []
    for t in range(weeks):
        alpha[t] = ahead * evidence.likelihood[i, t] * factor[t]
        alpha[t] /= alpha[t].sum()
        if t < weeks - 1:
            steps.append(exact.unit_step(dynamics, evidence, i, t, push[i, t]))
            ahead = alpha[t] @ steps[t]
    return alpha, steps


def plain_update(dynamics, evidence, x, i, dense, push, rng):
    """One unit's turn of a sweep in plain NumPy; the pressure ``push`` (N, T) is kept up to date."""
    alpha, steps = plain_filter(dynamics, evidence, x, i, dense, push)
    weeks = evidence.shape[1]
    path = np.empty(weeks, dtype=np.int8)
    weight = alpha[-1]
    for t in range(weeks - 1, -1, -1):
        if t < weeks - 1:
            weight = alpha[t] * steps[t][:, path[t + 1]]
        path[t] = min(np.searchsorted(np.cumsum(weight), rng.random() * weight.sum(), "right"), LEVELS - 1)
    change = (dynamics.shedding[path] - dynamics.shedding[x[i]]) * evidence.export[i]
    push += np.outer(dense[i], change)
    x[i] = path


def dense_of(network, dynamics):
    dense = network.dense(dynamics.rates) + dynamics.mixing / network.size
    np.fill_diagonal(dense, 0.0)
    return dense


@pytest.mark.slow
def test_a_compiled_sweep_is_a_hundred_times_faster_than_plain_numpy():
    """The plain sweep is timed on 12 of the 225 units: their turns cost the same."""
    network, dynamics, evidence = tower()
    state, once = compiled(network, dynamics, evidence)
    n, weeks = evidence.shape
    assert n == 225
    dense = dense_of(network, dynamics)

    x = state.x.copy()
    push = dense.T @ (dynamics.shedding[x] * evidence.export)
    alpha, _ = plain_filter(dynamics, evidence, state.x, 7, dense, push)
    model = arrays.assemble(network, dynamics, evidence)
    escape, factor, ours = np.empty(weeks), np.empty((weeks, LEVELS)), np.empty((weeks, LEVELS))
    unit_path.clear_chance(model, state, 7, escape)
    unit_path.influence(model, state, 7, factor)
    unit_path.filter_forward(model, 7, escape, factor, ours)
    ours /= ours.sum(axis=1, keepdims=True)
    np.testing.assert_allclose(ours, alpha, rtol=1e-8, atol=1e-12)  # the same work, so a fair race

    fast = np.inf
    for _ in range(5):
        start = time.thread_time()
        for _ in range(10):
            once()
        fast = min(fast, (time.thread_time() - start) / 10)
    rng, turns = np.random.default_rng(2), 12
    start = time.thread_time()
    for i in range(turns):
        plain_update(dynamics, evidence, x, i * 17, dense, push, rng)
    slow = (time.thread_time() - start) * n / turns
    np.testing.assert_allclose(push, dense.T @ (dynamics.shedding[x] * evidence.export), atol=1e-12)
    print(
        f"\n225 units x {weeks} weeks, {len(network.indices) / n:.1f} contacts a unit: compiled "
        f"{1e9 * fast / (n * weeks):.0f} ns a unit-week ({1 / fast:.0f} sweeps a second), "
        f"plain NumPy {1e9 * slow / (n * weeks):.0f} ns; ratio {slow / fast:.0f}"
    )
    assert slow / fast > 500


@pytest.mark.slow
def test_learning_of_a_shared_room_costs_a_tenth_at_most_where_nothing_hints_at_one():
    """The product's loop with and without it, in turns and processor time; all else is learned in both."""
    network, dynamics, evidence = tower()
    shape, rate = (np.array(part) for part in dynamics.rate_priors)
    best = {}
    chains = {}
    for name, room in (("without", NO_ROOM), ("with", belief())):
        learning = Learning(shape, rate, evidence.seeing, room)
        model = arrays.assemble(network, dynamics, evidence)._replace(effects=resisting(evidence.effects))
        (chain,) = start_chains(model, dynamics, evidence, number=1, seed=1, learning=learning)
        chains[name], best[name] = (chain, learning), np.inf
    n, t = evidence.shape
    for turn in range(34):
        for name, (chain, learning) in chains.items():
            kept = new_kept(10, n, t, len(chain.theta))
            start = time.thread_time()
            run(chain.model, chain.state, chain.theta, learning, chain.rng, chain.sums, kept)
            if turn > 3:
                best[name] = min(best[name], time.thread_time() - start)
    each = {name: 1e9 * seconds / (10 * n * t) for name, seconds in best.items()}
    print(f"\nns a unit-week: {each}, ratio {each['with'] / each['without']:.3f}")
    assert each["with"] < 1.1 * each["without"]


@pytest.mark.benchmark(group="sampler")
def test_a_sweep_of_a_225_unit_tower_over_104_weeks(benchmark):
    _, once = compiled(*tower())
    benchmark(once)


@pytest.mark.benchmark(group="sampler")
def test_evidence_of_a_225_unit_tower(benchmark):
    _, _, evidence = benchmark.pedantic(tower, rounds=1)
    assert evidence.shape == (225, WEEKS)
    assert np.all(evidence.likelihood > 0)

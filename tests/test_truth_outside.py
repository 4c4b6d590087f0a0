"""The forward simulator, reduced to infested or not, against outside epidemic mathematics.

Outside:

- EoN 2.0 (Miller and Ting, Epidemics on Networks, J. Open Source Softw. 2019;4:1731), event by event in
  continuous time: ``fast_SIS`` for mean paths, ``fast_SIR`` for final sizes, with weights on the contacts.
- The exact chain of all 2^N states, pushed forward by a matrix, in weekly steps and (``scipy.linalg.expm`` of
  the generator) in continuous time: the textbook definition of an SIS epidemic on a graph.
- The threshold 1 / spectral radius of Wang, Chakrabarti, Wang and Faloutsos, SRDS 2003 (abstract read): below
  it an epidemic dies out. The spectral radius of a grid of 4 by 6 is 2 cos(pi/5) + 2 cos(pi/7) (from memory).

The library lives in continuous time and the simulator in steps, so they are compared with many steps a week:
a rate r becomes the hazard r / steps, and what is left is of the order of one step.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from buildings import CODES, maple_contacts
from scipy import linalg, stats

from spread.posterior.dynamics import LEVELS, Network, central_dynamics, network_of
from spread.worlds.truth import pressure_weights, simulate

INFESTED, REMOVED = 1, 2
STEPS = 40
"""Steps a week where the simulator stands for continuous time."""


def grid(rows, columns):
    """A wall of units: contacts of exposure 1 beside, above and below."""
    graph = nx.MultiGraph()
    graph.add_nodes_from(nx.convert_node_labels_to_integers(nx.grid_2d_graph(rows, columns)))
    for a, b in nx.convert_node_labels_to_integers(nx.grid_2d_graph(rows, columns)).edges:
        graph.add_edge(a, b, key="wall", route="wall", exposure=1.0)
    return network_of(nx.relabel_nodes(graph, {node: f"u{node:02d}" for node in graph}))


def two_levels(beta, leaving, *, to=0):
    """Dynamics in which a unit is infested or not; every infested one sheds alike.

    ``beta`` scales every contact, ``leaving`` is the chance a step of becoming clear, or of being
    removed for good: a level that sheds nothing and is never left.
    """
    growth = np.eye(LEVELS)
    growth[INFESTED] = 0.0
    growth[INFESTED, INFESTED], growth[INFESTED, to] = 1.0 - leaving, leaving
    shedding = np.zeros(LEVELS)
    shedding[INFESTED] = 1.0
    return replace(
        central_dynamics(),
        rates=np.full(5, beta),
        brought_in=1e-12,  # the sampler wants it above zero; nothing comes of it here
        mixing=0.0,
        shedding=shedding,
        growth=np.stack([growth, growth]),
    )


def first(network, *units):
    start = np.zeros(network.size, dtype=int)
    start[list(units)] = INFESTED
    return start


def all_states(size):
    return np.array(list(itertools.product((0, 1), repeat=size)))


def exact_steps(weights, leaving, start, weeks):
    """Return the chance of each of the 2^N states in each week: (weeks, 2^N)."""
    states = all_states(len(start))
    caught = -np.expm1(-(states @ weights))
    infested = np.where(states == 1, 1.0 - leaving, caught)  # chance that each unit is infested next
    step = np.prod(np.where(states[None] == 1, infested[:, None], 1.0 - infested[:, None]), axis=2)
    now = np.all(states == start, axis=1).astype(float)
    path = [now]
    for _ in range(weeks - 1):
        path.append(path[-1] @ step)
    return states, np.array(path)


def exact_moment(weights, leaving_rate, start, time):
    """Return the chance of each of the 2^N states at a moment of continuous time."""
    states = all_states(len(start))
    place = {tuple(state): k for k, state in enumerate(states.tolist())}
    generator = np.zeros((len(states), len(states)))
    for k, state in enumerate(states):
        push = state @ weights
        for i, infested in enumerate(state):
            other = state.copy()
            other[i] = 1 - infested
            generator[k, place[tuple(other.tolist())]] = leaving_rate if infested else push[i]
        generator[k, k] = -generator[k].sum()
    now = np.all(states == start, axis=1).astype(float)
    return states, now @ linalg.expm(generator * time)


def test_six_units_follow_the_exact_chain_of_all_their_64_states_week_by_week():
    network, weeks, runs = grid(2, 3), 9, 30_000
    d = two_levels(0.35, 0.3)
    start = first(network, 0, 4)
    levels = simulate(network, d, weeks=weeks, rng=np.random.default_rng(5), start=start, replicates=runs)
    states, path = exact_steps(pressure_weights(network, d), 0.3, start, weeks)
    assert set(np.unique(levels)) == {0, INFESTED}
    codes = levels.astype(int).transpose(0, 2, 1) @ (2 ** np.arange(5, -1, -1))
    for t in range(weeks):
        seen = np.bincount(codes[:, t], minlength=64) / runs
        error = np.sqrt(path[t] * (1 - path[t]) / runs)
        assert np.all(np.abs(seen - path[t]) < 4.5 * error + 2 / runs), t
        assert abs((levels[:, :, t] > 0).mean() - (path[t] @ states).mean()) < 0.01


def test_with_short_steps_it_nears_the_exact_continuous_chain_and_so_does_the_library():
    import EoN

    network, runs = grid(2, 3), 8_000
    start = first(network, 0)
    tau, gamma, time = 0.6, 0.5, 4
    graph = nx.convert_node_labels_to_integers(nx.grid_2d_graph(2, 3))
    d = two_levels(tau / STEPS, -np.expm1(-gamma / STEPS))
    weights = pressure_weights(network, two_levels(tau, gamma))
    states, chances = exact_moment(weights, gamma, start, time)
    want = chances @ states
    levels = simulate(
        network, d, weeks=time * STEPS + 1, rng=np.random.default_rng(6), start=start, replicates=runs
    )
    error = np.sqrt(want * (1 - want) / runs)
    assert np.all(np.abs((levels[:, :, -1] > 0).mean(axis=0) - want) < 4 * error + 0.01)
    size = np.bincount((levels[:, :, -1] > 0).sum(axis=1), minlength=7) / runs
    exact_size = np.bincount(states.sum(axis=1), weights=chances, minlength=7)
    assert np.all(np.abs(size - exact_size) < 4 * np.sqrt(exact_size * (1 - exact_size) / runs) + 0.01)
    rng = np.random.default_rng(7)
    library = [EoN.fast_SIS(graph, tau, gamma, [0], tmax=time, rng=rng)[2][-1] for _ in range(4_000)]
    assert abs(np.mean(library) - want.sum()) < 4 * np.std(library) / np.sqrt(len(library))


def maple(strength):
    """Maple Row with its own weighted contacts, scaled so that the spectral radius is ``strength``."""
    network = network_of(maple_contacts())
    d = two_levels(1.0, 0.1)
    radius = np.linalg.eigvalsh(pressure_weights(network, d)).max()
    weights = pressure_weights(network, d) * strength / radius
    graph = nx.from_numpy_array(weights, edge_attr="weight")
    assert len({round(w, 6) for *_, w in graph.edges(data="weight")}) > 5, "contacts of many strengths"
    return network, strength / radius, graph


def test_the_mean_path_on_weighted_contacts_is_that_of_the_library():
    import EoN

    network, scale, graph = maple(2.5)
    runs, weeks = 1_500, 6
    d = two_levels(scale / STEPS, -np.expm1(-1.0 / STEPS))
    start = first(network, CODES.index("103"), CODES.index("204"))
    levels = simulate(
        network, d, weeks=weeks * STEPS + 1, rng=np.random.default_rng(8), start=start, replicates=runs
    )
    ours = (levels[:, :, ::STEPS] > 0).sum(axis=1)
    rng, moments = np.random.default_rng(9), np.arange(weeks + 1)
    theirs = np.array(
        [
            EoN.subsample(
                moments,
                *EoN.fast_SIS(
                    graph, 1.0, 1.0, list(np.flatnonzero(start)), tmax=weeks, transmission_weight="weight",
                    rng=rng,
                )[::2],
            )
            for _ in range(runs)
        ]
    )  # fmt: skip
    assert ours[:, 0].tolist() == theirs[:, 0].tolist() == [2] * runs
    assert ours[:, -1].mean() > 2.2, "it spreads, so that something is compared"
    error = np.sqrt((ours.var(axis=0) + theirs.var(axis=0)) / runs)
    gap = np.abs(ours.mean(axis=0) - theirs.mean(axis=0))
    assert np.all(gap < 4 * error + 0.02 * theirs.mean(axis=0)), (ours.mean(axis=0), theirs.mean(axis=0))
    assert same_distribution(ours[:, -1], theirs[:, -1], network.size) > 1e-4


def test_final_sizes_are_those_of_the_library_where_no_unit_is_infested_twice():
    import EoN

    network, scale, graph = maple(2.5)
    runs = 2_000
    d = two_levels(scale / STEPS, -np.expm1(-1.0 / STEPS), to=REMOVED)
    start = first(network, CODES.index("103"))
    levels = simulate(
        network, d, weeks=20 * STEPS, rng=np.random.default_rng(10), start=start, replicates=runs
    )[:, :, -1]
    over = ~(levels == INFESTED).any(axis=1)
    assert over.mean() > 0.999
    ours = (levels > 0).sum(axis=1)
    rng = np.random.default_rng(11)
    theirs = np.array(
        [
            EoN.fast_SIR(
                graph, 1.0, 1.0, list(np.flatnonzero(start)), transmission_weight="weight", rng=rng
            )[3][-1]
            for _ in range(runs)
        ]
    )  # fmt: skip
    assert 0.1 < (theirs == 1).mean() < 0.6, "some die out at once, others go through the building"
    error = np.sqrt((ours.var() + theirs.var()) / runs)
    assert abs(ours.mean() - theirs.mean()) < 4 * error + 0.02 * theirs.mean()
    assert same_distribution(ours, theirs, network.size) > 1e-4


def same_distribution(ours, theirs, most):
    """Return the p-value of a chi-square test that two samples of counts are of one distribution."""
    table = np.array([np.bincount(sample, minlength=most + 1) for sample in (ours, theirs)])
    rare = table.sum(axis=0) < 20
    table = np.column_stack([table[:, ~rare], table[:, rare].sum(axis=1)])
    return stats.chi2_contingency(table[:, table.sum(axis=0) > 0]).pvalue


LEAVING, WEEKS, RUNS = 0.2, 300, 300


def from_all(share):
    """Run a grid of 4 by 6, all infested, at a share of the threshold; return runs by weeks of counts."""
    network = grid(4, 6)
    radius = np.linalg.eigvalsh(pressure_weights(network, two_levels(1.0, LEAVING))).max()
    assert radius == pytest.approx(2 * np.cos(np.pi / 5) + 2 * np.cos(np.pi / 7), abs=1e-9)
    d = two_levels(share * LEAVING / radius, LEAVING)
    levels = simulate(
        network, d, weeks=WEEKS, rng=np.random.default_rng(12), start=first(network, *range(24)),
        replicates=RUNS,
    )  # fmt: skip
    return (levels > 0).sum(axis=1), pressure_weights(network, d)


def test_below_the_threshold_an_infestation_dies_out_at_least_as_fast_as_the_linear_bound():
    """1 - exp(-x) <= x, so the mean is below the linear map's, whose largest factor is under 1."""
    counts, weights = from_all(0.8)
    bound = np.full(24, 1.0)
    for t in range(WEEKS):
        mean, error = counts[:, t].mean(), counts[:, t].std() / np.sqrt(RUNS)
        assert mean - 4 * error <= bound.sum() + 1e-9, t
        bound = bound * (1 - LEAVING) + weights @ bound
    assert bound.sum() < 24 * (1 - 0.2 * LEAVING) ** WEEKS * 1.01
    assert (counts[:, -1] == 0).all(), f"at most {bound.sum():.1e} alive is expected of each run"


def test_well_above_the_threshold_it_stays():
    counts, _ = from_all(4.0)
    assert (counts[:, -1] > 0).mean() > 0.95
    assert counts[:, 100:].mean() > 6


def test_a_network_without_contacts_only_loses():
    nobody = Network(("a", "b"), np.zeros(3, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros((0, 5)))
    levels = simulate(
        nobody, two_levels(9.0, 0.25), weeks=9, rng=np.random.default_rng(1), start=first(nobody, 0),
        replicates=20_000,
    )  # fmt: skip
    assert not levels[:, 1].any()
    for t in range(9):  # by hand: (3/4)^t of the first unit's infestations are left
        assert abs((levels[:, 0, t] > 0).mean() - 0.75**t) < 4 * np.sqrt(0.25 / 20_000)

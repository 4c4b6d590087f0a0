"""What a find is worth, against brute-force paired simulation; no outside source prints such figures."""

import networkx as nx
import numpy as np
import pytest

from spread.decisions.doors.benefit import COURSE, weeks_averted
from spread.posterior.dynamics import LEVELS, central_dynamics, network_of
from spread.trade import detection, treatment

HORIZON = 26


def building(seed, n=10):
    """A small building with contacts of very different strength."""
    rng = np.random.default_rng(seed)
    graph = nx.MultiGraph()
    graph.add_nodes_from(f"{k}" for k in range(n))
    for a in range(n):
        for b in range(a + 1, n):
            if rng.random() < 0.3:
                graph.add_edge(f"{a}", f"{b}", route="wall", exposure=float(rng.uniform(0.3, 4.0)))
    return network_of(graph)


def paired(network, dynamics, start, unit, runs, seed):
    """Mean infested-unit-weeks averted by treating ``unit`` from now on, the same luck in both worlds.

    Written out unit by unit from the words of the module, not from its recursion.
    """
    n = network.size
    weights = network.dense(dynamics.rates) + dynamics.mixing / n
    np.fill_diagonal(weights, 0.0)
    effect = np.cumsum(treatment.over_units(treatment.effect_matrix(COURSE)), axis=1)
    growth = dynamics.growth[0].copy()
    growth[0] = 0
    growth[0, 0] = 1
    growth = np.cumsum(growth, axis=1)
    report = detection.report_chance().copy()
    report[0] = 0.0
    weeks = np.zeros(2)
    for world in (0, 1):
        rng = np.random.default_rng(seed)
        x = np.tile(start, (runs, 1))
        course = np.full((runs, n), -1)
        course[:, unit] = 0 if world else -1
        for _ in range(HORIZON):
            weeks[world] += (x > 0).sum() / runs
            luck = rng.random((4, runs, n))
            hit = luck[0] < 1 - np.exp(-(dynamics.shedding[x] @ weights))
            grown = (luck[1][..., None] > growth[x]).sum(axis=2).clip(0, LEVELS - 1)
            after = np.where(x == 0, hit.astype(int), grown)
            visit = course % 2 == 0
            visit &= course >= 0
            eased = (luck[2][..., None] > effect[after]).sum(axis=2).clip(0, LEVELS - 1)
            known = (course < 0) & (luck[3] < report[x])
            x = np.where(visit, eased, np.where(known, x, after))
            course = np.where(course >= 0, course + 1, np.where(known, 0, -1))
    return weeks[0] - weeks[1]


def test_a_find_is_worth_its_own_weeks_where_nothing_can_spread():
    """Hand case: no routes, no mixing, a unit that neither grows nor dies, heat that always works."""
    graph = nx.MultiGraph()
    graph.add_nodes_from("AB")
    dynamics = central_dynamics(rate_scale=1e-9)
    averted = weeks_averted(network_of(graph), dynamics, clear=np.ones(2), horizon=1)
    # In one week treatment acts at its end, so nothing is averted yet.
    np.testing.assert_allclose(averted, 0.0, atol=1e-9)
    two = weeks_averted(network_of(graph), dynamics, clear=np.ones(2), horizon=2)
    gone = treatment.over_units(treatment.effect_matrix(COURSE))
    growth = dynamics.growth[0]
    expected = [(growth[a, 1:] @ gone[1:, 0]) - 0.0 for a in range(1, LEVELS)]
    report = detection.report_chance()
    stays = [(1 - report[a]) * growth[a, 0] for a in range(1, LEVELS)]
    # Averted in the second week: gone by treatment or by itself, less gone by itself when left alone
    # (a reported unit's course starts the week after, so it is still there).
    np.testing.assert_allclose(
        two[0, 1:], [e + growth[a, 0] - s for a, (e, s) in enumerate(zip(expected, stays, strict=True), 1)]
    )


def test_a_clear_unit_is_worth_nothing_and_more_contacts_are_worth_more():
    network = building(1)
    averted = weeks_averted(network, central_dynamics(), clear=np.ones(10))
    assert (averted[:, 0] == 0).all()
    assert (averted[:, 1:] > 0).all()
    push = network.dense(central_dynamics().rates).sum(axis=1)
    assert averted[push.argmax(), 4] > averted[push.argmin(), 4]


def test_infested_contacts_are_worth_less_than_clear_ones():
    network = building(2)
    dynamics = central_dynamics()
    all_clear = weeks_averted(network, dynamics, clear=np.ones(10))
    crowded = weeks_averted(network, dynamics, clear=np.full(10, 0.3))
    assert (crowded[:, 1:] <= all_clear[:, 1:] + 1e-12).all()
    assert crowded[:, 4].sum() < all_clear[:, 4].sum()


def both(seed, levels, runs):
    """Weeks averted for every unit and level of a building: by recursion and by simulation."""
    network, dynamics = building(seed), central_dynamics()
    fast, slow = [], []
    for unit in range(network.size):
        clear = np.ones(network.size)
        clear[unit] = 0.0
        averted = weeks_averted(network, dynamics, clear=clear, horizon=HORIZON)[unit]
        for level in levels:
            start = np.zeros(network.size, dtype=int)
            start[unit] = level
            fast.append(averted[level])
            slow.append(paired(network, dynamics, start, unit, runs, seed))
    return np.array(fast), np.array(slow)


def rank_correlation(a, b):
    return np.corrcoef(np.argsort(np.argsort(a)), np.argsort(np.argsort(b)))[0, 1]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [3, 4])
def test_the_ranking_of_finds_agrees_with_paired_simulation(seed):
    fast, slow = both(seed, (1, 2, 3, 4), 1500)
    assert rank_correlation(fast, slow) > 0.95
    assert np.abs(fast / slow - 1).mean() < 0.15


@pytest.mark.slow
def test_among_heavy_units_the_contacts_alone_give_the_same_ranking():
    fast, slow = both(5, (4,), 10000)
    assert rank_correlation(fast, slow) > 0.95

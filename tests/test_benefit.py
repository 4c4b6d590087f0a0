"""What a find is worth, against brute-force paired simulation; no outside source prints such figures."""

import datetime as dt

import networkx as nx
import numpy as np
import pytest
from buildings import ON, clear, find, row, view_of
from buildings import treatment as treated

from spread.decisions.doors.benefit import COURSE, Usual, brief_find, weeks_averted
from spread.decisions.doors.usual import habits, usual_of
from spread.posterior.dynamics import LEVELS, central_dynamics, network_of
from spread.trade import detection, minutes, treatment

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
    sees, unsure = detection.sensitivity("brief-visual"), detection.unsure_chance()
    finds, misses = sees * (1 - unsure), (1 - sees) * (1 - unsure)
    report = detection.report_chance() * finds
    weeks = np.zeros(2)
    for world in (0, 1):
        rng = np.random.default_rng(seed)
        x = np.tile(start, (runs, 1))
        visit_in = np.full((runs, n), -1)  # weeks to the next visit; -1 where nobody knows
        visit_in[:, unit] = 0 if world else -1
        clean = np.zeros((runs, n), dtype=int)
        begun = np.zeros((runs, n), dtype=bool)
        for _ in range(HORIZON):
            weeks[world] += (x > 0).sum() / runs
            luck = rng.random((6, runs, n))
            hit = luck[0] < 1 - np.exp(-(dynamics.shedding[x] @ weights))
            grown = (luck[1][..., None] > growth[x]).sum(axis=2).clip(0, LEVELS - 1)
            after = np.where(x == 0, hit.astype(int), grown)
            eased = (luck[2][..., None] > effect[after]).sum(axis=2).clip(0, LEVELS - 1)
            inside = (visit_in == 0) & (luck[4] >= minutes.NO_ACCESS.central)
            nothing = inside & begun & (luck[5] < misses[x])
            treats = inside & ~nothing
            known = (visit_in < 0) & (luck[3] < report[x])
            x = np.where(treats, eased, after)
            clean = np.where(nothing, clean + 1, np.where(treats, 0, clean))
            begun |= treats
            given_up = nothing & (clean == 2)
            visit_in = np.where(inside, 1, np.where(visit_in == 1, 0, visit_in))
            visit_in[given_up], begun[given_up], clean[given_up] = -1, False, 0
            visit_in[known] = 0
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
    growth, opens = dynamics.growth[0], 1 - minutes.NO_ACCESS.central
    # Averted in the second week: gone by treatment, where somebody opens. What is gone by itself is so either
    # way, and who is found otherwise has a course from the week after.
    np.testing.assert_allclose(two[0, 1:], opens * (growth[1:, 1:] @ gone[1:, 0]))


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


def own_weeks(dynamics, known, level):
    """Weeks of the horizon until an infestation on its own is found or gone if nobody finds it now."""
    grow = dynamics.growth[0].copy()
    grow[0] = np.eye(LEVELS)[0]
    here, weeks = np.eye(LEVELS)[level], 0.0
    for _ in range(HORIZON):
        weeks += here[1:].sum()
        here = here * (1 - known) @ grow
        here[0] = 0.0
    return weeks


@pytest.mark.parametrize("looks", [0.0, 0.05, 0.3, 1.0])
def test_a_find_averts_no_more_than_the_weeks_until_it_would_be_found_or_gone_anyway(looks):
    """A course that always ends an infestation, in a unit that touches nobody: the bound needs no more."""
    graph = nx.MultiGraph()
    graph.add_nodes_from("AB")
    dynamics = central_dynamics(rate_scale=1e-9)
    known = np.minimum(detection.report_chance() + looks, 1.0)
    ends = np.tile(np.eye(LEVELS)[0], (LEVELS, 1))
    for effect in (ends, Usual().effect):
        told = weeks_averted(network_of(graph), dynamics, clear=np.ones(2), usual=Usual(known, effect))[0]
        most = [own_weeks(dynamics, known, a) for a in range(1, LEVELS)]
        assert (told[1:] <= np.array(most) + 1e-9).all()
        assert (told[1:] > 0).all() or looks == 1.0


def test_the_more_others_find_and_the_less_a_course_does_the_less_a_find_is_worth():
    network, dynamics = building(2), central_dynamics()

    def worth(looks, effect):
        usual = Usual(Usual().known + looks, effect)
        return weeks_averted(network, dynamics, clear=np.ones(10), usual=usual)[:, 1:]

    usual, weaker = Usual().effect, 0.5 * Usual().effect + 0.5 * np.eye(LEVELS)
    assert (worth(0.02, usual) < worth(0.0, usual)).all()
    assert (worth(0.2, usual) < worth(0.02, usual)).all()
    assert (worth(0.0, weaker) < worth(0.0, usual)).all()
    np.testing.assert_allclose(worth(0.0, np.eye(LEVELS)), 0.0, atol=1e-9)


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


# What a log says of the usual ------------------------------------------------------------------------


def test_a_look_counts_as_a_habit_only_where_nothing_called_for_it():
    sees = detection.sensitivity("brief-visual")
    uncalled = clear("204", 9)
    since = ON - dt.timedelta(weeks=52)

    def looks(*rows):
        return habits(sorted(rows, key=lambda one: one.when), since)[0]

    np.testing.assert_allclose(looks(uncalled), sees)
    np.testing.assert_allclose(looks(uncalled, clear("204", 40)), 2 * sees)
    np.testing.assert_allclose(looks(row("204", 10, "report"), uncalled), 0.0)
    np.testing.assert_allclose(looks(row("204", 10, "report"), clear("204", 9), clear("204", 2)), sees)
    np.testing.assert_allclose(looks(find("204", 60), uncalled), sees)  # the find's alone
    np.testing.assert_allclose(looks(treated("204", 60), uncalled), 0.0)
    np.testing.assert_allclose(looks(clear("204", 500)), 0.0)
    alert = row("204", 9, "inspection", "dog", found="yes", evidence="alert")
    np.testing.assert_allclose(looks(alert, clear("204", 7)), detection.sensitivity("dog") * brief_find())


def test_a_building_that_looks_at_every_door_each_quarter_has_less_to_gain_from_one_look():
    quarterly = [clear(unit, 90 * k + 20) for unit in view_of().network.units for k in range(4)]
    plain, looked = usual_of(view_of()), usual_of(view_of(quarterly))
    sees, weeks = detection.sensitivity("brief-visual"), (90 * 3 + 20) / 7
    np.testing.assert_allclose((looked.known - plain.known), np.tile(4 / weeks * sees, (len(plain.known), 1)))
    # One survey on the second day of a log is no weekly habit.
    short = usual_of(view_of([clear(unit, 2) for unit in view_of().network.units]))
    np.testing.assert_allclose((short.known - plain.known)[0], sees / 26)


def test_a_course_is_what_the_log_treats_with():
    steam, spray = (treatment.effect_matrix(m) for m in (COURSE, "spray"))
    rows = [row("204", 30 + k, "treatment", "spray") for k in range(3)]
    np.testing.assert_allclose(usual_of(view_of()).effect, treatment.over_units(steam))
    np.testing.assert_allclose(
        usual_of(view_of(rows)).effect, treatment.over_units(0.25 * steam + 0.75 * spray)
    )


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "within"), [(1, 6), (2, 28)])
def test_finds_in_simulated_buildings_avert_about_what_is_promised_of_them(seed, within):
    """Usual practice with all its failures, in whole buildings; the worth is told true rates and levels."""
    from proofs.promise import held, house_of

    houses = [house_of(seed, k, 1.0, within) for k in range(40)]
    plain, weighed = held(houses, 3).ratio
    assert 0.75 < plain < 1.35
    assert 0.75 < weighed < 1.35

"""Learned rates and sources against numerical integration and a sum over all paths of two units."""

from __future__ import annotations

import functools
import itertools
from dataclasses import replace

import enumeration as exact
import numpy as np
import pytest
from posterior_buildings import PAIR, contacts, mean_and_error, row, strong
from scipy import stats
from scipy.special import roots_genlaguerre
from test_exact import HARD

from spread.posterior import arrays
from spread.posterior.chain import Learning, new_kept, new_sums, run
from spread.posterior.dynamics import LEVELS
from spread.posterior.rates import theta_names
from spread.trade import priors, routes
from spread.trade.routes import ROUTES

WALL, MOVED = 2, -1
SHAPES = np.array([1.5, 1e8, 2.0, 1.0, 1.0, 1.0, 1.0, 2.0])
MEANS = np.array([0.02, 1e-9, 0.6, 0.1, 0.1, 0.1, 0.1, 0.3])
"""Brought in and wall are free, building-wide mixing is held at nothing, other routes have no contact.

What comes with a move-in is free too."""

TWO = replace(
    PAIR,
    network=contacts("AB", [("A", "B", "wall", 1.0)]),
    dynamics=strong(rate=0.6, mixing=1e-9, brought_in=0.02, prevalence=0.1),
    records=(
        *(row(9, unit, "inspection", "interceptors", "no", days=28, day=k) for unit in "AB" for k in (0, 1)),
        row(6, "A", "inspection", "thorough-visual", "yes", level="trace", evidence="live"),
        row(5, "B", "inspection", "interceptors", "no", days=28),
        row(4, "A", "inspection", "thorough-visual", "yes", level="low", evidence="live"),
        row(3, "B", "inspection", "thorough-visual", "yes", level="trace", evidence="live"),
        row(2, "B", "treatment", "whole-room-heat"),
        row(1, "A", "treatment", "whole-room-heat"),
        row(0, "B", "inspection", "thorough-visual", "no"),
    ),
    weeks=10,
)


MOVING = replace(
    TWO,
    dynamics=replace(TWO.dynamics, move_in=0.3),
    records=(*TWO.records, row(8, "A", "turnover", "moved-in")),
)
"""People move into A before it is found infested."""
WALLED = np.where(np.arange(8) == WALL, 1e8, SHAPES)
"""The wall is held, so that two rates are free: brought in, and what comes with a move-in."""


OFTEN = np.array([0.3, 3.0, 2.0])
"""Of the other prior of what comes with a move-in, where there is one."""


def by_quadrature(building, places, nodes: int, often=(0.0, 1.0, 1.0)):
    """Mean and standard deviation of two rates from Gauss quadrature of the exact evidence."""
    evidence = building.evidence()
    moves = evidence.introduction > building.dynamics.brought_in
    grids = []
    for k in places:
        x, w = roots_genlaguerre(nodes, SHAPES[k] - 1.0)
        grids.append((x * MEANS[k] / SHAPES[k], w / w.sum()))
    if often[0]:
        x, w = roots_genlaguerre(nodes, often[1] - 1.0)
        usual, of = grids[1]
        both = (1.0 - often[0]) * of, often[0] * w / w.sum()
        grids[1] = np.concatenate([usual, x / often[2]]), np.concatenate(both)
    logs = np.empty((nodes, len(grids[1][0])))
    for a, b in itertools.product(*map(range, logs.shape)):
        theta = building.dynamics.theta
        theta[list(places)] = grids[0][0][a], grids[1][0][b]
        at = replace(evidence, introduction=theta[0] + theta[MOVED] * moves)
        dynamics = replace(building.dynamics, rates=theta[WALL:MOVED])
        logs[a, b] = exact.solve(building.network, dynamics, at).log_evidence
    weight = np.exp(logs - logs.max()) * np.outer(grids[0][1], grids[1][1])
    weight /= weight.sum()
    moments = []
    for axis, (x, _) in enumerate(grids):
        p = weight.sum(axis=1 - axis)
        mean = (p * x).sum()
        moments.append((mean, np.sqrt((p * (x - mean) ** 2).sum())))
    return np.array(moments)


def learned(building, shapes, means, often=(0.0, 1.0, 1.0), *, sweeps, seed=8, chains=4):
    """Draws of the rates (chains, sweeps, rates) and the sums, from the product's own loop."""
    evidence = building.evidence()
    learning = Learning(shapes, shapes / means, often=np.array(often))
    thetas, blames = [], []
    for c in range(chains):
        rng = np.random.default_rng([seed, c])
        model = arrays.assemble(building.network, building.dynamics, evidence)
        n, t = evidence.shape
        state = arrays.new_state(model, np.full((n, t), 4 * (c % 2), dtype=np.int8))
        theta = rng.gamma(shapes, means / shapes)
        for length in (300, sweeps):
            sums, kept = new_sums(model, n, t), new_kept(length, n, t, len(theta))
            run(model, state, theta, learning, rng, sums, kept)
        thetas.append(kept.theta)
        blames.append(sums.blame)
    return np.stack(thetas), blames


@pytest.mark.slow
@pytest.mark.parametrize(
    ("building", "shapes", "places", "often"),
    [
        (TWO, SHAPES, [0, WALL], ()),
        (MOVING, WALLED, [0, MOVED], ()),
        (MOVING, WALLED, [0, MOVED], (OFTEN,)),
    ],
    ids=["brought in and wall", "brought in and move-ins", "move-ins of two kinds"],
)
def test_two_units_learn_the_rates_that_numerical_integration_gives(building, shapes, places, often):
    """Means within 3 %, standard deviations within 5 %, and both within four errors."""
    truth = by_quadrature(building, places, 14, *often)
    # The quadrature has converged, and the log says something of both rates.
    np.testing.assert_allclose(by_quadrature(building, places, 10, *often), truth, rtol=2e-3)
    assert np.all(np.abs(truth[:, 0] / MEANS[places] - 1) > 0.1)
    draws = learned(building, shapes, MEANS, *often, sweeps=20_000)[0][:, :, places]
    mean, error = mean_and_error(draws)
    spread, spread_error = mean_and_error((draws - truth[:, 0]) ** 2)
    assert np.all(np.abs(mean / truth[:, 0] - 1) < 0.03)
    assert np.all(np.abs(np.sqrt(spread) / truth[:, 1] - 1) < 0.05)
    assert np.all(np.abs(mean - truth[:, 0]) < 4 * error)
    assert np.all(np.abs(spread - truth[:, 1] ** 2) < 4 * spread_error)


def test_a_rate_without_any_contact_keeps_its_prior():
    draws = learned(TWO, SHAPES, MEANS, sweeps=3000)[0]
    for k in range(WALL + 1, len(SHAPES)):  # nobody moves in here, so that one keeps its prior as well
        thinned = draws[:, ::5, k].ravel()
        assert stats.kstest(thinned, stats.gamma(SHAPES[k], scale=MEANS[k] / SHAPES[k]).cdf).pvalue > 1e-4


@functools.cache
def blame_over_all_paths():
    """Where and when the infestations of the last week began: sum over all 15,625 paths of two units.

    Written down from the equations: the founding source of a spell is each source in proportion to its
    part of the hazard in the week before the spell's first.
    """
    building, evidence = HARD, HARD.evidence()
    d, net = building.dynamics, building.network
    n, weeks = evidence.shape
    push = np.zeros((n, n))
    push[0, 1] = push[1, 0] = net.exposure[0] @ d.rates + d.mixing / n

    def pressure(state, j, t):
        return sum(push[i, j] * d.shedding[state[i]] * evidence.export[i, t] for i in range(n) if i != j)

    states = list(itertools.product(range(LEVELS), repeat=n))
    began, other, contact = np.zeros((n, weeks)), np.zeros((n, 5)), np.zeros((2, len(ROUTES)))
    total = 0.0
    for path in itertools.product(states, repeat=weeks):
        p = np.prod([d.start[a] for a in path[0]])
        for t in range(weeks - 1):
            for j in range(n):
                step = exact.unit_step(d, evidence, j, t, pressure(path[t], j, t))
                p *= step[path[t][j], path[t + 1][j]]
        if p == 0.0:
            continue
        p *= np.prod([evidence.likelihood[i, t, path[t][i]] for i in range(n) for t in range(weeks)])
        total += p
        for i in range(n):
            if path[-1][i] == 0:
                continue
            first = weeks - 1
            while first > 0 and path[first - 1][i] > 0:
                first -= 1
            began[i, first] += p
            if first == 0:
                other[i, 3] += p
                continue
            t, j = first - 1, 1 - i
            shed = evidence.openness[i, t] * d.shedding[path[t][j]] * evidence.export[j, t]
            moved = evidence.introduction[i, t] - d.brought_in
            parts = np.array([d.brought_in, moved, d.mixing / n * shed])
            by_route = net.exposure[i] * d.rates * shed
            hazard = parts.sum() + by_route.sum()
            other[i, :3] += p * parts / hazard
            contact[i] += p * by_route / hazard
    return began / total, other / total, contact / total


def test_sources_and_dates_equal_the_sum_over_all_paths():
    evidence, d = HARD.evidence(), HARD.dynamics
    n, weeks = evidence.shape
    model = arrays.assemble(HARD.network, d, evidence)
    state = arrays.new_state(model, np.zeros((n, weeks), dtype=np.int8))
    rng = np.random.default_rng(6)
    theta = d.theta
    pieces = []
    for _ in range(200):
        sums, kept = new_sums(model, n, weeks), new_kept(500, n, weeks, len(theta))
        run(model, state, theta, Learning(np.empty(0), np.empty(0)), rng, sums, kept)
        pieces.append(
            np.concatenate(
                [part.ravel() / 500 for part in (sums.blame.began, sums.blame.other, sums.blame.contact)]
            )
        )
    mean, error = mean_and_error(np.array(pieces)[None])
    began, other, contact = blame_over_all_paths()
    truth = np.concatenate([began.ravel(), other.ravel(), contact.ravel()])
    assert contact.max() > 0.05
    assert other[:, :3].max(axis=0).min() > 1e-4
    assert np.abs(mean - truth).max() < 0.01
    assert np.all(np.abs(mean - truth) < np.maximum(4 * error, 1e-4))


@pytest.mark.parametrize("p", [0.05, 0.5, 0.95])
def test_the_points_of_a_mixed_prior_are_those_of_both_its_parts(p):
    usual = tuple(part[MOVED] for part in priors.rate_priors())
    chance, *apart = other = priors.often()
    x = priors.mixed_quantile(p, *usual, other)
    below = [stats.gamma(shape, scale=1.0 / rate).cdf(x) for shape, rate in (usual, apart)]
    assert (1.0 - chance) * below[0] + chance * below[1] == pytest.approx(p, abs=1e-9)


@pytest.mark.parametrize("name", ["brought in", "building-wide", *ROUTES, "moved in"])
def test_a_prior_has_the_median_and_the_width_that_the_facts_give(name):
    """Against SciPy's Gamma distribution."""
    apart = {"brought in": routes.BROUGHT_IN, "building-wide": routes.MIXING, "moved in": routes.MOVE_IN}
    number = apart.get(name) or routes.BY_KEY[name].rate
    shapes, rates = priors.rate_priors()
    k = theta_names(ROUTES).index(name)
    prior = stats.gamma(shapes[k], scale=1.0 / rates[k])
    assert prior.median() == pytest.approx(number.central, rel=1e-6)
    assert prior.ppf(0.95) / prior.ppf(0.05) == pytest.approx(number.high / number.low, rel=1e-5)

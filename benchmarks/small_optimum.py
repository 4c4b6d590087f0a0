"""Greedy and looking ahead against the exact optimum, on buildings small enough to search whole.

Six units, three visits. The joint draws of a fit stand for the truth about what is known: under them
the optimum over all ways to react to answers is found by trying every one, and so is the value of
each rule. Nothing is simulated, so the figures carry no luck but that of the buildings.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import networkx as nx
import numpy as np

from benchmarks.lookahead import order_by_lookahead
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.trade import detection
from spread.worlds.practice import PracticeSettings, usual_practice

UNITS, VISITS, WEEKS = 6, 3, 40
METHOD = "brief-visual"
Rule = Callable[[np.ndarray, np.ndarray, int], int]
"""``rule(draws, weights, visits left)`` gives the column to look at."""


def value_of(draws: np.ndarray, weights: np.ndarray, visits: int, rule: Rule | None = None) -> float:
    """Return the expected finds of a rule, or of the best possible if there is none.

    Parameters
    ----------
    draws
        Shape (K, N): joint draws, the units not yet looked at.
    weights
        Shape (K,): not normalised; their sum is the chance of the answers so far.
    visits
        Visits left.
    rule
        Which column is looked at next; None tries them all.
    """
    total = float(weights.sum())
    if not visits or total <= 0.0 or not draws.shape[1]:
        return 0.0
    doors = range(draws.shape[1]) if rule is None else [rule(draws, weights / total, visits)]
    best = 0.0
    for i in doors:
        hit = detection.sensitivity(METHOD)[draws[:, i]]
        rest = np.delete(draws, i, axis=1)
        found = weights * hit
        value = float(found.sum())
        value += value_of(rest, found, visits - 1, rule) + value_of(rest, weights - found, visits - 1, rule)
        best = max(best, value)
    return best


def greedy(draws: np.ndarray, weights: np.ndarray, visits: int) -> int:
    """Look where a find is likeliest now."""
    return int(np.argmax(weights @ detection.sensitivity(METHOD)[draws]))


def ahead(draws: np.ndarray, weights: np.ndarray, visits: int) -> int:
    """Look where looking ahead says."""
    return int(order_by_lookahead(draws, weights, detection.sensitivity(METHOD), visits)[0])


def merged(draws: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct draws and their shares."""
    states, counts = np.unique(draws, axis=0, return_counts=True)
    return states, counts / counts.sum()


def house(rng: np.random.Generator) -> nx.MultiGraph:
    """Two floors of three units in a row, contacts of uneven strength."""
    graph = nx.MultiGraph()
    for k in range(UNITS):
        graph.add_node(f"{k // 3 + 1}0{k % 3 + 1}", index=k, floors=(str(k // 3 + 1),))
    names = list(graph.nodes)
    for k in range(UNITS):
        if k % 3 < 2:
            graph.add_edge(
                names[k], names[k + 1], key="wall", route="wall", exposure=float(rng.uniform(0.5, 2.5))
            )
        if k < 3:
            exposure = float(rng.uniform(0.5, 2.0))
            graph.add_edge(
                names[k], names[k + 3], key="floor", route="floor", exposure=exposure, upper=names[k + 3]
            )
    return graph


def run(number: int, seed: int) -> dict:
    """Let a small house live, fit its log, and compare optimum, looking ahead, greedy and a fixed list."""
    rng = np.random.default_rng([seed, number, 6])
    graph = house(rng)
    network = network_of(graph)
    # Spread as strong as the upper end of its range, or six units would know nothing of one another.
    told = central_dynamics(prevalence=0.25, rate_scale=4.0)
    begin = dt.date(2026, 2, 9)
    quiet = PracticeSettings(sweep_every=0, never_report=frozenset(list(graph.nodes)[::2]))
    records, _ = usual_practice(network, graph, told, weeks=WEEKS, rng=rng, start_date=begin, settings=quiet)
    posterior = fit(
        network,
        records,
        told,
        on=begin + dt.timedelta(weeks=WEEKS),
        settings=FitSettings(
            weeks=WEEKS + 1, sweeps=1000, most_sweeps=1000, workers=1, learn=False, seed=number + 1
        ),
    )
    draws, weights = merged(posterior.draws)
    chance = weights @ detection.sensitivity(METHOD)[draws]
    fixed = np.argsort(-chance, kind="stable")[:VISITS]
    return {
        "optimum": value_of(draws, weights, VISITS),
        "ahead": value_of(draws, weights, VISITS, ahead),
        "greedy": value_of(draws, weights, VISITS, greedy),
        "fixed": float(chance[fixed].sum()),
    }

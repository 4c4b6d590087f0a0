"""What the model may be told wrongly, for :mod:`benchmarks.robustness`: one thing at a time.

Nothing of the product is changed: where a table must be wrong, it is wrong only inside a ``with``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass, replace
from unittest.mock import patch

import networkx as nx
import numpy as np

from spread.posterior import observations
from spread.posterior.dynamics import Dynamics, central_dynamics
from spread.records.kinds import Record
from spread.trade import detection

WALL_SHARE = 0.1
MISSING_SHARE = 0.1
SHIFT = 0.15
FACTOR = 3.0


@dataclass(frozen=True)
class Mistake:
    """One thing that the model is told wrongly; what is left out is right."""

    name: str
    dynamics: Callable[[], Dynamics] = central_dynamics
    learn: bool = True
    graph: Callable[[nx.MultiGraph, np.random.Generator], nx.MultiGraph] = lambda graph, rng: graph
    records: Callable[[Sequence[Record], np.random.Generator], tuple[Record, ...]] = lambda records, rng: (
        tuple(records)
    )
    while_fitting: Callable[[], AbstractContextManager[object]] = nullcontext


def spread_times(factor: float) -> Dynamics:
    """Return the dynamics with all routes and mixing, and their priors, multiplied."""
    return central_dynamics(rate_scale=factor)


def brought_in_times(factor: float) -> Dynamics:
    """Return the dynamics with the hazard from outside, and its prior, multiplied."""
    central = central_dynamics()
    shapes, rates = central.rate_priors
    return replace(
        central,
        brought_in=central.brought_in * factor,
        rate_priors=(shapes, (rates[0] / factor, *rates[1:])),
    )


@contextmanager
def sensitivities_shifted(by: float) -> Iterator[None]:
    """Let the model believe that every method finds more or less than it does, at every level."""
    right = detection.sensitivity

    def shifted(method: str, days: float | None = None) -> np.ndarray:
        values = right(method, days)
        values[1:] = np.clip(values[1:] + by, 0.02, 0.99)
        return values

    with patch.object(detection, "sensitivity", shifted):
        yield


@contextmanager
def silence_ignored() -> Iterator[None]:
    """Let the model read reports as always, and nothing into their absence."""
    chance, vacant_chance, spoken = (
        detection.report_chance,
        detection.vacant_report_chance,
        observations.report_likelihood,
    )

    def heard(records: Sequence[Record], *, vacant: bool) -> np.ndarray:
        with (
            patch.object(detection, "report_chance", chance),
            patch.object(detection, "vacant_report_chance", vacant_chance),
        ):
            return spoken(records, vacant=vacant)

    def never() -> np.ndarray:
        return np.zeros_like(chance())

    with (
        patch.object(detection, "report_chance", never),
        patch.object(detection, "vacant_report_chance", never),
        patch.object(observations, "report_likelihood", heard),
    ):
        yield


@contextmanager
def reporting_times(factor: float) -> Iterator[None]:
    """Let the model believe that residents with bugs report them more or less readily than they do."""
    right = detection.report_chance

    def scaled() -> np.ndarray:
        values = right().copy()
        values[1:] = np.minimum(values[1:] * factor, 0.95)
        return values

    with patch.object(detection, "report_chance", scaled):
        yield


def some_missing(records: Sequence[Record], rng: np.random.Generator) -> tuple[Record, ...]:
    """Lose a random tenth of the log, whatever the rows are."""
    lost = set(rng.choice(len(records), round(MISSING_SHARE * len(records)), replace=False).tolist())
    return tuple(record for k, record in enumerate(records) if k not in lost)


def _walls(graph: nx.MultiGraph) -> list[tuple[str, str, str]]:
    return [(a, b, key) for a, b, key, data in graph.edges(keys=True, data=True) if data["route"] == "wall"]


def walls_deleted(graph: nx.MultiGraph, rng: np.random.Generator) -> nx.MultiGraph:
    """Leave out a random tenth of the shared walls."""
    walls = _walls(graph)
    wrong = graph.copy()
    for k in rng.choice(len(walls), round(WALL_SHARE * len(walls)), replace=False):
        wrong.remove_edge(*walls[k][:2], key=walls[k][2])
    return wrong


def walls_added(graph: nx.MultiGraph, rng: np.random.Generator) -> nx.MultiGraph:
    """Add a tenth as many walls again, between units of one floor that share none, measures copied."""
    walls = _walls(graph)
    shared = {frozenset(wall[:2]) for wall in walls}
    pairs = [
        (a, b)
        for a in graph.nodes
        for b in graph.nodes
        if graph.nodes[a]["index"] < graph.nodes[b]["index"]
        and graph.nodes[a]["floors"] == graph.nodes[b]["floors"]
        and frozenset((a, b)) not in shared
    ]
    wrong = graph.copy()
    for k in rng.choice(len(pairs), round(WALL_SHARE * len(walls)), replace=False):
        a, b, key = walls[rng.integers(len(walls))]
        wrong.add_edge(*pairs[k], key="wall", **graph.edges[a, b, key])
    return wrong


RIGHT = Mistake("everything right")
MISTAKES = (
    RIGHT,
    Mistake("the same, other random numbers"),
    Mistake("rates right and fixed", learn=False),
    Mistake("routes and mixing x 3, learned from there", lambda: spread_times(FACTOR)),
    Mistake("routes and mixing / 3, learned from there", lambda: spread_times(1 / FACTOR)),
    Mistake("routes and mixing x 3, fixed", lambda: spread_times(FACTOR), learn=False),
    Mistake("routes and mixing / 3, fixed", lambda: spread_times(1 / FACTOR), learn=False),
    Mistake("brought in x 3, learned from there", lambda: brought_in_times(FACTOR)),
    Mistake("brought in / 3, learned from there", lambda: brought_in_times(1 / FACTOR)),
    Mistake("brought in x 3, fixed", lambda: brought_in_times(FACTOR), learn=False),
    Mistake("brought in / 3, fixed", lambda: brought_in_times(1 / FACTOR), learn=False),
    Mistake("sensitivities believed 0.15 too high", while_fitting=lambda: sensitivities_shifted(SHIFT)),
    Mistake("sensitivities believed 0.15 too low", while_fitting=lambda: sensitivities_shifted(-SHIFT)),
    Mistake("a random tenth of the records missing", records=some_missing),
    Mistake("one wall in ten deleted", graph=walls_deleted),
    Mistake("one false wall added for every ten", graph=walls_added),
    Mistake("silence ignored", while_fitting=silence_ignored),
    Mistake("residents believed to report twice as readily", while_fitting=lambda: reporting_times(2.0)),
    Mistake("residents believed to report half as readily", while_fitting=lambda: reporting_times(0.5)),
)
"""The first is what the others are compared with; the second says how much of it is chance."""

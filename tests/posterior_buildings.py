"""Small invented buildings that the proofs of the posterior share.

Together they hold every kind of record; exposures are made by hand on every route.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import networkx as nx
import numpy as np

from spread.posterior import arrays
from spread.posterior.chain import Learning, new_kept, new_sums, run
from spread.posterior.diagnostics import effective_size
from spread.posterior.dynamics import LEVELS, Dynamics, Network, central_dynamics, network_of
from spread.posterior.observations import Evidence, build_evidence
from spread.records.kinds import Record
from spread.trade.routes import ROUTES

ON = dt.date(2026, 12, 30)
"""A Wednesday in the 53rd ISO week of its year."""


@dataclass(frozen=True)
class Small:
    """A building small enough to enumerate."""

    name: str
    network: Network
    dynamics: Dynamics
    records: tuple[Record, ...]
    weeks: int
    on: dt.date = ON

    def evidence(self, *more: Record, on: dt.date | None = None, weeks: int | None = None) -> Evidence:
        return build_evidence(
            (*self.records, *more),
            self.network.units,
            self.dynamics,
            on=on or self.on,
            weeks=weeks or self.weeks,
        )


def contacts(units: str, edges: Sequence[tuple[str, str, str, float]]) -> Network:
    """Return the network of one-letter ``units``; an edge is (unit, unit, route, exposure)."""
    graph = nx.MultiGraph()
    graph.add_nodes_from(units)
    for a, b, route, exposure in edges:
        graph.add_edge(a, b, key=route, route=route, exposure=exposure)
    return network_of(graph)


def strong(*, rate: float, mixing: float, brought_in: float, prevalence: float, **more: Any) -> Dynamics:
    """Return dynamics in which every route has the same weekly rate and units matter much to each other."""
    return replace(
        central_dynamics(prevalence=prevalence),
        rates=np.full(len(ROUTES), rate),
        mixing=mixing,
        brought_in=brought_in,
        **more,
    )


_ids = itertools.count(1)


def row(weeks_ago: int, unit: str, kind: str, method: str = "", found: str = "", **more: Any) -> Record:
    """Return a record of so many weeks before :data:`ON`; ``evidence`` may be given as ``"live+skins"``."""
    words = more.pop("evidence", "")
    day = more.pop("day", 0)
    return Record(
        id=f"r{next(_ids):04d}",
        when=ON - dt.timedelta(days=7 * weeks_ago + day),
        unit=unit,
        kind=kind,
        method=method,
        found=found,
        evidence=frozenset(words.split("+")) if words else frozenset(),
        **more,
    )


TANGLE = Small(
    "four units, dense and strong, every look",
    contacts(
        "ABCD",
        [
            ("A", "B", "wall", 1.0),
            ("A", "C", "floor", 0.8),
            ("B", "D", "floor", 1.2),
            ("C", "D", "wall", 0.7),
            ("A", "C", "riser", 1.0),
            ("A", "D", "hallway", 0.5),
            ("B", "C", "link", 1.0),
        ],
    ),
    strong(rate=0.3, mixing=0.4, brought_in=0.01, prevalence=0.2),
    (
        row(5, "A", "report"),
        row(5, "B", "inspection", "thorough-visual", "no"),
        row(4, "B", "inspection", "dog", "yes", evidence="alert"),
        row(4, "C", "inspection", "interview", "no"),
        row(3, "A", "inspection", "brief-visual", "yes", level="low", evidence="live+skins"),
        row(3, "D", "inspection", "dog", "no"),
        row(3, "D", "inspection", "interview", "unsure"),
        row(2, "C", "inspection", "brief-visual", "no"),
        row(2, "C", "report", evidence="bites"),
        row(2, "C", "report", evidence="live"),
        row(1, "D", "inspection", "thorough-visual", "yes", count=20, evidence="live+eggs"),
        row(1, "B", "inspection", "brief-visual", "unsure"),
        row(0, "C", "inspection", "thorough-visual", "yes", evidence="stains"),
        row(0, "A", "inspection", "thorough-visual", "unsure"),
        row(0, "B", "inspection", "dog", "no"),
        row(0, "B", "inspection", "dog", "unsure"),
        row(0, "D", "inspection", "interview", "yes", level="heavy", evidence="bites"),
    ),
    6,
)

SPARSE = Small(
    "three in a row, strong, one look only",
    contacts("ABC", [("A", "B", "wall", 1.0), ("B", "C", "wall", 1.0)]),
    strong(rate=0.6, mixing=0.1, brought_in=0.02, prevalence=0.25),
    (row(0, "C", "inspection", "thorough-visual", "no"),),
    6,
)

TREATED = Small(
    "three units, treated in every way, clear and infested, twice in a week",
    contacts(
        "ABC",
        [("A", "B", "wall", 1.0), ("B", "C", "riser", 0.6), ("A", "C", "hallway", 0.4)],
    ),
    strong(rate=0.5, mixing=0.2, brought_in=0.03, prevalence=0.3),
    (
        row(5, "A", "inspection", "brief-visual", "yes", level="moderate", evidence="live"),
        row(4, "A", "treatment", "spray", day=1),
        row(4, "A", "treatment", "whole-room-heat"),
        row(4, "B", "inspection", "thorough-visual", "no"),
        row(4, "B", "treatment", "steam-dust-encase"),
        row(3, "C", "treatment", "whole-room-heat"),
        row(2, "B", "treatment", "combined"),
        row(2, "A", "inspection", "thorough-visual", "yes", evidence="skins+stains"),
        row(1, "B", "monitor", "interceptors", "yes", days=14),
        row(1, "C", "treatment", "spray"),
        row(0, "C", "inspection", "brief-visual", "yes", evidence="dead"),
        row(0, "A", "treatment", "combined"),
    ),
    6,
)

TURNED = Small(
    "three units, people come and go, monitors stand",
    contacts(
        "ABC",
        [("A", "B", "floor", 1.0), ("B", "C", "link", 0.5), ("A", "C", "wall", 1.0)],
    ),
    strong(rate=0.4, mixing=0.3, brought_in=0.02, prevalence=0.3, move_in=0.2, vacant_source_weeks=2),
    (
        row(4, "A", "turnover", "moved-out"),
        row(4, "B", "no-access", "nobody-home"),
        row(3, "B", "no-access", "refused"),
        row(3, "B", "no-access"),
        row(3, "C", "turnover"),
        row(3, "C", "note", note="new carpet"),
        row(2, "A", "report"),
        row(2, "C", "monitor", "interceptors", "no", days=7),
        row(1, "A", "monitor", "monitors-few", "no", days=28),
        row(1, "A", "turnover", "moved-in"),
        row(1, "B", "turnover", "moved-out"),
        row(0, "B", "monitor", "lure-trap", "yes", days=2, level="trace", evidence="live"),
        row(0, "C", "monitor", "monitors-few", "unsure"),
        row(0, "A", "monitor", "lure-trap", "no"),
    ),
    6,
)

CENTRAL = Small(
    "four units with the product's own rates and little evidence",
    contacts(
        "ABCD",
        [
            ("A", "B", "wall", 1.4),
            ("B", "C", "wall", 0.9),
            ("C", "D", "floor", 1.1),
            ("A", "D", "riser", 1.0),
            ("B", "D", "hallway", 0.7),
            ("A", "C", "link", 1.0),
        ],
    ),
    central_dynamics(prevalence=0.12),
    (row(2, "A", "inspection", "brief-visual", "yes", level="heavy", evidence="live"), row(0, "B", "report")),
    6,
)

PAIR = Small(
    "two units, one door, nothing known but silence",
    contacts("AB", [("A", "B", "wall", 1.0)]),
    strong(rate=1.5, mixing=0.0, brought_in=0.005, prevalence=0.3),
    (row(3, "B", "inspection", "thorough-visual", "no"), row(0, "B", "inspection", "interceptors", "yes")),
    4,
)

SMALL = (TANGLE, SPARSE, TREATED, TURNED, CENTRAL, PAIR)


@dataclass(frozen=True)
class Sampled:
    """Means over sweeps with their Monte Carlo errors."""

    weekly: np.ndarray  # (N, T) infested
    weekly_error: np.ndarray
    now: np.ndarray  # (N, levels)
    now_error: np.ndarray
    draws: np.ndarray  # (chains, sweeps, N) levels now


def mean_and_error(series: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and standard error of (chains, draws, quantities): sd / sqrt(effective size)."""
    return series.mean(axis=(0, 1)), series.std(axis=(0, 1), ddof=1) / np.sqrt(effective_size(series))


def sample(building: Small, *, seed: int, chains: int = 4, batches: int = 200, sweeps: int = 100) -> Sampled:
    """Run the compiled kernel from all-clear and all-heavy starts and keep batch means.

    A batch mean of ``sweeps`` sweeps is one draw; its own effective size takes in what
    correlation is left between batches.
    """
    evidence = building.evidence()
    model = arrays.assemble(building.network, building.dynamics, evidence)
    n, t = evidence.shape
    weekly = np.empty((chains, batches, n * t))
    now = np.empty((chains, batches, n * LEVELS))
    draws = np.empty((chains, batches, sweeps, n), dtype=np.int8)
    fixed = Learning(np.empty(0), np.empty(0))
    theta = building.dynamics.theta
    for c in range(chains):
        rng = np.random.default_rng([seed, c])
        state = arrays.new_state(model, np.full((n, t), 0 if c % 2 else LEVELS - 1, dtype=np.int8))
        for b in range(-5, batches):
            sums, kept = new_sums(model, n, t), new_kept(sweeps, n, t, len(theta))
            run(model, state, theta, fixed, rng, sums, kept)
            draws[c, max(b, 0)] = kept.draws
            if b >= 0:
                weekly[c, b] = sums.infested.ravel() / sweeps
                now[c, b] = sums.now.ravel() / sweeps
    parts = (*mean_and_error(weekly), *mean_and_error(now))
    a, b_, c_, d = (p.reshape(n, -1) for p in parts)
    return Sampled(a, b_, c_, d, draws.reshape(chains, batches * sweeps, n))


def z_scores(found: np.ndarray, error: np.ndarray, truth: np.ndarray) -> np.ndarray:
    """Return how many standard errors off each number is; differences under 1e-9 count as none."""
    off = np.abs(found - truth)
    return np.where(off < 1e-9, 0.0, off / np.maximum(error, 1e-12))

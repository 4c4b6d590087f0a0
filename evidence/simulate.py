"""The simulated study of each target, by the kernel of the package's own programmes.

A chronic building is one left clean eight years back and served as usual since. A study that began at a known
share begins here in a chronic building of about that share, with that building's pace.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from evidence.parameters import INTERVIEW, Floats, Trade, trade_of
from proofs.programmes_published import IPM, TRIALS, USUAL, tower, visits
from spread.contacts.graph import build_contacts
from spread.plan.drawing.listed import UnitRow
from spread.plan.unit_list import UnitList, draw_plan
from spread.posterior.dynamics import LEVELS, Network, network_of
from spread.programmes import columns as c
from spread.programmes.begin import SHUT_CHOICES, begin_from
from spread.programmes.programme import Programme, Survey, Treatment
from spread.programmes.rules import encode
from spread.programmes.run import Runs, RunSettings, run_jobs
from spread.programmes.tables import BRIEF, TRAPS, Tables
from spread.trade import minutes
from spread.trade.pace import Pace
from spread.trade.routes import ROUTES

Levels = NDArray[np.int8]
Summary = tuple[float, float]  #: Mean and standard deviation of a figure in one study of the published size
CHRONIC_WEEKS = 416
BUILDINGS = 43
SHUT = 0.2


@dataclass(frozen=True)
class Size:
    """How many runs a vector gets."""

    chronic: int = 24  #: Towers left to usual service
    began: int = 24  #: Buildings of each study that began at a share
    outbreak: int = 40  #: Towers after one introduction
    blocks: int = 86  #: Small buildings left to usual service
    trials: int = 40  #: Runs of each trial, of twelve units


@lru_cache(maxsize=1)
def block() -> Network:
    """Five storeys of eleven units: the size of the 43 buildings of Wang et al. 2016 (2,372 units)."""
    floors = tuple(str(f) for f in range(1, 6))
    rows = tuple(UnitRow(f"{f}{k:02d}", f) for f in floors for k in range(1, 12))
    return network_of(
        build_contacts(draw_plan(UnitList(rows, floors), "double-loaded", floors=floors, name="block"))
    )


@lru_cache(maxsize=1)
def lonely() -> Network:
    """Twelve units that nothing passes between."""
    return Network(
        tuple(f"u{i}" for i in range(12)), np.zeros(13, np.int64), np.zeros(0, np.int64),
        np.zeros((0, len(ROUTES))),
    )  # fmt: skip


def run(
    network: Network, tables: Tables, rates: Floats, programme: Programme, levels: Levels, *, weeks: int,
    seed: int, snapshots: tuple[int, ...] = (), trial: bool = False,
) -> Runs:  # fmt: skip
    """Run one programme, one run a row of ``levels`` and of ``rates``.

    ``trial``: every unit's course is under way, doors open and nobody refuses.
    """
    mean = rates.mean(axis=0)
    shut = np.full((network.size + 1, SHUT_CHOICES), 0.0 if trial else SHUT)
    more = {"refuses": 0.0} if trial else {}
    begin = begin_from(
        network, levels=levels, rates=rates, mean_rates=mean, belief=np.zeros((network.size, LEVELS)),
        shut=shut, **more,
    )  # fmt: skip
    if trial:
        begin.case[:] = 1
        begin.case_due[:] = 0
    settings = RunSettings(weeks=weeks, runs=len(levels), seed=seed, snapshots=snapshots, workers=1)
    no_ring = (np.zeros(network.size + 1, np.int64), np.zeros(0, np.int64))
    return run_jobs([(programme, *encode(programme, Pace()), no_ring)], begin, tables, settings).runs[0]


def either(tables: Tables) -> Floats:
    """Return the chance by level that a brief look or interceptors find."""
    chance = 1.0 - (1.0 - tables.found[BRIEF]) * (1.0 - tables.found[TRAPS])
    chance[0] = 0.0
    return chance


def found(levels: Levels, tables: Tables, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Draw which units a survey by the protocol finds."""
    return rng.random(levels.shape) < either(tables)[levels]


def simulate(values: Mapping[str, float], seed: int, size: Size | None = None) -> dict[str, Summary]:
    """Return the simulated figure of every target that is simulated, by its key.

    ``values``: every parameter by its name; ``seed``: the only source of luck; ``size``: how many runs.
    """
    size, trade, rng = size or Size(), trade_of(values), np.random.default_rng(seed)
    return {
        **outbreak(trade, size, seed, rng),
        **communities(trade, size, seed, rng),
        **blocks(trade, size, seed, rng),
        **trials(trade, size, seed),
    }


def outbreak(trade: Trade, size: Size, seed: int, rng: np.random.Generator) -> dict[str, Summary]:
    """One introduction into a clean tower, usual service, 178 weeks: the worst of ten that took hold."""
    network = tower()
    levels = np.zeros((size.outbreak, network.size), np.int8)
    levels[np.arange(size.outbreak), rng.integers(0, network.size, size.outbreak)] = 1
    done = run(
        network, trade.tables, trade.rates_of(size.outbreak, rng), USUAL, levels, weeks=178, seed=seed,
        snapshots=(178,),
    )  # fmt: skip
    ever = done.counts[:, c.UNITS_INFESTED] / network.size
    worst = rng.choice(ever, (200, 10)).max(axis=1)
    now = done.kept.shots[:, 0] > 0
    wall = network.exposure[:, ROUTES.index("wall")] > 0
    of = np.repeat(np.arange(network.size), np.diff(network.indptr))[wall]
    other = network.indices[wall]
    like = now[np.argsort(ever)[-max(4, size.outbreak // 10) :]]  # buildings as bad as the one published
    pairs = like[:, of].sum(axis=1)
    both = (like[:, of] & like[:, other]).sum(axis=1) / np.maximum(pairs, 1)
    return {"wang2010-ever": _one(worst), "wang2010-wall": _one(both)}


def communities(trade: Trade, size: Size, seed: int, rng: np.random.Generator) -> dict[str, Summary]:
    """Towers that begin at a share found, under usual service or a building-wide programme."""
    network, tables = tower(), trade.tables
    rates = trade.rates_of(size.chronic, rng)
    empty = np.zeros((size.chronic, network.size), np.int8)
    done = run(
        network,
        tables,
        rates,
        USUAL,
        empty,
        weeks=CHRONIC_WEEKS,
        seed=seed + 1,
        snapshots=(156, 286, CHRONIC_WEEKS),
    )
    shots = done.kept.shots.reshape(-1, network.size)
    paces = np.repeat(rates, 3, axis=0)
    shares = found(shots, tables, rng).mean(axis=1)

    def began(at: float) -> tuple[Levels, Floats]:
        # The nearest, not one of exactly that share: a vector that knows no such building pays for it.
        nearest = np.argsort(np.abs(shares - at), kind="stable")[: max(size.began // 3, 1)]
        chosen = rng.choice(nearest, size.began)
        return shots[chosen], paces[chosen]

    told = Survey(every_weeks=52, times=2, method="protocol", over_weeks=2)
    out: dict[str, Summary] = {}
    for key, programme, at in (
        ("wang2019-usual", USUAL, 0.06), ("wang2019-wide", IPM, 0.09), ("cooper2016-community", IPM, 0.15),
    ):  # fmt: skip
        levels, pace = began(at)
        year = run(network, tables, pace, programme, levels, weeks=52, seed=seed + 2, snapshots=(52,))
        out[key] = _one(found(year.kept.shots[:, 0], tables, rng).mean(axis=1))
    for names, programme in ((("bayonne", "hackensack"), IPM), (("paterson",), USUAL)):
        levels, pace = began(0.123)
        two = run(
            network, tables, pace, replace(programme, survey=told), levels, weeks=104, seed=seed + 3,
            snapshots=(0, 52, 104),
        )  # fmt: skip
        seen = found(two.kept.shots, tables, rng)
        first, last = seen[:, 0].sum(axis=1), seen[:, 2].sum(axis=1)
        change = last / np.maximum(first, 1) - 1.0
        fresh = (~seen[:, 0] & (seen[:, 1] | seen[:, 2])).sum(axis=1) / np.maximum(
            (~seen[:, 0]).sum(axis=1), 1
        )
        for name in names:
            out[f"wang2018-{name}-change"] = _one(change)
            out[f"wang2018-{name}-new"] = _one(fresh)
        if programme is USUAL:
            clear = (network.size - two.infested[:, :-1]).sum(axis=1)
            moves = 1.0 / (minutes.STAY.central + minutes.EMPTY.central)
            brought = clear * (pace[:, 0] + moves * tables.odds[0])
            share = min(1.0, brought.sum() / max(two.counts[:, c.NEW].sum(), 1))
            out["raab2016-outside"] = (float(share), 0.0)
    return out


def blocks(trade: Trade, size: Size, seed: int, rng: np.random.Generator) -> dict[str, Summary]:
    """Small chronic buildings at one survey: how many, how different, who knows, what looks find."""
    network, tables = block(), trade.tables
    rates = trade.rates_of(size.blocks, rng)
    empty = np.zeros((size.blocks, network.size), np.int8)
    done = run(
        network, tables, rates, USUAL, empty, weeks=CHRONIC_WEEKS, seed=seed + 4, snapshots=(CHRONIC_WEEKS,)
    )
    levels = done.kept.shots[:, 0]
    shares = found(levels, tables, rng).mean(axis=1)
    sd = float(shares.std(ddof=1))
    counts = np.bincount(levels.ravel(), minlength=LEVELS).astype(float)
    seen = counts * either(tables)
    total = max(seen.sum(), 1e-9)
    infested = counts[1:].sum()
    highest = rng.choice(shares, (200, BUILDINGS)).max(axis=1)
    out = {
        "wang2016-prevalence": (float(shares.mean()), sd / BUILDINGS**0.5),
        "wang2016-spread": (sd, max(sd, 0.01) / (2.0 * (BUILDINGS - 1)) ** 0.5),
        "wang2016-highest": _one(highest),
        "wang2016-unaware": (float(1.0 - (seen * tables.found[INTERVIEW]).sum() / total), 0.0),
        "wang2016-visual": (float((counts[1:] * tables.found[BRIEF, 1:]).sum() / total), 0.0),
        "wang2016-interceptors": (float((counts[1:] * tables.found[TRAPS, 1:]).sum() / total), 0.0),
        "fung2021-neighbour": (_log_odds_ratio(network, levels > 0), 0.0),
    }
    for level in range(1, LEVELS):  # no target: the standing mix, kept with every draw
        out[f"mix-{level}"] = (float(counts[level] / max(infested, 1.0)), 0.0)
    return out


def _log_odds_ratio(network: Network, infested: NDArray[np.bool_]) -> float:
    """Return the log odds ratio of being infested with a neighbour by wall or floor that is."""
    near = network.exposure[:, [ROUTES.index("wall"), ROUTES.index("floor")]].sum(axis=1) > 0
    of = np.repeat(np.arange(network.size), np.diff(network.indptr))[near]
    beside = np.zeros(infested.shape, dtype=bool)
    for i, j in zip(of, network.indices[near], strict=True):
        beside[:, i] |= infested[:, j]
    a, b = (beside & infested).sum() + 0.5, (beside & ~infested).sum() + 0.5
    d, e = (~beside & infested).sum() + 0.5, (~beside & ~infested).sum() + 0.5
    return float(np.log(a * e / (b * d)))


def trials(trade: Trade, size: Size, seed: int) -> dict[str, Summary]:
    """Shares of units by themselves without a bug at the end, those that resist among them."""
    network, out = lonely(), {}
    rates = np.full((size.trials, 2 + len(ROUTES)), 1e-12)
    for name, method, every, weeks, starts, _, _, _ in TRIALS:
        programme = Programme(
            "trial", "trial", complaint=None, survey=Survey(times=1, method="thorough-visual"),
            treatment=Treatment(method, within_weeks=0, every_weeks=every),
            clearance=visits(3, monitors=True),
        )  # fmt: skip
        levels = np.tile(np.resize(np.array(starts, np.int8), network.size), (size.trials, 1))
        gone = []
        for tables in (trade.usual, trade.stubborn):
            no_moves = tables._replace(odds=np.array([0.0, *tables.odds[1:]]))
            done = run(network, no_moves, rates, programme, levels, weeks=weeks, seed=seed + 5, trial=True)
            gone.append(1.0 - float(done.infested[:, -1].mean()) / network.size)
        out[name] = ((1.0 - trade.resists) * gone[0] + trade.resists * gone[1], 0.0)
    return out


def _one(values: NDArray[np.floating]) -> Summary:
    """Return mean and deviation of one building; the error of the mean of few runs is added to the latter."""
    sd = float(values.std(ddof=1))
    return float(values.mean()), sd * (1.0 + 1.0 / len(values)) ** 0.5

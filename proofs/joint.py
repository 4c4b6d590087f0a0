"""Joint-distribution test of the sampler (Geweke 2004, JASA 99:799-804, from memory).

Rates, paths and observations are drawn in two ways that must agree if every step is right: independently
from the model, and by a chain that alternates the sampler under test with fresh observations given the
paths. Occupancy and treatments are a fixed schedule.

Wrong kernels are put together here from the same compiled pieces, so that the test can be seen to fail.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Generator
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from spread.posterior import arrays, kernel, rates, unit_path
from spread.posterior.diagnostics import effective_size
from spread.posterior.dynamics import LEVELS, Dynamics, Network, central_dynamics, network_of
from spread.posterior.looks import look_likelihood
from spread.posterior.observations import Evidence, report_likelihood
from spread.records.kinds import LEVELS as GRADES
from spread.records.kinds import Record
from spread.trade import detection, treatment
from spread.trade.routes import ROUTES

from .process import ON

WEEKS = 8
SHAPES = np.array([2.0, 3.0, 3.0, 2.5, 2.0, 4.0, 3.0, 2.0])
MEANS = np.array([0.03, 0.25, 0.5, 0.3, 0.4, 0.3, 0.2, 0.3])
"""Gamma priors of the rates of this proof: strong enough that much happens in eight weeks."""
OFTEN = np.array([0.3, 4.0, 2.0])
"""Chance, shape and rate of the other prior of what comes with a move-in."""


@dataclass(frozen=True)
class Scene:
    """A building with its schedule, and what may be observed in each unit and week."""

    network: Network
    dynamics: Dynamics
    evidence: Evidence
    looks: (
        np.ndarray
    )  # (N, T, outcomes, levels): chances of each outcome; one sure outcome where nobody looks
    reports: np.ndarray  # (N, T, 2, levels): reported, silent


def scene() -> Scene:
    """Four units with every route; one empties and fills again, two change hands, three are treated."""
    graph = nx.MultiGraph()
    graph.add_nodes_from("ABCD")
    for a, b, route, exposure in [
        ("A", "B", "wall", 1.0),
        ("C", "D", "wall", 0.8),
        ("A", "C", "floor", 1.2),
        ("B", "D", "riser", 1.0),
        ("A", "D", "hallway", 0.6),
        ("B", "C", "hallway", 0.9),
        ("A", "B", "link", 0.5),
    ]:
        graph.add_edge(a, b, key=route, route=route, exposure=exposure)
    network = network_of(graph)
    dynamics = replace(
        central_dynamics(prevalence=0.25),
        brought_in=float(MEANS[0]),
        mixing=float(MEANS[1]),
        rates=MEANS[2:-1].copy(),
        move_in=float(MEANS[-1]),
        rate_priors=(tuple(SHAPES), tuple(SHAPES / MEANS)),
    )
    n = network.size
    treated = np.full((n, WEEKS), -1, dtype=np.int64)
    effects = np.stack(
        [
            treatment.effect_matrix("whole-room-heat"),
            treatment.effect_matrix("spray") @ treatment.effect_matrix("combined"),
        ]
    )
    for i, t, k in [(0, 2, 1), (0, 5, 0), (1, 3, 0), (1, 4, 0), (3, 1, 1), (3, 2, 1), (3, 6, 1)]:
        treated[i, t] = k
    vacant = np.zeros((n, WEEKS), dtype=bool)
    vacant[2, 2:5] = True
    openness, export = np.where(vacant, 0.3, 1.0), np.ones((n, WEEKS))
    export[2, 2:4] = 1.5
    introduction = np.full((n, WEEKS), dynamics.brought_in)
    introduction[[2, 1, 3], [5, 0, 4]] += dynamics.move_in
    evidence = Evidence(
        0, np.ones((n, WEEKS, LEVELS)), treated, effects, vacant, introduction, openness, export
    )
    looks = np.zeros((n, WEEKS, 6, LEVELS))
    looks[:, :, 0] = 1.0
    for i, t, method in [
        (0, 1, "brief-visual"),
        (1, 5, "dog"),
        (2, 6, "interceptors"),
        (3, 3, "thorough-visual"),
        (3, 7, "interview"),
    ]:
        looks[i, t] = _outcomes(method)
    reports = np.empty((n, WEEKS, 2, LEVELS))
    for i in range(n):
        for t in range(WEEKS):
            row = Record("r", ON, "A", "report")
            reports[i, t, 0] = report_likelihood([row], vacant=bool(vacant[i, t]))
            silent = detection.vacant_report_chance() if vacant[i, t] else detection.report_chance()
            reports[i, t, 1] = 1.0 - silent
    np.testing.assert_allclose(looks.sum(axis=2), 1.0, atol=1e-12)
    np.testing.assert_allclose(reports.sum(axis=2), 1.0, atol=1e-12)
    return Scene(network, dynamics, evidence, looks, reports)


def _outcomes(method: str) -> np.ndarray:
    """No, unsure, and yes with each grade, from the likelihoods that the posterior reads."""
    kind = "monitor" if method == "interceptors" else "inspection"
    rows = [Record("r", ON, "A", kind, method, "no"), Record("r", ON, "A", kind, method, "unsure")]
    rows += [Record("r", ON, "A", kind, method, "yes", level=grade) for grade in GRADES]
    return np.stack([look_likelihood(row, treated_before=False) for row in rows])


def observe(made: Scene, x: np.ndarray, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Draw every observation given paths ``x`` (..., N, T).

    Returns
    -------
    likelihood, seen
        Shapes (..., N, T, levels) and (..., 2): number of finds, number of reports.
    """
    units, weeks = np.indices(x.shape[-2:])
    likelihood = np.ones((*x.shape, LEVELS))
    seen = []
    for table in (made.looks, made.reports):
        chances = table[units, weeks, :, x]  # (..., N, T, outcomes)
        place = (rng.random(x.shape)[..., None] > np.cumsum(chances, axis=-1)[..., :-1]).sum(axis=-1)
        likelihood *= table[units, weeks, place]
        seen.append((place >= 2 if table is made.looks else place == 0).sum(axis=(-2, -1)))
    return likelihood, np.stack(seen, axis=-1)


NAMES = (
    "infested now",
    "unit-weeks infested",
    "new infestations",
    "sum of levels",
    "sum of squared levels",
    "heavy unit-weeks",
    "pairs infested together",
    "treated units clear a week later",
    "finds",
    "reports",
    *(f"log {name}" for name in rates.theta_names(ROUTES)),
    *(f"log {name}, squared" for name in rates.theta_names(ROUTES)),
    *(f"log {name} x unit-weeks" for name in rates.theta_names(ROUTES)),
    *(f"log {name} x new" for name in rates.theta_names(ROUTES)),
    "unit-weeks x reports",
)


def statistics(x: np.ndarray, theta: np.ndarray, seen: np.ndarray, treated: np.ndarray) -> np.ndarray:
    """Return what is compared; leading axes (R, ...) of all three run over replicates."""
    infested = x > 0
    together = infested.sum(axis=-2)
    new = (infested[..., 1:] & ~infested[..., :-1]).sum(axis=(-2, -1))
    weeks = infested.sum(axis=(-2, -1))
    after = (~infested[..., 1:] & (treated[:, :-1] >= 0)).sum(axis=(-2, -1))
    logs = np.log(theta)
    parts = [
        infested[..., -1].sum(axis=-1),
        weeks,
        new,
        x.sum(axis=(-2, -1), dtype=np.int64),
        (x.astype(np.int64) ** 2).sum(axis=(-2, -1)),
        (x == LEVELS - 1).sum(axis=(-2, -1)),
        (together * (together - 1) // 2).sum(axis=-1),
        after,
        seen[..., 0],
        seen[..., 1],
    ]
    columns = [
        np.stack(parts, axis=-1),
        logs,
        logs**2,
        logs * weeks[..., None],
        logs * new[..., None],
        (weeks * seen[..., 1])[..., None],
    ]
    return np.concatenate(columns, axis=-1).astype(float)


def draw_theta(draws: int, rng: np.random.Generator) -> np.ndarray:
    """Draw rates from what is believed, shape (draws, rates)."""
    theta = rng.gamma(SHAPES, MEANS / SHAPES, (draws, len(SHAPES)))
    other = rng.random(draws) < OFTEN[0]
    theta[other, -1] = rng.gamma(OFTEN[1], 1.0 / OFTEN[2], other.sum())
    return theta


def from_the_model(made: Scene, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Draw rates, paths and observations from the model, shape (draws, statistics), without the kernel."""
    theta = draw_theta(draws, rng)
    x = live(made, theta, rng)
    return statistics(x, theta, observe(made, x, rng)[1], made.evidence.treated)


def live(
    made: Scene, theta: np.ndarray, rng: np.random.Generator, more: np.ndarray | None = None
) -> np.ndarray:
    """Draw paths (draws, N, T) given rates; ``more``: (draws, N, N), hazards of pairs past every route."""
    e, d, net = made.evidence, made.dynamics, made.network
    n, weeks = e.shape
    draws = len(theta)
    exposure = np.zeros((n, n, len(ROUTES)))
    for i in range(n):
        for k in range(net.indptr[i], net.indptr[i + 1]):
            exposure[i, net.indices[k]] = net.exposure[k]
    push = np.einsum("ijr,dr->dij", exposure, theta[:, 2:-1]) + theta[:, 1, None, None] / n * (1 - np.eye(n))
    if more is not None:
        push = push + more
    x = np.zeros((draws, n, weeks), dtype=np.int8)
    x[:, :, 0] = rng.choice(LEVELS, p=d.start, size=(draws, n))
    for t in range(weeks - 1):
        now = x[:, :, t]
        pressure = np.einsum("di,dij->dj", d.shedding[now] * e.export[:, t], push)
        moving = theta[:, -1:] * (e.introduction[:, t] > d.brought_in)
        hazard = theta[:, :1] + moving + e.openness[:, t] * pressure
        step = d.growth[e.vacant[:, t].astype(int), now]
        step[now == 0] = 0.0
        step[now == 0, 0] = np.exp(-hazard)[now == 0]
        step[now == 0, 1] = 1.0 - np.exp(-hazard)[now == 0]
        for i in np.flatnonzero(e.treated[:, t] >= 0):
            step[:, i] = step[:, i] @ e.effects[e.treated[i, t]]
        x[:, :, t + 1] = (rng.random((draws, n, 1)) > np.cumsum(step, axis=2)[..., :-1]).sum(axis=2)
    return x


Sweep = Callable[[arrays.Model, arrays.State, np.random.Generator], None]
Draw = Callable[[arrays.Model, arrays.State, np.ndarray, np.random.Generator], None]
Chain = Generator[np.ndarray | None, np.ndarray | None, None]
"""Moves paths and what is learned; told what was then observed, says what is compared."""


def sound_sweep(m: arrays.Model, s: arrays.State, rng: np.random.Generator) -> None:
    """The sweep of the product."""
    kernel.sweep(m, s, rng, np.empty((s.x.shape[0], LEVELS)))


def sound_rates(m: arrays.Model, s: arrays.State, theta: np.ndarray, rng: np.random.Generator) -> None:
    """The rates of the product."""
    rates.draw_rates(m, s, theta, SHAPES, SHAPES / MEANS, OFTEN, rng)


def pieced_sweep(*, neighbours: bool = True, treat_first: bool = False) -> Sweep:
    """A sweep put together from the compiled pieces, with a fault if asked."""

    def sweep(m: arrays.Model, s: arrays.State, rng: np.random.Generator) -> None:
        n, weeks = s.x.shape
        escape, factor, alpha = np.empty(weeks), np.ones((weeks, LEVELS)), np.empty((weeks, LEVELS))
        path = np.empty(weeks, dtype=np.int8)
        for i in rng.permutation(n):
            unit_path.clear_chance(m, s, i, escape)
            if neighbours:
                unit_path.influence(m, s, i, factor)
            if treat_first:
                path = _path_treated_first(m, i, escape, factor, rng)
            else:
                unit_path.filter_forward(m, i, escape, factor, alpha)
                unit_path.sample_backward(m, i, escape, alpha, path, rng)
            arrays.put_path(m, s, i, path)

    return sweep


def _path_treated_first(
    m: arrays.Model, i: int, escape: np.ndarray, factor: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Draw one unit's path as the kernel does, but with the treatment at the beginning of its week."""
    weeks = len(escape)
    steps = np.empty((weeks - 1, LEVELS, LEVELS))
    alpha = np.empty((weeks, LEVELS))
    alpha[0] = m.start * m.likelihood[i, 0] * factor[0]
    for t in range(weeks - 1):
        step = m.growth[int(m.vacant[i, t])].copy()
        step[0] = [escape[t], 1.0 - escape[t], 0.0, 0.0, 0.0]
        steps[t] = m.effects[m.treated[i, t]] @ step if m.treated[i, t] >= 0 else step
        alpha[t + 1] = (alpha[t] @ steps[t]) * m.likelihood[i, t + 1] * factor[t + 1]
        alpha[t + 1] /= alpha[t + 1].sum()
    path = np.empty(weeks, dtype=np.int8)
    for t in range(weeks - 1, -1, -1):
        weight = alpha[t] if t == weeks - 1 else alpha[t] * steps[t][:, path[t + 1]]
        path[t] = unit_path.pick(weight, weight.sum(), rng.random())
    return path


def pieced_rates(*, truncated: bool = True, clear_only: bool = True, weighed: bool = True) -> Draw:
    """The rates put together from the compiled pieces, with a fault if asked.

    Which prior of move-ins holds is drawn given the rate of before, and not with the rate summed over.
    """

    def draw(m: arrays.Model, s: arrays.State, theta: np.ndarray, rng: np.random.Generator) -> None:
        counts, exposed = np.zeros(len(theta)), np.empty(len(theta))
        n, weeks = s.x.shape
        for i in range(n):
            for t in s.event_week[i, : s.event_count[i]]:
                hazard = m.introduction[i, t] + m.openness[i, t] * (
                    s.pressure[i, t] + m.mixing[0] * s.shed[t]
                )
                if rates.was_hit(m, s, i, t, hazard, rng):
                    arrived = rates.truncated_poisson(hazard, rng) if truncated else rng.poisson(hazard)
                    for _ in range(arrived):
                        counts[rates.source(m, s, i, t, theta, hazard, rng)[1]] += 1
        if clear_only:
            rates.exposures(m, s, exposed)
        else:
            out = (m.shedding[s.x] * m.export)[:, :-1]
            openness = m.openness[:, :-1]
            exposed[0] = n * (weeks - 1)
            exposed[-1] = m.moving[:, :-1].sum()
            exposed[1] = (openness * out.sum(axis=0)).sum() / n
            exposed[2:-1] = 0.0
            for i in range(n):
                for k in range(m.indptr[i], m.indptr[i + 1]):
                    exposed[2:-1] += m.exposure[k] * (out[i] * openness[m.indices[k]]).sum()
        shape, rate, often = SHAPES.copy(), SHAPES / MEANS, OFTEN[0]
        if weighed:
            usual, other = (
                a * np.log(b) - math.lgamma(a) + (a - 1.0) * np.log(theta[-1]) - b * theta[-1]
                for a, b in ((shape[-1], rate[-1]), OFTEN[1:])
            )
            often = 1.0 / (1.0 + (1.0 / often - 1.0) * np.exp(usual - other))
        if rng.random() < often:
            shape[-1], rate[-1] = OFTEN[1:]
        theta[:] = rng.gamma(shape + counts) / (rate + exposed)
        rates.set_rates(m, s, theta)

    return draw


def from_the_chain(
    made: Scene, *, cycles: int, chains: int, seed: int, sweep: Sweep = sound_sweep, draw: Draw = sound_rates
) -> np.ndarray:
    """Alternate sampler and observations; shape (chains, cycles, statistics)."""

    def chain(model: arrays.Model, state: arrays.State, rng: np.random.Generator) -> Chain:
        theta = draw_theta(1, rng)[0]
        rates.set_rates(model, state, theta)
        while True:
            sweep(model, state, rng)
            draw(model, state, theta, rng)
            seen = yield
            yield statistics(state.x, theta, seen, made.evidence.treated)

    return alternated(made, chain, cycles=cycles, chains=chains, seed=seed)


def alternated(
    made: Scene,
    chain: Callable[[arrays.Model, arrays.State, np.random.Generator], Chain],
    *,
    cycles: int,
    chains: int,
    seed: int,
) -> np.ndarray:
    """Alternate the steps of ``chain`` with fresh observations; shape (chains, cycles, statistics)."""
    out = []
    n, weeks = made.evidence.shape
    for c in range(chains):
        rng = np.random.default_rng([seed, c])
        model = arrays.assemble(made.network, made.dynamics, made.evidence)
        state = arrays.new_state(model, np.zeros((n, weeks), dtype=np.int8))
        going = chain(model, state, rng)
        for k in range(-50, cycles):
            next(going)
            model.likelihood[:], seen = observe(made, state.x, rng)
            told = going.send(seen)
            if k >= 0:
                out.append(told)
    return np.array(out).reshape(chains, cycles, -1)


def z_values(chain: np.ndarray, plain: np.ndarray) -> np.ndarray:
    """Return the difference of the means over its error, for each statistic."""
    size = effective_size(chain)
    error = np.sqrt(chain.var(axis=(0, 1)) / size + plain.var(axis=0) / len(plain))
    return (chain.mean(axis=(0, 1)) - plain.mean(axis=0)) / error

"""Joint-distribution test of what is learned beside the rates (Geweke 2004, JASA 99:799-804, from memory).

As :mod:`.joint`, with who reports, who finds, who resists and the share infested at the start drawn from
their priors: independently from the model, and by the chain of the product with fresh observations. The
model's side is written here from the equations; it shares grids and priors with the product, and no step.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np

from spread.posterior import arrays, kernel, seeing_steps
from spread.posterior.diagnostics import effective_size
from spread.posterior.dynamics import LEVELS, Dynamics, Network
from spread.posterior.looks import Look, take_apart
from spread.posterior.observations import Evidence
from spread.posterior.seeing import (
    BEGAN,
    FACTORS,
    FIRST_ODDS,
    HEAVY,
    LIGHT,
    NEVER,
    ODDS,
    OF_NOTHING,
    PEOPLE,
    QUIET,
    REPORTED,
    RESIST,
    SILENT,
    WIDTHS,
    Seeing,
    gather,
    resisting,
    tail_length,
)
from spread.records.kinds import Record
from spread.trade.seeing import NEVER_FACTOR

from . import joint
from .process import ON

LOOKS = [
    (0, 1, "brief-visual", "T1"),
    (0, 6, "brief-visual", "T2"),
    (1, 2, "dog", "K9"),
    (1, 5, "thorough-visual", "T1"),
    (2, 4, "interceptors", ""),
    (2, 6, "dog", "K9"),
    (3, 0, "brief-visual", "T1"),
    (3, 3, "brief-visual", "T1"),
    (3, 7, "thorough-visual", "T2"),
    (0, 4, "dog", "K8"),
]
"""Unit, week, method and who; the second of T1 in unit 3 repeats the first with a chance (set below)."""
COPIED = 0.4
LOUDER = 12.0
"""Central chances of a report times this, so that eight weeks hold some."""


@dataclass(frozen=True)
class Scene:
    """The building of :mod:`.joint` with looks by people, and what is learned."""

    network: Network
    dynamics: Dynamics
    evidence: Evidence
    seeing: Seeing


def scene() -> Scene:
    """Return the building; every quantity matters somewhere in it."""
    made = joint.scene()
    n, weeks = made.evidence.shape
    looks: list[tuple[int, int, Record, Look]] = []
    for i, t, method, by in LOOKS:
        kind = "monitor" if method == "interceptors" else "inspection"
        record = Record("r", ON + dt.timedelta(days=7 * t), "ABCD"[i], kind, method, "no", by=by)
        looks.append((i, t, record, take_apart(record, treated_before=False)))
    silence = np.where(made.evidence.vacant, QUIET, SILENT).astype(np.int8)
    start = made.dynamics.start
    g, _ = gather(looks, np.ones((n, weeks, LEVELS)), silence, len(made.evidence.effects), start)
    copied = g.look_copied.copy()
    copied[[k for k, row in enumerate(LOOKS) if row[:2] == (3, 3)], 0] = COPIED
    report = np.minimum(g.report * LOUDER, 0.5)
    shares = np.array([[2.0, 4.0], [2.0, 3.0], [3.0, 5.0]])
    return Scene(
        made.network,
        made.dynamics,
        replace(made.evidence, effects=resisting(made.evidence.effects)),
        # No look here ends unsure, so each answer of the two has all of its chance.
        g._replace(look_copied=copied, report=report, shares=shares, look_parts=np.ones_like(g.look_parts)),
    )


NAMES = (
    *("infested now", "unit-weeks infested", "sum of levels", "heavy unit-weeks", "infested at the start"),
    *("finds", "reports", "clear after treatment"),
    *("log light", "log heavy", "never", "resist", "began", "width"),
    *("never flags", "resist flags", "never x unit-weeks", "resist x clear after treatment"),
    *("log light x reports", "log heavy x reports", "began x infested at the start"),
    *("log of nothing", "log of nothing x reports", "log of nothing x unit-weeks"),
    *(f"log odds {k}" for k in range(4 + 4 + 2)),
    *(f"log odds {k} x finds" for k in range(4 + 4 + 2)),
)


def statistics(
    g: Seeing, x: np.ndarray, tail: np.ndarray, seen: np.ndarray, treated: np.ndarray
) -> np.ndarray:
    """Return what is compared, for one draw."""
    n = len(x)
    never, resist = tail[-2 * n : -n], tail[-n:]
    infested = x > 0
    after = (~infested[:, 1:] & (treated[:, :-1] >= 0)).sum(axis=1)
    odds = np.log(tail[FIRST_ODDS : -2 * n])
    light, heavy, nothing = np.log(tail[[LIGHT, HEAVY, OF_NOTHING]])
    return np.array(
        [
            *(infested[:, -1].sum(), infested.sum(), x.sum(), (x == LEVELS - 1).sum(), infested[:, 0].sum()),
            *(seen[0], seen[1], after.sum()),
            *(light, heavy, tail[NEVER], tail[RESIST], tail[BEGAN], tail[PEOPLE]),
            *(never.sum(), resist.sum(), never @ infested.sum(axis=1), resist @ after),
            *(light * seen[1], heavy * seen[1], tail[BEGAN] * infested[:, 0].sum()),
            *(nothing, nothing * seen[1], nothing * infested.sum()),
            *odds,
            *(odds * seen[0]),
        ],
        dtype=float,
    )


def draw_tail(g: Seeing, rng: np.random.Generator) -> np.ndarray:
    """Draw everything that is learned from its prior."""
    n = len(g.silence)
    tail = np.empty(tail_length(g))
    tail[[LIGHT, HEAVY]] = [rng.choice(FACTORS, p=np.exp(log)) for log in g.factor_prior]
    tail[[NEVER, RESIST, BEGAN]] = rng.beta(g.shares[:, 0], g.shares[:, 1])
    width = rng.choice(len(WIDTHS), p=np.exp(g.width_prior))
    tail[PEOPLE] = WIDTHS[width]
    tail[OF_NOTHING] = rng.choice(ODDS, p=np.exp(g.nothing_prior))
    priors = [*g.method_prior, *[g.people_prior[width]] * g.people, *[g.team_prior] * g.teams]
    tail[FIRST_ODDS : -2 * n] = [rng.choice(ODDS, p=np.exp(log)) for log in priors]
    tail[-2 * n : -n] = rng.random(n) < tail[NEVER]
    tail[-n:] = rng.random(n) < tail[RESIST]
    return tail


def observe(
    g: Seeing, x: np.ndarray, tail: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Draw every look and report given the paths: finds (looks,), and silence (N, T)."""
    n = len(x)
    methods = len(g.method_prior)
    found = np.zeros(len(g.look_unit), dtype=bool)
    for k in range(len(found)):
        a = x[g.look_unit[k], g.look_week[k]]
        odds = tail[FIRST_ODDS + g.look_method[k]]
        odds *= tail[FIRST_ODDS + methods + g.look_who[k]] if g.look_who[k] >= 0 else 1.0
        if a == 0:
            team = g.look_team[k]
            odds = tail[FIRST_ODDS + methods + g.people + team] if team >= 0 else 1.0
        chance = 1.0 / (1.0 + (1.0 / g.look_chance[k, a] - 1.0) / odds)
        if rng.random() < g.look_copied[k, 0]:
            found[k] = bool(g.look_copied[k, 1])
        else:
            found[k] = rng.random() < chance
    factor = np.array([tail[OF_NOTHING], tail[LIGHT], tail[LIGHT], tail[HEAVY], tail[HEAVY]])
    chance = np.minimum(g.report * factor, 0.9)[x]
    never = (tail[-2 * n : -n] > 0)[:, None] & (x > 0)
    chance = np.where(never, chance * NEVER_FACTOR, chance)
    said = np.where(rng.random(x.shape) < chance, REPORTED, SILENT)
    return found, np.where(g.silence == QUIET, QUIET, said).astype(np.int8)


def live(
    made: Scene,
    tail: np.ndarray,
    rng: np.random.Generator,
    theta: np.ndarray | None = None,
    more: np.ndarray | float = 0.0,
) -> np.ndarray:
    """Draw the paths given the tail and the rates, or the central ones; ``more``: hazards past them."""
    e, d = made.evidence, made.dynamics
    theta = d.theta if theta is None else theta
    n, weeks = e.shape
    kinds = len(e.effects) // 2
    push = made.network.dense(theta[2:-1]) + theta[1] / n * (1 - np.eye(n)) + more
    introduction = theta[0] + theta[-1] * (e.introduction > d.brought_in)
    start = np.concatenate([[1.0 - tail[BEGAN]], tail[BEGAN] * made.seeing.mix])
    x = np.zeros((n, weeks), dtype=np.int8)
    x[:, 0] = rng.choice(LEVELS, p=start, size=n)
    for t in range(weeks - 1):
        hazard = introduction[:, t] + e.openness[:, t] * ((d.shedding[x[:, t]] * e.export[:, t]) @ push)
        for i in range(n):
            step = d.growth[int(e.vacant[i, t]), x[i, t]]
            if x[i, t] == 0:
                step = np.array([np.exp(-hazard[i]), 1.0 - np.exp(-hazard[i]), 0.0, 0.0, 0.0])
            if e.treated[i, t] >= 0:
                step = step @ e.effects[e.treated[i, t] + kinds * int(tail[i - n])]
            x[i, t + 1] = min(LEVELS - 1, np.searchsorted(np.cumsum(step), rng.random(), "right"))
    return x


def with_copies(g: Seeing, found: np.ndarray) -> Seeing:
    """Return ``g`` with what was found, and what the look before a repeated one found."""
    g.look_found[:] = found
    first = next(k for k, row in enumerate(LOOKS) if row[:2] == (3, 0))
    again = next(k for k, row in enumerate(LOOKS) if row[:2] == (3, 3))
    g.look_copied[again, 1] = float(found[first])
    return g


def _seen(g: Seeing, found: np.ndarray, said: np.ndarray) -> np.ndarray:
    return np.array([found.sum(), (said == REPORTED).sum()])


def from_the_model(made: Scene, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Draw tail, paths and observations without the kernel, shape (draws, statistics)."""
    out = np.empty((draws, len(NAMES)))
    g = made.seeing
    for k in range(draws):
        tail = draw_tail(g, rng)
        x = live(made, tail, rng)
        found, said = observe_in_order(g, x, tail, rng)
        out[k] = statistics(g, x, tail, _seen(g, found, said), made.evidence.treated)
    return out


def observe_in_order(
    g: Seeing, x: np.ndarray, tail: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Observe; a repeated look copies what the one before it has found in this very draw."""
    state = rng.bit_generator.state
    found, _ = observe(g, x, tail, rng)
    rng.bit_generator.state = state
    return observe(with_copies(g, found), x, tail, rng)


def from_the_chain(made: Scene, *, cycles: int, chains: int, seed: int, draw: object = None) -> np.ndarray:
    """Alternate sweep, steps and observations; shape (chains, cycles, statistics)."""
    step = draw or seeing_steps.draw_seeing
    out = np.empty((chains, cycles, len(NAMES)))
    n, weeks = made.evidence.shape
    for c in range(chains):
        rng = np.random.default_rng([seed, c])
        g = made.seeing._replace(
            look_found=made.seeing.look_found.copy(),
            look_copied=made.seeing.look_copied.copy(),
            silence=made.seeing.silence.copy(),
        )
        model = arrays.assemble(made.network, made.dynamics, made.evidence)
        model = model._replace(treated=model.treated.copy(), start=model.start.copy())
        state = arrays.new_state(model, np.zeros((n, weeks), dtype=np.int8))
        tail = draw_tail(g, rng)
        model.treated[:] = np.where(
            model.treated < 0, -1, model.treated + (tail[-n:, None] * g.kinds).astype(int)
        )
        found, said = observe_in_order(g, state.x, tail, rng)
        g.silence[:] = said
        seeing_steps.put_seeing(model, g, tail, tail[-2 * n : -n])
        now = np.empty((n, LEVELS))
        for k in range(-50, cycles):
            kernel.sweep(model, state, rng, now)
            step(model, state, g, tail, rng)  # type: ignore[operator]
            found, said = observe_in_order(g, state.x, tail, rng)
            g.silence[:] = said
            seeing_steps.put_seeing(model, g, tail, tail[-2 * n : -n])
            if k >= 0:
                out[c, k] = statistics(g, state.x, tail, _seen(g, found, said), made.evidence.treated)
    return out


def z_values(chain: np.ndarray, plain: np.ndarray) -> dict[str, float]:
    """Return the difference of the means over its error, by name."""
    size = effective_size(chain)
    error = np.sqrt(chain.var(axis=(0, 1)) / size + plain.var(axis=0) / len(plain))
    return dict(zip(NAMES, (chain.mean(axis=(0, 1)) - plain.mean(axis=0)) / error, strict=True))

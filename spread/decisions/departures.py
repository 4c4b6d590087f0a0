"""What a log says of people, looks and treatment: how much likelier it is if they depart from the usual.

Where a log is thin a fit moves little away from what is usual, and what it has learned explains the counts
that it learned from. So every learned quantity is asked the same: how much likelier is the log where the
quantity is *far* from the usual (under half of it, or above twice) than where it is *near* (within a third
of it)? That is a Bayes factor: the chance of each after the log over its chance before. A log that tells
nothing gives 1, whatever was believed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spread.facts import Fact
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Floats
from spread.posterior.rates import MOVE_IN
from spread.posterior.room import ON
from spread.posterior.seeing import (
    FACTORS,
    FIRST_ODDS,
    HEAVY,
    LIGHT,
    NEVER,
    ODDS,
    OF_NOTHING,
    RESIST,
    Names,
    Seeing,
)
from spread.trade import routes, seeing
from spread.trade.methods import false_finds

HALF, ABOUT = 0.5, 0.75
"""A readiness or odds under the first are far from the usual, from the second on near (judgement)."""
TWICE, THRICE, THIRD_MORE = 2.0, 3.0, 4.0 / 3.0
"""A share above the first times the usual is far, a rate above the second; near is up to the third."""
MOST_TIMES = 1000.0
"""More is not said: draws are too few to tell."""
DRAWS = 8000
"""Draws of what was believed before the log, of quantities that have no closed form."""
TELLS = 300.0
"""Draws of a chain hang together: so many of them are taken to count (judgement)."""
SILENCE = ("silent", "silent-heavy", "silent-light", "never")
LOOKS = ("looks", "looks-by")
"""Kinds that say much the same: of each the strongest is said."""
ENOUGH = MappingProxyType(
    {
        "silent": 2.5,
        "silent-heavy": 2.0,
        "silent-light": 3.5,
        "never": 2.0,
        "looks": 10.0,
        "looks-by": 8.0,
        "alerts": 10.0,
        "resist": 12.0,
        "moved-in": 16.0,
        "complaints": 60.0,
        "room": 8.0,
    }
)
"""Times from which each is said: set so that of buildings as assumed under one in ten is warned of anything
(``docs/misspecified.md``)."""


@dataclass(frozen=True, slots=True)
class Departs(Fact):
    """The log speaks for a quantity far from the usual.

    Parameters
    ----------
    kind
        ``silent``, ``silent-heavy``, ``silent-light``: readiness to report; ``never``: units that never do;
        ``looks``, ``looks-by``: odds of a find, of all methods together, of a person against others;
        ``alerts``: a team's in clear units; ``resist``: units where treatment does little; ``moved-in``: what
        comes with a move-in; ``complaints``: complaints of nothing; ``room``: a shared room.
    whose
        Person or team; empty otherwise.
    times
        How many times likelier the log is than under what is usual, at most :data:`MOST_TIMES`.
    """

    kind: str
    whose: str
    times: float


class _Before(NamedTuple):
    """Draws of what was believed before the log, and how many looks each method and person made."""

    light: Floats
    heavy: Floats
    never: Floats
    resist: Floats
    methods: Floats  # (draws, methods): log odds
    people: Floats  # (draws, people)
    alerts: Floats
    nothing: Floats
    looks: Floats  # (methods, people and nobody)


def _before(g: Seeing, names: Names) -> _Before:
    rng = np.random.default_rng(1)

    def on_grid(grid: Floats, log_prior: Floats) -> Floats:
        prior = np.exp(log_prior)
        return np.asarray(rng.choice(grid, DRAWS, p=prior / prior.sum()))

    light, heavy = (on_grid(FACTORS, g.factor_prior[part]) for part in range(2))
    never, resist = (rng.beta(a, b, DRAWS) for a, b in g.shares[:2])
    methods = [np.log(on_grid(ODDS, prior)) for prior in g.method_prior]
    # People differ by one width, so their odds are alike in how far they lie apart.
    width = np.exp(g.width_prior)
    width = rng.choice(len(width), DRAWS, p=width / width.sum())
    below = np.exp(g.people_prior).cumsum(axis=1)[width]
    people = [
        np.log(ODDS)[np.minimum((rng.random((DRAWS, 1)) > below).sum(axis=1), len(ODDS) - 1)]
        for _ in names.people
    ]
    looks = np.zeros((len(names.methods), len(names.people) + 1))
    np.add.at(looks, (g.look_method, g.look_who), 1.0)
    return _Before(
        light,
        heavy,
        never,
        resist,
        np.array(methods).reshape(-1, DRAWS).T,
        np.array(people).reshape(-1, DRAWS).T,
        _false(on_grid(ODDS, g.team_prior)),
        on_grid(ODDS, g.nothing_prior),
        looks,
    )


def departures_of(posterior: Posterior) -> tuple[Departs, ...]:
    """Return how strongly the log speaks for each departure, however weakly; empty where none was learned."""
    return tuple(Departs(kind, whose, min(times, MOST_TIMES)) for kind, whose, times in _weighed(posterior))


def told_of(departures: Sequence[Departs]) -> tuple[Departs, ...]:
    """Return those that the log speaks for strongly enough (:data:`ENOUGH`), of alike kinds the strongest."""
    enough = sorted(
        (one for one in departures if one.times >= ENOUGH[one.kind]),
        key=lambda one: -one.times / ENOUGH[one.kind],
    )
    told: dict[str, Departs] = {}
    for one in enough:
        alike = next((many[0] for many in (SILENCE, LOOKS) if one.kind in many), f"{one.kind} {one.whose}")
        told.setdefault(alike, one)
    return tuple(one for one in departures if one in told.values())


def _weighed(posterior: Posterior) -> Iterator[tuple[str, str, float]]:
    traits, names, g, w = posterior.traits, posterior.names, posterior.prior, posterior.weights
    if traits is None or names is None or g is None:
        return
    before, draws = _before(g, names), traits.draws
    never, p_never = draws[:, NEVER], before.never
    heavy, light = draws[:, HEAVY] * (1.0 - never), draws[:, LIGHT] * (1.0 - never)
    p_heavy, p_light = before.heavy * (1.0 - p_never), before.light * (1.0 - p_never)
    yield "silent", "", _low(np.sqrt(heavy * light), np.sqrt(p_heavy * p_light), w)
    yield "silent-heavy", "", _low(heavy, p_heavy, w)
    yield "silent-light", "", _low(light, p_light, w)
    yield "never", "", _high(never, p_never, w, seeing.NEVER_REPORTS.central)
    n, who = len(names.methods), len(names.people)
    logs = np.log(draws[:, FIRST_ODDS:])
    people = logs[:, n : n + who]
    # What a method found is what those found who looked with it.
    share = before.looks / np.maximum(before.looks.sum(axis=1, keepdims=True), 1.0)
    after = logs[:, :n] + people @ share[:, :who].T
    prior = before.methods + before.people @ share[:, :who].T
    each = [_low(np.exp(after[:, k]), np.exp(prior[:, k]), w) for k in range(n)]
    if each:
        # Methods are believed apart from one another: what speaks against each is multiplied.
        yield "looks", "", float(np.prod(each))
    for k, name in enumerate(names.people):
        yield "looks-by", name, _low(np.exp(people[:, k]), np.exp(before.people[:, k]), w)
    for k, team in enumerate(names.teams):
        false = _false(draws[:, FIRST_ODDS + n + who + k])
        yield "alerts", team, _high(false, before.alerts, w, false_finds.ALERT.central)
    yield "resist", "", _high(draws[:, RESIST], before.resist, w, seeing.RESISTS.central)
    dynamics = posterior.dynamics
    if posterior.rates is not None and dynamics is not None and dynamics.rate_priors[0]:
        shape, rate = (part[MOVE_IN] for part in dynamics.rate_priors)
        rng, (chance, *often) = np.random.default_rng(2), dynamics.often
        which = rng.random(DRAWS) < chance
        prior = np.where(
            which, rng.gamma(often[0], 1.0 / often[1], DRAWS), rng.gamma(shape, 1.0 / rate, DRAWS)
        )
        yield "moved-in", "", _high(posterior.rates[:, MOVE_IN], prior, w, shape / rate, THRICE)
    yield "complaints", "", _high(draws[:, OF_NOTHING], before.nothing, w, 1.0, THRICE)
    if posterior.shared is not None:
        on = (TELLS * float(w @ posterior.shared.draws[:, ON]) + routes.ROOM) / (TELLS + 1.0)
        yield "room", "", on / (1.0 - on) * (1.0 - routes.ROOM) / routes.ROOM


def _false(odds: Floats) -> Floats:
    chance = false_finds.ALERT.central
    return np.asarray(odds * chance / (1.0 - chance + odds * chance))


def _low(after: Floats, prior: Floats, w: Floats) -> float:
    return _times(after < HALF, after >= ABOUT, prior < HALF, prior >= ABOUT, w)


def _high(after: Floats, prior: Floats, w: Floats, usual: float, times: float = TWICE) -> float:
    far, near = times * usual, THIRD_MORE * usual
    return _times(after > far, after <= near, prior > far, prior <= near, w)


def _times(
    far: NDArray[np.bool_],
    near: NDArray[np.bool_],
    p_far: NDArray[np.bool_],
    p_near: NDArray[np.bool_],
    w: Floats,
) -> float:
    """Return the Bayes factor of far against near; 1 where one of them was not to be expected at all."""
    if min(p_far.mean(), p_near.mean()) < 1.0 / TELLS:
        return 1.0
    # One draw of the prior is added: what no draw visited is rare, and not impossible.
    a, b = ((TELLS * float(w @ q) + p.mean()) / (TELLS + 1.0) / p.mean() for q, p in
            ((far, p_far), (near, p_near)))  # fmt: skip
    return float(a / b)

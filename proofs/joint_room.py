"""Joint-distribution test of a shared room that no plan shows (Geweke 2004, JASA 99:799-804, from memory).

The building of :mod:`.joint`; half of the draws have a room that some of its four units share: independently
from the model, and by the chain of the product with fresh observations. Wrong steps are put together here, so
that the test can be seen to fail.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from spread.posterior import arrays, kernel, rates, room
from spread.posterior.dynamics import LEVELS
from spread.posterior.room import FIRST_MEMBER, ON, RATE, SHARE, Belief

from . import joint
from .joint import MEANS, OFTEN, SHAPES, Chain, Scene

BELIEF = Belief(0.5, np.array([2.0, 2.0]), np.array([2.0, 3.0]))
"""Often there is one, half of the units use it, and it is as strong as a wall of :mod:`.joint`."""

NAMES = (
    *joint.NAMES,
    *("room", "room rate", "room rate, squared", "room share", "members", "members, squared"),
    *("pairs of members", "room x new", "room rate x new", "members x unit-weeks", "members x new"),
    *("new in members", "new in members x rate", "members infested together", "member infested at the end"),
    *("clear unit-weeks of members", "member treated and clear after", "A and B members"),
)


def statistics(
    x: np.ndarray, theta: np.ndarray, seen: np.ndarray, treated: np.ndarray, block: np.ndarray
) -> np.ndarray:
    """Return what is compared; leading axes (R, ...) run over replicates."""
    infested = x > 0
    fresh = (infested[..., 1:] & ~infested[..., :-1]).sum(axis=-1)
    weeks = infested.sum(axis=-1)
    flags = block[..., FIRST_MEMBER:]
    on, rate, share, count = block[..., ON], block[..., RATE], block[..., SHARE], flags.sum(axis=-1)
    together = np.einsum("...i,...it->...t", flags, infested)
    after = (~infested[..., 1:] & (treated[:, :-1] >= 0)).sum(axis=-1)
    own = [
        *(on, rate, rate**2, share, count, count**2),
        *(count * (count - 1), on * fresh.sum(axis=-1), rate * fresh.sum(axis=-1)),
        *(count * weeks.sum(axis=-1), count * fresh.sum(axis=-1)),
        *((flags * fresh).sum(axis=-1), rate * (flags * fresh).sum(axis=-1)),
        (together * (together - 1)).sum(axis=-1),
        (flags * infested[..., -1]).sum(axis=-1),
        (flags * (~infested).sum(axis=-1)).sum(axis=-1),
        (flags * after).sum(axis=-1),
        flags[..., 0] * flags[..., 1],
    ]
    return np.concatenate([joint.statistics(x, theta, seen, treated), np.stack(own, axis=-1)], axis=-1)


def draw_block(draws: int, n: int, rng: np.random.Generator) -> np.ndarray:
    """Draw a room, or none, from what is believed, shape (draws, 3 + n)."""
    on = rng.random(draws) < BELIEF.chance
    share = rng.beta(*BELIEF.share, draws)
    rate = rng.gamma(BELIEF.rate[0], 1.0 / BELIEF.rate[1], draws)
    flags = rng.random((draws, n)) < share[:, None]
    return np.column_stack([np.ones(draws), rate, share, flags]) * on[:, None]


def between(block: np.ndarray) -> np.ndarray:
    """Return the hazard upon each unit from each other one through the room, shape (draws, n, n)."""
    flags = block[:, FIRST_MEMBER:]
    return block[:, RATE, None, None] * flags[:, :, None] * flags[:, None, :] * (1 - np.eye(flags.shape[1]))


def from_the_model(made: Scene, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Draw everything from the model, shape (draws, statistics), without the kernel."""
    n = made.network.size
    theta = joint.draw_theta(draws, rng)
    block = draw_block(draws, n, rng)
    x = joint.live(made, theta, rng, between(block))
    return statistics(x, theta, joint.observe(made, x, rng)[1], made.evidence.treated, block)


Step = Callable[[arrays.Model, arrays.State, float, np.ndarray, np.random.Generator], None]


def sound_room(
    m: arrays.Model, s: arrays.State, arrived: float, block: np.ndarray, rng: np.random.Generator
) -> None:
    """The step of the product."""
    room.draw_room(m, s, BELIEF, arrived, block, rng)


def deaf_to_arrivals(
    m: arrays.Model, s: arrays.State, arrived: float, block: np.ndarray, rng: np.random.Generator
) -> None:
    """The rate of the room is drawn as if nothing ever came through it."""
    room.draw_room(m, s, BELIEF, 0.0, block, rng)


def slow_to_go(
    m: arrays.Model, s: arrays.State, arrived: float, block: np.ndarray, rng: np.random.Generator
) -> None:
    """A room goes half as often as it should, and comes as often."""
    was = block.copy()
    room.draw_room(m, s, BELIEF, arrived, block, rng)
    if was[ON] and not block[ON] and rng.random() < 0.5:
        block[:] = was  # half of the rooms that should go stay
        room.put_room(m, block)
        arrays.recompute(m, s)


def from_the_chain(
    made: Scene, *, cycles: int, chains: int, seed: int, step: Step = sound_room
) -> np.ndarray:
    """Alternate sampler and observations; shape (chains, cycles, statistics)."""
    n = made.evidence.shape[0]

    def chain(model: arrays.Model, state: arrays.State, rng: np.random.Generator) -> Chain:
        theta, block = joint.draw_theta(1, rng)[0], draw_block(1, n, rng)[0]
        room.put_room(model, block)
        rates.set_rates(model, state, theta)
        now = np.empty((n, LEVELS))
        while True:
            kernel.sweep(model, state, rng, now)
            arrived = rates.draw_rates(model, state, theta, SHAPES, SHAPES / MEANS, OFTEN, rng)
            step(model, state, arrived, block, rng)
            seen = yield
            yield statistics(state.x, theta, seen, made.evidence.treated, block)

    return joint.alternated(made, chain, cycles=cycles, chains=chains, seed=seed)

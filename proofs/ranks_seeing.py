"""Simulation-based calibration of everything that is learned at once: rates, who reports, finds and resists,
and a room that no plan shows.

As :mod:`.ranks`, on the small building of :mod:`.joint_seeing`: rates and the tail are drawn from their
priors, paths and a log from them, and the chain of the product is run on that log. Run it with more::

    python -m proofs.ranks_seeing --buildings 2000
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

import numpy as np

from spread.posterior import arrays
from spread.posterior.chain import Learning, new_kept, new_sums, run
from spread.posterior.chains import start_chains
from spread.posterior.diagnostics import effective_size
from spread.posterior.rates import theta_names
from spread.posterior.room import FIRST_MEMBER
from spread.posterior.seeing import FIRST_ODDS, HEAVY, LIGHT, NEVER, OF_NOTHING, RESIST
from spread.trade.routes import ROUTES

from . import joint, joint_room, joint_seeing
from .ranks import DRAWS, chi_square, ecdf_p_values

THIN = 15
"""Sweeps between draws; 20 times as many come first."""
NAMES = (
    *("infested now", "unit-weeks infested", "sum of levels"),
    *theta_names(ROUTES),
    *("light", "heavy", "never", "resist", "began", "width", "of nothing"),
    *(f"odds {k}" for k in range(4 + 4 + 2)),
    *("never flags", "resist flags"),
    *("room", "room rate", "room share", "members"),
)
assert (LIGHT, HEAVY, NEVER, RESIST, OF_NOTHING, FIRST_ODDS) == (0, 1, 2, 3, 6, 7), (
    "the names follow the tail"
)


def statistics(x: np.ndarray, theta: np.ndarray) -> np.ndarray:
    """Return what is ranked, in the order of :data:`NAMES`."""
    n = len(x)
    infested = x > 0
    theta, block = np.split(theta, [-FIRST_MEMBER - n])
    paths = infested[:, -1].sum(), infested.sum(), x.sum(dtype=np.int64)
    flags = theta[-2 * n : -n].sum(), theta[-n:].sum()
    return np.array([*paths, *theta[: -2 * n], *flags, *block[:FIRST_MEMBER], block[FIRST_MEMBER:].sum()])


def rank_one(made: joint_seeing.Scene, seed: int, *, thin: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the rank of the truth in each statistic, and the effective share of the thinned draws."""
    rng = np.random.default_rng([seed, 21])
    (rates,), g = joint.draw_theta(1, rng), made.seeing
    g = g._replace(look_found=g.look_found.copy(), look_copied=g.look_copied.copy())
    tail = joint_seeing.draw_tail(g, rng)
    block = joint_room.draw_block(1, made.network.size, rng)
    x = joint_seeing.live(made, tail, rng, rates, joint_room.between(block)[0])
    _, said = joint_seeing.observe_in_order(g, x, tail, rng)
    prior, g = joint.SHAPES / joint.MEANS, g._replace(silence=said)
    learning = Learning(joint.SHAPES, prior, g, joint_room.BELIEF, joint.OFTEN)
    model = arrays.assemble(made.network, made.dynamics, made.evidence)
    (chain,) = start_chains(model, made.dynamics, made.evidence, number=1, seed=seed, learning=learning)
    sums = new_sums(chain.model, *x.shape)

    def go(sweeps: int) -> None:
        kept = new_kept(sweeps, *x.shape, len(chain.theta))
        run(chain.model, chain.state, chain.theta, learning, chain.rng, sums, kept)

    go(20 * thin)
    draws = np.empty((DRAWS, len(NAMES)))
    for k in range(DRAWS):
        go(thin)
        draws[k] = statistics(chain.state.x, chain.theta)
    truth = statistics(x, np.concatenate([rates, tail, block[0]]))
    tied = np.isclose(draws, truth, rtol=1e-12)
    below = ((draws < truth) & ~tied).sum(axis=0)
    with np.errstate(invalid="ignore"):  # a width or a flag may stay where it is in all draws
        share = effective_size(draws[None]) / DRAWS
    return below + rng.integers(0, tied.sum(axis=0) + 1), share


def rank_many(buildings: int, *, first: int = 0, thin: int = THIN) -> tuple[np.ndarray, np.ndarray]:
    """Return the ranks (buildings, statistics) and the mean effective share of the draws."""
    scene = joint_seeing.scene()
    made = [rank_one(scene, seed, thin=thin) for seed in range(first, first + buildings)]
    return np.array([ranks for ranks, _ in made]), np.nanmean([share for _, share in made], axis=0)


def main(words: Sequence[str] | None = None) -> None:
    """Run the proof and print its table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--buildings", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0, help="seed of the first building")
    chosen = parser.parse_args(words)
    found, share = rank_many(chosen.buildings, first=chosen.first)
    band = ecdf_p_values(found)
    for k, name in enumerate(NAMES):
        sys.stdout.write(
            f"{name:22} mean rank {found[:, k].mean() / DRAWS:.3f}  chi-square p "
            f"{chi_square(found[:, k], bins=8):.4f}  ECDF p {band[k]:.4f}  eff. share {share[k]:.2f}\n"
        )


if __name__ == "__main__":
    main()

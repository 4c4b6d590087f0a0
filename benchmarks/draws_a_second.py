"""Effective draws a second of processor time, at the usual rates and at all rates times four.

``python -m benchmarks.draws_a_second`` prints, for the tower of :mod:`benchmarks.test_sampler_speed`, those
of the number infested and of the worst unit; ``--rates`` learns the rates alone.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np

from benchmarks.test_sampler_speed import tower
from spread.posterior import arrays
from spread.posterior.chain import Learning, new_kept, run
from spread.posterior.chains import start_chains
from spread.posterior.diagnostics import effective_size
from spread.posterior.dynamics import central_dynamics
from spread.posterior.room import belief
from spread.posterior.seeing import resisting

CHAINS, WARMUP, SWEEPS = 4, 100, 400


def measured(scale: float, *, everything: bool, seed: int) -> tuple[float, float, float, float]:
    """Return effective draws a second of count and worst unit, ns a unit-week, and the share infested.

    ``scale``: factor on all rates; ``everything``: whether more than the rates is learned; ``seed``: of the
    chains.
    """
    network, dynamics, evidence = tower()
    dynamics = replace(central_dynamics(rate_scale=scale), prevalence=dynamics.prevalence)
    learning = Learning(*(np.array(part) for part in dynamics.rate_priors))
    model = arrays.assemble(network, dynamics, evidence)
    if everything:
        learning = learning._replace(seeing=evidence.seeing, room=belief())
        model = model._replace(effects=resisting(evidence.effects))
    chains = start_chains(model, dynamics, evidence, number=CHAINS, seed=seed, learning=learning)
    n, t = evidence.shape
    seconds, pieces = 0.0, []
    for chain in chains:
        for sweeps in (1, WARMUP, SWEEPS):
            kept = new_kept(sweeps, n, t, len(chain.theta))
            start = time.thread_time()
            run(chain.model, chain.state, chain.theta, learning, chain.rng, chain.sums, kept)
        seconds += time.thread_time() - start
        pieces.append(kept)
    counts = np.stack([piece.totals[:, -1] for piece in pieces])[:, :, None].astype(float)
    units = np.stack([piece.trace for piece in pieces])
    return (
        float(effective_size(counts)[0]) / seconds,
        float(effective_size(units).min()) / seconds,
        1e9 * seconds / (CHAINS * SWEEPS * n * t),
        float(np.mean([piece.totals.mean() for piece in pieces])) / n,
    )


def main() -> None:
    """Print a line for each scale of the rates."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--rates", action="store_true", help="learn the rates alone")
    ask.add_argument("--seed", type=int, default=1)
    args = ask.parse_args()
    for scale in (1.0, 4.0):
        count, worst, ns, share = measured(scale, everything=not args.rates, seed=args.seed)
        print(
            f"rates x {scale:.0f}: effective draws a second {count:.1f} of the count, {worst:.1f} of the"
            f" worst unit; {ns:.0f} ns a unit-week, {share:.0%} infested"
        )


if __name__ == "__main__":
    main()

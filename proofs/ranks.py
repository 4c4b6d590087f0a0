"""Simulation-based calibration: ranks of the truth among draws.

Talts et al. 2018, arXiv 1804.06788, from memory.

Run all of it from the top folder::

    python -m proofs.ranks --buildings 1000

Rates, past and log are drawn as the posterior believes (:mod:`.process`); then the truth is one more draw
from the posterior, and its rank among ``DRAWS`` thinned draws is uniform, whatever the statistic.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np
from scipy import stats

from spread.posterior import arrays
from spread.posterior.chain import Learning, new_kept, new_sums, run
from spread.posterior.chains import start_chains
from spread.posterior.diagnostics import effective_size
from spread.posterior.observations import Evidence, build_evidence
from spread.posterior.rates import theta_names
from spread.trade.routes import ROUTES

from . import process

DRAWS = 63
UNITS, FLOORS, WEEKS = 6, 2, 20
THIN = 40
"""Sweeps between draws; 25 times as many come first."""
SETTINGS = {
    "product": {"strength": 1.0, "brought_in": 1.0},
    "strong": {"strength": 15.0, "brought_in": 20.0},
}
"""The product's priors, under which little happens in 20 weeks; and ones under which much does."""

NAMES = (
    "infested now",
    "unit-weeks infested",
    "new in the last 8 weeks",
    "sum of levels",
    "log p(y | x)",
    *theta_names(ROUTES),
)


def statistics(x: np.ndarray, theta: np.ndarray, evidence: Evidence) -> np.ndarray:
    """What is ranked, in the order of :data:`NAMES`."""
    infested = x > 0
    fresh = infested[:, 1:] & ~infested[:, :-1]
    units, weeks = np.indices(x.shape)
    return np.array(
        [
            infested[:, -1].sum(),
            infested.sum(),
            fresh[:, -8:].sum(),
            x.sum(),
            np.log(evidence.likelihood[units, weeks, x]).sum(),
            *theta,
        ]
    )


def rank_one(seed: int, *, setting: str, thin: int = THIN) -> tuple[np.ndarray, np.ndarray]:
    """Return the rank of the truth in each statistic, and the effective share of the thinned draws."""
    rng = np.random.default_rng([seed, 20])
    prior = process.priors(**SETTINGS[setting])
    lived = process.live(process.plan(UNITS, FLOORS, rng), prior, weeks=WEEKS, rng=rng)
    evidence = build_evidence(lived.records, lived.network.units, prior, on=lived.on, weeks=WEEKS)
    learning = Learning(*(np.array(part) for part in prior.rate_priors))
    chain = start_chains(
        arrays.assemble(lived.network, prior, evidence),
        prior,
        evidence,
        number=2,
        seed=seed,
        learning=learning,
    )[1]
    shape = (UNITS, WEEKS)
    sums = new_sums(chain.model, *shape)

    def go(sweeps: int) -> None:
        kept = new_kept(sweeps, *shape, len(chain.theta))
        run(chain.model, chain.state, chain.theta, learning, chain.rng, sums, kept)

    go(25 * thin)
    draws = np.empty((DRAWS, len(NAMES)))
    for k in range(DRAWS):
        go(thin)
        draws[k] = statistics(chain.state.x, chain.theta, evidence)
    truth = statistics(lived.x, lived.theta, evidence)
    # Sums of logarithms of the same path may differ in their last digit.
    tied = np.isclose(draws, truth, rtol=1e-12, atol=1e-9)
    below = ((draws < truth) & ~tied).sum(axis=0)
    return below + rng.integers(0, tied.sum(axis=0) + 1), effective_size(draws[None]) / DRAWS


def rank_many(
    buildings: int, setting: str, *, first: int = 0, workers: int = 1, thin: int = THIN
) -> tuple[np.ndarray, np.ndarray]:
    """Return the ranks (buildings, statistics) and the mean effective share of the draws."""
    seeds = range(first, first + buildings)
    one = partial(rank_one, setting=setting, thin=thin)
    if workers > 1:
        with ProcessPoolExecutor(workers) as pool:
            made = list(pool.map(one, seeds, chunksize=10))
    else:
        made = [one(seed) for seed in seeds]
    return np.array([ranks for ranks, _ in made]), np.mean([share for _, share in made], axis=0)


def chi_square(ranks: np.ndarray, bins: int = 16) -> float:
    """Return the p value of equal counts in ``bins`` bins of ranks."""
    counts = np.histogram(ranks, bins=bins, range=(0, DRAWS + 1))[0]
    return float(stats.chisquare(counts).pvalue)


def _least_tail(ranks: np.ndarray) -> np.ndarray:
    """Return the smallest two-sided tail of the ECDF over all points, for each row (R, buildings)."""
    number = ranks.shape[1]
    points = np.arange(1, DRAWS + 1)
    counts = np.stack([np.bincount(row, minlength=DRAWS + 1).cumsum()[:-1] for row in ranks])
    share = points / (DRAWS + 1)
    tails = np.minimum(stats.binom.cdf(counts, number, share), stats.binom.sf(counts - 1, number, share))
    return 2.0 * tails.min(axis=1)


def ecdf_p_values(ranks: np.ndarray, *, simulations: int = 4000, seed: int = 1) -> np.ndarray:
    """Return for each statistic how often uniform ranks leave the ECDF band further than these do.

    Simultaneous bands by simulation as in Säilynoja, Bürkner & Vehtari 2022, Stat. Comput. 32:32,
    from memory: the ECDF leaves its band of level 1 - p where the smallest pointwise tail is under the
    p quantile of that smallest tail among uniform ranks.
    """
    rng = np.random.default_rng(seed)
    usual = np.sort(_least_tail(rng.integers(0, DRAWS + 1, (simulations, len(ranks)))))
    ours = _least_tail(ranks.T)
    return (1 + np.searchsorted(usual, ours * (1 + 1e-12), side="right")) / (1 + simulations)


def table(ranks: np.ndarray, share: np.ndarray) -> str:
    """Return the figures of every statistic as lines of text."""
    ecdf = ecdf_p_values(ranks)
    lines = [
        f"{'statistic':26} {'mean rank':>9} {'chi-square p':>12} {'ECDF p':>8} "
        f"{'in 95 % band':>12} {'eff. share':>10}"
    ]
    for k, name in enumerate(NAMES):
        lines.append(
            f"{name:26} {ranks[:, k].mean() / DRAWS:9.3f} {chi_square(ranks[:, k]):12.4f} {ecdf[k]:8.4f} "
            f"{'yes' if ecdf[k] > 0.05 else 'NO':>12} {share[k]:10.2f}"
        )
    return "\n".join(lines)


def main(words: Sequence[str] | None = None) -> None:
    """Run the proof and print its table; with ``--ranks`` also write the ranks as JSON."""
    parser = argparse.ArgumentParser(description="Simulation-based calibration of the posterior.")
    parser.add_argument("--buildings", type=int, default=1000)
    parser.add_argument("--setting", choices=sorted(SETTINGS), action="append")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="seed of the first building")
    parser.add_argument("--ranks", help="file to write the ranks to")
    chosen = parser.parse_args(words)
    kept = {}
    for setting in chosen.setting or sorted(SETTINGS):
        began = time.perf_counter()
        ranks, share = rank_many(chosen.buildings, setting, first=chosen.first, workers=chosen.workers)
        kept[setting] = ranks.tolist()
        seconds = time.perf_counter() - began
        sys.stdout.write(
            f"\n{setting} priors, {chosen.buildings} buildings, {seconds:.0f} s\n{table(ranks, share)}\n"
        )
        sys.stdout.flush()
    if chosen.ranks:
        answer = {"names": NAMES, "draws": DRAWS, "ranks": kept}
        Path(chosen.ranks).write_text(json.dumps(answer), encoding="utf-8")


if __name__ == "__main__":
    main()

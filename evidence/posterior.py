"""The joint posterior: ``python -m evidence.posterior draws.jsonl --more more.jsonl --cores 2``.

Vectors that ``evidence.fit`` simulated teach an emulator; an ensemble of chains runs on its likelihood; then
studies are simulated anew at draws of the chains and compared with what the emulator said. They go into
``--more``; the next call learns from them too and simulates others, until emulated and simulated agree.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import emcee
import numpy as np

from evidence import emulator, sampler
from evidence.emulator import Emulator
from evidence.fit import header_of, one, read
from evidence.parameters import NAMES, Floats
from evidence.targets import Target, load

WALKERS = 64
STEPS = 4000
BELIEVABLE = 40.0  #: Vectors whose log likelihood is farther from the best teach nothing near the posterior


@dataclass(frozen=True)
class Chain:
    """Draws of an ensemble."""

    u: Floats  #: Shape (draws, parameters), thinned
    loglik: Floats  #: As emulated
    autocorrelation: float  #: Longest of the parameters, in steps
    effective: float  #: Steps of all walkers after the first fifth over the autocorrelation


def chains(
    loglik: Any, start: Floats, *, steps: int = STEPS, seed: int = 1, draws: int = 2000
) -> Chain:
    """Run an ensemble on a standard normal prior and a log likelihood of rows.

    ``loglik``: takes shape (n, parameters) and gives shape (n,); ``start``: at least as many rows as walkers,
    spread about where the posterior may lie; ``steps``: of every walker; ``draws``: how many are kept.
    """
    dim = start.shape[1]
    rng = np.random.default_rng(seed)
    begin = start[rng.permutation(len(start))[:WALKERS]] + 0.01 * rng.standard_normal((WALKERS, dim))
    moves = [(emcee.moves.DEMove(), 0.8), (emcee.moves.DESnookerMove(), 0.2)]
    run = emcee.EnsembleSampler(
        WALKERS,
        dim,
        lambda u: sampler.log_prior(u) + loglik(u),
        moves=moves,
        vectorize=True,
    )
    run.random_state = np.random.RandomState(seed).get_state()
    run.run_mcmc(begin, steps)
    first = steps // 5
    slow = float(np.max(emcee.autocorr.integrated_time(run.get_chain()[first:], quiet=True)))
    flat = run.get_chain(discard=first, flat=True)
    dense = run.get_log_prob(discard=first, flat=True) - sampler.log_prior(flat)
    kept = np.linspace(0, len(flat) - 1, draws).astype(int)
    return Chain(flat[kept], dense[kept], slow, len(flat) / slow)


@dataclass(frozen=True)
class Known:
    """Simulated vectors that may teach an emulator."""

    u: Floats
    rows: list[dict[str, Any]]
    loglik: Floats  #: As simulated, luck of few runs included


def known(places: Sequence[Path], targets: Sequence[Target]) -> Known:
    """Return the vectors of files, those left out that no posterior reaches."""
    headers, rows = [], []
    for place in places:
        if place.exists():
            found = read(place)
            headers.append(found.header)
            rows += found.rows
    if len({(h["targets"], h["code"]) for h in headers}) > 1:
        raise SystemExit("The files are of different targets or code; name files of one fit.")
    keys = fitted(targets)
    loglik = np.array([sum(row["loglik"][key] for key in keys) for row in rows])
    near = loglik > loglik.max() - BELIEVABLE
    u = np.array([row["u"] for row in rows])
    return Known(u[near], [row for row, kept in zip(rows, near, strict=True) if kept], loglik[near])


def fitted(targets: Sequence[Target], without: str = "") -> list[str]:
    """Return the keys of the figures that are fitted, one study left out."""
    return [t.key for t in targets if t.use == "fitted" and t.study != without]


def posterior(found: Emulator, start: Floats, without: str = "", *, steps: int = STEPS, seed: int = 1) -> Chain:
    """Return draws given all fitted figures, or all but one study's."""
    return chains(partial(found.loglik, keys=fitted(found.targets, without)), start, steps=steps, seed=seed)


@dataclass(frozen=True)
class Check:
    """Emulated beside simulated, at draws of the posterior that the emulator did not learn from."""

    draws: int
    gap: float  #: Mean of simulated less emulated log likelihood
    spread: float  #: Deviation of that
    off: dict[str, tuple[float, float]]  #: By fitted figure: mean and root mean square, in its standard errors

    def __str__(self) -> str:
        worst = sorted(self.off, key=lambda key: -abs(self.off[key][0]))[:5]
        return (
            f"{self.draws} draws simulated: log likelihood {self.gap:+.2f} +- {self.spread:.2f} of emulated; "
            "largest mean gaps, in standard errors of the figure: "
            + ", ".join(f"{key} {self.off[key][0]:+.2f}" for key in worst)
        )


def check(found: Emulator, u: Floats, rows: Sequence[dict[str, Any]]) -> Check:
    """Compare the emulator with studies simulated at ``u``."""
    keys = fitted(found.targets)
    gap = np.array([sum(row["loglik"][key] for key in keys) for row in rows]) - found.loglik(u, keys)
    off = {}
    for t in found.targets:
        if t.key in keys:
            mean = found.mean(t.key, u)
            z = (np.array([row["summaries"][t.key][0] for row in rows]) - mean) / t.error(mean, found.sd(t, u))
            off[t.key] = (float(z.mean()), float(np.sqrt((z**2).mean())))
    return Check(len(u), float(gap.mean()), float(gap.std()), off)


def simulated(u: Floats, seed: int, cores: int, place: Path) -> list[dict[str, Any]]:
    """Simulate the studies at draws and add them to a file."""
    header = header_of(len(u), "", seed)
    old = read(place).rows if place.exists() else []
    number = 1 + max((row["round"] for row in old), default=-1)
    lucks = np.random.default_rng([seed, number, 7]).integers(1, 2**31, len(u)).tolist()
    if not place.exists():
        place.write_text(json.dumps(header) + "\n", encoding="utf-8")
    rows = []
    with ProcessPoolExecutor(max_workers=cores) as pool, place.open("a", encoding="utf-8") as out:
        for k, row in enumerate(pool.map(one, u.tolist(), lucks)):
            rows.append({"round": number, "place": k, "u": u[k].tolist(), **row})
            out.write(json.dumps(rows[-1]) + "\n")
            out.flush()
    return rows


def main(argv: list[str] | None = None) -> int:
    """Fit the emulator, run the chains, simulate at draws and say how they agree."""
    parser = argparse.ArgumentParser(prog="python -m evidence.posterior", description=__doc__)
    parser.add_argument("draws", type=Path, help="file of python -m evidence.fit")
    parser.add_argument("--more", type=Path, required=True, help="file of vectors simulated here")
    parser.add_argument("--simulate", type=int, default=150, help="draws to simulate")
    parser.add_argument("--steps", type=int, default=STEPS)
    parser.add_argument("--cores", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    a = parser.parse_args(argv)
    targets = load()
    taught = known([a.draws, a.more], targets)
    found = emulator.fit(taught.u, taught.rows, targets)
    chain = posterior(found, taught.u[np.argsort(taught.loglik)[-4 * WALKERS :]], steps=a.steps, seed=a.seed)
    sys.stdout.write(
        f"{len(taught.u)} vectors taught it; autocorrelation {chain.autocorrelation:.0f} steps, "
        f"{chain.effective:.0f} effective draws; emulated log likelihood {chain.loglik.mean():.2f} "
        f"+- {chain.loglik.std():.2f}\n"
    )
    np.savez(a.more.with_suffix(".npz"), u=chain.u, loglik=chain.loglik)
    picked = np.linspace(0, len(chain.u) - 1, a.simulate).astype(int)
    rows = simulated(chain.u[picked], a.seed, a.cores, a.more)
    sys.stdout.write(f"{check(found, chain.u[picked], rows)}\n")
    for name, values in zip(NAMES, chain.u.T, strict=True):
        sys.stdout.write(f"{name:14s} u {values.mean():6.2f} +- {values.std():.2f}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

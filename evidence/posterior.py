"""The joint posterior: ``python -m evidence.posterior draws.jsonl --more more.jsonl --cores 2``.

Vectors that ``evidence.fit`` simulated teach an emulator; an ensemble of chains runs on its likelihood; then
studies are simulated anew at draws of the chains and compared with what the emulator said. They go into
``--more``; the next call learns from them too and simulates others, until emulated and simulated agree.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import sys
from collections.abc import Callable, Sequence
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
from evidence.parameters import NAMES, Floats, values_of
from evidence.targets import Target, load

WALKERS = 64
ENSEMBLES = 3
STEPS = 2000
BELIEVABLE = 80.0  #: Vectors whose log likelihood is farther from the best teach nothing near the posterior


@dataclass(frozen=True)
class Chain:
    """Draws of an ensemble."""

    u: Floats  #: Shape (draws, parameters), thinned
    loglik: Floats  #: As emulated
    autocorrelation: float  #: Longest of the parameters, in steps
    effective: float  #: Steps of all walkers after the first fifth over the autocorrelation


def chains(
    loglik: Callable[[Floats], Floats],
    start: Floats,
    *,
    steps: int = STEPS,
    seed: int = 1,
    draws: int = 2000,
) -> Chain:
    """Run an ensemble on a standard normal prior and a log likelihood of rows.

    ``loglik``: takes shape (n, parameters) and gives shape (n,); ``start``: at least as many rows as walkers,
    spread about where the posterior may lie; ``steps``: of every walker; ``draws``: how many are kept.
    """
    dim = start.shape[1]
    rng = np.random.default_rng(seed)
    begin = start[rng.permutation(len(start))[:WALKERS]]
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
    if len({h["targets"] for h in headers}) > 1:
        raise SystemExit("The files are of different targets; name files of one fit.")
    keys = fitted(targets)
    loglik = np.array([sum(row["loglik"][key] for key in keys) for row in rows])
    near = loglik > loglik.max() - BELIEVABLE
    u = np.array([row["u"] for row in rows])
    return Known(u[near], [row for row, kept in zip(rows, near, strict=True) if kept], loglik[near])


def repeats(draws: Path) -> None:
    """Refuse a file whose first vector the present code does not simulate to the same figures."""
    found = read(draws)
    row = found.rows[0]
    source = np.random.default_rng([found.header["seed"], row["round"], 2, row["place"]])
    luck = int(source.integers(1, 2**31))
    again = one(row["u"], luck)["summaries"]
    differ = [key for key, pair in row["summaries"].items() if again[key] != pair]
    if differ:
        raise SystemExit(f"{draws} was simulated by other code: {', '.join(differ[:3])} differ; fit anew.")


def fitted(targets: Sequence[Target], without: str = "") -> list[str]:
    """Return the keys of the figures that are fitted, one study left out."""
    return [t.key for t in targets if t.use == "fitted" and t.study != without]


def ordered(u: Floats) -> Floats:
    """Return the log prior of an order: 0 where a product added to steam and dust does no harm, else -inf."""
    return np.where(u[:, NAMES.index("combined")] >= u[:, NAMES.index("non_chemical")], 0.0, -np.inf)


def posterior(found: Emulator, start: Floats, without: str = "", steps: int = STEPS, seed: int = 1) -> Chain:
    """Return draws given all fitted figures, or all but one study's."""
    start = start[np.isfinite(ordered(start))]
    keys = fitted(found.targets, without)
    return chains(lambda u: ordered(u) + found.loglik(u, keys), start, steps=steps, seed=seed)


@dataclass(frozen=True)
class Check:
    """Emulated beside simulated, at draws of the posterior that the emulator did not learn from."""

    draws: int
    gap: float  #: Mean of simulated less emulated log likelihood
    spread: float  #: Deviation of that
    off: dict[str, tuple[float, float]]  #: By fitted figure: mean and root mean square, in its errors

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
            got = np.array([row["summaries"][t.key][0] for row in rows])
            z = (got - mean) / t.error(mean, found.sd(t, u))
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
    parser.add_argument("--out", type=Path, help="file of draws for the package")
    parser.add_argument("--keep", type=int, default=400, help="draws of that file")
    parser.add_argument("--cores", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    a = parser.parse_args(argv)
    targets = load()
    repeats(a.draws)
    taught = known([a.draws, a.more], targets)
    found = emulator.fit(taught.u, taught.rows, targets)
    start = taught.u[np.argsort(taught.loglik)[-8 * WALKERS :]]
    if a.more.with_suffix(".npz").exists():
        start = np.load(a.more.with_suffix(".npz"))["u"]  # the chains of the call before
    with ProcessPoolExecutor(max_workers=a.cores) as pool:
        several = list(
            pool.map(partial(posterior, found, start, "", a.steps), range(a.seed, a.seed + ENSEMBLES))
        )
    u = np.concatenate([each.u for each in several])
    loglik = np.concatenate([each.loglik for each in several])
    between = np.std([each.u.mean(axis=0) for each in several], axis=0, ddof=1) / u.std(axis=0)
    sys.stdout.write(
        f"{len(taught.u)} vectors taught it; {ENSEMBLES} ensembles: autocorrelation "
        f"{max(each.autocorrelation for each in several):.0f} steps, "
        f"{sum(each.effective for each in several):.0f} effective draws, their means differ by "
        f"{between.max():.2f} deviations at most; emulated log likelihood {loglik.mean():.2f} "
        f"+- {loglik.std():.2f}\n"
    )
    np.savez(a.more.with_suffix(".npz"), u=u, loglik=loglik)
    u = u[np.random.default_rng(a.seed).permutation(len(u))]
    if a.simulate:
        rows = simulated(u[: a.simulate], a.seed, a.cores, a.more)
        sys.stdout.write(f"{check(found, u[: a.simulate], rows)}\n")
    for name, values in zip(NAMES, u.T, strict=True):
        sys.stdout.write(f"{name:14s} u {values.mean():6.2f} +- {values.std():.2f}\n")
    if a.out is not None:
        kept = json.dumps(package(u[: a.keep], u, taught, found, a))
        a.out.write_text(kept.replace("], [", "],\n[") + "\n", encoding="utf-8")
    return 0


def package(kept: Floats, u: Floats, taught: Known, found: Emulator, a: argparse.Namespace) -> dict[str, Any]:
    """Return draws as they are kept with the package: values by name, and where they are from."""
    header = read(a.draws).header
    centre = values_of(u.mean(axis=0))
    mix = [float(np.mean(found.mean(f"mix-{level}", u))) for level in range(1, 5)]
    return {
        "what": "joint draws of the trade's numbers given published figures: docs/evidence.md",
        "made": dt.date.today().isoformat(),
        "command": "python -m evidence.fit, then python -m evidence.posterior: docs/evidence.md",
        "targets": header["targets"],
        "code": header["code"],
        "vectors": len(taught.u),
        "names": list(NAMES),
        "centre": {name: float(f"{value:.4g}") for name, value in centre.items()},
        "mix": [round(x / sum(mix), 4) for x in mix],
        "draws": [[float(f"{x:.4g}") for x in values_of(row).values()] for row in kept],
    }


if __name__ == "__main__":
    raise SystemExit(main())

"""The joint posterior: ``python -m evidence.posterior evidence/vectors.npz --more more.jsonl --cores 2``.

Simulated vectors teach an emulator; ensembles of chains run on its likelihood (:mod:`evidence.differing`),
given all studies and given all but one; then every study is simulated anew at draws of them, with the crew
that it has there, and compared with what the emulator said. These go into ``--more``; the next call learns
from them too and simulates others, until emulated and simulated agree.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import sys
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from evidence import emulator
from evidence.differing import DEVIATIONS, WALKERS, Chain, chains, place_of
from evidence.emulator import Emulator
from evidence.fit import header_of, one, read
from evidence.parameters import NAMES, Floats, values_of
from evidence.targets import Target, load
from evidence.vectors import pack

AGREES, OFF = 1.0, 0.3
"""How far the log likelihood, and a figure in its own standard errors, may be from what luck explains."""
ENSEMBLES = 3
STEPS = 2000
BELIEVABLE = 80.0  #: Vectors whose log likelihood is farther from the best teach nothing near the posterior


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
    row = found.header.get("first") or found.rows[0]
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


def posterior(
    found: Emulator, start: Floats, without: str = "", steps: int = STEPS, seed: int = 1, alike: bool = False
) -> Chain:
    """Return draws given all fitted figures, or all but one study's.

    ``alike``: studies do not differ in crews and inspectors.
    """
    start = start[np.isfinite(ordered(start))]
    keys: dict[str, list[str]] = {}
    for t in found.targets:
        if t.key in fitted(found.targets, without):
            keys.setdefault(place_of(t), []).append(t.key)
    return chains(
        lambda u, place: found.loglik(u, keys[place]), list(keys), start, prior=ordered, alike=alike,
        steps=steps, seed=seed,
    )  # fmt: skip


@dataclass(frozen=True)
class Check:
    """Emulated beside simulated, at draws of the posterior that the emulator did not learn from."""

    draws: int
    gap: float  #: Median of simulated less emulated log likelihood
    luck: float  #: What it would be by the luck of few runs alone, were the emulator right
    off: dict[str, tuple[float, float]]  #: By fitted figure: mean and root mean square, in its errors

    @property
    def agrees(self) -> bool:
        """Whether the posterior is that of the simulated studies: no figure is off, nor are all together."""
        return abs(self.gap - self.luck) < AGREES and max(abs(mean) for mean, _ in self.off.values()) < OFF

    def __str__(self) -> str:
        worst = sorted(self.off, key=lambda key: -abs(self.off[key][0]))[:5]
        return (
            f"{self.draws} draws simulated: log likelihood {self.gap:+.2f} of emulated (by luck alone "
            f"{self.luck:+.2f}); largest mean gaps, in standard errors of the figure: "
            + ", ".join(f"{key} {self.off[key][0]:+.2f}" for key in worst)
            + (": they agree" if self.agrees else ": they do NOT agree")
        )


At = Mapping[str, tuple[Floats, list[dict[str, Any]]]]
"""Vectors and what was simulated at them, by place; the k-th of all places are of one draw."""


def check(found: Emulator, at: At, seed: int = 1) -> Check:
    """Compare the emulator with studies simulated at draws."""
    rng = np.random.default_rng(seed)
    gap, luck, off = 0.0, 0.0, {}
    for t in found.targets:
        if t.key in fitted(found.targets):
            u, rows = at[place_of(t)]
            emulated = found.loglik(u, [t.key])
            gap += np.array([t.loglik(*row["summaries"][t.key]) for row in rows]) - emulated
            luck += found.with_luck(u, [t.key], rng) - emulated
            mean = found.mean(t.key, u)
            z = np.array([row["summaries"][t.key][0] for row in rows]) - mean
            z /= t.error(mean, found.sd(t, u))
            off[t.key] = (float(z.mean()), float(np.sqrt((z**2).mean())))
    return Check(len(u), float(np.median(gap)), float(np.median(luck)), off)


def simulated(
    wanted: Mapping[tuple[str, str], Floats], seed: int, cores: int, place: Path
) -> dict[tuple[str, str], list[dict[str, Any]]]:
    """Simulate the studies at draws and add them to a file.

    ``wanted``: vectors by the study that was left out (or none) and by the place whose figures are asked.
    """
    every = [(key, u) for key, us in wanted.items() for u in us.tolist()]
    old = read(place).rows if place.exists() else []
    number = 1 + max((row["round"] for row in old), default=-1)
    lucks = np.random.default_rng([seed, number, 7]).integers(1, 2**31, len(every)).tolist()
    if not place.exists():
        place.write_text(json.dumps(header_of(len(every), "", seed)) + "\n", encoding="utf-8")
    out: dict[tuple[str, str], list[dict[str, Any]]] = {key: [] for key in wanted}
    with ProcessPoolExecutor(max_workers=cores) as pool, place.open("a", encoding="utf-8") as file:
        done = pool.map(one, [u for _, u in every], lucks, chunksize=4)
        for k, ((key, u), row) in enumerate(zip(every, done, strict=True)):
            whole = {"round": number, "place": k, "without": key[0], "of": key[1], "u": u, **row}
            out[key].append(whole)
            file.write(json.dumps(whole) + "\n")
            file.flush()
    return out


def main(argv: list[str] | None = None) -> int:
    """Fit the emulator, run the chains, simulate at draws and say how they agree."""
    parser = argparse.ArgumentParser(prog="python -m evidence.posterior", description=__doc__)
    parser.add_argument("draws", type=Path, help="evidence/vectors.npz, or a file of python -m evidence.fit")
    parser.add_argument("--more", type=Path, required=True, help="file of vectors simulated here")
    parser.add_argument("--simulate", type=int, default=60, help="draws to simulate, at every place")
    parser.add_argument("--alike", action="store_true", help="studies do not differ in crews and inspectors")
    parser.add_argument("--steps", type=int, default=STEPS)
    parser.add_argument("--out", type=Path, help="file of draws for the package")
    parser.add_argument("--keep", type=int, default=400, help="draws of that file")
    parser.add_argument(
        "--pack", type=Path, help="file into which all vectors go at the end, as they are kept"
    )
    parser.add_argument("--cores", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--waves", type=int, default=8, help="stop sooner when emulated and simulated agree")
    a = parser.parse_args(argv)
    if a.simulate < 20 or a.waves < 1 or a.cores < 1:
        parser.error("expected --simulate 20 or more, --waves 1 or more and --cores 1 or more")
    repeats(a.draws)
    try:
        return waves(a)
    finally:
        if a.pack is not None:
            first, more = read(a.draws), read(a.more)
            pack(first.header, first.rows + more.rows, a.pack)


def waves(a: argparse.Namespace) -> int:
    """Go on until emulated and simulated agree."""
    for wave in range(a.waves):
        done = one_wave(a, a.seed + wave * ENSEMBLES)
        if done.agrees:
            break
    else:
        sys.stdout.write(
            "Emulated and simulated do not agree yet: nothing is written; go on with more waves.\n"
        )
        return 1
    return 0


def one_wave(a: argparse.Namespace, seed: int) -> Check:
    """Fit the emulator, run chains, simulate at their draws; write the draws where both agree."""
    targets = load()
    taught = known([a.draws, a.more], targets)
    found = emulator.fit(taught.u, taught.rows, targets)
    studies = sorted({t.study for t in targets if t.use == "fitted"})
    runs = [("", seed + k, a.steps) for k in range(ENSEMBLES)]
    runs += [(study, seed, a.steps // 2) for study in studies]
    with ProcessPoolExecutor(max_workers=a.cores) as pool:
        done = list(pool.map(partial(_chain, found, taught, a.alike), runs))
    several, without = done[:ENSEMBLES], dict(zip(studies, done[ENSEMBLES:], strict=True))
    joined = together(several)
    between = np.std([each.u.mean(axis=0) for each in several], axis=0, ddof=1) / joined.u.std(axis=0)
    rng = np.random.default_rng(seed)
    wanted = {}
    for study, chain in {"": joined, **without}.items():
        chosen = rng.permutation(len(chain.u))[: a.simulate]
        asked = [t for t in targets if t.use != "listed" and study in ("", t.study)]
        for place in dict.fromkeys("" if a.alike else place_of(t) for t in asked):
            wanted[study, place] = chain.at(place, rng, alike=a.alike)[chosen]
    rows = simulated(wanted, seed, a.cores, a.more)
    every = {place_of(t): ("", "" if a.alike else place_of(t)) for t in targets if t.use == "fitted"}
    checked = check(found, {place: (wanted[key], rows[key]) for place, key in every.items()})
    np.savez(
        a.more.with_suffix(".npz"), u=joined.u, t=joined.t, agrees=checked.agrees, alike=a.alike,
        taught=len(taught.u),
    )  # fmt: skip
    least = min(chain.effective for chain in without.values())
    sys.stdout.write(
        f"{len(taught.u)} vectors taught it; {ENSEMBLES} ensembles: autocorrelation "
        f"{joined.autocorrelation:.0f} steps, {joined.effective:.0f} effective draws, their means differ by "
        f"{between.max():.2f} deviations at most; without a study: {least:.0f} "
        f"effective draws or more; emulated log likelihood {joined.loglik.mean():.2f} "
        f"+- {joined.loglik.std():.2f}\n{checked}\n"
    )
    for name, values in zip((*NAMES, *DEVIATIONS), np.hstack([joined.u, joined.t]).T, strict=True):
        sys.stdout.write(f"{name:14s} u {values.mean():6.2f} +- {values.std():.2f}\n")
    sys.stdout.flush()
    if a.out is not None and checked.agrees:
        u = joined.u[rng.permutation(len(joined.u))]
        kept = json.dumps({**package(u[: a.keep], u, taught, found, a), "check": str(checked)})
        a.out.write_text(kept.replace("], [", "],\n[") + "\n", encoding="utf-8")
    return checked


def _chain(found: Emulator, taught: Known, alike: bool, run: tuple[str, int, int]) -> Chain:
    """Begin at vectors that are likely given the same figures: others would leak what is left out."""
    without, seed, steps = run
    keys = fitted(found.targets, without)
    loglik = np.array([sum(row["loglik"][key] for key in keys) for row in taught.rows])
    start = taught.u[np.argsort(loglik)[-8 * WALKERS :]]
    return posterior(found, start, without, steps, seed, alike)


def together(several: Sequence[Chain]) -> Chain:
    """Return the draws of several ensembles as those of one."""
    return replace(
        several[0],
        **{name: np.concatenate([getattr(c, name) for c in several]) for name in ("u", "t", "z", "loglik")},
        autocorrelation=max(c.autocorrelation for c in several),
        effective=sum(c.effective for c in several),
    )


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

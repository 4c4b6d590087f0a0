"""The joint fit: ``python -m evidence.fit --out draws.jsonl --hours 6 --cores 4``.

Stop it at any time; the same command goes on. A line of the file is one vector: its numbers, the simulated
figure of every target, and the log likelihood of each. The first line says by which targets and which code.

With ``--near`` there is no search: vectors are draws of an earlier posterior, moved by more than it is wide.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import os
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from evidence import near, sampler
from evidence.parameters import NAMES, Floats, values_of
from evidence.simulate import simulate
from evidence.targets import PLACE, Target, load
from evidence.vectors import unpacked

ROOT = Path(__file__).parent.parent
Simulator = Callable[[Floats, int], dict[str, tuple[float, float]]]


def code_hash() -> str:
    """Return a hash of what decides a simulated study: this package and the product's numbers and kernel."""
    parts = [
        ROOT / "evidence" / name for name in ("simulate.py", "parameters.py", "targets.py", "sampler.py")
    ]
    parts.append(ROOT / "proofs" / "programmes_published.py")
    for folder in ("trade", "programmes", "contacts"):
        parts += sorted((ROOT / "spread" / folder).rglob("*.py"))
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part.relative_to(ROOT).as_posix().encode() + b"\0" + part.read_bytes())
    return digest.hexdigest()[:16]


def header_of(draws: int, without: str, seed: int) -> dict[str, Any]:
    """Return what the draws of one file share."""
    return {
        "targets": hashlib.sha256(PLACE.read_bytes()).hexdigest()[:16],
        "code": code_hash(),
        "names": list(NAMES),
        "round": draws,
        "without": without,
        "seed": seed,
    }


@dataclass(frozen=True)
class Draws:
    """What a file holds."""

    header: dict[str, Any]
    rows: list[dict[str, Any]]

    def whole(
        self, targets: tuple[Target, ...]
    ) -> tuple[Floats, Floats, list[sampler.Round], list[dict[str, Any]]]:
        """Return vectors, log likelihoods, mixtures and rows of the rounds that are whole."""
        size = self.header["round"]
        by_place = {(row["round"], row["place"]): row for row in self.rows}
        used = [t.key for t in targets if t.use == "fitted" and t.study != self.header["without"]]
        dim = len(self.header["names"])
        u, loglik = np.zeros((0, dim)), np.zeros(0)
        rounds, kept = [sampler.first_round(dim, size)], []
        while all((len(rounds) - 1, k) in by_place for k in range(size)):
            new = [by_place[len(rounds) - 1, k] for k in range(size)]
            kept += new
            u = np.concatenate([u, [row["u"] for row in new]])
            loglik = np.concatenate([loglik, [sum(row["loglik"][key] for key in used) for row in new]])
            rng = np.random.default_rng([self.header["seed"], len(rounds), 0])
            if "near" not in self.header:
                rounds.append(sampler.next_round(u, loglik, size, rng))
            else:
                rounds.append(rounds[0])
        return u, loglik, rounds, kept


def read(place: Path) -> Draws:
    """Return the draws of a file; a last line that was cut off is left out."""
    if place.suffix == ".npz":
        return Draws(*unpacked(place))
    lines = place.read_text(encoding="utf-8").splitlines()
    rows = []
    for k, line in enumerate(lines):
        try:
            rows.append(json.loads(line))
        except ValueError:
            if k < len(lines) - 1:
                raise SystemExit(
                    f"{place}, line {k + 1}: not a draw; move the file away and start anew."
                ) from None
    if not rows or "names" not in rows[0]:
        raise SystemExit(f"{place} holds no draws of this fit; choose another file.")
    return Draws(rows[0], rows[1:])


def one(u: list[float], seed: int, simulator: Simulator | None = None) -> dict[str, Any]:
    """Simulate every study at one vector."""
    sim = simulator or _studies
    summaries = sim(np.array(u), seed)
    likely = {t.key: t.loglik(*summaries[t.key]) for t in load() if t.key in summaries}
    bad = [key for key, value in likely.items() if not math.isfinite(value)]
    if bad:
        raise ValueError(f"no likelihood of {', '.join(bad)} at u = {u}")
    return {
        "summaries": {key: [round(x, 6) for x in pair] for key, pair in summaries.items()},
        "loglik": {key: round(value, 5) for key, value in likely.items()},
    }


def _studies(u: Floats, seed: int) -> dict[str, tuple[float, float]]:
    return simulate(values_of(u), seed)


def fit(
    place: Path,
    *,
    hours: float,
    cores: int,
    draws: int = 60,
    without: str = "",
    seed: int = 1,
    say: bool = True,
    beside: Path | None = None,
) -> Draws:
    """Go on with a file of draws, or begin it, until the time is over.

    ``beside``: draws of an earlier posterior; vectors are then moved draws (:mod:`evidence.near`).

    Raises SystemExit with a sentence when the file is of other targets, other code or another question.
    """
    targets, header = load(), header_of(draws, without, seed)
    if beside is not None:
        header["near"] = hashlib.sha256(beside.read_bytes()).hexdigest()[:16]
    if without and without not in {t.study for t in targets}:
        studies = ", ".join(sorted({t.study for t in targets}))
        raise SystemExit(f"No study is called {without!r}; expected one of {studies}.")
    if place.exists():
        found = read(place)
        differ = [key for key in header if found.header.get(key) != header[key]]
        if differ:
            raise SystemExit(
                f"{place} was begun with other {', '.join(differ)}; name another file with --out."
            )
    else:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(json.dumps(header) + "\n", encoding="utf-8")
        found = Draws(header, [])
    text = place.read_text(encoding="utf-8")
    if not text.endswith("\n"):
        place.write_text(text[: text.rfind("\n") + 1], encoding="utf-8")  # the line that a stop cut off
    until = time.monotonic() + 3600.0 * hours
    with ProcessPoolExecutor(max_workers=cores) as pool, place.open("a", encoding="utf-8") as out:
        while time.monotonic() < until:
            u, loglik, rounds, _ = found.whole(targets)
            if say and len(u) and beside is None:
                heat, _ = sampler.hottest(u, loglik, rounds[:-1], least=50.0)
                sure = sampler.effective(sampler.weights(u, loglik, rounds[:-1]))
                sys.stderr.write(
                    f"{len(u)} vectors; best log likelihood {loglik.max():.1f}; effective draws {sure:.1f}, "
                    f"50 at power {heat:.3f}\n"
                )
            number = len(rounds) - 1
            rng = np.random.default_rng([seed, number, 1])
            vectors = rounds[-1].draw(rng) if beside is None else near.vectors(beside, draws, rng)
            have = {row["place"] for row in found.rows if row["round"] == number}
            todo = [k for k in range(draws) if k not in have]
            for k, row in _spread_out(pool, vectors, todo, seed, number, cores, until):
                whole = {"round": number, "place": k, "u": [float(x) for x in vectors[k]], **row}
                found.rows.append(whole)
                out.write(json.dumps(whole) + "\n")
                out.flush()
                os.fsync(out.fileno())
    return found


def _spread_out(
    pool: ProcessPoolExecutor,
    vectors: Floats,
    todo: list[int],
    seed: int,
    number: int,
    cores: int,
    until: float,
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Simulate vectors in several processes, and begin none after the time is over."""
    waiting: dict[Future[dict[str, Any]], int] = {}
    todo = list(todo)
    while todo or waiting:
        while todo and len(waiting) < cores and time.monotonic() < until:
            k = todo.pop(0)
            luck = int(np.random.default_rng([seed, number, 2, k]).integers(1, 2**31))
            waiting[pool.submit(one, vectors[k].tolist(), luck)] = k
        if not waiting:
            return
        done, _ = wait(waiting, return_when=FIRST_COMPLETED)
        for each in done:
            yield waiting.pop(each), each.result()


def main(argv: list[str] | None = None) -> int:
    """Run the fit from the command line."""
    parser = argparse.ArgumentParser(prog="python -m evidence.fit", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="file of draws; begun or gone on with")
    parser.add_argument("--hours", type=float, required=True, help="stop after so many")
    parser.add_argument("--cores", type=int, default=1, help="processes at once")
    parser.add_argument("--draws", type=int, default=60, help="vectors of a round")
    parser.add_argument("--without", default="", help="a study to leave out, from a fresh start")
    parser.add_argument("--near", type=Path, help="draws of an earlier posterior, as the package keeps them")
    parser.add_argument("--seed", type=int, default=1)
    a = parser.parse_args(argv)
    if a.hours <= 0 or a.cores < 1 or a.draws < 20:
        parser.error("expected --hours above 0, --cores 1 or more and --draws 20 or more")
    fit(
        a.out, hours=a.hours, cores=a.cores, draws=a.draws, without=a.without, seed=a.seed, beside=a.near
    )  # fmt: skip
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

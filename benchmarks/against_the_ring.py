"""The open benchmark: does our next door find more than the ring around the complaint?

From the root of the repository::

    python -m benchmarks.against_the_ring --out run.jsonl --buildings 200 --past usual
    python -m benchmarks.against_the_ring --out run.jsonl --buildings 60 --past complaints
    python -m benchmarks.against_the_ring --out run.jsonl --closed-loop 30
    python -m benchmarks.against_the_ring --out run.jsonl --optimum 30
    python -m benchmarks.against_the_ring --out mine.jsonl --buildings 20 --policy my_module:rank
    python -m benchmarks.against_the_ring --out run.jsonl --docs docs/benchmark.md

Every world leaves one line in ``--out``; what is there already is not run again, so a run may be
stopped and go on. The last command only reports. Worlds, rates and luck follow from the seed.
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path

from benchmarks import policies, report_of, rounds, small_optimum
from benchmarks.worlds_of import MORNING, PAST_WEEKS, House, build_house
from spread.errors import Problem, SettingsError, SpreadError
from spread.posterior.draws import Posterior

PARTS = ("first doors", "rounds", "optimum")


@dataclass(frozen=True)
class Job:
    """One world to run: its number, its past, and which trial."""

    part: str
    number: int
    past: str
    seed: int
    keep: Path | None
    policies: tuple[str, ...] = ()
    adapts: bool = False

    @property
    def key(self) -> tuple[str, int, str, int]:
        """What names its line."""
        return self.part, self.number, self.past, self.seed


def first_fits(house: House, job: Job) -> dict[str, Posterior]:
    """Return the fits of the first morning, from ``--keep`` if they are there."""
    fits = {}
    for kind in ("learned", "true"):
        name = f"{job.past}-{job.seed}-{job.number}-{kind}.pickle"
        path = job.keep / name if job.keep else None
        if path and path.exists():
            fits[kind] = pickle.loads(path.read_bytes())
            continue
        fits[kind] = rounds.fit_house(house, house.records, MORNING, kind, rounds.FIRST_FIT)
        if path:
            path.write_bytes(pickle.dumps(fits[kind]))
    return fits


def run(job: Job) -> dict:
    """Run one world."""
    began = time.perf_counter()
    if job.part == "optimum":
        body = small_optimum.run(job.number, job.seed)
    else:
        house = build_house(job.number, job.past, job.seed)
        fits = first_fits(house, job)
        if job.part == "first doors":
            strategies = policies.all_strategies(job.policies, adapts=job.adapts)
            body = rounds.first_doors(house, fits, strategies=strategies)
        else:
            strategies = policies.all_strategies(job.policies, adapts=job.adapts)
            ours = {each.name: each for each in strategies if each.in_rounds}
            names = [rounds.NOBODY, *ours, rounds.TRUTH]
            body = {"strategies": {name: rounds.rounds(house, name, fits, ours.get(name)) for name in names}}
        body["shape"] = house.shape
        if job.policies:
            body["policies"] = [*job.policies, *(["adapting"] if job.adapts else [])]
    return {
        "part": job.part,
        "number": job.number,
        "past": job.past,
        "seed": job.seed,
        "seconds": round(time.perf_counter() - began, 2),
        **body,
    }


def lines_of(path: Path) -> list[dict]:
    """Read what a run has left so far; a line cut short by a stop is left out."""
    return list(_whole_lines(path)) if path.exists() else []


def _whole_lines(path: Path) -> Iterator[dict]:
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            yield json.loads(line)
        except json.JSONDecodeError:
            continue


def run_all(jobs: Sequence[Job], out: Path, workers: int) -> None:
    """Run the jobs that have no line yet, adding a line as each ends."""
    done = {(r["part"], r["number"], r["past"], r["seed"]) for r in lines_of(out)}
    entered = [*jobs[0].policies, *(["adapting"] if jobs[0].adapts else [])]
    if any(r.get("policies", []) != entered for r in lines_of(out) if r["part"] != "optimum"):
        fix = "name another file, or give the policies of its lines"
        raise SettingsError(Problem("--out", out.name, "its lines were run with other policies", fix))
    waiting = [job for job in jobs if job.key not in done]
    if out.exists() and not out.read_bytes().endswith(b"\n"):
        with out.open("a", encoding="utf-8") as file:
            file.write("\n")
    with ProcessPoolExecutor(workers) as pool:
        running = [pool.submit(run, job) for job in waiting]
        for k, ended in enumerate(as_completed(running), start=1):
            line = ended.result()
            with out.open("a", encoding="utf-8") as file:
                file.write(json.dumps(line) + "\n")
            sys.stderr.write(
                f"{k} of {len(waiting)}: {line['part']}, {line['past']} {line['number']}, "
                f"{line['seconds']:.0f} s\n"
            )


def main(given: Sequence[str] | None = None) -> None:
    """Run what is asked for, and report."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.against_the_ring",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--out", type=Path, required=True, help="file of one JSON line a world")
    parser.add_argument("--buildings", type=int, default=0, help="worlds whose first doors are tried")
    parser.add_argument("--past", choices=sorted(PAST_WEEKS), default="usual")
    parser.add_argument("--closed-loop", type=int, default=0, help="worlds that go through the rounds")
    parser.add_argument("--optimum", type=int, default=0, help="small buildings for the exact optimum")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2, help="processes, one thread each")
    parser.add_argument("--keep", type=Path, help="folder to keep the first fits in, to try strategies again")
    parser.add_argument("--docs", type=Path, help="document to put the tables into, with a chart beside it")
    parser.add_argument("--readme", type=Path, help="document to put the short table into")
    parser.add_argument(
        "--policy",
        action="append",
        default=[],
        help="module:function of a policy of your own, rank(view) -> units, tried beside the others; "
        "may be repeated",
    )
    parser.add_argument("--adapts", action="store_true", help="the policies order anew after each answer")
    asked = parser.parse_args(given)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if asked.keep:
        asked.keep.mkdir(parents=True, exist_ok=True)
    counts = {"first doors": asked.buildings, "rounds": asked.closed_loop, "optimum": asked.optimum}
    jobs = [
        Job(part, number, asked.past, asked.seed, asked.keep, tuple(asked.policy), asked.adapts)
        for part in PARTS
        for number in range(counts[part])
    ]
    try:
        policies.all_strategies(asked.policy)
        if jobs:
            run_all(jobs, asked.out, asked.workers)
    except SpreadError as error:
        parser.exit(2, f"{error}\n")
    lines = lines_of(asked.out)
    sys.stdout.write(report_of.text_of(lines))
    if asked.docs:
        report_of.write_docs(lines, asked.docs)
    if asked.readme:
        report_of.write_short(lines, asked.readme)


if __name__ == "__main__":
    main()

"""A thousand simulated buildings fitted on two workers: time of processor and clock, and the night after.

Run it from the top folder, on a machine that does nothing else; stopped, it goes on where it was::

    python -m proofs.thousand /tmp/thousand --buildings 1000

Buildings have 30 to 200 units and 104 weeks of log. Told are: the whole time of the first night; whether the
cost grows with the number of buildings and no faster; how much two workers gain over one, on a part of the
buildings; and what the night after costs when a twentieth of the logs have a new row.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import json
import shutil
import time
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np

from spread.firm.fitting import Asked, Outcome, program_mark
from spread.firm.night import Workers, run_all
from spread.firm.places import places_at
from spread.firm.simulated import make_building
from spread.posterior.fit import FitSettings
from spread.records.kinds import FIELDS
from spread.weeks import monday_of, week_of

LAST = week_of(dt.date(2026, 11, 22))
"""Week in which the logs end."""
ON = monday_of(LAST) + dt.timedelta(days=6)
WEEKS = 104
MEMORY = 1000
CHANGED = 0.05


def make(folder: Path, number: int, seed: int) -> None:
    """Write the buildings that are not there yet."""
    folder.mkdir(parents=True, exist_ok=True)
    for k in range(number):
        home = folder / f"house-{k + 1:04d}"
        if (home / "records.csv").exists():
            continue
        rng = np.random.default_rng([seed, k])
        floors, doors = int(rng.integers(3, 11)), int(rng.integers(10, 21))
        make_building(home, f"House {k + 1}", rng, floors, doors, WEEKS, LAST)


def night(folder: Path, notes: Path, asked: Asked, workers: int, keys: Sequence[str]) -> None:
    """Fit what is to be fitted; a line of each building and one of the run are added to ``notes``."""
    began = time.monotonic()
    with notes.open("a", encoding="utf-8") as file:

        def tell(one: Outcome) -> None:
            at = time.monotonic() - began
            print(json.dumps(asdict(one) | {"clock": at}), file=file, flush=True)

        run_all(places_at(str(folder)), keys, asked, Workers(workers, MEMORY), tell)
        whole = {"run": True, "clock": time.monotonic() - began, "workers": workers}
        print(json.dumps(whole), file=file, flush=True)


def read(notes: Path) -> tuple[list[dict[str, object]], float, bool]:
    """Return the fitted buildings of a night, its time by the clock, and whether it was done in one go."""
    lines = [json.loads(line) for line in notes.read_text(encoding="utf-8").splitlines()]
    bad = [line["problem"] for line in lines if line.get("state") == "failed"]
    if bad:
        raise SystemExit(f"{len(bad)} buildings failed, the first: {bad[0]}")
    fitted = {line["key"]: line for line in lines if line.get("state") == "fitted"}
    ends = [k for k, line in enumerate(lines) if line.get("run")]
    if not ends:
        raise SystemExit(f"{notes.name}: no run came to its end")
    # A run that was stopped leaves no line of its own: it took what its last building's clock says.
    clock = sum(line["clock"] for k, line in enumerate(lines) if k + 1 == len(lines) or _is_last(lines, k))
    return list(fitted.values()), float(clock), len(ends) == 1 and ends[0] == len(lines) - 1


def _is_last(lines: Sequence[dict[str, float]], k: int) -> bool:
    """Return whether a line is the last of its run: the clock of the next begins anew."""
    return lines[k + 1]["clock"] < lines[k]["clock"]


def told_of_night(name: str, notes: Path) -> tuple[float, float]:
    """Say what a night took; return its time of processor and by the clock."""
    fitted, clock, in_one = read(notes)
    cpu = sum(float(str(one["seconds"])) for one in fitted)
    most = max((int(str(one["megabytes"])) for one in fitted), default=0)
    went = "" if in_one else " (in several goes)"
    print(f"{name}: {len(fitted)} fitted, {cpu:.0f} s of processor, {clock:.0f} s by the clock{went}, "
          f"at most {most} MB a worker", flush=True)  # fmt: skip
    return cpu, clock


def told_of_growth(notes: Path) -> None:
    """Say whether later buildings cost more than earlier ones, and what a unit costs."""
    fitted, _, _ = read(notes)
    cpu, units = (np.array([float(str(one[name])) for one in fitted]) for name in ("seconds", "units"))
    halves = [cpu[part].sum() / units[part].sum() for part in np.array_split(np.arange(len(cpu)), 2)]
    slope = np.polyfit(np.log(units), np.log(cpu), 1)[0] if len(set(units)) > 1 else float("nan")
    print(f"a unit costs {halves[0] * 1000:.1f} ms in the first half of the buildings and "
          f"{halves[1] * 1000:.1f} in the second; a building's cost goes as the {slope:.2f}th power of its "
          f"units; mean {units.mean():.0f} units, {cpu.mean():.2f} s", flush=True)  # fmt: skip


def changed(folder: Path, keys: Sequence[str]) -> None:
    """Add a look that found nothing to some logs, once."""
    for key in keys:
        path = folder / key / "records.csv"
        text = path.read_text(encoding="utf-8")
        if "second-night" in text:
            continue
        unit = (folder / key / "units.csv").read_text(encoding="utf-8").splitlines()[1].split(",")[0]
        row = {"id": "second-night", "when": ON.isoformat(), "unit": unit, "kind": "inspection",
               "method": "thorough-visual", "found": "no", "by": "T1"}  # fmt: skip
        with path.open("a", newline="", encoding="utf-8") as file:
            csv.DictWriter(file, FIELDS).writerow(row)


def main(argv: Sequence[str] | None = None) -> int:
    """Make, fit, fit again and say what it took."""
    parser = argparse.ArgumentParser(prog="python -m proofs.thousand", description=__doc__)
    parser.add_argument("folder", type=Path)
    whole = (("buildings", 1000), ("workers", 2), ("part", 40), ("seed", 1), ("sweeps", 0))
    for name, usual in whole:
        parser.add_argument(f"--{name}", type=int, default=usual)
    args = parser.parse_args(argv)
    firm, notes = args.folder / "firm", args.folder / "first.jsonl"
    settings = FitSettings()
    if args.sweeps:
        settings = FitSettings(sweeps=args.sweeps, most_sweeps=args.sweeps, warmup=min(150, args.sweeps))
    asked = Asked(ON, program_mark(), settings)
    make(firm, args.buildings, args.seed)
    keys = places_at(str(firm)).keys()
    if not (args.folder / "second.jsonl").exists():  # else its rows would be fitted as the first night's
        night(firm, notes, asked, args.workers, keys)
    first = told_of_night("first night", notes)
    told_of_growth(notes)
    _parallel(args, firm, asked, keys[: args.part])
    few = keys[:: round(1 / CHANGED)]
    changed(firm, few)
    second = args.folder / "second.jsonl"
    night(firm, second, asked, args.workers, keys)
    after = told_of_night(f"second night, {len(few)} changed", second)
    print(f"the second night is {after[0] / first[0]:.1%} of the first by processor, "
          f"{after[1] / first[1]:.1%} by the clock")  # fmt: skip
    return 0


def _parallel(args: argparse.Namespace, firm: Path, asked: Asked, keys: Sequence[str]) -> None:
    """Fit copies of a part with one worker and with all, each from nothing, and say what is gained."""
    took = {}
    for workers in (1, args.workers):
        home, notes = args.folder / f"with-{workers}", args.folder / f"with-{workers}.jsonl"
        if not (notes.exists() and '"run"' in notes.read_text(encoding="utf-8")):
            shutil.rmtree(home, ignore_errors=True)
            notes.unlink(missing_ok=True)
            for key in keys:
                left = shutil.ignore_patterns("*.posterior", "*.taught", "*.summary", "*.lock")
                shutil.copytree(firm / key, home / key, ignore=left)
            night(home, notes, asked, workers, keys)
        took[workers] = told_of_night(f"{len(keys)} with {workers}", notes)
    one, many = took[1], took[args.workers]
    print(f"parallel efficiency of {args.workers} workers: {one[1] / (args.workers * many[1]):.2f} by the "
          f"clock; {many[0] / one[0]:.2f} times the processor time of one", flush=True)  # fmt: skip


if __name__ == "__main__":
    raise SystemExit(main())

"""Does the list beat the ring? ``python -m benchmarks.list_against_ring [--seeds 20] [--shipped] [NAME]``.

For every seed a demo building is made afresh; then the first fifteen doors of ``spread doors``
and of the usual ring are held against the hidden truth: how many of them are infested and not
yet known to the firm. The product never sees the truth; this script does.
"""

from __future__ import annotations

import argparse
import csv
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from benchmarks.ring import ring_order
from demo_buildings.life import LAST_DAY
from demo_buildings.make import DEMOS, HERE, make_building
from spread.session import Session

DOORS = 15


def first_doors(folder: Path) -> tuple[int, int, int]:
    """Return infested units not yet known among the first doors: by the list, by the ring, and in all."""
    session = Session.open(folder, on=LAST_DAY)
    view = session.view
    with (folder / "truth.csv").open(encoding="utf-8", newline="") as file:
        infested = {row["unit"] for row in csv.DictReader(file) if row["level"] != "clear"}
    unknown = {unit for unit in infested if view.standings[unit].status == "look"}
    listed = [row.unit for row in session.doors() if row.status == "look"][:DOORS]
    ring = ring_order(view.graph, view.log.current, view.standings, view.on)[:DOORS]
    return len(unknown & set(listed)), len(unknown & set(ring)), len(unknown)


def over_seeds(name: str, seeds: int) -> Iterator[tuple[int, int, int]]:
    """Yield the counts of :func:`first_doors` for seeds 1, 2, ..."""
    for seed in range(1, seeds + 1):
        with tempfile.TemporaryDirectory() as place:
            make_building(name, seed, Path(place))
            yield first_doors(Path(place))


def main(argv: list[str] | None = None) -> None:
    """Print the comparison, with standard errors of the means and of the paired difference."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.list_against_ring", description=main.__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="demo buildings; all if none is given")
    parser.add_argument("--seeds", type=int, default=20, help="how many seeds, from 1")
    parser.add_argument(
        "--shipped", action="store_true", help="only the buildings as they are in the repository"
    )
    args = parser.parse_args(argv)
    print(f"Infested units not yet known among the first {DOORS} doors (list, ring, of all)")
    for name in args.names or DEMOS:
        print(f"{name}, as shipped: {first_doors(HERE / name)}", flush=True)
    if args.shipped:
        return
    everything = []
    for name in args.names or DEMOS:
        counts = np.array(list(over_seeds(name, args.seeds)), dtype=float)
        everything.append(counts)
        print(f"{name}, {_summary(counts)}", flush=True)
    print(f"together, {_summary(np.concatenate(everything))}")


def _summary(counts: np.ndarray) -> str:
    error = counts.std(axis=0, ddof=1) / np.sqrt(len(counts))
    mean = counts.mean(axis=0)
    gain = counts[:, 0] - counts[:, 1]
    return (
        f"{len(counts)} lives: list {mean[0]:.2f} +- {error[0]:.2f}, ring {mean[1]:.2f} +- {error[1]:.2f}, "
        f"of {mean[2]:.2f}; list minus ring {gain.mean():+.2f} +- {gain.std(ddof=1) / np.sqrt(len(gain)):.2f}"
    )


if __name__ == "__main__":
    main()

"""The whole comparison of programmes in two states of the package, in turn: both meet the same machine.

After ``git worktree add /tmp/before COMMIT``, ``python -m benchmarks.programmes_against /tmp/before`` prints
the seconds of one processor for each programme in either tree: the least of three rounds of 1,000 runs x 104
weeks x 225 units. ``DEVELOPERS.md`` has what was measured.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

PROGRAM = """
import json, sys, time
sys.path.insert(0, ".")
from benchmarks.test_programmes_speed import prepared
from spread.programmes.run import RunSettings, run_jobs
runs, weeks = map(int, sys.argv[1:])
jobs, begin, tables = prepared(runs)
run_jobs(jobs, begin, tables, RunSettings(weeks=2, runs=2, workers=1))
took = {}
for job in jobs:
    started = time.process_time()
    run_jobs([job], begin, tables, RunSettings(weeks=weeks, runs=runs, workers=1))
    took[job[0].key] = time.process_time() - started
print(json.dumps(took))
"""


def once(tree: Path, runs: int, weeks: int) -> dict[str, float]:
    """Return the seconds of each programme in the package of a tree."""
    command = [sys.executable, "-c", PROGRAM, str(runs), str(weeks)]
    done = subprocess.run(command, cwd=tree, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def main(before: Path, runs: int = 1000, weeks: int = 104, rounds: int = 3) -> None:
    trees = (before, Path(__file__).parent.parent)
    least: tuple[dict[str, float], ...] = ({}, {})
    for _ in range(rounds):
        for tree, kept in zip(trees, least, strict=True):
            for key, seconds in once(tree, runs, weeks).items():
                kept[key] = min(seconds, kept.get(key, seconds))
    for key, seconds in least[0].items():
        print(f"{key:24s} {seconds:6.2f} s before, {least[1][key]:6.2f} s now")
    print(f"{'all':24s} {sum(least[0].values()):6.2f} s before, {sum(least[1].values()):6.2f} s now")


if __name__ == "__main__":
    main(Path(sys.argv[1]), *map(int, sys.argv[2:]))

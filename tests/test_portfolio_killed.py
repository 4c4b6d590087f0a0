"""The command and the scheduler of a firm's fits, killed at work: the finished stays, the rest is done."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys

import pytest
from small import LIVED_IN, ON, lay_out

from spread.firm.places import POSTERIOR_FILE

KEYS = ("ash", "elm", "fir", "oak", "yew")
SWEEPS = "2000"
"""So many that a building is still in work when the one before it has been told of."""
WAIT = 300
"""Seconds to wait for anything: a busy machine is slow, and no answer depends on how slow."""
START = """
import time
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(n_workers=0, host="127.0.0.1", scheduler_port=0, dashboard_address=None) as cluster:
        print(cluster.scheduler_address, flush=True)
        time.sleep(3600)
"""


def started(*words):
    """Start a program of its own session, so that its own processes alone are ended with it."""
    return subprocess.Popen(
        [sys.executable, *words], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        start_new_session=True,
    )  # fmt: skip


def kill(process):
    """Kill a program without a word, and whatever it started."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(WAIT)
    process.stdout.close()


def command(folder, *more):
    words = ("-m", "spread", "portfolio", "fit", str(folder), "--on", ON.isoformat(), "--sweeps", SWEEPS)
    return started(*words, *more)


def whole(folder):
    """Run the command to its end."""
    running = command(folder, "--workers", "1")
    said = running.stdout.read()
    running.stdout.close()
    assert running.wait(WAIT) == 0
    assert f"{len(KEYS)} buildings: " in said
    assert set(finished(folder)) == set(KEYS)


def finished(folder):
    """Return when each kept posterior was written."""
    paths = {key: folder / key / POSTERIOR_FILE for key in KEYS}
    return {key: path.stat().st_mtime_ns for key, path in paths.items() if path.exists()}


def held(now, before, in_flight):
    """Hold that nothing finished is missing, and no more was done twice than what was in flight."""
    assert set(before) <= set(now)
    assert sum(now[key] != when for key, when in before.items()) <= in_flight


@pytest.mark.slow
def test_a_killed_command_and_a_killed_scheduler_lose_nothing_that_is_finished(tmp_path):
    """The command alone holds its scheduler; then one of its own process with a worker of its own."""
    local, remote, undisturbed = (tmp_path / name for name in ("local", "remote", "undisturbed"))
    for folder in (local, remote, undisturbed):
        for key in KEYS:
            lay_out(folder / key, 2, 3, LIVED_IN, ON)
    whole(undisturbed)

    running = command(local, "--workers", "1")
    try:
        assert ": fitted" in running.stdout.readline()
    finally:
        kill(running)
    before = finished(local)
    assert 0 < len(before) < len(KEYS), "it was killed in the midst of its work"
    whole(local)
    held(finished(local), before, 1)

    scheduler, worker, running = started("-c", START), None, None
    try:
        address = scheduler.stdout.readline().strip()
        words = ("-m", "distributed.cli.dask_worker", address, "--nworkers", "1", "--nthreads", "1")
        worker = started(*words, "--no-dashboard")
        running = command(remote, "--scheduler", address, "--workers", "1")
        assert ": fitted" in running.stdout.readline()
        kill(scheduler)
        assert running.wait(WAIT) == 2, "the command says that its scheduler is gone"
    finally:
        for process in (scheduler, worker, running):
            if process is not None:
                kill(process)
    before = finished(remote)
    assert 0 < len(before) < len(KEYS)
    whole(remote)
    held(finished(remote), before, 1)

    for key in KEYS:
        sure = (undisturbed / key / POSTERIOR_FILE).read_bytes()
        assert (local / key / POSTERIOR_FILE).read_bytes() == sure
        assert (remote / key / POSTERIOR_FILE).read_bytes() == sure

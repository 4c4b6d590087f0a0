"""Workers for many buildings: processes of this machine, or those of a scheduler that runs elsewhere (Dask).

Nothing is carried back but what became of a building: each task has written its posterior when it ends, so
a worker, scheduler or client that goes takes no finished building with it.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from spread.errors import Problem, SettingsError, SpreadError

if TYPE_CHECKING:
    from distributed import Client

    from spread.firm.fitting import Outcome

MEGABYTES = 1000
"""Memory of a local worker; 217 MB were measured on buildings of some 50 units."""
PATIENCE = 20
"""Seconds to wait for a scheduler."""
_QUIET = {
    "distributed.comm.timeouts.connect": f"{PATIENCE}s",
    "distributed.scheduler.allowed-failures": 2,
    # A worker is for the sampler alone: it keeps no results, so nothing is worth spilling to disk.
    "distributed.worker.memory.spill": False,
    "distributed.worker.memory.target": False,
    "distributed.admin.tick.limit": "1h",
}


@contextmanager
def workers(number: int, megabytes: int, scheduler: str) -> Iterator[Client]:
    """Open a client of local workers, or of a scheduler, for the length of the block.

    Parameters
    ----------
    number
        Local processes, one thread each.
    megabytes
        Memory that each of them may have; one that takes more is ended, and its building told of.
    scheduler
        Address of a scheduler as ``tcp://host:8786``; its workers are then used and left running. Empty for
        this machine.

    Raises
    ------
    SettingsError
        Where Dask is not installed, or the scheduler does not answer.
    """
    try:
        import dask  # noqa: PLC0415 - most people have one building
        from distributed import Client, LocalCluster  # noqa: PLC0415
    except ImportError:
        fix = "install it: pip install 'spread[portfolio]'"
        raise SettingsError.at("portfolio", "", "many buildings need the package dask", fix) from None
    for name in ("distributed", "distributed.client", "distributed.nanny", "distributed.worker"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    with dask.config.set(_QUIET):
        if scheduler:
            try:
                client = Client(scheduler, timeout=PATIENCE)
            except (OSError, ValueError, TypeError) as error:
                what = f"the scheduler does not answer ({type(error).__name__})"
                fix = "start one with dask scheduler, or leave --scheduler out"
                raise SettingsError(Problem("--scheduler", scheduler[:60], what, fix)) from None
            with client:
                yield client
            return
        cluster = LocalCluster(
            n_workers=number,
            threads_per_worker=1,
            processes=True,
            memory_limit=f"{megabytes}MB",
            host="127.0.0.1",
            dashboard_address=None,
            silence_logs=logging.CRITICAL,
            env={"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
        )
        with cluster, Client(cluster) as client:
            yield client


def each(
    client: Client,
    run: Callable[..., Outcome],
    keys: Sequence[str],
    lost: Callable[[str, str], Outcome],
    *rest: object,
    before: tuple[object, ...] = (),
) -> Iterator[Outcome]:
    """Run a function for every key on the workers and yield what becomes of each, as they come.

    ``run``: called with ``before``, the key and ``rest``; ``lost``: gives the outcome of a key whose worker
    was ended again and again. Raises SpreadError where the scheduler is lost; what is finished is kept.
    """
    from distributed import as_completed  # noqa: PLC0415

    # pure=False and names of their own: a later run in the same scheduler asks anew.
    run_id = os.urandom(4).hex()
    futures = {
        client.submit(run, *before, key, *rest, key=f"{key}-{run_id}", pure=False): key for key in keys
    }
    try:
        for future in as_completed(list(futures)):
            key = futures[future]
            if future.status == "finished":
                yield future.result()
            elif future.status == "error":
                yield lost(key, _why(future.exception()))
            else:
                fix = "run it again: what is finished is kept"
                raise SpreadError.at("portfolio", "", "the scheduler is gone", fix)
            future.release()
    finally:
        client.cancel(list(futures), force=True)


def _why(error: BaseException | None) -> str:
    if type(error).__name__ == "KilledWorker":
        return "its worker was ended three times, perhaps for want of memory; give more with --memory"
    return f"{type(error).__name__}: {str(error)[:200]}"


def processors() -> int:
    """Return how many processors this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1

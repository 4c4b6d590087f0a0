"""Real databases for tests: a SQLite file, and a PostgreSQL cluster of the test run's own."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import psycopg
import pytest

KINDS = ("sqlite", "postgresql")


def postgresql_tools() -> str:
    """Return the folder of PostgreSQL's programs; empty where it is not installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))  # where Debian keeps them
    at = found[-1] if found else shutil.which("initdb")
    return str(Path(at).parent) if at else ""


class Cluster:
    """A PostgreSQL server on a free port of the loopback address, in a folder of its own."""

    def __init__(self, tools: str, home: Path | None = None) -> None:
        self.tools = tools
        self.folder = Path(tempfile.mkdtemp(prefix="spread-pg-", dir=home))
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.made = 0
        if os.geteuid() == 0:
            shutil.chown(self.folder, "postgres")
        self._run("initdb", "-D", "data", "-A", "trust", "-U", "spread", "--no-sync")
        self.start()

    def _run(self, program: str, *words: str) -> None:
        whole = [f"{self.tools}/{program}", *words]
        if os.geteuid() == 0:  # PostgreSQL refuses to run as root
            whole = ["runuser", "-u", "postgres", "--", *whole]
        subprocess.run(whole, cwd=self.folder, check=True, stdout=subprocess.DEVNULL, timeout=60)

    def start(self) -> None:
        options = f"-h 127.0.0.1 -p {self.port} -k {self.folder}"
        self._run("pg_ctl", "-D", "data", "-l", "log", "-w", "-o", options, "start")
        until = time.monotonic() + 60
        while not self._answers():  # after a kill it repairs itself first
            assert time.monotonic() < until, "the server takes no connection"
            time.sleep(0.1)

    def _answers(self) -> bool:
        with suppress(psycopg.OperationalError):
            psycopg.connect(f"postgresql://spread@127.0.0.1:{self.port}/postgres").close()
            return True
        return False

    def stop(self, mode: str = "fast") -> None:
        self._run("pg_ctl", "-D", "data", "-m", mode, "-w", "stop")

    def kill(self) -> None:
        """Kill the server and all its back ends at once, as a power cut does."""
        pid = self.folder / "data" / "postmaster.pid"
        server = int(pid.read_text().split()[0])
        os.kill(server, signal.SIGSTOP)  # so that it makes no more of them while they are counted
        listed = subprocess.run(["ps", "-eo", "pid,ppid"], capture_output=True, text=True, check=True).stdout
        pairs = [tuple(map(int, line.split())) for line in listed.splitlines()[1:]]
        gone = [server, *(child for child, parent in pairs if parent == server)]
        for process in gone:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        while any(Path(f"/proc/{process}").exists() for process in gone):
            time.sleep(0.02)
        pid.unlink()

    def new(self) -> str:
        """Make an empty database; return its address."""
        self.made += 1
        name = f"office{self.made}"
        place = f"spread@127.0.0.1:{self.port}"
        with psycopg.connect(f"postgresql://{place}/postgres", autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return f"postgresql+psycopg://{place}/{name}"


@contextmanager
def cluster(home: Path | None = None) -> Iterator[Cluster]:
    """A cluster for the length of a test run; skipped, with the reason, where there is no PostgreSQL."""
    tools = postgresql_tools()
    if not tools:
        if os.environ.get("CI"):
            pytest.fail("PostgreSQL is not installed, and CI is set")
        pytest.skip("PostgreSQL is not installed (apt-get install postgresql)")
    made = Cluster(tools, home)
    try:
        yield made
    finally:
        made.stop("immediate")
        shutil.rmtree(made.folder, ignore_errors=True)

"""Nothing acknowledged is lost and nothing is kept twice: writers, servers and databases killed, disks full.

From the top folder::

    python -m proofs.crash --store folder sqlite postgresql --kills 300

Each kind of store holds one small building and goes through the same: 50 writers at once with 20 rows each;
writers killed in the middle of their rows; the real server killed under phones that send every answer until
it is acknowledged, with the id that it had at first; PostgreSQL killed with all its back ends under writers
that try again in the same way; a disk that is full, a store that may not be written, and a system without
locks. An acknowledgement goes through a pipe before the next row begins, so that it is known here when its
process is killed. In the end a fresh reader counts what is kept. Exit code 1 when a row is lost or twice.

The children are forked and not started anew, from a process that has fitted a building already: loading
Python and the compiled sampler 600 times is most of what it would cost. Servers are killed first, while the
log is short, for each that starts reads and fits all of it.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import fcntl
import http.client
import json
import os
import random
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import uuid
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import create_engine, text

from dashboard import create_app
from dashboard.round.addresses import building_key
from dashboard.server import listener
from spread.building import load_building
from spread.errors import SpreadError
from spread.office.buildings import take_in
from spread.office.connecting import open_office
from spread.office.rows import verify
from spread.posterior.fit import FitSettings
from spread.records.journal import Journal, journal_of
from spread.records.kinds import Record
from spread.session import Session
from spread.start import draw_building

ON = dt.date(2026, 11, 20)
UNITS = tuple(f"{floor}{number:02d}" for floor in (1, 2) for number in range(1, 7))
QUICK = FitSettings(chains=2, warmup=20, sweeps=40, most_sweeps=40, workers=1)
KEY = "maple-row"
NOBODY = 65534
STORES = ("folder", "sqlite", "postgresql")


@dataclass
class Place:
    """Where one building is kept, and what was acknowledged of it.

    Parameters
    ----------
    kind
        A word of :data:`STORES`.
    home
        A folder for it alone.
    address
        As commands take it: a folder, or an office and the building's key.
    cluster
        The PostgreSQL server, of ``tests/databases.py``; None for the other kinds.
    """

    kind: str
    home: Path
    address: str = ""
    cluster: object = None
    told: set[str] = field(default_factory=set)
    counts: Counter[str] = field(default_factory=Counter)

    @property
    def url(self) -> str:
        """The address without the building."""
        return self.address.rpartition("#")[0]

    def kept(self) -> list[str]:
        """Return the ids that stand in the store, read past the program, each as often as it stands there."""
        if self.kind == "folder":
            with Path(self.address, "records.csv").open(newline="", encoding="utf-8") as file:
                return [row["id"] for row in csv.DictReader(file)]
        url = self.url if "://" in self.url else f"sqlite:///{self.url}"
        engine = create_engine(url)
        with engine.connect() as connection:
            ids = [str(id_) for (id_,) in connection.execute(text("SELECT id FROM log_row"))]
        engine.dispose()
        return ids

    def faults(self) -> list[str]:
        """Return what a fresh reader finds wrong, in words; empty where nothing is."""
        kept = self.kept()
        lost, twice = self.told - set(kept), len(kept) - len(set(kept))
        self.counts["acknowledged rows lost"], self.counts["rows twice"] = len(lost), twice
        store = load_building(self.address).store
        unread = set(kept) ^ {row.id for row in store.log.rows}
        faults = [f"{len(lost)} acknowledged rows are lost"] if lost else []
        faults += [f"{twice} rows stand there twice"] if twice else []
        faults += [f"{len(unread)} rows are read otherwise than they stand there"] if unread else []
        faults += [f"the guard tells of {store.trouble}"] if store.trouble else []
        if self.kind == "folder":
            journal = Journal(journal_of(Path(self.address, "records.csv")))
            journal.catch_up()
            broken, same = journal.broken, journal.known.keys() == set(kept)
            faults += [] if same else ["the journal knows other rows than the file holds"]
        else:
            engine = open_office(self.url)
            broken = verify(engine, KEY)[1]
            engine.dispose()
        return [*faults, f"the chain is broken at {broken}"] if broken else faults


@contextmanager
def made(kind: str, home: Path) -> Iterator[Place]:
    """A building in a store of a kind, in a folder that is there; PostgreSQL in a cluster of its own."""
    place = Place(kind, home)
    folder = home / KEY
    folder.mkdir()
    (folder / "building.toml").write_text('name = "Maple Row"\nfloors = ["1", "2"]\n', encoding="utf-8")
    units = home / "units.csv"
    units.write_text("unit,floor\n" + "".join(f"{unit},{unit[0]}\n" for unit in UNITS), encoding="utf-8")
    draw_building(units, folder, layout="double-loaded")
    place.address = str(folder)
    with ExitStack() as stack:
        if kind == "postgresql":
            from tests.databases import cluster

            place.cluster = stack.enter_context(cluster(home))
        if kind != "folder":
            url = str(home / "office.db") if kind == "sqlite" else place.cluster.new()
            engine = open_office(url, make=True)
            take_in(engine, folder, KEY, "Maple Row")
            engine.dispose()
            place.address = f"{url}#{KEY}"
        yield place


class Child:
    """A forked process, and a pipe with the lines that it tells."""

    def __init__(self, work: Callable[[Callable[[str], None]], None]) -> None:
        self._read, write = os.pipe()
        self._begun = b""
        sys.stdout.flush()
        self.pid = os.fork()
        if not self.pid:
            code = 1
            try:
                os.close(self._read)
                os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
                work(lambda line: os.write(write, f"{line}\n".encode()) and None)
                code = 0
            finally:
                os._exit(code)
        os.close(write)

    def line(self) -> str:
        """Wait for the next line; empty when the process has ended without one."""
        while b"\n" not in self._begun and (more := os.read(self._read, 65536)):
            self._begun += more
        line, _, self._begun = self._begun.partition(b"\n")
        return line.decode()

    def kill(self) -> None:
        """Kill it as a power cut would."""
        with suppress(ProcessLookupError):
            os.kill(self.pid, signal.SIGKILL)

    def end(self) -> tuple[int, list[str]]:
        """Wait until it has ended; return its exit code and the whole lines that are still unread."""
        while more := os.read(self._read, 65536):
            self._begun += more
        os.close(self._read)
        code = os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])
        return code, self._begun.decode().split("\n")[:-1]


def writer(place: Place, name: str, rows: int, *, again: bool = False, pause: float = 0.0) -> Child:
    """Start a process that adds rows and tells each id when its row is kept.

    With ``again`` it tries a row until it is kept, with the same id, as a phone does. A pause of seconds
    before each row lets others have their turn at a lock that is not fair.
    """

    def work(tell: Callable[[str], None]) -> None:
        store = load_building(place.address).store
        for i in range(rows):
            row = Record(f"{name}-{i}", ON, UNITS[i % len(UNITS)], "report")
            time.sleep(pause)
            while True:
                try:
                    store.append(row)
                    break
                except SpreadError:
                    if not again:
                        raise
                    time.sleep(0.02)
            tell(row.id)

    return Child(work)


def many_at_once(place: Place, writers: int = 50, rows: int = 20) -> None:
    """Let writers work at once to their end: every row is acknowledged and there once."""
    before = len(place.told)
    started = [writer(place, f"once-{i}", rows) for i in range(writers)]
    for code, told in [one.end() for one in started]:
        place.told |= set(told)
        place.counts["failed writers"] += code != 0
    place.counts["rows of writers at once"] += len(place.told) - before


def kill_writers(place: Place, kills: int, chance: random.Random) -> None:
    """Kill writers, three at a time, each after its first row and some time more."""
    for turn in range(0, kills, 3):
        started = [
            writer(place, f"killed-{turn + i}", 5000, pause=0.002) for i in range(min(3, kills - turn))
        ]
        first = {one.line() for one in started} - {""}
        time.sleep(chance.uniform(0, 0.06))
        for one in started:
            one.kill()
        for one in started:
            code, told = one.end()
            first |= set(told)
            place.counts["writers killed"] += code == -signal.SIGKILL
        place.told |= first
        place.counts["rows of killed writers"] += len(first)


def kill_servers(place: Place, kills: int, chance: random.Random, phones: int = 3) -> None:
    """Kill the real server under phones that send an answer until it is acknowledged."""
    _warm()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = _server(place, port)
    key = server.line()
    holding = [_phone(port, key, phone) for phone in range(phones)]
    for _ in range(kills):
        time.sleep(chance.uniform(0.02, 0.25))
        server.kill()
        place.counts["servers killed"] += server.end()[0] == -signal.SIGKILL
        server = _server(place, port)
        server.line()
    time.sleep(0.3)
    for one in (*holding, server):
        one.kill()
    server.end()
    for one in holding:
        told = one.end()[1]
        place.told |= set(told)
        place.counts["answers of phones"] += len(told)


def _warm() -> None:
    """Open a building once in this process: the compiled sampler is loaded then for every child."""
    with tempfile.TemporaryDirectory() as home, made("folder", Path(home)) as place:
        create_app(Session.open(place.address, on=ON, settings=QUICK))


def _server(place: Place, port: int) -> Child:
    def work(tell: Callable[[str], None]) -> None:
        session = Session.open(place.address, on=ON, settings=QUICK)
        app = create_app(session)
        listening = listener(app.server, "127.0.0.1", port)
        with app.server.test_request_context():
            tell(building_key(session))
        listening.run()

    return Child(work)


def _phone(port: int, key: str, number: int) -> Child:
    def work(tell: Callable[[str], None]) -> None:
        for i in range(100_000):
            answer = {"id": str(uuid.uuid4()), "unit": UNITS[(i + number) % len(UNITS)], "answer": "clear"}
            answer["method"] = "brief-visual"
            body = json.dumps({"building": key, "answers": [answer], "want": None})
            while not _sent(port, body):
                time.sleep(0.02)
            tell(str(answer["id"]))

    return Child(work)


def _sent(port: int, body: str) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.request("POST", "/round/answers", body, {"Content-Type": "application/json"})
        reply = connection.getresponse()
        told = json.loads(reply.read())
        return reply.status == 200 and bool(told["replies"][0]["ok"])
    except (OSError, http.client.HTTPException, ValueError):
        return False
    finally:
        connection.close()


def kill_databases(place: Place, kills: int, chance: random.Random, writers: int = 3) -> None:
    """Kill PostgreSQL with all its back ends under writers that try a row until it is kept."""
    started = [writer(place, f"through-{i}", 1_000_000, again=True) for i in range(writers)]
    place.told |= {one.line() for one in started} - {""}
    for _ in range(kills):
        time.sleep(chance.uniform(0.02, 0.3))
        place.cluster.kill()
        place.counts["databases killed"] += 1
        place.cluster.start()
    time.sleep(0.3)
    for one in started:
        one.kill()
    for one in started:
        told = one.end()[1]
        place.told |= set(told)
        place.counts["rows through killed databases"] += len(told)


def refused(place: Place, setting: Callable[[], object], *, opened: bool = False) -> str:
    """Try rows in a process with a setting of its own; return the sentence that one was refused with.

    The setting comes before the store is opened, or after.
    ``kept`` if it was kept, and the name of the error where it is no sentence.
    """

    def work(tell: Callable[[str], None]) -> None:
        try:
            if not opened:
                setting()
            store = load_building(place.address).store
            if opened:
                setting()
            for i in range(5000):
                store.append(Record(f"hard-{os.getpid()}-{i}", ON, UNITS[0], "report"))
                tell(f"kept hard-{os.getpid()}-{i}")
        except SpreadError as error:
            tell(f"refused {error}".replace("\n", " "))
        except Exception as error:
            tell(f"failed {type(error).__name__}: {error}".replace("\n", " "))

    lines = Child(work).end()[1]
    place.told |= {line.removeprefix("kept ") for line in lines if line.startswith("kept ")}
    return next((line for line in lines if not line.startswith("kept ")), "kept")


def hard_times(place: Place) -> dict[str, str]:
    """Return what came of a row where the store cannot be written, by what was the matter."""
    if place.kind == "postgresql":
        name = place.url.rpartition("/")[2]
        with _plain(place) as connection:
            connection.execute(text(f"ALTER DATABASE {name} SET default_transaction_read_only = on"))
        told = {"read-only": refused(place, lambda: None)}
        with _plain(place) as connection:
            connection.execute(text("SET default_transaction_read_only = off"))
            connection.execute(text(f"ALTER DATABASE {name} RESET default_transaction_read_only"))
        return told
    told = {"no more room": refused(place, lambda: _no_more_room(place))}
    folder = Path(place.address) if place.kind == "folder" else place.home
    if os.geteuid() == 0:
        for one in (place.home, folder):
            one.chmod(0o755)
        told["read-only"] = refused(place, lambda: _somebody_else(place))
    if place.kind == "folder":
        told["no locks"] = refused(place, _no_locks)
    return told


def _somebody_else(place: Place) -> None:
    home = place.home / "nobody"
    home.mkdir()
    os.chown(home, NOBODY, NOBODY)
    tempfile.tempdir = str(home)
    os.setuid(NOBODY)


def _plain(place: Place):
    return create_engine(place.url, isolation_level="AUTOCOMMIT").connect()


def _no_more_room(place: Place) -> None:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    if place.kind == "sqlite":  # what killed writers left in its second file would be room
        with create_engine(f"sqlite:///{place.url}").connect() as connection:
            connection.execute(text("PRAGMA wal_checkpoint(TRUNCATE)"))
    files = [*Path(place.address).glob("records.csv*")] if place.kind == "folder" else []
    files += place.home.glob("office.db*")
    most = max(file.stat().st_size for file in files) + 2000
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


def _no_locks() -> None:
    def refuse(*_args: object) -> None:
        raise OSError(37, "No locks available")

    fcntl.flock = refuse


@contextmanager
def a_home(megabytes: int = 0) -> Iterator[Path]:
    """A folder for everything, also for what killed children leave behind.

    With megabytes it is a disk of its own that is full soon, which needs the right to mount one.
    """
    home = Path(tempfile.mkdtemp(prefix="spread-crash-"))
    try:
        if megabytes:
            subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", home], check=True)
        home.chmod(0o755)  # PostgreSQL, and whoever may not write, are other users
        tempfile.tempdir = str(home)
        yield home
    finally:
        tempfile.tempdir = None
        if megabytes:
            subprocess.run(["umount", "-l", home], check=True)
        shutil.rmtree(home, ignore_errors=True)


def full_disk(place: Place) -> str:
    """Fill the disk to its last byte under a writer; make room, write again. Return the refusal."""
    ballast = place.home / "ballast"

    def fill() -> None:
        with ballast.open("wb", buffering=0) as file, suppress(OSError):
            while file.write(bytes(4096)):
                pass

    told = refused(place, fill, opened=True)
    ballast.unlink()
    after = writer(place, "after", 3).end()
    place.told |= set(after[1])
    if after[0]:
        told += "; and no row could be written when there was room again"
    return told


def proof(place: Place, args: argparse.Namespace) -> list[str]:
    """Run everything on one place; return what is wrong, in words."""
    chance = random.Random(args.seed)
    began = time.monotonic()
    wrong: list[str] = []

    def through(what: str, part: Callable[[], None]) -> None:
        start = time.monotonic()
        part()
        wrong.extend(place.faults())
        print(f"  {what}: {time.monotonic() - start:.0f} s; {_counted(place)}", flush=True)

    if servers := args.kills if args.servers is None else args.servers:
        through("servers killed", lambda: kill_servers(place, servers, chance))
    through("writers at once", lambda: many_at_once(place, args.at_once, args.rows))
    if missing := args.at_once * args.rows - place.counts["rows of writers at once"]:
        wrong.append(f"{missing} rows of writers at once were not taken")
    if place.cluster is not None:
        through("databases killed", lambda: kill_databases(place, args.kills, chance))
    through("writers killed", lambda: kill_writers(place, args.kills, chance))
    for what, told in hard_times(place).items():
        print(f"  {what}: {told[:160]}")
        wrong += [] if told.startswith("refused") else [f"{what}: {told}"]
    wrong += place.faults()
    print(f"  {_counted(place)}")
    print(f"  {time.monotonic() - began:.0f} s; {'; '.join(wrong) or 'none lost, none twice, chain whole'}")
    return wrong


def _counted(place: Place) -> str:
    counts = ", ".join(f"{number:,} {what}" for what, number in place.counts.items())
    return f"{counts}; {len(place.told):,} rows acknowledged, {len(place.kept()):,} kept"


def main() -> int:
    """Run the proof for the stores that are asked for."""
    parser = argparse.ArgumentParser(prog="python -m proofs.crash", description=__doc__.split("\n")[0])
    parser.add_argument("--store", nargs="+", choices=STORES, default=STORES)
    parser.add_argument("--kills", type=int, default=300, help="of writers, servers and databases each")
    parser.add_argument("--servers", type=int, help="kills of the server, if not as many")
    parser.add_argument("--at-once", type=int, default=50, help="writers at one time")
    parser.add_argument("--rows", type=int, default=20, help="rows of each of them")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-mount", action="store_true", help="leave the full disk out, which needs root")
    args = parser.parse_args()
    wrong = []
    for kind in args.store:
        print(kind, flush=True)
        with a_home() as home, made(kind, home) as place:
            wrong += proof(place, args)
        if not args.no_mount:
            with a_home(160 if kind == "postgresql" else 2) as disk, made(kind, disk) as place:
                told = full_disk(place)
                found = place.faults() + ([] if told.startswith("refused") else [told])
            print(f"  full disk: {told[:160]}; {'; '.join(found) or 'none lost, none twice'}", flush=True)
            wrong += found
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main())

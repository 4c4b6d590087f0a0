"""A building's files changed by chance: every command answers in sentences, and leaves what it reads."""

from __future__ import annotations

import contextlib
import datetime as dt
import functools
import io
import random
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from proofs.fuzz.mutating import of_file
from spread import cli
from spread.building import load_building
from spread.plan.spreadsheet import write_workbook
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.journal import journal_of
from spread.records.kinds import Record
from spread.report.exchange.tables import records_xlsx
from spread.start import draw_building

ON = dt.date(2026, 11, 20)
PARSER = "_parser"
LONGEST = 60
"""Seconds for one file; the worker of workbooks itself takes twenty at most."""
UNITS = "unit,floor,stack,side,order,area_m2,layout\n" + "".join(
    f"{floor}0{n},{floor},0{n},{'ab'[n % 2]},{n},{50 + n},1BR\n" for floor in (1, 2) for n in (1, 2, 3, 4)
)
SETTINGS = """name = "Maple Row"
floors = ["1", "2"]
[plan]
storey_height_m = 2.8
[model]
prevalence = 0.05
history_weeks = 60
seed = 3
[doors]
method = "brief-visual"
ring = "LRUD"
top = 5
[minutes]
knock = 3.0
[clearance]
periods = 2
[[links]]
a = "101"
b = "203"
why = "shares a sofa with"
[[access]]
unit = "102"
from = "09:00"
to = "12:00"
days = ["mon", "thu"]
[[beds]]
unit = "104"
against = "102"
"""
PRICES = 'currency = "EUR"\n[hour]\ntechnician = 50\n'


@dataclass
class Met:
    """What a run has met: how many cases of which outcome, and what must not happen."""

    outcomes: Counter[str] = field(default_factory=Counter)
    bad: list[str] = field(default_factory=list)
    slowest: float = 0.0

    def note(self, outcome: str, seconds: float) -> None:
        """Count a case."""
        self.outcomes[outcome] += 1
        self.slowest = max(self.slowest, seconds)


def make_folder(home: Path) -> Path:
    """Make a small building with a drawing, a list as text and as a workbook, a log, and exports of it."""
    folder = home / "maple-row"
    folder.mkdir(parents=True)
    (folder / "building.toml").write_text(SETTINGS)
    (folder / "units.csv").write_text(UNITS)
    draw_building(folder / "units.csv", folder, layout="double-loaded")
    rows = [
        Record(
            f"r{n:03d}", ON - dt.timedelta(days=3 * n), f"{1 + n % 2}0{1 + n % 4}", kind, method, found,
            level, by="T1", note="behind the sofa" if n % 3 else "", days=days,
        )
        for n in range(24)
        for kind, method, found, level, days in [
            [("inspection", "brief-visual", "no", "", None),
             ("inspection", "thorough-visual", "yes", "low", None),
             ("monitor", "interceptors", "no", "", 14), ("treatment", "combined", "", "", None),
             ("no-access", "nobody-home", "", "", None), ("report", "", "yes", "", None)][n % 6]
        ]
    ]  # fmt: skip
    (folder / "records.csv").write_text(HEADER + "".join(to_line(to_fields(row)) for row in rows))
    lines = [line.split(",") for line in UNITS.splitlines()]
    (home / "list.xlsx").write_bytes(write_workbook([("units", lines)]))
    (home / "list.csv").write_text(UNITS)
    log = load_building(folder).log
    (home / "more.xlsx").write_bytes(records_xlsx(log))
    (home / "more.csv").write_bytes((folder / "records.csv").read_bytes().replace(b"\nr0", b"\nn0"))
    (folder / "firm.toml").write_text('name = "Firm"\nphone = "0"\n')
    shutil.copy(Path(cli.__file__).parent / "trade" / "room.toml", folder / "room.toml")
    return folder


RECORD = ("record", "{b}", "--unit", "101", "--kind", "report")
CASES: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...] = (
    (
        "{b}/records.csv",
        (("check", "{b}"), ("guard", "{b}"), RECORD),
    ),
    ("{b}/records.csv.known", (("check", "{b}"), ("guard", "{b}", "--put-back"))),
    ("{b}/plan.geojson", (("check", "{b}"),)),
    ("{b}/building.toml", (("check", "{b}"),)),
    ("{b}/room.toml", (("room", "{b}", "101", "--on", "2026-11-20"),)),
    ("{t}/list.csv", (("draw", "{t}/list.csv", "-o", "{t}/new"),)),
    ("{t}/list.xlsx", (("draw", "{t}/list.xlsx", "-o", "{t}/new"),)),
    ("{t}/more.csv", (("import", "{b}", "{t}/more.csv"),)),
    ("{t}/more.xlsx", (("import", "{b}", "{t}/more.xlsx"),)),
)
WEIGHTS = (6, 1, 5, 5, 1, 3, 1, 3, 1)
READING = ("check", "room", "draw", "import")
FITTING = ("room",)
"""Commands that fit the log, for a second each: only every so many of their cases."""


def run(count: int, seed: int, tell: Callable[[str], None] = lambda _: None) -> Met:
    """Change so many files, one a case, and run what reads them."""
    met = Met()
    made = getattr(cli, PARSER)
    setattr(cli, PARSER, functools.cache(made))  # it takes longer to make than most commands do
    home = Path(tempfile.mkdtemp(prefix="spread-fuzz-"))
    try:
        pristine = make_folder(home / "pristine")
        for number in range(count):
            rng = random.Random(f"{seed} file {number}")
            case(number, rng, pristine.parent, home / "case", met)
            if number % 500 == 499:
                tell(f"{number + 1} files, {len(met.bad)} bad, slowest {met.slowest:.1f} s")
    finally:
        setattr(cli, PARSER, made)
        shutil.rmtree(home, ignore_errors=True)
    return met


def case(number: int, rng: random.Random, pristine: Path, at: Path, met: Met) -> None:
    """Run one case in a folder of its own."""
    shutil.copytree(pristine, at)
    try:
        building = at / "maple-row"
        file, commands = rng.choices(CASES, WEIGHTS)[0]
        if commands[0][0] in FITTING and rng.random() < 0.9:
            file, commands = CASES[0]
        path = Path(file.format(b=building, t=at))
        if path.name.endswith(".known"):
            load_building(building)  # the guard's journal is there once the log was read
        data = of_file(path.name.removesuffix(".known"), path.read_bytes(), rng)
        path.write_bytes(data)
        if path.name == "records.csv" and rng.random() < 0.5:
            journal_of(path).unlink()  # nothing is known of the log: it has to speak for itself
        for command in commands:
            words = [part.format(b=building, t=at) for part in command]
            outcome, seconds = command_outcome(words)
            met.note(f"{command[0]} {path.name}: {outcome.splitlines()[0]}", seconds)
            if outcome not in ("done", "refused"):
                met.bad.append(f"file {number}, {' '.join(command)}, {path.name}: {outcome}")
            if command[0] in READING and not path.name.endswith(".known") and path.read_bytes() != data:
                met.bad.append(f"file {number}, {' '.join(command)}: {path.name} was changed")
    finally:
        shutil.rmtree(at)


def command_outcome(words: list[str]) -> tuple[str, float]:
    """Run a command in this process; return how it ended, and its seconds."""
    began = time.monotonic()
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            with no_longer_than(LONGEST):
                code = cli.main(words)
        except TimeoutError:
            return f"more than {LONGEST} s", time.monotonic() - began
        except SystemExit as stop:
            code = int(stop.code or 0)
        except Exception:
            return "a traceback: " + traceback.format_exc(), time.monotonic() - began
    seconds = time.monotonic() - began
    said = out.getvalue() + err.getvalue()
    if any(char < " " and char not in "\n\t" for char in said) or "\u202e" in said:
        return f"printed a control character: {said[:300]!r}", seconds
    if code == 2 and not err.getvalue().strip():
        return "refused without a word", seconds
    return {0: "done", 2: "refused"}.get(code, f"exit code {code}"), seconds


@contextlib.contextmanager
def no_longer_than(seconds: int) -> Iterator[None]:
    """Raise TimeoutError in the block when it takes longer, where the system has alarms."""
    if not hasattr(signal, "SIGALRM"):
        yield
        return

    def late(*_: object) -> None:
        raise TimeoutError

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


if __name__ == "__main__":
    found = run(int(sys.argv[1]), int(sys.argv[2]), print)
    print("\n".join(found.bad))

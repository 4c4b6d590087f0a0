"""The command portfolio: a firm's buildings fitted together, and what they teach one another."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from spread.commands.common import Adder, day, print_json, whole

if TYPE_CHECKING:
    from spread.firm.fitting import Asked, Outcome
    from spread.firm.night import Workers
    from spread.firm.places import Places

IN_PART = 1
"""Exit code where a building failed and the others are done."""
BOUNDS = {
    "workers": (1, 512),
    "memory": (300, 1_000_000),
    "oldest": (1, 3650),
    "sweeps": (10, 100_000),
    "rounds": (1, 20),
}


def add(command: Adder) -> None:
    """Add the command."""
    words = "a firm's buildings together: fit them on many processors, pool what they teach, tonight's doors"
    portfolio = command("portfolio", _choose, words)
    steps = portfolio.add_subparsers(required=True, metavar="STEP")

    def step(
        name: str, run: Callable[[argparse.Namespace], int | None], words: str
    ) -> argparse.ArgumentParser:
        sub = steps.add_parser(name, help=words, description=words)
        sub.set_defaults(step=run)
        sub.add_argument("where", help="a folder of buildings' folders, or an office: its file or URL")
        sub.add_argument("--on", type=day, help="the day to answer for, as 2026-11-25; today if left out")
        sub.add_argument("--json", action="store_true", help="print JSON")
        return sub

    fit = step("fit", _fit, "fit every building of which something changed; a line a building")
    _work_options(fit)
    fit.add_argument(
        "--pool",
        action="store_true",
        help="then let the buildings teach one another, and fit anew where that moved their beliefs",
    )
    fit.add_argument(
        "--rounds", type=whole, default=3, help="rounds of fitting and pooling at most; 3 if left out"
    )
    pooling = step(
        "pool", _pool, "let the buildings that are fitted teach one another, and say what they taught"
    )
    pooling.add_argument("--dry-run", action="store_true", help="say it and keep nothing")
    step("status", _status, "say of which buildings a fit is kept, of when, and which are to be fitted")


def _work_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--workers", type=whole, help="local processes; as many as processors if left out")
    sub.add_argument(
        "--memory", type=whole, default=1000, help="megabytes of each local worker at most; 1000 if left out"
    )
    sub.add_argument("--scheduler", default="", help="a Dask scheduler's address, as tcp://host:8786")
    sub.add_argument(
        "--only", action="append", default=[], metavar="KEY", help="one building alone; may be repeated"
    )
    sub.add_argument("--again", action="store_true", help="fit unchanged buildings too")
    sub.add_argument("--oldest", type=whole, default=28, help="days after which an unchanged one is fitted")
    sub.add_argument("--sweeps", type=whole, help="kept sweeps of a chain; the usual number if left out")


def _choose(args: argparse.Namespace) -> int | None:
    _within(args)
    result: int | None = args.step(args)
    return result


def _within(args: argparse.Namespace) -> None:
    from spread.errors import Problem, SettingsError  # noqa: PLC0415

    problems = [
        Problem(f"--{name}", "", f"it is {value}, expected {least} to {most}", "write a number within them")
        for name, (least, most) in BOUNDS.items()
        if (value := getattr(args, name, None)) is not None and not least <= value <= most
    ]
    if problems:
        raise SettingsError(problems)


def _asked(args: argparse.Namespace) -> Asked:
    from dataclasses import replace  # noqa: PLC0415

    from spread.firm.fitting import Asked, program_mark  # noqa: PLC0415
    from spread.posterior.fit import FitSettings  # noqa: PLC0415

    asked = Asked(args.on or dt.date.today(), program_mark())
    if not hasattr(args, "sweeps"):  # a step that fits nothing takes what is kept
        return replace(asked, settings=None)
    usual = FitSettings()
    if args.sweeps is not None:
        usual = replace(
            usual, sweeps=args.sweeps, most_sweeps=args.sweeps, warmup=min(usual.warmup, args.sweeps)
        )
    return replace(asked, settings=usual, again=args.again, oldest=args.oldest)


def _places(args: argparse.Namespace) -> Places:
    from spread.firm.places import places_at  # noqa: PLC0415

    return places_at(args.where)


def _crew(args: argparse.Namespace) -> Workers:
    from spread.firm.cluster import processors  # noqa: PLC0415
    from spread.firm.night import Workers  # noqa: PLC0415

    return Workers(args.workers or processors(), args.memory, args.scheduler)


def _wanted(places: Places, only: list[str]) -> tuple[str, ...]:
    from spread.errors import SettingsError  # noqa: PLC0415

    keys = places.keys()
    for key in only:
        if key not in keys:
            what = f"there is no building {key[:64]!r}"
            raise SettingsError.at(places.name, "", what, f"it has {', '.join(keys[:20])}")
    return tuple(key for key in keys if key in only) if only else keys


def _fit(args: argparse.Namespace) -> int:
    from dataclasses import replace  # noqa: PLC0415

    from spread.firm.night import learn  # noqa: PLC0415
    from spread.report.portfolio import pooled_line, run_data  # noqa: PLC0415

    places, asked, crew = _places(args), _asked(args), _crew(args)
    keys = _wanted(places, args.only)
    done, told = run_told(places, keys, asked, crew, quiet=args.json), None
    for number in range(1, args.rounds + 1) if args.pool else ():
        lesson = learn(places, asked.on)
        told = lesson.told
        if not args.json:
            print(pooled_line(told, moved=lesson.moved), flush=True)
        if not lesson.moved or number == args.rounds:
            break
        done = run_told(places, keys, replace(asked, again=False), crew, quiet=args.json)
    if args.json:
        print_json(run_data(done, len(keys)) | ({"pooled": told} if told else {}))
    return IN_PART if any(one.state == "failed" for one in done) else 0


def _pool(args: argparse.Namespace) -> None:
    from spread.firm.night import learn  # noqa: PLC0415
    from spread.report.portfolio import pooled_text  # noqa: PLC0415

    lesson = learn(_places(args), args.on or dt.date.today(), keep=not args.dry_run)
    if args.json:
        print_json(lesson.told | {"moved": lesson.moved})
    else:
        print(pooled_text(lesson.told, moved=lesson.moved))


def run_told(
    places: Places, keys: tuple[str, ...], asked: Asked, crew: Workers, *, quiet: bool
) -> tuple[Outcome, ...]:
    """Fit buildings, with a line of each on standard output and a bar with the time left on a terminal.

    ``quiet``: no lines. What is finished when somebody stops it is kept, and said.
    """
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import (  # noqa: PLC0415
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    from spread.firm.night import run_all  # noqa: PLC0415
    from spread.report.portfolio import outcome_line, run_line  # noqa: PLC0415

    columns = (
        TextColumn("Buildings"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(), TextColumn("left"),
        TimeRemainingColumn(),
    )  # fmt: skip
    began = time.monotonic()
    so_far: list[Outcome] = []
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("", total=len(keys))

        def tell(one: Outcome) -> None:
            so_far.append(one)
            bar.advance(task)
            if not quiet:
                print(outcome_line(one, dt.datetime.now()), flush=True)

        try:
            run_all(places, keys, asked, crew, tell)
        finally:
            line = run_line(so_far, len(keys), crew, time.monotonic() - began)
            print(line, file=sys.stderr if quiet else sys.stdout, flush=True)
    for one in so_far:
        if one.state == "failed":
            named = one.problem.startswith(f"{one.key}:")
            print(one.problem if named else f"{one.key}: {one.problem}", file=sys.stderr)
    return tuple(so_far)


def _status(args: argparse.Namespace) -> None:
    from spread.firm.night import states_of  # noqa: PLC0415
    from spread.report.portfolio import states_data, states_text  # noqa: PLC0415

    states = states_of(_places(args), _asked(args))
    if args.json:
        print_json(states_data(states))
    else:
        print(states_text(states))

"""The command portfolio: a firm's buildings fitted together, and what they teach one another.

Here are its words; what each step does is in :mod:`spread.commands.portfolio_steps`, which is loaded when one
is taken.
"""

from __future__ import annotations

import argparse

from spread.commands.common import Adder, day, number, whole

BOUNDS: dict[str, tuple[float, float]] = {
    "workers": (1, 512),
    "memory": (300, 1_000_000),
    "oldest": (1, 3650),
    "sweeps": (10, 100_000),
    "top": (1, 1000),
    "buildings": (5, 5000),
    "hours": (0.5, 1000),
    "travel": (0, 600),
}


def add(command: Adder) -> None:
    """Add the command."""
    words = "a firm's buildings together: fit them on many processors, pool what they teach, tonight's doors"
    portfolio = command("portfolio", _choose, words)
    steps = portfolio.add_subparsers(required=True, metavar="STEP", dest="step")

    def step(name: str, words: str) -> argparse.ArgumentParser:
        sub = steps.add_parser(name, help=words, description=words)
        sub.add_argument("where", help="a folder of buildings' folders, or an office: its file or URL")
        sub.add_argument("--on", type=day, help="the day to answer for, as 2026-11-25; today if left out")
        sub.add_argument("--json", action="store_true", help="print JSON")
        return sub

    fit = step("fit", "fit every building of which something changed; a line a building")
    fit.add_argument(
        "--pool",
        action="store_true",
        help="then let the buildings teach one another, and fit anew where that moved their beliefs",
    )
    fit.add_argument(
        "--only", action="append", default=[], metavar="KEY", help="one building alone; may be repeated"
    )
    step("status", "say of which buildings a fit is kept, of when, and which are to be fitted")
    pool = step("pool", "let the buildings that are fitted teach one another, and say what they taught")
    pool.add_argument("--dry-run", action="store_true", help="say it and change no belief")
    words = "say what is pooled about work codes, and turn that on or off: off unless the firm turns it on"
    persons = step("persons", words).add_mutually_exclusive_group()
    persons.add_argument(
        "--pool",
        dest="choice",
        action="store_true",
        default=None,
        help="pool work codes from the next pool on",
    )
    persons.add_argument(
        "--forget", dest="choice", action="store_false", default=None,
        help="pool them no more, and delete what is kept about them",
    )  # fmt: skip
    doors = step("doors", "the first doors of all buildings, and why, from what is kept")
    doors.add_argument("--top", type=whole, default=10, help="how many doors; 10 if left out")
    report = step("report", "what the office sees, as a page of figures and files for other programs")
    report.add_argument("-o", "--output", required=True, help="folder to write to")
    demo = step("demo", "make simulated buildings, fit and pool them, and open the page of first doors")
    demo.add_argument("--buildings", type=whole, default=50, help="how many; 50 if left out")
    demo.add_argument("--seed", type=whole, default=1, help="another seed is another firm")
    demo.add_argument("--no-open", action="store_true", help="write the page and do not open it")
    for sub in (fit, demo):
        _work_options(sub)
    for sub in (doors, report, demo):
        sub.add_argument("--hours", type=number, default=7.0, help="hours of a day, of all people (7)")
        sub.add_argument("--travel", type=number, default=30.0, help="minutes to the next building (30)")


def _work_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--workers", type=whole, help="local processes; as many as processors if left out")
    sub.add_argument(
        "--memory", type=whole, default=1000, help="megabytes of each local worker at most; 1000 if left out"
    )
    sub.add_argument("--scheduler", default="", help="a Dask scheduler's address, as tcp://host:8786")
    sub.add_argument("--again", action="store_true", help="fit unchanged buildings too")
    sub.add_argument("--oldest", type=whole, default=28, help="days after which an unchanged one is fitted")
    sub.add_argument("--sweeps", type=whole, help="kept sweeps of a chain; the usual number if left out")


def _choose(args: argparse.Namespace) -> int | None:
    from spread.commands import portfolio_steps  # noqa: PLC0415 - loads the sampler
    from spread.errors import Problem, SettingsError  # noqa: PLC0415

    problems = [
        Problem(
            f"--{name}", "", f"it is {value:g}, expected {least:g} to {most:g}", "write a number within them"
        )
        for name, (least, most) in BOUNDS.items()
        if (value := getattr(args, name, None)) is not None and not least <= value <= most
    ]
    if problems:
        raise SettingsError(problems)
    result: int | None = portfolio_steps.STEPS[args.step](args)
    return result

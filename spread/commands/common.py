"""What the commands share: types of options, opening a building, printing."""

from __future__ import annotations

import argparse
import datetime as dt
import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spread.records.sense import EARLIEST, LATEST
from spread.words import ENGLISH, LANGUAGES, MEASURES, Voice

if TYPE_CHECKING:
    from spread.building import Building
    from spread.session import Session
    from spread.trade.rule_set import RuleSet

Adder = Callable[[str, Callable[[argparse.Namespace], int | None], str], argparse.ArgumentParser]
"""Adds a command: its name, what it runs (its exit code; None is 0), what it does in words."""

MOST_DIGITS = 9
PAGES: dict[str, str] = {}
"""Pages of figures by file, as ``module:function``: the screens add theirs, and nothing here loads them."""


def fit_options(parser: argparse.ArgumentParser, *, json_too: bool = True) -> None:
    """Add the options of every command that fits the log."""
    parser.add_argument("--on", type=day, help="the day to answer for, as 2026-11-25; today if left out")
    parser.add_argument("--seed", type=whole, help="seed of the sampler; the same seed gives the same answer")
    if json_too:
        parser.add_argument("--json", action="store_true", help="print JSON")


def add_language(parser: argparse.ArgumentParser) -> None:
    """Add the option that says in which language to print, for a command that tells no lengths."""
    parser.add_argument(
        "--language", choices=LANGUAGES, default="en", help="language of the text; en if left out"
    )
    parser.set_defaults(measures="metres")


def add_voice(parser: argparse.ArgumentParser) -> None:
    """Add the options that say in which language and measure to print."""
    add_language(parser)
    parser.add_argument(
        "--measures", choices=MEASURES, default="metres", help="how lengths are said; metres if left out"
    )


def voice_of(args: argparse.Namespace) -> Voice:
    """Return the voice that :func:`add_voice`'s options ask for; JSON and CSV stay in English and metres."""
    if getattr(args, "json", False) or getattr(args, "csv", False):
        return Voice()
    return page_voice(args)


def caution(voice: Voice = ENGLISH) -> str:
    """Return the caution of the trade that stands under what is printed."""
    return voice.text(
        "Decision support, not a guarantee: local codes, pesticide labels and licensed practice come first, "
        "and a low chance clears no unit."
    )


def page_voice(args: argparse.Namespace) -> Voice:
    """Return the voice that was asked for, for pages that are written whatever else is printed."""
    return Voice(args.language, args.measures)


def day(text: str) -> dt.date:
    """Read a day of the command line."""
    try:
        read = dt.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a day, expected one such as 2026-11-25") from None
    if not EARLIEST <= read <= LATEST:
        raise argparse.ArgumentTypeError(
            f"{text} is too far away, expected a day from {EARLIEST.year} to {LATEST.year}"
        )
    return read


def whole(text: str) -> int:
    """Read a whole number of 0 or more."""
    if not text.isascii() or not text.isdigit() or len(text) > MOST_DIGITS:
        raise argparse.ArgumentTypeError(
            f"{text[:40]!r} is not a whole number of 0 or more and at most {MOST_DIGITS} digits"
        )
    return int(text)


def number(text: str) -> float:
    """Read a number."""
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is not a number") from None


def clock(text: str) -> int:
    """Read a time of day as minutes after midnight."""
    from spread.plan.access import minute_of  # noqa: PLC0415

    minute = minute_of(text)
    if minute is None:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no time of day, expected one such as 09:30")
    return minute


def hours(text: str) -> tuple[int, int]:
    """Read hours of a visit as two minutes after midnight."""
    from spread.report.notices import read_window  # noqa: PLC0415

    window = read_window(text)
    if window is None:
        raise argparse.ArgumentTypeError(
            f"{text[:40]!r} is no window of time, expected one such as 09:00-12:00"
        )
    return window


def open_building(args: argparse.Namespace) -> Building:
    """Read the building named on the command line; say on stderr what its log has lost, if anything."""
    from spread.building import load_building  # noqa: PLC0415

    building = load_building(args.building)
    warn_of(building, args.building)
    return building


def warn_of(building: Building, named: str) -> None:
    """Say on stderr what the file of a log has lost, and the two ways out."""
    from spread.words.guard import trouble_sentences  # noqa: PLC0415
    from spread.words.voice import ENGLISH  # noqa: PLC0415

    if building.store.trouble is not None:
        print("\n".join(trouble_sentences(building.store.trouble, ENGLISH, named)), file=sys.stderr)


def open_session(args: argparse.Namespace, tell: Callable[[str], None] | None = None) -> Session:
    """Open the building named on the command line, with a progress bar if it takes long.

    ``tell``: takes a line for each thing that is being done, with the time it took; none are made if None.
    """
    import spread.posterior  # noqa: PLC0415
    from spread.building import load_building  # noqa: PLC0415
    from spread.compiled import is_kept  # noqa: PLC0415
    from spread.session import Session  # noqa: PLC0415 - loads the compiled model only when it is needed

    began = time.monotonic()
    building = load_building(args.building)
    first = not is_kept(Path(spread.posterior.__file__).parent)
    if tell is not None:
        rows, units, took = len(building.log.rows), len(building.plan.units), time.monotonic() - began
        tell(f"Read {units} units and {rows} rows in {took:.1f} s. Fitting the log now.")
        if first:
            tell("The sampler is compiled first: once, up to a minute.")
    words = "Compiling the sampler (once, up to a minute), then fitting the log"
    with ProgressBar(words, at_once=True, tell=tell) if first else ProgressBar(tell=tell) as progress:
        session = Session.of(building, on=args.on, seed=args.seed, progress=progress)
    if tell is not None:
        tell(f"Fitted; {time.monotonic() - began:.0f} s in all.")
    warn_of(session.building, args.building)
    return session


class ProgressBar:
    """A bar on the terminal that appears after a second of work; in a pipe a line now and then, if asked for.

    Entering it gives the function to call with the share that is done, from 0 to 1.

    ``words``: what stands before the bar; ``at_once``: whether it stands there from the beginning, where
    nothing can be reported for long. ``tell``: takes the line of a pipe, every :attr:`EVERY` seconds.
    """

    EVERY = 5.0

    def __init__(
        self,
        words: str = "Fitting the log",
        *,
        at_once: bool = False,
        tell: Callable[[str], None] | None = None,
    ) -> None:
        self._words, self._at_once, self._tell = words, at_once, tell

    def __enter__(self) -> Callable[[float], None]:
        self._began = self._told = time.monotonic()
        self._bar: Any = None
        if self._at_once:
            self._report(0.0)
        return self._report

    def _report(self, share: float) -> None:
        now = time.monotonic()
        if not sys.stderr.isatty():
            if self._tell is not None and now - self._told >= self.EVERY:
                self._told = now
                self._tell(f"{share:.0%} fitted, {now - self._began:.0f} s so far.")
            return
        if not self._at_once and now - self._began < 1.0:
            return
        from rich.console import Console  # noqa: PLC0415 - only when a bar is shown
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn  # noqa: PLC0415

        if self._bar is None:
            columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
            self._bar = Progress(*columns, console=Console(stderr=True), transient=True)
            self._task = self._bar.add_task(self._words, total=1.0)
            self._bar.start()
        self._bar.update(self._task, completed=share)

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()


def print_json(data: object) -> None:
    """Print data as JSON."""
    print(json.dumps(data, indent=2, ensure_ascii=False))


def answer(
    args: argparse.Namespace,
    data: Callable[[], object],
    text: Callable[[], str],
    *,
    csv: Callable[[], str] | None = None,
    warned: bool = False,
) -> None:
    """Print what was asked for: JSON, CSV or a text, with the caution of the trade under it."""
    if args.json:
        print_json(data())
    elif csv is not None and args.csv:
        print(csv(), end="")
    else:
        print(text())
        if warned:
            print(caution(voice_of(args) if hasattr(args, "language") else ENGLISH))


def rules_of(args: argparse.Namespace, building: Building) -> RuleSet:
    """Return the rule set of ``--rules``, or the building's own."""
    from spread.trade.rules import load_rules  # noqa: PLC0415

    own = building.settings
    return load_rules(args.rules or own.rules, None if args.rules else building.folder, own.holidays)

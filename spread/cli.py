"""The command line: parses, calls, prints. Bad input is one sentence each and exit code 2."""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict
from importlib.metadata import entry_points
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from spread.errors import Problem, SettingsError, SpreadError
from spread.records.kinds import FIELDS, LOOKS, MONITORS
from spread.records.sense import EARLIEST, LATEST

if TYPE_CHECKING:
    from spread.session import Session

CAUTION = (
    "Decision support, not a guarantee: local codes, pesticide labels and licensed practice come first, "
    "and a low chance clears no unit."
)


MOST_DIGITS = 9
STOPPED = 130
"""Exit code after Ctrl+C, as shells have it."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command ``spread``; return its exit code (0 done, 2 bad input)."""
    try:
        args = _parser().parse_args(argv)
        args.run(args)
        sys.stdout.flush()
    except SpreadError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader of our output (such as head) had enough; that is no fault. What is left in the
        # buffer goes nowhere, or Python would complain of the pipe once more on its way out.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return STOPPED
    return 0


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with a command line as every other bad input is said."""

    def error(self, message: str) -> NoReturn:
        where, _, what = message.partition(": ") if message.startswith("argument ") else ("", "", message)
        raise SettingsError(
            Problem(self.prog, where.removeprefix("argument "), what, f"see {self.prog} --help")
        )


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="spread",
        description="Which door next: bed bug inspections in multifamily buildings.",
        epilog=CAUTION,
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[argparse.Namespace], None], words: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=words, description=words)
        sub.set_defaults(run=run)
        if name != "draw":
            sub.add_argument("building", help="the building's folder")
        return sub

    check = command("check", _check, "read a building and say what is wrong or missing in it")
    check.add_argument("--json", action="store_true", help="print JSON")

    draw = command("draw", _draw, "draw a plan from a list of units, to be corrected by hand")
    draw.add_argument("units", help="a CSV file with the columns unit and floor")
    # Not choices=LAYOUTS: that would load the geometry for every command, and the drawing checks it.
    draw.add_argument("--layout", help=f"{LAYOUT_WORDS}; chosen from the list if left out")
    draw.add_argument("--name", help="what the building is called; the folder's name if left out")
    draw.add_argument(
        "-o", "--output", required=True, help="folder to write building.toml and plan.geojson to"
    )

    draw.add_argument("--replace", action="store_true", help="draw over a plan.geojson that is there")

    doors = command("doors", _doors, "list the next doors to knock, each with its reason")
    fit_options(doors)
    doors.add_argument("--top", type=_whole, help="how many doors to list")
    doors.add_argument("--method", choices=(*LOOKS, *MONITORS), help="how the technician will look")

    round_ = command("round", _round, "plan a round: which doors, in which order, in the time there is")
    fit_options(round_)
    round_.add_argument(
        "--minutes", type=_number, default=240.0, help="time of each technician; 240 if left out"
    )
    round_.add_argument("--technicians", type=_whole, default=1, help="how many go")
    round_.add_argument(
        "--start", default="", help="a common, a stair, a hallway, a unit or 'x,y' of the drawing"
    )
    round_.add_argument("--begins", type=_clock, default=9 * 60, help="when it begins, as 09:00")
    round_.add_argument("--method", choices=(*LOOKS, *MONITORS), help="how the technicians will look")
    round_.add_argument(
        "--must",
        action="append",
        default=[],
        metavar="UNIT",
        help="a door that goes in first; may be repeated",
    )
    round_.add_argument(
        "--also",
        action="append",
        default=[],
        choices=("treat", "revisit"),
        help="also visit units to treat or to revisit",
    )
    round_.add_argument("--csv", action="store_true", help="print CSV")

    methods = command("methods", _methods, "say which method to use next for a unit or some units")
    methods.add_argument("units", nargs="+", help="unit codes")
    fit_options(methods)

    why = command("why", _why, "explain one unit: evidence, likely sources, what to do next")
    why.add_argument("unit", help="unit code")
    fit_options(why)

    fit = command("fit", _fit, "give the chance and levels of every unit, with diagnostics")
    fit_options(fit)

    rates = command(
        "rates", _rates, "say what the log taught about the building: walls, hallways, brought in"
    )
    fit_options(rates)

    past = command("past", _past, "tell the building's past: infested units by week, when it began")
    fit_options(past)

    due = command("duties", _duties, "list what a rule set asks for: overdue, due and done, with the proof")
    due.add_argument("--on", type=_day, help="the day to answer for, as 2026-11-25; today if left out")
    due.add_argument("--rules", help="a rule set by its id, or a TOML file of your own")
    due.add_argument("--json", action="store_true", help="print JSON")

    record = command("record", _record, "add one row to the building's log, safely")
    for name in FIELDS:
        record.add_argument(
            f"--{name}", default="", required=name in ("unit", "kind"), help=_FIELD_HELP[name]
        )

    for entry in entry_points(group="spread.commands"):
        # The dashboard adds its own command here, so that nothing in this package imports it.
        entry.load()(command)
    return parser


LAYOUT_WORDS = "double-loaded, single-loaded, core, walk-up-2 or walk-up-4"
_FIELD_HELP = {
    "id": "id of the row; made if left out",
    "when": "day, as 2026-11-25; today if left out",
    "unit": "unit code",
    "kind": "report, inspection, monitor, treatment, no-access, turnover or note",
    "method": "how, such as brief-visual or interceptors",
    "found": "yes, no or unsure",
    "level": "trace, low, moderate or heavy",
    "count": "bugs counted",
    "evidence": "live, eggs, skins, stains, dead, alert, bites; joined by +",
    "days": "length of a monitor period that ended that day",
    "by": "role or crew code, never a resident",
    "note": "free words",
    "supersedes": "id of the row that this one corrects",
}


def fit_options(parser: argparse.ArgumentParser, *, json_too: bool = True) -> None:
    """Add the options of every command that fits the log."""
    parser.add_argument("--on", type=_day, help="the day to answer for, as 2026-11-25; today if left out")
    parser.add_argument(
        "--seed", type=_whole, help="seed of the sampler; the same seed gives the same answer"
    )
    if json_too:
        parser.add_argument("--json", action="store_true", help="print JSON")


def _day(text: str) -> dt.date:
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a day, expected one such as 2026-11-25") from None
    if not EARLIEST <= day <= LATEST:
        raise argparse.ArgumentTypeError(
            f"{text} is too far away, expected a day from {EARLIEST.year} to {LATEST.year}"
        )
    return day


def _whole(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > MOST_DIGITS:
        raise argparse.ArgumentTypeError(
            f"{text[:40]!r} is not a whole number of 0 or more and at most {MOST_DIGITS} digits"
        )
    return int(text)


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is not a number") from None


def _clock(text: str) -> int:
    from spread.plan.access import minute_of  # noqa: PLC0415

    minute = minute_of(text)
    if minute is None:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no time of day, expected one such as 09:30")
    return minute


def open_session(args: argparse.Namespace) -> Session:
    """Open the building named on the command line, with a progress bar if it takes long."""
    from spread.session import Session  # noqa: PLC0415 - loads the compiled model only when it is needed

    with _Progress() as progress:
        return Session.open(args.building, on=args.on, seed=args.seed, progress=progress)


class _Progress:
    """A bar on the terminal that appears after a second of work and never in a pipe."""

    def __enter__(self) -> Callable[[float], None]:
        self._began = time.monotonic()
        self._bar: Any = None
        return self._report

    def _report(self, share: float) -> None:
        if not sys.stderr.isatty() or time.monotonic() - self._began < 1.0:
            return
        from rich.console import Console  # noqa: PLC0415 - only when a bar is shown
        from rich.progress import Progress  # noqa: PLC0415

        if self._bar is None:
            self._bar = Progress(console=Console(stderr=True), transient=True)
            self._task = self._bar.add_task("Fitting the log", total=1.0)
            self._bar.start()
        self._bar.update(self._task, completed=share)

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()


def _print_json(data: object) -> None:
    print(json.dumps(data, indent=2, ensure_ascii=False))


def _check(args: argparse.Namespace) -> None:
    from spread.building import load_building  # noqa: PLC0415
    from spread.report.text import building_data, building_text  # noqa: PLC0415

    building = load_building(args.building)
    if args.json:
        _print_json(building_data(building))
    else:
        print(building_text(building))


def _draw(args: argparse.Namespace) -> None:
    from spread.building import PLAN_FILE  # noqa: PLC0415
    from spread.start import draw_building  # noqa: PLC0415

    plan, why = draw_building(
        Path(args.units), Path(args.output), layout=args.layout, name=args.name, replace=args.replace
    )
    print(f"Drew {plan.name}: units {len(plan.units)}, floors {len(plan.floors)}. {why[0].upper()}{why[1:]}")
    drawing = Path(args.output) / PLAN_FILE
    print(f"Correct {drawing} by hand where it differs; then: spread serve {args.output}")


def _doors(args: argparse.Namespace) -> None:
    from spread.report.text import doors_text  # noqa: PLC0415

    session = open_session(args)
    method = args.method or session.method
    top = session.building.settings.top if args.top is None else args.top
    if args.json:
        rows = session.doors(method)
        # Doors that the ring rule asks for are on the list whatever their rank, as in the text.
        _print_json([asdict(row) for row in rows if row.status != "look" or row.rank <= top or row.rule])
        return
    print(doors_text(session, method, top))
    print(CAUTION)


def _round(args: argparse.Namespace) -> None:
    from spread.contacts.distances import distances_of  # noqa: PLC0415
    from spread.decisions.round import plan_round  # noqa: PLC0415
    from spread.decisions.round_parts import RoundSettings  # noqa: PLC0415
    from spread.report.round_text import round_csv, round_data, round_text  # noqa: PLC0415

    session = open_session(args)
    own = session.building.settings
    planned = plan_round(
        session.view,
        session.plan,
        distances_of(session.plan),
        RoundSettings(
            minutes=args.minutes,
            technicians=args.technicians,
            start=args.start,
            begins=args.begins,
            method=args.method or session.method,
            pace=own.pace,
            access=own.access,
            must=dict.fromkeys(args.must, "asked for"),
            kinds=("look", *args.also),
            seed=session.view.posterior.seed,
        ),
    )
    if args.json:
        _print_json(round_data(planned, own.name, session.on, session.view.posterior.seed))
    elif args.csv:
        print(round_csv(planned), end="")
    else:
        print(round_text(planned, own.name, session.on))
        print(CAUTION)


def _methods(args: argparse.Namespace) -> None:
    from spread.decisions.methods import rank_methods  # noqa: PLC0415
    from spread.report.round_text import methods_data, methods_text  # noqa: PLC0415

    session = open_session(args)
    own = session.building.settings
    rows = rank_methods(session.view, args.units, own.pace)
    units = tuple(dict.fromkeys(args.units))
    if args.json:
        _print_json(methods_data(rows, units, own.name, session.on))
    else:
        print(methods_text(rows, units, own.name, session.on))
        print(CAUTION)


def _why(args: argparse.Namespace) -> None:
    from spread.report.text import why_text  # noqa: PLC0415

    session = open_session(args)
    why = session.why(args.unit)
    if args.json:
        data = asdict(why)
        data["history"] = [
            {**asdict(r), "when": r.when.isoformat(), "evidence": "+".join(sorted(r.evidence))}
            for r in why.history
        ]
        _print_json(data)
        return
    print(why_text(session, why))
    print(CAUTION)


def _fit(args: argparse.Namespace) -> None:
    from spread.report.text import fit_data, fit_text  # noqa: PLC0415

    session = open_session(args)
    if args.json:
        _print_json(fit_data(session))
    else:
        print(fit_text(session))


def _rates(args: argparse.Namespace) -> None:
    from spread.report.learned import rates_data, rates_text  # noqa: PLC0415

    session = open_session(args)
    if args.json:
        _print_json(rates_data(session))
    else:
        print(rates_text(session))


def _past(args: argparse.Namespace) -> None:
    from spread.report.learned import past_data, past_text  # noqa: PLC0415

    session = open_session(args)
    if args.json:
        _print_json(past_data(session))
    else:
        print(past_text(session))


def _duties(args: argparse.Namespace) -> None:
    from spread.building import load_building  # noqa: PLC0415
    from spread.report.duties_text import duties_data, duties_text  # noqa: PLC0415
    from spread.trade.rules import load_rules  # noqa: PLC0415

    building = load_building(args.building)
    rules = load_rules(args.rules or building.settings.rules, None if args.rules else building.folder)
    on = args.on or dt.date.today()
    if args.json:
        _print_json(duties_data(building, rules, on))
    else:
        print(duties_text(building, rules, on))


def _record(args: argparse.Namespace) -> None:
    from spread.building import LOG_FILE, load_building  # noqa: PLC0415
    from spread.records import append_record, describe, new_id, record_from_fields  # noqa: PLC0415

    building = load_building(args.building)
    fields = {name: getattr(args, name) for name in FIELDS}
    fields["id"] = fields["id"] or new_id()
    fields["when"] = fields["when"] or dt.date.today().isoformat()
    # A log may run ahead of this machine's clock, as the demo buildings' do; one row may not.
    latest = max([dt.date.today(), *(row.when for row in building.log.current[-1:])])
    record = record_from_fields(fields, building.plan.units, file=LOG_FILE, where="new row", today=latest)
    _, new = append_record(building.folder / LOG_FILE, record, building.plan.units)
    state = "Recorded" if new else "Already recorded"
    print(f"{state} as {record.id}: {record.unit}, {record.when}: {describe(record)}.")

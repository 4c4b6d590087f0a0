"""The command that holds a treatment by heat, cold, laundry or steam against the published rows: credit."""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import Adder, add_language, number, print_json, voice_of, whole
from spread.errors import SettingsError

if TYPE_CHECKING:
    from spread.trade.credit import Credit

NEEDED = {
    "heat": ("temperature", "minutes"),
    "cold": ("temperature", "hours"),
    "wash": ("temperature",),
    "dry": ("temperature", "minutes"),
    "soak": (),
    "dry-clean": (),
    "steam": ("temperature",),
}
"""What may have been done, and the options that each needs; heat may have ``--probes`` instead."""
HOTTEST = {"heat": 100.0, "wash": 100.0, "dry": 100.0, "steam": 120.0}
"""Degrees C above which a reading is rather one in degrees F, as 122 and 180 are (judgement)."""

MOST_ROOMS = 30
"""Rooms of one home that is heated; more are a slip of the keyboard."""


def add(command: Adder) -> None:
    """Add the command."""
    credit = command("credit", _credit, "say whether heat, cold, laundry or steam was enough, and why")
    credit.add_argument("how", choices=tuple(NEEDED), help="what was done")
    credit.add_argument("--temperature", type=number, help="coldest reading at the bugs (cold: the warmest)")
    credit.add_argument("--minutes", type=number, help="how long it lasted without a break")
    credit.add_argument("--hours", type=number, help="the same in hours")
    credit.add_argument("--fahrenheit", action="store_true", help="the temperature is in degrees F")
    credit.add_argument(
        "--stages", choices=("all", "adults"), default="all", help="heat for eggs too (all) or adults alone"
    )
    credit.add_argument(
        "--probes",
        metavar="FILE",
        help="heat: a logger's text file, a time stamp and a column a probe headed by where it lay; or CSV "
        "of probe,minute,celsius (or fahrenheit)",
    )
    credit.add_argument("--scale", choices=("C", "F"), help="with --probes: where the file does not say it")
    credit.add_argument(
        "--clock-changed", action="store_true", help="with --probes: clocks were put on or back in that night"
    )
    credit.add_argument(
        "--rooms", type=whole, help="with --probes: how many rooms were heated; 1 if left out"
    )
    add_language(credit)
    credit.add_argument("--json", action="store_true", help="print JSON")


def _credit(args: argparse.Namespace) -> None:
    from spread.facts import as_json  # noqa: PLC0415
    from spread.words import say  # noqa: PLC0415
    from spread.words.credit import never_clears  # noqa: PLC0415

    verdict, voice = _verdict(args), voice_of(args)
    words, caution = say(verdict, voice), never_clears(voice)
    if args.json:
        row = asdict(verdict.row) if verdict.row else None
        told = {"given": verdict.given, "words": words, "row": row, "caution": caution}
        print_json(told | {"facts": as_json(verdict)})
    else:
        print(f"{words}\n{caution}")


def _verdict(args: argparse.Namespace) -> Credit:
    from spread.trade import credit  # noqa: PLC0415

    if args.rooms is not None and args.probes is None:
        raise _refused("--rooms", "it goes with --probes only")
    if args.probes is None and (args.scale or args.clock_changed):
        raise _refused("--scale" if args.scale else "--clock-changed", "it goes with --probes only")
    if args.rooms is not None and not 1 <= args.rooms <= MOST_ROOMS:
        raise _refused("--rooms", f"expected 1 to {MOST_ROOMS}")
    if args.probes is not None:
        return _of_probes(args)
    minutes = _minutes(args)
    celsius = args.temperature
    if celsius is not None and args.fahrenheit:
        celsius = credit.celsius_of(celsius)
    most = HOTTEST.get(args.how)
    if celsius is not None and most is not None and celsius > most:
        what = f"it is {celsius:g} C, expected at most {most:g}; add --fahrenheit if it was read in degrees F"
        raise _refused("--temperature", what)
    if args.how == "heat":
        return credit.heat_credit(celsius, minutes, args.stages)
    if args.how == "cold":
        return credit.cold_credit(celsius, minutes / 60.0)
    if args.how == "steam":
        return credit.steam_credit(celsius)
    return credit.laundry_credit(args.how, celsius or 0.0, minutes)


def _of_probes(args: argparse.Namespace) -> Credit:
    """Return the verdict on a log of probes."""
    from spread.tables.loggers import read_probe_log  # noqa: PLC0415
    from spread.trade.probes import probes_credit  # noqa: PLC0415

    if args.how != "heat":
        raise _refused("--probes", "it goes with heat only")
    if any(given is not None for given in (args.temperature, args.minutes, args.hours)):
        raise _refused("--probes", "it has the temperatures and times; leave those out")
    if args.fahrenheit:
        raise _refused("--fahrenheit", "name the log's column fahrenheit, or say --scale F")
    log = read_probe_log(Path(args.probes), scale=args.scale or "", clock_changed=args.clock_changed)
    if log.left_out:
        print(f"Left out, being no temperatures: {', '.join(log.left_out)}.", file=sys.stderr)
    return probes_credit(log.readings, args.stages, rooms=args.rooms or 1)


def _minutes(args: argparse.Namespace) -> float:
    """Return the time in minutes; say which option is missing, doubled or no time."""
    needed = NEEDED[args.how]
    if args.temperature is None and "temperature" in needed:
        raise _refused("--temperature", f"{args.how} needs it")
    if args.temperature is not None and not math.isfinite(args.temperature):
        raise _refused("--temperature", "it is not a number")
    if args.minutes is not None and args.hours is not None:
        raise _refused("--hours", "--minutes is given too; give one of the two")
    time = args.minutes if args.hours is None else 60.0 * args.hours
    if time is None and len(needed) > 1:
        raise _refused(f"--{needed[1]}", f"{args.how} needs it")
    if time is not None and not (math.isfinite(time) and time >= 0):
        raise _refused("--minutes" if args.hours is None else "--hours", "expected a time of 0 or more")
    return time or 0.0


def _refused(where: str, what: str) -> SettingsError:
    return SettingsError.at("spread credit", where, what, "see spread credit --help")

"""The command on what a rule set asks for: duties."""

from __future__ import annotations

import argparse
import datetime as dt

from spread.commands.common import Adder, add_voice, answer, day, open_building, rules_of, voice_of


def add(command: Adder) -> None:
    """Add the command."""
    due = command("duties", _duties, "list what a rule set asks for: overdue, due and done, with the proof")
    due.add_argument("--on", type=day, help="the day to answer for, as 2026-11-25; today if left out")
    due.add_argument("--rules", help="a rule set by its id, or a TOML file of your own")
    add_voice(due)
    due.add_argument("--json", action="store_true", help="print JSON")


def _duties(args: argparse.Namespace) -> None:
    from spread.report.duties_text import duties_data, duties_text  # noqa: PLC0415

    building = open_building(args)
    told = (building, rules_of(args, building), args.on or dt.date.today())
    answer(args, lambda: duties_data(*told), lambda: duties_text(*told, voice_of(args)))

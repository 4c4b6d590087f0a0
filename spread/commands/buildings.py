"""The command for many buildings at once: buildings."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from pathlib import Path

from spread.commands.common import Adder, answer, day, number, open_session, whole


def add(command: Adder) -> None:
    """Add the command."""
    words = "many buildings at a glance, ranked by what an hour there averts, and one team's week over them"
    many = command("buildings", _buildings, words)
    many.add_argument("folder", help="the folder that holds the buildings' folders")
    many.add_argument(
        "--unit", default="", help="look for a unit in all of them, by the beginning of its code"
    )
    many.add_argument("--hours", type=number, default=7.0, help="hours of a day of the team (7 if left out)")
    many.add_argument("--days", type=whole, default=5, help="working days of its week (5 if left out)")
    many.add_argument(
        "--travel", type=number, default=30.0, help="minutes from one building to the next (30)"
    )
    many.add_argument(
        "--fit", action="store_true", help="fit those first that have no figures, or older ones"
    )
    many.add_argument("--on", type=day, help="the day to answer for, as 2026-11-25; today if left out")
    many.add_argument("--json", action="store_true", help="print JSON")


def _buildings(args: argparse.Namespace) -> None:
    from spread.errors import Problem, SettingsError, SpreadError  # noqa: PLC0415
    from spread.portfolio.folders import folders_in, read_many  # noqa: PLC0415
    from spread.portfolio.standing import ranked, standing_of, units_called  # noqa: PLC0415
    from spread.portfolio.team import Team, team_week  # noqa: PLC0415
    from spread.report.buildings import (  # noqa: PLC0415
        buildings_data,
        buildings_text,
        found_text,
        team_text,
    )
    from spread.words import ENGLISH  # noqa: PLC0415

    bounds = (
        ("--hours", args.hours, 0.5, 24),
        ("--days", args.days, 1, 7),
        ("--travel", args.travel, 0, 600),
    )
    problems = [
        Problem(name, "", f"it is {value:g}, expected {least:g} to {most:g}", "write a number within them")
        for name, value, least, most in bounds
        if not least <= value <= most
    ]
    if problems:
        raise SettingsError(problems)
    folder, on = Path(args.folder), args.on or dt.date.today()
    if args.fit:
        paths = folders_in(folder)
        for kept in read_many(folder):
            told = kept.summary
            if told is None or standing_of(kept, on).newer or told.on != on:
                try:
                    open_session(argparse.Namespace(building=str(paths[kept.key]), on=args.on, seed=None))
                except SpreadError as error:  # the others are fitted all the same
                    print(error, file=sys.stderr)
    kept_all = read_many(folder)
    team, voice = Team(args.hours, args.days, args.travel), ENGLISH
    stood, week = ranked(kept_all, on), team_week(kept_all, on, team)
    found = units_called(kept_all, args.unit)

    def text() -> str:
        if args.unit:
            return found_text(found, args.unit, voice)
        return f"{buildings_text(stood, on, voice)}\n\n{team_text(week, team, voice)}"

    answer(args, lambda: buildings_data(stood, week, found), text)

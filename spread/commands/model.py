"""Commands that look into the model: fit, rates, past, grades."""

from __future__ import annotations

import argparse
import datetime as dt

from spread.commands.common import (
    Adder,
    add_voice,
    answer,
    day,
    fit_options,
    open_building,
    open_session,
    voice_of,
)


def add(command: Adder) -> None:
    """Add the commands."""
    for name, run, words in (
        ("fit", _fit, "give the chance and levels of every unit, with diagnostics"),
        ("rates", _rates, "say what the log taught about the building: walls, hallways, brought in"),
        ("past", _past, "tell the building's past: infested units by week, when it began"),
    ):
        parser = command(name, run, words)
        fit_options(parser)
        add_voice(parser)
    grades = command("grades", _grades, "say what the lists promised and what was found: does it hold?")
    grades.add_argument("--on", type=day, help="looks up to this day count, as 2026-11-25; today if left out")
    grades.add_argument("--json", action="store_true", help="print JSON")


def _fit(args: argparse.Namespace) -> None:
    from spread.report.text import fit_data, fit_text  # noqa: PLC0415

    session = open_session(args)
    answer(args, lambda: fit_data(session), lambda: fit_text(session, voice_of(args)))


def _rates(args: argparse.Namespace) -> None:
    from spread.report.learned import rates_data, rates_text  # noqa: PLC0415

    session = open_session(args)
    answer(args, lambda: rates_data(session), lambda: rates_text(session, voice_of(args)))


def _past(args: argparse.Namespace) -> None:
    from spread.report.learned import past_json, past_text  # noqa: PLC0415

    session = open_session(args)
    answer(args, lambda: past_json(session), lambda: past_text(session, voice_of(args)))


def _grades(args: argparse.Namespace) -> None:
    from spread.report.grades import grades_data, grades_text  # noqa: PLC0415

    building, on = open_building(args), args.on or dt.date.today()
    answer(args, lambda: grades_data(building, on), lambda: grades_text(building, on), warned=True)

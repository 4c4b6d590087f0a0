"""Commands that look into the model: fit, rates, past."""

from __future__ import annotations

import argparse

from spread.commands.common import Adder, add_voice, fit_options, open_session, print_json, voice_of


def add(command: Adder) -> None:
    """Add the commands."""
    fit = command("fit", _fit, "give the chance and levels of every unit, with diagnostics")
    fit_options(fit)
    add_voice(fit)

    rates = command(
        "rates", _rates, "say what the log taught about the building: walls, hallways, brought in"
    )
    fit_options(rates)
    add_voice(rates)

    past = command("past", _past, "tell the building's past: infested units by week, when it began")
    fit_options(past)
    add_voice(past)


def _fit(args: argparse.Namespace) -> None:
    from spread.report.text import fit_data, fit_text  # noqa: PLC0415

    session = open_session(args)
    if args.json:
        print_json(fit_data(session))
    else:
        print(fit_text(session, voice_of(args)))


def _rates(args: argparse.Namespace) -> None:
    from spread.report.learned import rates_data, rates_text  # noqa: PLC0415

    session = open_session(args)
    if args.json:
        print_json(rates_data(session))
    else:
        print(rates_text(session, voice_of(args)))


def _past(args: argparse.Namespace) -> None:
    from spread.report.learned import past_json, past_text  # noqa: PLC0415

    session = open_session(args)
    if args.json:
        print_json(past_json(session))
    else:
        print(past_text(session, voice_of(args)))

"""Commands of the day's work: doors, round, methods, why."""

from __future__ import annotations

import argparse

from spread.commands.common import (
    Adder,
    add_voice,
    answer,
    clock,
    fit_options,
    number,
    open_session,
    voice_of,
    whole,
)
from spread.trade.registry import LOOKING


def add(command: Adder) -> None:
    """Add the commands."""
    doors = command("doors", _doors, "list the next doors to knock, each with its reason")
    fit_options(doors)
    add_voice(doors)
    doors.add_argument("--top", type=whole, help="how many doors to list")
    doors.add_argument("--method", choices=tuple(LOOKING), help="how the technician will look")
    doors.add_argument(
        "--order",
        choices=("find", "benefit"),
        help="rank by finds a knock, or by the benefit of a minute (weeks averted)",
    )
    doors.add_argument("--csv", action="store_true", help="print CSV")

    round_ = command("round", _round, "plan a round: which doors, in which order, in the time there is")
    fit_options(round_)
    add_voice(round_)
    round_.add_argument(
        "--minutes", type=number, default=240.0, help="time of each technician; 240 if left out"
    )
    round_.add_argument("--technicians", type=whole, default=1, help="how many go")
    round_.add_argument(
        "--start", default="", help="a common, a stair, a hallway, a unit or 'x,y' of the drawing"
    )
    round_.add_argument("--begins", type=clock, default=9 * 60, help="when it begins, as 09:00")
    round_.add_argument("--method", choices=tuple(LOOKING), help="how the technicians will look")
    must = "a door that goes in first; may be repeated"
    round_.add_argument("--must", action="append", default=[], metavar="UNIT", help=must)
    round_.add_argument(
        "--no-duties",
        action="store_true",
        help="do not put doors in first because a rule set or the ring rule asks for them",
    )
    also, kinds = "also visit units to treat or to revisit", ("treat", "revisit")
    round_.add_argument("--also", action="append", default=[], choices=kinds, help=also)
    round_.add_argument(
        "--order", choices=("find", "benefit"), help="choose doors by finds a knock, or by weeks averted"
    )
    round_.add_argument("--csv", action="store_true", help="print CSV")

    methods = command("methods", _methods, "say which method to use next for a unit or some units")
    methods.add_argument("units", nargs="+", help="unit codes")
    fit_options(methods)
    add_voice(methods)

    why = command("why", _why, "explain one unit: evidence, likely sources, what to do next")
    why.add_argument("unit", help="unit code")
    fit_options(why)
    add_voice(why)


def _doors(args: argparse.Namespace) -> None:
    from spread.report.text import doors_csv, doors_data, doors_text, listed_doors  # noqa: PLC0415

    session = open_session(args)
    method = args.method or session.method
    top = session.building.settings.top if args.top is None else args.top
    rows = listed_doors(session.doors(method, args.order), top)
    session.promise("doors", [row for row in rows if row.status == "look"], method)
    answer(
        args,
        lambda: doors_data(rows, session.on, session.warnings()),
        lambda: doors_text(session, method, top, args.order, voice_of(args)),
        csv=lambda: doors_csv(rows),
        warned=True,
    )


def _round(args: argparse.Namespace) -> None:
    from spread.contacts.distances import distances_of  # noqa: PLC0415
    from spread.decisions.round.asked import plan_asked_round  # noqa: PLC0415
    from spread.decisions.round.making import plan_round  # noqa: PLC0415
    from spread.decisions.round.parts import AskedFor, RoundSettings  # noqa: PLC0415
    from spread.report.round_text import round_csv, round_data, round_text  # noqa: PLC0415
    from spread.report.text import warned_lines  # noqa: PLC0415

    session = open_session(args)
    own = session.building.settings
    settings = RoundSettings(
        minutes=args.minutes,
        technicians=args.technicians,
        start=args.start,
        begins=args.begins,
        method=args.method or session.method,
        order=args.order or own.order,
        pace=own.pace,
        access=own.access,
        barred=session.barred(),
        must=dict.fromkeys(args.must, AskedFor()),
        kinds=("look", *args.also),
        seed=session.view.posterior.seed,
    )
    where = (session.view, session.plan, distances_of(session.plan))
    if args.no_duties:
        planned = plan_round(*where, settings)
    else:
        planned = plan_asked_round(*where, settings, session.open_looks())
    rows = {row.unit: row for row in session.doors(settings.method)}
    session.promise("round", [rows[unit] for unit in planned.units], settings.method)
    answer(
        args,
        lambda: round_data(planned, own.name, session.on, session.view.posterior.seed, session.warnings()),
        lambda: round_text(
            planned,
            own.name,
            session.on,
            voice_of(args),
            order=settings.order,
            costs=session.view.week_costs,
            warned=warned_lines(session, voice_of(args)),
        ),
        csv=lambda: round_csv(planned),
        warned=True,
    )


def _methods(args: argparse.Namespace) -> None:
    from spread.decisions.doors.choice import rank_methods  # noqa: PLC0415
    from spread.report.round_text import methods_data, methods_text  # noqa: PLC0415

    session = open_session(args)
    own = session.building.settings
    rows = rank_methods(session.view, args.units, own.pace)
    units = tuple(dict.fromkeys(args.units))
    told = (rows, units, own.name, session.on)
    answer(
        args,
        lambda: methods_data(*told, session.warnings()),
        lambda: methods_text(*told, voice_of(args)),
        warned=True,
    )


def _why(args: argparse.Namespace) -> None:
    from spread.report.text import why_data, why_text  # noqa: PLC0415

    session = open_session(args)
    why = session.why(args.unit)
    answer(args, lambda: why_data(why), lambda: why_text(session, why, voice_of(args)), warned=True)

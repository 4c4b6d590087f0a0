"""The commands that compare programmes: compare, optimise."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import (
    Adder,
    ProgressBar,
    answer,
    caution,
    fit_options,
    number,
    open_session,
    print_json,
    whole,
)

if TYPE_CHECKING:
    from spread.programmes.choice import Choice
    from spread.programmes.money import Prices
    from spread.programmes.programme import Programme
    from spread.programmes.results import Comparison
    from spread.programmes.run import RunSettings, Simulated
    from spread.session import Session

DEFAULT = "complaint,complaint-ring,complaint-ranked,survey-twice-a-year"
DRIVER_RUNS = 200
"""Most runs of a case of ``--drivers``: there are some twenty cases."""


def add(command: Adder) -> None:
    """Add the commands."""
    compare = command(
        "compare", _compare, "compare programmes for this building: bugs, hours and money, with bands"
    )
    fit_options(compare)
    compare.add_argument(
        "--programmes",
        default=DEFAULT,
        help=f"keys or TOML files, separated by commas; {DEFAULT} if left out, 'all' for every preset",
    )
    compare.add_argument("--csv", action="store_true", help="print CSV")
    compare.add_argument(
        "--drivers",
        action="store_true",
        help="also say what drives the last programme against the first, one thing at a time",
    )
    simulation_options(compare)

    optimise = command(
        "optimise", _optimise, "search for the cheapest programme that reaches no infestation by a date"
    )
    fit_options(optimise)
    optimise.add_argument(
        "--what",
        choices=("programme", "survey", "doors", "treatment"),
        default="programme",
        help="what to vary: everything, the survey's interval, the ranked doors a week, or the treatment and "
        "how often it is repeated",
    )
    optimise.add_argument(
        "--base", default="complaint", help="programme to start from; 'complaint' if left out"
    )
    optimise.add_argument(
        "--chance", type=number, default=0.5, help="least chance of nil; 0 asks for the cheapest alone"
    )
    simulation_options(optimise)


def simulation_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of every command that runs programmes ahead."""
    parser.add_argument("--weeks", type=whole, default=104, help="weeks to look ahead; 104 if left out")
    parser.add_argument("--runs", type=whole, default=400, help="runs of each programme; 400 if left out")
    parser.add_argument("--by-week", type=whole, help="the week of the chance of nil; the last if left out")
    parser.add_argument("--prices", help="a TOML file of prices; prices.toml of the building if it has one")


def _compare(args: argparse.Namespace) -> None:
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.facts import as_json  # noqa: PLC0415
    from spread.programmes.by_pace import by_pace  # noqa: PLC0415
    from spread.programmes.drivers import tornado  # noqa: PLC0415
    from spread.programmes.reading import PRESETS, find_programme  # noqa: PLC0415
    from spread.programmes.results import summarise  # noqa: PLC0415
    from spread.programmes.run import simulate  # noqa: PLC0415
    from spread.programmes.told import pace_known  # noqa: PLC0415
    from spread.report.programmes_text import (  # noqa: PLC0415
        compare_csv,
        compare_data,
        compare_text,
        pace_lines,
        tornado_data,
        tornado_text,
    )
    from spread.report.text import warned_lines  # noqa: PLC0415
    from spread.words import ENGLISH, say  # noqa: PLC0415
    from spread.words.trust import warnings_data  # noqa: PLC0415

    check_lengths(args)
    folder = Path(args.building)
    names = PRESETS if args.programmes == "all" else tuple(dict.fromkeys(args.programmes.split(",")))
    programmes = [find_programme(name.strip(), folder) for name in names]
    keys = [programme.key for programme in programmes]
    if len(set(keys)) < len(keys):
        raise SettingsError.at(
            "--programmes", "", "two of them have the same name", "rename one of the files"
        )
    session = open_session(args)
    prices = prices_of(args, session)
    settings = run_settings(args, session, prices)
    with ProgressBar("Running the programmes") as progress:
        done = simulate(
            session.view, programmes, settings, pace=session.building.settings.pace, progress=progress
        )
    comparison = summarise(done, prices, by_week=args.by_week)
    choice = judged(session, done, prices, comparison)
    name = session.building.settings.name
    found = None
    if args.drivers:
        with ProgressBar("Setting one thing at a time") as progress:
            found = tornado(
                session.view,
                programmes[-1],
                programmes[0] if len(programmes) > 1 else None,
                replace(settings, runs=min(args.runs, DRIVER_RUNS)),
                pace=session.building.settings.pace,
                prices=prices,
                progress=progress,
            )
    turning = [fact for key in keys if key != keys[0] for fact in by_pace(done, prices, key, keys[0]) or ()]
    if args.json:
        drivers = {} if found is None else {"drivers": tornado_data(found)}
        warned = {"warnings": warnings_data(session.warnings())}
        print_json(
            {
                **compare_data(comparison, name, session.on, settings.seed, choice),
                "by_pace": [as_json(fact) for fact in turning],
                **drivers,
                **warned,
            }
        )
    elif args.csv:
        print(compare_csv(comparison), end="")
    else:
        fitted = session.view.posterior.diagnostics
        pace = say(pace_known(), ENGLISH)
        doubt = "" if fitted.good else fitted.words
        told = compare_text(comparison, name, session.on, choice=choice, doubt=doubt, pace=pace)
        print("\n".join([*warned_lines(session, ENGLISH), told, *pace_lines(turning)]))
        if found is not None:
            print(f"\n{tornado_text(found, prices.currency)}")
        print(caution())


def _optimise(args: argparse.Namespace) -> None:
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.programmes.optimise import (  # noqa: PLC0415
        Goal,
        candidates,
        search,
        survey_intervals,
        treatments,
        weekly_doors,
    )
    from spread.programmes.reading import find_programme  # noqa: PLC0415
    from spread.report.programmes_text import search_data, search_text  # noqa: PLC0415
    from spread.report.text import warned_lines  # noqa: PLC0415
    from spread.words import ENGLISH  # noqa: PLC0415
    from spread.words.trust import warnings_data  # noqa: PLC0415

    check_lengths(args)
    if not 0.0 <= args.chance < 1.0:
        raise SettingsError.at(
            "--chance", "", f"it is {args.chance:g}, expected 0 to below 1", "write 0.8 for 80 %"
        )
    base = find_programme(args.base, Path(args.building))
    makers: dict[str, Callable[[Programme], list[Programme]]] = {
        "programme": candidates,
        "survey": survey_intervals,
        "doors": weekly_doors,
        "treatment": lambda base: [base, *treatments(base)],
    }
    tried = makers[args.what](base)
    session = open_session(args)
    prices = prices_of(args, session)
    settings = run_settings(args, session, prices)
    goal = Goal(args.chance, args.weeks if args.by_week is None else args.by_week)
    with ProgressBar("Trying programmes") as progress:
        found = search(
            session.view,
            tried,
            goal,
            settings,
            pace=session.building.settings.pace,
            prices=prices,
            vary=treatments if args.what == "programme" else None,
            progress=progress,
        )
    name = session.building.settings.name
    answer(
        args,
        lambda: (
            search_data(found, name, session.on, settings.seed)
            | {"warnings": warnings_data(session.warnings())}
        ),
        lambda: "\n".join(
            [*warned_lines(session, ENGLISH), search_text(found, name, session.on, prices.currency)]
        ),
        warned=True,
    )


def judged(
    session: Session,
    done: Simulated,
    prices: Prices,
    comparison: Comparison,
    proposed: str = "",
) -> Choice:
    """Return the verdict on programmes that were run, held against doing nothing and beginning later too."""
    from spread.programmes.beside import beside  # noqa: PLC0415
    from spread.programmes.choice import verdict_on  # noqa: PLC0415
    from spread.programmes.looking_first import seen_of  # noqa: PLC0415

    pace = session.building.settings.pace
    with ProgressBar("Holding it against doing nothing and waiting") as progress:
        return verdict_on(
            done,
            prices,
            comparison,
            others=lambda key: beside(session.view, done, key, pace=pace, progress=progress),
            seen=lambda: seen_of(session.view, done, pace=pace),
            proposed=proposed,
        )


def check_lengths(args: argparse.Namespace) -> None:
    """Refuse lengths that say nothing or never end."""
    from spread.errors import Problem, SettingsError  # noqa: PLC0415

    problems = []
    if not 1 <= args.weeks <= 520:
        problems.append(
            Problem("--weeks", "", f"it is {args.weeks}, expected 1 to 520", "the default is 104")
        )
    if not 20 <= args.runs <= 100_000:
        problems.append(
            Problem("--runs", "", f"it is {args.runs}, expected 20 to 100000", "the default is 400")
        )
    if args.by_week is not None and args.by_week > args.weeks:
        problems.append(
            Problem(
                "--by-week", "", f"it is {args.by_week}, past the {args.weeks} weeks", "name an earlier week"
            )
        )
    if problems:
        raise SettingsError(problems)


def run_settings(args: argparse.Namespace, session: Session, prices: Prices) -> RunSettings:
    """Return how far ahead, how often and from which luck the programmes run, with the crew of the prices."""
    from spread.programmes.crew import crew_minutes  # noqa: PLC0415
    from spread.programmes.run import RunSettings  # noqa: PLC0415

    seed = session.view.posterior.seed
    return RunSettings(args.weeks, args.runs, seed, crew_minutes=crew_minutes(prices))


def prices_of(args: argparse.Namespace, session: Session) -> Prices:
    """Return the prices of ``--prices``, of the building's ``prices.toml``, or the package's own."""
    from spread.programmes.money import PRICES_FILE, Prices, read_prices  # noqa: PLC0415

    pace = session.building.settings.pace
    own = session.building.folder / PRICES_FILE
    if args.prices:
        return read_prices(Path(args.prices), pace=pace)
    return read_prices(own, pace=pace) if own.is_file() else Prices().with_pace(pace)

"""The steps of the command portfolio."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import time
import webbrowser
from collections.abc import Callable
from dataclasses import asdict, replace
from importlib import import_module
from pathlib import Path

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)

from spread.commands.common import PAGES, print_json
from spread.errors import SettingsError, SpreadError
from spread.files import write_together
from spread.firm import night, persons
from spread.firm.cluster import processors
from spread.firm.fitting import Asked, Outcome, program_mark
from spread.firm.night import Workers, learn, states_of
from spread.firm.one_chain import KEPT
from spread.firm.overview import Overview, outliers, what_pays
from spread.firm.places import Places, places_at
from spread.firm.simulated import make_firm
from spread.firm.tomorrow import tomorrow_of
from spread.portfolio.standing import ranked
from spread.portfolio.team import Team
from spread.posterior.fit import FitSettings
from spread.report import portfolio as said
from spread.report.exchange.statistics import parquet_of
from spread.trade.experience import POOLED_FILE

IN_PART = 1
"""Exit code where a building failed and the others are done."""
FIRST = 10
"""Doors of the page."""


def _asked(args: argparse.Namespace) -> Asked:
    asked = Asked(args.on or dt.date.today(), program_mark())
    if not hasattr(args, "sweeps"):  # a step that fits nothing takes what is kept
        return replace(asked, settings=None)
    usual = FitSettings()
    if args.sweeps is not None:
        usual = replace(
            usual, sweeps=args.sweeps, most_sweeps=args.sweeps, warmup=min(usual.warmup, args.sweeps)
        )
    return replace(asked, settings=usual, again=args.again, oldest=args.oldest)


def _wanted(places: Places, only: list[str]) -> tuple[str, ...]:
    keys = places.keys()
    for key in only:
        if key not in keys:
            what = f"there is no building {key[:64]!r}"
            raise SettingsError.at(places.name, "", what, f"it has {', '.join(keys[:20])}")
    return tuple(key for key in keys if key in only) if only else keys


def _fit(args: argparse.Namespace) -> int:
    return _fit_all(args, args.only, pool=args.pool)


def _fit_all(args: argparse.Namespace, only: list[str], *, pool: bool) -> int:
    places, asked = places_at(args.where), _asked(args)
    crew = Workers(args.workers or processors(), args.memory, args.scheduler)
    keys, told = _wanted(places, only), {}
    done = _run(places, keys, asked, crew, quiet=args.json)
    if pool:
        threads = processors() if args.scheduler else crew.number
        lesson = learn(places, asked.on, draws=args.sweeps and min(args.sweeps, KEPT), workers=threads)
        told = {"pooled": lesson.told}
        if not args.json:
            print(said.pooled_line(lesson.told, moved=lesson.moved), flush=True)
        if lesson.moved:
            done = _run(places, keys, replace(asked, again=False), crew, quiet=args.json)
    if args.json:
        print_json(said.run_data(done, len(keys)) | told)
    return IN_PART if any(one.state == "failed" for one in done) else 0


def _run(
    places: Places, keys: tuple[str, ...], asked: Asked, crew: Workers, *, quiet: bool
) -> tuple[Outcome, ...]:
    """Fit buildings, with a line of each on standard output and a bar with the time left on a terminal.

    ``quiet``: no lines. What is finished when somebody stops it is kept, and said.
    """
    columns = (
        TextColumn("Buildings"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(), TextColumn("left"),
        TimeRemainingColumn(),
    )  # fmt: skip
    began = time.monotonic()
    so_far: list[Outcome] = []
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("", total=len(keys))

        def tell(one: Outcome) -> None:
            so_far.append(one)
            bar.advance(task)
            if not quiet:
                print(said.outcome_line(one, dt.datetime.now()), flush=True)

        try:
            night.run_all(places, keys, asked, crew, tell)
        finally:
            line = said.run_line(so_far, len(keys), crew, time.monotonic() - began)
            print(line, file=sys.stderr if quiet else sys.stdout, flush=True)
    for one in so_far:
        if one.state == "failed":
            named = one.problem.startswith(f"{one.key}:")
            print(one.problem if named else f"{one.key}: {one.problem}", file=sys.stderr)
    return tuple(so_far)


def _status(args: argparse.Namespace) -> None:
    states = states_of(places_at(args.where), _asked(args))
    if args.json:
        print_json(said.states_data(states))
    else:
        print(said.states_text(states))


def _pool(args: argparse.Namespace) -> None:
    places, on = places_at(args.where), _asked(args).on
    lesson = learn(places, on, keep=not args.dry_run, workers=processors())
    if args.json:
        print_json(lesson.told | {"moved": lesson.moved})
    else:
        print(said.pooled_text(lesson.told, moved=lesson.moved))


def _persons(args: argparse.Namespace) -> None:
    places = places_at(args.where)
    if args.choice is not None:
        persons.choose(places, by_person=args.choice)
    by_person = persons.pools_by_person(places)
    known = persons.known_of(persons.persons_in(places.own(POOLED_FILE)))
    if args.json:
        print_json({"by_person": by_person, "codes": [asdict(one) for one in known]})
    else:
        print(said.persons_text(known, by_person=by_person))


def _doors(args: argparse.Namespace) -> None:
    asked, team = _asked(args), _team(args)
    found = tomorrow_of(places_at(args.where), asked, team, args.top)
    if args.json:
        print_json(said.doors_data(found))
    else:
        print(said.doors_text(found, team, asked.on))


def _team(args: argparse.Namespace) -> Team:
    return Team(args.hours, 1, args.travel)


def _report(args: argparse.Namespace) -> None:
    places, asked, team = places_at(args.where), _asked(args), _team(args)
    stood = ranked(places.summaries(), asked.on)
    found = tomorrow_of(places, replace(asked, settings=None), team, FIRST)
    seen, trouble = Overview(places.name, asked.on, stood, found, None), ""
    try:
        lesson = learn(places, asked.on, keep=False, workers=processors())
        seen = replace(seen, lesson=lesson, pays=what_pays(lesson), apart=outliers(lesson))
    except SpreadError as error:
        trouble = str(error)
    paths = _write(seen, team, Path(args.output))
    if args.json:
        print_json({"files": [str(path) for path in paths], "trouble": trouble})
        return
    if seen.lesson is not None:
        print(said.lesson_text(seen.lesson, seen.pays, seen.apart), end="\n\n")
    for path in paths:
        print(f"Wrote {path}")
    if trouble:
        print(trouble, file=sys.stderr)


def _write(seen: Overview, team: Team, folder: Path) -> tuple[Path, ...]:
    """Write the page and the files: all of them or none; those whose packages are not here are left out."""
    files: dict[str, str | bytes] = {"first-doors.txt": said.doors_text(seen.tomorrow, team, seen.on) + "\n"}
    for page, writer in PAGES.items():
        module, _, name = writer.partition(":")
        files[page] = getattr(import_module(module), name)(seen, team)
    makers: dict[str, Callable[[], bytes]] = {
        "buildings.parquet": lambda: parquet_of(said.standing_columns(seen.stood)),
        "learned.nc": lambda: said.lesson_netcdf(seen.lesson) if seen.lesson else b"",
    }
    for name, make in makers.items():
        try:
            data = make()
        except SpreadError as error:
            print(error, file=sys.stderr)
            continue
        if data:
            files[name] = data
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        what = f"it cannot be made ({(error.strerror or 'unknown reason').lower()})"
        raise SpreadError.at(folder.name, "", what, "name another folder") from None
    write_together({folder / name: data for name, data in files.items()})
    return tuple(folder / name for name in files)


def _demo(args: argparse.Namespace) -> int:
    folder = Path(args.where)
    args.on = make_firm(folder, args.buildings, args.seed, args.on)
    told = f"{args.buildings} simulated buildings in {folder}, whose logs end on {args.on.isoformat()}."
    print(told, file=sys.stderr if args.json else sys.stdout, flush=True)
    code = _fit_all(args, [], pool=True)
    args.output = str(folder / "page")
    _report(args)
    page = folder / "page" / "portfolio.html"
    if page.exists() and not args.no_open:
        webbrowser.open(page.resolve().as_uri())
    return code


STEPS: dict[str, Callable[[argparse.Namespace], int | None]] = {
    "fit": _fit,
    "status": _status,
    "pool": _pool,
    "persons": _persons,
    "doors": _doors,
    "report": _report,
    "demo": _demo,
}

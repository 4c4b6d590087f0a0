"""The command office: one database with many buildings."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from collections.abc import Callable
from pathlib import Path

from spread.commands.common import Adder, print_json
from spread.commands.people import keep_people, people_options


def add(command: Adder) -> None:
    """Add the command."""
    office = command("office", _choose, "keep many buildings in one database: make it, fill it, verify it")
    steps = office.add_subparsers(required=True, metavar="STEP")

    def step(name: str, run: Callable[[argparse.Namespace], None], words: str) -> argparse.ArgumentParser:
        sub = steps.add_parser(name, help=words, description=words)
        sub.set_defaults(step=run)
        sub.add_argument("office", help="a file for SQLite, or the URL of a PostgreSQL database")
        return sub

    step("init", _init, "make an office's tables, or bring them up to date")
    taken = step("add", _add, "take a building's folder in, its log too")
    taken.add_argument("folder", help="the building's folder")
    taken.add_argument("--key", default="", help="what the office calls it; the folder's name if left out")
    out = step("take-out", _take_out, "write a building of the office as a folder")
    out.add_argument("key", help="what the office calls the building")
    out.add_argument("folder", help="a folder that is not there yet")
    people_options(
        step("people", _people, "who may sign in to the office, as what, for which buildings"), office=True
    )
    listed = step("list", _list, "list the buildings")
    verify = step("verify", _verify, "walk the chain of every log and say whether any row was changed")
    for sub in (listed, verify):
        sub.add_argument("--json", action="store_true", help="print JSON")
    backup = step("backup", _backup, "copy an office of SQLite to a file while it is in use")
    backup.add_argument("-o", "--output", required=True, help="the file to write; must not be there yet")


def _choose(args: argparse.Namespace) -> None:
    from spread.errors import SettingsError  # noqa: PLC0415

    try:
        import sqlalchemy  # noqa: F401, PLC0415
    except ImportError:
        fix = "install them: pip install 'spread[office]'"
        raise SettingsError.at("office", "", "an office needs packages that are not here", fix) from None
    args.step(args)


def _init(args: argparse.Namespace) -> None:
    from spread.office.connecting import open_office, shown  # noqa: PLC0415

    open_office(args.office, make=True)
    print(f"The office {shown(args.office)} is ready. Take a building in: spread office add OFFICE FOLDER")


def _add(args: argparse.Namespace) -> None:
    from spread.building import load_building  # noqa: PLC0415
    from spread.office.buildings import take_in  # noqa: PLC0415
    from spread.office.connecting import open_office  # noqa: PLC0415
    from spread.office.rows import OfficeStore  # noqa: PLC0415

    building = load_building(args.folder)
    engine, key = open_office(args.office), args.key or building.folder.resolve().name
    take_in(engine, building.folder, key, building.name, building.store.log)
    store = OfficeStore(engine, key, building.codes)
    print(f"Took in {building.name} as {key}: {len(building.plan.units)} units, {len(store.log.rows)} rows.")


def _take_out(args: argparse.Namespace) -> None:
    from spread.building import load_building  # noqa: PLC0415
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.office.buildings import give_out  # noqa: PLC0415
    from spread.office.connecting import open_office  # noqa: PLC0415

    building, folder = load_building(f"{args.office}#{args.key}"), Path(args.folder)
    try:
        folder.mkdir()
    except OSError as error:
        what = f"it cannot be made ({(error.strerror or 'unknown reason').lower()})"
        raise SettingsError.at(folder.name, "", what, "name a folder that is not there yet") from None
    give_out(open_office(args.office), args.key, folder, building.store.log)
    print(f"Wrote {building.name} to {folder}: {len(building.store.log.rows)} rows.")


def _people(args: argparse.Namespace) -> None:
    from spread.office.connecting import open_office  # noqa: PLC0415
    from spread.office.people import OfficePeople  # noqa: PLC0415

    keep_people(OfficePeople(open_office(args.office)), args)


def _list(args: argparse.Namespace) -> None:
    from spread.office.buildings import keys  # noqa: PLC0415
    from spread.office.connecting import open_office  # noqa: PLC0415

    known = keys(open_office(args.office))
    if args.json:
        print_json([{"key": key, "name": name} for key, name in known.items()])
    else:
        print("\n".join(f"{key}  {name}" for key, name in known.items()) or "No building yet.")


def _verify(args: argparse.Namespace) -> None:
    from spread.errors import Problem, RecordError  # noqa: PLC0415
    from spread.office.buildings import keys  # noqa: PLC0415
    from spread.office.connecting import open_office  # noqa: PLC0415
    from spread.office.rows import verify  # noqa: PLC0415

    engine = open_office(args.office)
    found = {key: verify(engine, key) for key in keys(engine)}
    if args.json:
        print_json({key: {"rows": rows, "broken_at": broken} for key, (rows, broken) in found.items()})
    else:
        for key, (rows, broken) in found.items():
            print(f"{key}: {rows} rows, {'the chain breaks at row ' + str(broken) if broken else 'whole'}.")
    problems = [
        Problem(key, f"row {broken}", "it does not follow from the row before it", "restore a backup")
        for key, (_, broken) in found.items()
        if broken
    ]
    if problems:
        sys.stdout.flush()
        raise RecordError(problems)


def _backup(args: argparse.Namespace) -> None:
    import sqlite3  # noqa: PLC0415
    from contextlib import closing  # noqa: PLC0415

    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.office.connecting import open_office, shown  # noqa: PLC0415

    engine, path = open_office(args.office), Path(args.output)
    if engine.dialect.name != "sqlite":
        fix = "back a PostgreSQL database up with pg_dump"
        raise SettingsError.at(shown(args.office), "", "it is no file", fix)
    if path.exists():
        raise SettingsError.at(path.name, "", "there is such a file already", "name another")
    draft = path.with_name(f"{path.name}.new")
    with (
        closing(sqlite3.connect(str(engine.url.database))) as source,
        closing(sqlite3.connect(draft)) as copy,
    ):
        source.backup(copy)
    draft.replace(path)
    print(f"Wrote {path} ({dt.datetime.now():%Y-%m-%d %H:%M}); check it with: spread office verify {path}")

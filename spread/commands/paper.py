"""The commands that write pages: notices to residents, and the sheets of the week."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import (
    Adder,
    add_voice,
    day,
    fit_options,
    hours,
    open_building,
    open_session,
    page_voice,
    print_json,
    rules_of,
    whole,
)
from spread.words.voice import NOTICE_LANGUAGES

if TYPE_CHECKING:
    from spread.report.document import Document
    from spread.report.folder import Format

DOORS = 8


def add(command: Adder) -> None:
    """Add the commands."""
    notices = command("notices", _notices, "write notices to residents, a page a unit, in English or Spanish")
    notices.add_argument("--unit", required=True, help="the unit that it is about")
    notices.add_argument(
        "--kind",
        required=True,
        choices=("entry", "prepare", "result"),
        help="notice of entry, how to get ready, or what the last look in the log found",
    )
    notices.add_argument(
        "--for",
        dest="purpose",
        default="inspection",
        choices=("inspection", "treatment"),
        help="what the visit to the unit is for; neighbours are looked at (default: inspection)",
    )
    notices.add_argument(
        "--when", type=day, help="day of the visit; for a result, the last day of the log to read"
    )
    notices.add_argument("--window", type=hours, help="hours of the visit, as 09:00-12:00")
    notices.add_argument("--neighbours", action="store_true", help="write one for each neighbour too")
    notices.add_argument("--language", default="en", choices=NOTICE_LANGUAGES)
    notices.add_argument("--rules", help="a rule set by its id, or a TOML file of your own")
    notices.add_argument("--on", type=day, help="the day they are made, as 2026-11-25; today if left out")
    page_options(notices)
    notices.add_argument("--json", action="store_true", help="print what was written as JSON")

    sheets = command("sheets", _sheets, "write the list of the week and a page for each of the next doors")
    sheets.add_argument(
        "--unit",
        action="append",
        default=[],
        help="a door to write a page for, instead of the next ones; may be given again",
    )
    sheets.add_argument(
        "--doors", type=whole, default=DOORS, help=f"how many of the next doors (default {DOORS})"
    )
    page_options(sheets)
    fit_options(sheets)
    add_voice(sheets)


def page_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of every command that writes pages into a folder."""
    parser.add_argument("-o", "--out", required=True, type=Path, help="the folder to write into")
    parser.add_argument("--pdf", action="store_true", help="PDF instead of HTML (needs spread[pdf])")
    parser.add_argument("--paper", default="a4", choices=("a4", "letter"))
    parser.add_argument("--replace", action="store_true", help="write over files of the same names")


def _written(documents: Mapping[str, Document], args: argparse.Namespace) -> tuple[Path, ...]:
    from spread.report.folder import write_documents  # noqa: PLC0415

    formats: tuple[Format] = ("pdf",) if args.pdf else ("html",)
    return write_documents(documents, args.out, formats=formats, paper=args.paper, replace=args.replace)


def _notices(args: argparse.Namespace) -> None:
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.report.folder import file_name  # noqa: PLC0415
    from spread.report.notices import Visit, hand_out_by, notices_for  # noqa: PLC0415

    building = open_building(args)
    rules = rules_of(args, building)
    on = args.on or dt.date.today()
    if args.when is None and args.kind != "result":
        raise SettingsError.at(
            "notices", "--when", "the day of the visit is missing", "write --when 2026-11-25"
        )
    visit = Visit(args.kind, args.when or on, on, args.purpose, args.window)
    made = notices_for(building, rules, args.unit, visit, language=args.language, neighbours=args.neighbours)
    stems = [file_name(args.kind, notice.unit, args.language) for notice in made]
    documents = {
        stem if stems.count(stem) == 1 else f"{stem}-{number}": notice.document
        for number, (stem, notice) in enumerate(zip(stems, made, strict=True))
    }
    paths = _written(documents, args)
    by = hand_out_by(rules, visit, neighbours=args.neighbours)
    if args.json:
        print_json(
            {
                "building": building.name,
                "rules": rules.id,
                "hand_out_by": None if by is None else by[0].isoformat(),
                "notices": [
                    {"unit": notice.unit, "notice": notice.name, "file": path.name}
                    for notice, path in zip(made, paths, strict=True)
                ],
            }
        )
        return
    for notice, path in zip(made, paths, strict=True):
        print(f"{notice.unit}: {path.name}")
    if by is not None:
        from spread.words import ENGLISH  # noqa: PLC0415
        from spread.words.duties import origin, span  # noqa: PLC0415

        ahead, source = span(by[1].lead, ENGLISH), origin(by[1].origin, ENGLISH)
        print(f"Hand out by {ENGLISH.day(by[0])}: notice at least {ahead} before ({source}).")
        if by[0] < on:
            print("Note: that day has gone by; choose a later day for the visit.")
    if args.kind != "prepare":
        word = "notice" if args.kind == "entry" else "result"
        print(f"Once handed out, record a note that begins with '{word}:' for each unit; it is the proof.")


def _sheets(args: argparse.Namespace) -> None:
    from spread.report.pdf import check_typst  # noqa: PLC0415
    from spread.report.sheets import door_sheets, next_units  # noqa: PLC0415
    from spread.report.week import promise_week, week_document, week_view  # noqa: PLC0415
    from spread.words.trust import warnings_data  # noqa: PLC0415

    if args.pdf:
        check_typst()  # before the fit, not after
    session = open_session(args)
    units = tuple(dict.fromkeys(args.unit)) or next_units(session, args.doors)
    voice = page_voice(args)
    week = week_view(session)
    promise_week(session, week)
    documents = {"week": week_document(week, session, voice)}
    if units:
        documents["doors"] = door_sheets(session, units, voice=voice)
    paths = _written(documents, args)
    if args.json:
        files = {stem: path.name for stem, path in zip(documents, paths, strict=True)}
        print_json(
            {
                "building": session.plan.name,
                "on": session.on.isoformat(),
                **files,
                "units": list(units),
                "warnings": warnings_data(session.warnings()),
            }
        )
        return
    text, name = voice.text, session.plan.name
    print(text("{file}: what is late, due and next in {building}", file=paths[0].name, building=name))
    if units:
        print(text("{file}: a page for each of {units}", file=paths[1].name, units=", ".join(units)))
    else:
        print(text("No door is left to look at, so there are no door sheets."))

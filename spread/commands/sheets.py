"""The command for the paper of a week: its list, and a page for each door."""

from __future__ import annotations

import argparse

from spread.commands.common import Adder, add_voice, fit_options, open_session, page_voice, print_json, whole
from spread.commands.notices import page_options

DOORS = 8


def add(command: Adder) -> None:
    """Add the command."""
    sub = command("sheets", _sheets, "write the list of the week and a page for each of the next doors")
    sub.add_argument(
        "--unit",
        action="append",
        default=[],
        help="a door to write a page for, instead of the next ones; may be given again",
    )
    sub.add_argument(
        "--doors", type=whole, default=DOORS, help=f"how many of the next doors (default {DOORS})"
    )
    page_options(sub)
    fit_options(sub)
    add_voice(sub)


def _sheets(args: argparse.Namespace) -> None:
    from spread.report.folder import write_documents  # noqa: PLC0415
    from spread.report.sheets import door_sheets, next_units  # noqa: PLC0415
    from spread.report.week import week_document, week_view  # noqa: PLC0415

    session = open_session(args)
    units = tuple(dict.fromkeys(args.unit)) or next_units(session, args.doors)
    voice = page_voice(args)
    documents = {"week": week_document(week_view(session), session, voice)}
    if units:
        documents["doors"] = door_sheets(session, units, voice=voice)
    paths = write_documents(
        documents,
        args.out,
        formats=("pdf",) if args.pdf else ("html",),
        paper=args.paper,
        replace=args.replace,
    )
    if args.json:
        files = {stem: path.name for stem, path in zip(documents, paths, strict=True)}
        print_json(
            {"building": session.plan.name, "on": session.on.isoformat(), **files, "units": list(units)}
        )
        return
    text, name = voice.text, session.plan.name
    print(text("{file}: what is late, due and next in {building}", file=paths[0].name, building=name))
    if units:
        print(text("{file}: a page for each of {units}", file=paths[1].name, units=", ".join(units)))
    else:
        print(text("No door is left to look at, so there are no door sheets."))

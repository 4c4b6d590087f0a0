"""The command on what to do behind one door: room."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import Adder, add_voice, day, open_building, page_voice, print_json, voice_of

if TYPE_CHECKING:
    from spread.report.folder import Format


def add(command: Adder) -> None:
    """Add the command."""
    room = command("room", _room, "print the room sheet of a unit: where to look, what counts, what to do")
    room.add_argument("unit", help="unit code")
    room.add_argument("--sofa", action="store_true", help="people sleep on a sofa")
    room.add_argument(
        "--places",
        help="where people sleep, as 'bed in room 1, sofa in the living room'; else as in the plan",
    )
    room.add_argument("--on", type=day, help="the day it is for, as 2026-11-25; today if left out")
    room.add_argument("--json", action="store_true", help="print JSON")
    room.add_argument("--html", metavar="FILE", help="write a page that prints on one sheet")
    room.add_argument("--pdf", metavar="FILE", help="write a PDF of one page (needs the extra pdf)")
    room.add_argument(
        "--paper", choices=("a4", "letter"), default="a4", help="paper of the page; a4 if left out"
    )
    add_voice(room)


def _room(args: argparse.Namespace) -> None:
    from spread.decisions.room.sheet import SleepingPlace, read_places, room_sheet  # noqa: PLC0415
    from spread.report.room_text import room_data, room_text  # noqa: PLC0415
    from spread.trade.room import load_room  # noqa: PLC0415

    building = open_building(args)
    places = read_places(args.places) if args.places is not None else ()
    if args.sofa and not any(place.kind == "sofa" for place in places):
        places = (*places, SleepingPlace("sofa", "sofa"))
    sheet = room_sheet(
        args.unit,
        building.plan,
        load_room(building.folder),
        places=places,
        log=building.log,
        on=args.on or dt.date.today(),
    )
    if args.html is None and args.pdf is None and not args.json:
        print(room_text(sheet, voice_of(args)))
    wanted: tuple[tuple[str | None, Format], ...] = ((args.html, "html"), (args.pdf, "pdf"))
    pages = [(Path(path), kind) for path, kind in wanted if path is not None]
    if pages:
        from spread.report.folder import write_pages  # noqa: PLC0415
        from spread.report.room_text import room_sheet_document  # noqa: PLC0415

        write_pages(room_sheet_document(sheet, voice=page_voice(args)), pages, args.paper)
    if args.json:
        print_json(room_data(sheet))
    for path, _ in pages:
        print(f"Wrote {path}.", file=sys.stderr)

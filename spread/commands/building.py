"""Commands on a building's files: check, draw, record."""

from __future__ import annotations

import argparse
import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.asking import answers_of, asked, bytes_of, table_options
from spread.commands.common import Adder, answer, open_building
from spread.records.kinds import ALL_FIELDS, Finding, Record

if TYPE_CHECKING:
    from spread.plan.drawing.reading import UnitList

LAYOUT_WORDS = "double-loaded, single-loaded, core, walk-up-2 or walk-up-4"
_FIELD_HELP = {
    "id": "id of the row; made if left out",
    "when": "day, as 2026-11-25; today if left out",
    "unit": "unit code",
    "kind": "report, inspection, monitor, treatment, no-access, turnover or note",
    "method": "how, such as brief-visual or interceptors",
    "found": "yes, no or unsure",
    "level": "trace, low, moderate or heavy",
    "count": "bugs counted",
    "evidence": "live, eggs, skins, stains, dead, alert, bites; joined by +",
    "days": "length of a monitor period that ended that day",
    "by": "role or crew code, never a resident",
    "note": "free words",
    "supersedes": "id of the row that this one corrects",
    "items": "what was seen item by item, as 'headboard: live+stains, 12, nymphs, 0.4 m; sofa: nothing'; "
    "of a treatment how things were left, as 'encasement: intact, at bed 1'",
    "job": "what was done at a treatment, as 'done: mattress at bed 1; product: Dust, reg 1234-56'; "
    "never how much",
}


def add(command: Adder) -> None:
    """Add the commands."""
    check = command("check", _check, "read a building and say what is wrong or missing in it")
    check.add_argument("--json", action="store_true", help="print JSON")

    draw = command(
        "draw", _draw, "draw a plan from a list of units or a file of outlines, to be corrected by hand"
    )
    draw.add_argument(
        "units",
        help="a table with the columns unit and floor, or a rent roll as it is; or outlines of units: IFC, "
        "IMDF, GeoPackage, zipped shapefile, GeoJSON",
    )
    # Not choices=LAYOUTS: that would load the geometry for every command, and the drawing checks it.
    draw.add_argument("--layout", help=f"{LAYOUT_WORDS}; chosen from the list if left out")
    draw.add_argument("--name", help="what the building is called; the folder's name if left out")
    draw.add_argument(
        "-o", "--output", required=True, help="folder to write building.toml and plan.geojson to"
    )

    draw.add_argument("--replace", action="store_true", help="draw over a plan.geojson that is there")
    table_options(draw, "draw nothing")

    record = command("record", _record, "add one row to the building's log, safely")
    for name in ALL_FIELDS:
        record.add_argument(
            f"--{name}", default="", required=name in ("unit", "kind"), help=_FIELD_HELP[name]
        )


def _check(args: argparse.Namespace) -> None:
    from spread.report.checked import building_data, building_text  # noqa: PLC0415
    from spread.trade.room import load_room  # noqa: PLC0415

    building = open_building(args)
    load_room(building.folder)  # a firm's own sheet, if there is one: its faults are told here too
    answer(args, lambda: building_data(building), lambda: building_text(building))


def _draw(args: argparse.Namespace) -> None:
    from spread.building import LOG_FILE, PLAN_FILE  # noqa: PLC0415
    from spread.start import draw_building  # noqa: PLC0415

    if _outlined(args):
        return
    listed = _listed(args)
    if listed is None:
        return
    units, moves, told = listed
    if moves and (Path(args.output) / LOG_FILE).exists():
        told.append("There is a log already: spread import BUILDING LIST --roll takes the moves in.")
    plan, why = draw_building(
        units, Path(args.output), layout=args.layout, name=args.name, replace=args.replace, log=moves
    )
    print(f"Drew {plan.name}: units {len(plan.units)}, floors {len(plan.floors)}. {why[0].upper()}{why[1:]}")
    for line in told:
        print(line)
    drawing = Path(args.output) / PLAN_FILE
    print(f"Correct {drawing} by hand where it differs; then: spread serve {args.output}")


def _outlined(args: argparse.Namespace) -> bool:
    """Draw a file of outlines, or write what it asks; False where the file is a list of units."""
    from spread.drawings.opening import read_drawing  # noqa: PLC0415
    from spread.outlines.opening import is_outlines, open_outlines  # noqa: PLC0415
    from spread.outlines.reading import read_outlines  # noqa: PLC0415
    from spread.plan.checks import check_plan  # noqa: PLC0415
    from spread.start import create_building  # noqa: PLC0415

    path, folder = Path(args.units), Path(args.output)
    if not path.is_file() or not is_outlines(data := read_drawing(path), path.name):
        return False
    answers = answers_of(args)
    name = (args.name or "").strip() or folder.resolve().name.replace("-", " ").capitalize()
    outlined = read_outlines(open_outlines(data, path.name), answers, name=name, file=path.name)
    if asked(outlined.questions, answers, path.name, args) or outlined.plan is None:
        return True
    create_building(folder.resolve().parent, folder.name, outlined.plan)
    plan = outlined.plan
    print(f"{folder}: units {len(plan.units)}, floors {len(plan.floors)}, doors {len(plan.doors)}.")
    print("Look at the plan before you act on it.")
    for problem in (*outlined.notes, *check_plan(plan)[1]):
        print(problem)
    return True


def _listed(args: argparse.Namespace) -> tuple[Path | UnitList, tuple[Record, ...], list[str]] | None:
    """Return the list to draw, who moved in or out by it, and what is left out; None if it only asks."""
    from spread.plan.drawing.reading import parse_unit_list  # noqa: PLC0415
    from spread.records.log import Log  # noqa: PLC0415
    from spread.tables.moves import read_moves  # noqa: PLC0415
    from spread.tables.roll import roll_of  # noqa: PLC0415
    from spread.words.tables import left_out_words, rows_left_out  # noqa: PLC0415

    path, answers = Path(args.units), answers_of(args)
    roll = roll_of(bytes_of(args.units), path.name, answers, args.sheet) if path.is_file() else None
    if roll is None:
        return path, (), []
    moves = read_moves(roll.grid, answers, (), Log(), dt.date.today())
    questions = tuple(dict.fromkeys((*roll.questions, *moves.questions)))
    if asked(questions, answers, path.name, args):
        return None
    told = [rows_left_out(roll.left_out)]
    if moves.rows:
        told.append(f"Moved in or out: {len(moves.records)}. {left_out_words(moves.left_out)}")
    return parse_unit_list(roll.text, name=path.name), moves.records, told


def _check_items(items: tuple[Finding, ...], folder: Path) -> None:
    """Refuse items that the building's room sheet does not have: most likely a slip of the keyboard."""
    from spread.decisions.room.findings import strange_items  # noqa: PLC0415
    from spread.errors import RecordError  # noqa: PLC0415
    from spread.trade.room import load_room  # noqa: PLC0415

    if problems := strange_items(items, load_room(folder).by_code, file="records.csv, new row"):
        raise RecordError(problems)


def _record(args: argparse.Namespace) -> None:
    from spread.building import LOG_FILE  # noqa: PLC0415
    from spread.records import new_id, record_from_fields  # noqa: PLC0415
    from spread.words import ENGLISH  # noqa: PLC0415
    from spread.words.records import describe  # noqa: PLC0415

    building = open_building(args)
    fields = {name: getattr(args, name) for name in ALL_FIELDS}
    fields["id"] = fields["id"] or new_id()
    fields["when"] = fields["when"] or dt.date.today().isoformat()
    # A log may run ahead of this machine's clock, as the demo buildings' do; one row may not.
    latest = max([dt.date.today(), *(row.when for row in building.log.current[-1:])])
    record = record_from_fields(fields, building.codes, file=LOG_FILE, where="new row", today=latest)
    if record.items:
        _check_items(record.items, building.folder)
    new = building.store.append(record)
    state = "Recorded" if new else "Already recorded"
    print(f"{state} as {record.id}: {record.unit}, {record.when}: {describe(record, ENGLISH)}.")

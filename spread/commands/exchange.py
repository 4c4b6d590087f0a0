"""Commands that carry data out and in: export, import."""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.asking import answers_of, asked, bytes_of, table_options
from spread.commands.common import Adder, fit_options, open_building, open_session, print_json

if TYPE_CHECKING:
    from spread.building import Building

FORMATS = (
    *("records-csv", "records-xlsx", "units-csv", "units-xlsx", "geojson", "graphml", "icalendar"),
    *("gpkg", "netcdf", "parquet", "zip"),
)
"""Names of :data:`spread.report.exchange.bundle.EXPORTS`, told here so that the help loads nothing heavy."""


def add(command: Adder) -> None:
    """Add the commands."""
    export = command("export", _export, "write records, units and contacts as files for other programs")
    export.add_argument("-o", "--output", required=True, help="folder to write to")
    export.add_argument(
        "--format",
        action="append",
        default=[],
        choices=FORMATS,
        help="which file; may be repeated; all of them if left out, zip for all in one; gpkg, netcdf and "
        "parquet need the extra spread[data]",
    )
    export.add_argument("--replace", action="store_true", help="write over files that are there")
    fit_options(export)

    take = command("import", _import, "take records or a firm's own notes into the building's log")
    take.add_argument("file", nargs="?", help="a file with the columns of records.csv, or notes as they are")
    take.add_argument(
        "--roll", action="store_true", help="the file is a rent roll: take in who moved in or out by it"
    )
    table_options(take, "take nothing")
    take.add_argument(
        "--take-back", metavar="BATCH", help="take back everything that one import of notes added"
    )
    take.add_argument("--dry-run", action="store_true", help="say what would happen and write nothing")
    take.add_argument("--json", action="store_true", help="print JSON")

    tidy = command("tidy", _tidy, "make a list of units that draw reads from a rent roll as it is")
    tidy.add_argument("file", help="XLSX, XLS, ODS or text with any separator")
    tidy.add_argument("-o", "--output", help="the list to write; printed if left out")
    table_options(tidy, "write no list")


def _export(args: argparse.Namespace) -> None:
    from spread.report.exchange.bundle import write_exports  # noqa: PLC0415

    session = open_session(args)
    names = [name for name in dict.fromkeys(args.format) if name != "zip"]
    paths: list[Path] = []
    if names or not args.format:
        paths += write_exports(session, Path(args.output), names, replace=args.replace)
    if "zip" in args.format:
        paths += write_exports(session, Path(args.output), zipped=True, replace=args.replace)
    if args.json:
        print_json(
            {
                "building": session.plan.name,
                "on": session.on.isoformat(),
                "files": [{"path": str(path), "bytes": path.stat().st_size} for path in paths],
            }
        )
        return
    for path in paths:
        print(f"Wrote {path} ({path.stat().st_size / 1000:.1f} kB)")


def _import(args: argparse.Namespace) -> None:
    from spread.decisions.doors.contradictions import repeated_by  # noqa: PLC0415
    from spread.errors import Problem, RecordError  # noqa: PLC0415
    from spread.records.incoming import has_our_columns, read_incoming  # noqa: PLC0415
    from spread.words import ENGLISH  # noqa: PLC0415
    from spread.words.contradictions import doubt_data, repeated_words  # noqa: PLC0415

    building = open_building(args)
    if args.take_back:
        _take_back(building, args)
        return
    if not args.file:
        raise RecordError.at("spread import", "", "no file is named", "name the file with the rows")
    source = Path(args.file)
    data = bytes_of(args.file)
    if args.answers or args.ask or args.roll or not has_our_columns(data, source.name):
        _import_notes(building, data, args)
        return
    units, kept = building.codes, building.store.log
    latest = max([dt.date.today(), *(row.when for row in building.log.current[-1:])])
    incoming = read_incoming(data, source.name, kept, units, today=latest)
    words = f"new {len(incoming.new)}, known {incoming.known}, refused {incoming.refused}"
    if incoming.problems:
        if args.json:
            print_json(_data(incoming.new, incoming.known, incoming.refused, written=False))
        elif args.dry_run:
            print(f"{source.name}: {words}.")
        raise RecordError(
            [
                *incoming.problems,
                Problem(source.name, "", f"nothing was taken in ({words})", "mend these first"),
            ]
        )
    again = repeated_by(kept, incoming.new)
    if not args.dry_run:
        building.store.extend(incoming.new)
    if args.json:
        told = _data(incoming.new, incoming.known, 0, written=not args.dry_run)
        print_json(told | {"repeats": [doubt_data(one) for one in again]})
        return
    words = f"new {len(incoming.new)}, known {incoming.known}, refused 0"
    print(f"{source.name}: {words}.{' Nothing was written: this was a dry run.' if args.dry_run else ''}")
    for one in again:
        print(f"Note: {repeated_words(one, ENGLISH)}")


def _data(new: tuple[object, ...], known: int, refused: int, *, written: bool) -> dict[str, object]:
    return {"new": len(new), "known": known, "refused": refused, "written": written}


def _import_notes(building: Building, data: bytes, args: argparse.Namespace) -> None:
    from spread.decisions.doors.contradictions import repeated_by  # noqa: PLC0415
    from spread.tables.grid import read_grid  # noqa: PLC0415
    from spread.tables.moves import read_moves  # noqa: PLC0415
    from spread.tables.notes import read_notes  # noqa: PLC0415
    from spread.words import ENGLISH  # noqa: PLC0415
    from spread.words.contradictions import doubt_data, repeated_words  # noqa: PLC0415
    from spread.words.tables import left_out_words, read_row_words  # noqa: PLC0415

    name, answers = Path(args.file).name, answers_of(args)
    grid = read_grid(data, name, args.sheet)
    read = read_moves if args.roll else read_notes
    log = building.log if args.roll else building.store.log  # a list of units has the codes of today
    notes = read(grid, answers, building.codes, log, dt.date.today())
    again = repeated_by(building.store.log, notes.records)
    if args.json:
        print_json(
            {
                "questions": [dataclasses.asdict(one) for one in notes.questions],
                "read": [
                    {"row": row.number, "original": row.original, "as": read_row_words(row), "why": row.why}
                    for row in notes.rows
                ],
                "new": len(notes.records),
                "left_out": dict(notes.left_out),
                "repeats": [doubt_data(one) for one in again],
                "batch": notes.batch,
                "written": bool(notes.records) and not args.dry_run and not args.ask,
            }
        )
    elif args.dry_run:
        for row in notes.rows:
            print(f"row {row.number}: {row.original!r} -> {read_row_words(row)}")
    if asked(notes.questions, answers, name, args):
        return
    if not args.dry_run:
        building.store.extend(notes.records)
    if not args.json:
        print(f"{name}: {len(notes.records)} rows {'would be ' if args.dry_run else ''}taken in.")
        print(left_out_words(notes.left_out))
        for one in again:
            print(f"Note: {repeated_words(one, ENGLISH)}")
        if notes.records and not args.dry_run:
            print(f"To take them back: spread import BUILDING --take-back {notes.batch}")


def _take_back(building: Building, args: argparse.Namespace) -> None:
    from spread.errors import Problem, RecordError  # noqa: PLC0415
    from spread.tables.notes import taken_back  # noqa: PLC0415

    rows = taken_back(building.store.log, args.take_back, dt.date.today())
    if not rows:
        what, fix = "no row that counts came in by it", "use the mark that the import printed"
        raise RecordError(Problem("spread import", f"--take-back {args.take_back[:20]}", what, fix))
    if not args.dry_run:
        building.store.extend(rows)
    done = "would be" if args.dry_run else "are"
    print(f"{len(rows)} rows {done} taken back; they stay in the log and count no more.")


def _tidy(args: argparse.Namespace) -> None:
    from spread.files import write_whole  # noqa: PLC0415
    from spread.plan.drawing.reading import parse_unit_list  # noqa: PLC0415
    from spread.tables.grid import read_grid  # noqa: PLC0415
    from spread.tables.roll import read_roll  # noqa: PLC0415
    from spread.words.tables import rows_left_out  # noqa: PLC0415

    name, answers = Path(args.file).name, answers_of(args)
    roll = read_roll(read_grid(bytes_of(args.file), name, args.sheet), answers)
    if asked(roll.questions, answers, name, args):
        return
    units = parse_unit_list(roll.text, name=name)
    if args.output:
        write_whole(Path(args.output), roll.text)
        print(f"{name}: {len(units.rows)} units on {len(units.floors)} floors, written to {args.output}.")
        if roll.left_out:
            print(rows_left_out(roll.left_out))
    else:
        print(roll.text, end="")

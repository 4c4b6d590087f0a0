"""Commands that carry data out and in: export, import."""

from __future__ import annotations

import argparse
import datetime as dt
from pathlib import Path

from spread.commands.common import Adder, fit_options, open_building, open_session, print_json

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

    take = command("import", _import, "take records from a CSV or XLSX file into the building's log")
    take.add_argument("file", help="a file with the columns of records.csv")
    take.add_argument("--dry-run", action="store_true", help="say what would happen and write nothing")
    take.add_argument("--json", action="store_true", help="print JSON")


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
    from spread.errors import Problem, RecordError  # noqa: PLC0415
    from spread.records.incoming import read_incoming  # noqa: PLC0415

    building = open_building(args)
    source = Path(args.file)
    try:
        data = source.read_bytes()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        fix = "check its name and where you are working"
        raise RecordError.at(source.name, "", f"it cannot be read ({reason})", fix) from None
    units = building.plan.units
    latest = max([dt.date.today(), *(row.when for row in building.log.current[-1:])])
    incoming = read_incoming(data, source.name, building.log, units, today=latest)
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
    if not args.dry_run:
        building.store.extend(incoming.new)
    if args.json:
        print_json(_data(incoming.new, incoming.known, 0, written=not args.dry_run))
        return
    words = f"new {len(incoming.new)}, known {incoming.known}, refused 0"
    print(f"{source.name}: {words}.{' Nothing was written: this was a dry run.' if args.dry_run else ''}")


def _data(new: tuple[object, ...], known: int, refused: int, *, written: bool) -> dict[str, object]:
    return {"new": len(new), "known": known, "refused": refused, "written": written}

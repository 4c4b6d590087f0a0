"""Every export by its name, one file or all in a zip, and how they reach a folder."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path

from spread.decisions.duties.owed import duties
from spread.errors import Problem, SpreadError
from spread.files import write_whole
from spread.report.exchange.graph import contacts_graphml, known_contacts
from spread.report.exchange.maps import geopackage, units_geojson
from spread.report.exchange.statistics import draws_parquet, intervals_parquet, netcdf, rates_parquet
from spread.report.exchange.tables import (
    records_csv,
    records_schema,
    records_xlsx,
    units_csv,
    units_schema,
    units_xlsx,
)
from spread.session import Session
from spread.weeks import speak_date

README = "README.txt"
ZIP_FILE = "spread-export.zip"


@dataclass(frozen=True, slots=True)
class Export:
    """One file that people can take away.

    ``file``: its name. ``media_type``: what it is, for a browser. ``words``: what it holds, in a sentence.
    ``make``: Makes it. ``beside``: what goes into a folder beside it: files by name. ``needs``: packages of
    the extra ``data`` that it cannot do without.
    """

    file: str
    media_type: str
    words: str
    make: Callable[[Session], bytes]
    beside: Mapping[str, Callable[[Session], bytes]] = field(default_factory=dict)
    needs: tuple[str, ...] = ()

    @property
    def ready(self) -> bool:
        """Whether the packages that it needs are installed."""
        return all(find_spec(name) is not None for name in self.needs)


def _calendar(session: Session) -> bytes:
    """Return visits and duties as a calendar; its stamp is the clock's, as RFC 5545 (3.8.7.2) asks."""
    # Here and not above: its library takes 0.1 s, and every other export does without.
    from spread.report.calendar import announced_events, duty_events, visit_events, write_calendar  # noqa: PLC0415

    view, rules = session.view, session.rules
    events = (
        *visit_events(view.followups.values(), session.on),
        *announced_events(view.log.current, session.on),
        *duty_events(duties(view.log, view.graph, rules, session.on), session.on),
    )
    return write_calendar(session.plan.name, events, dt.datetime.now(dt.UTC))


_SHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
EXPORTS: Mapping[str, Export] = {
    "records-csv": Export(
        "records.csv",
        "text/csv; charset=utf-8",
        "Every record, as CSV. The command spread import reads it back.",
        lambda session: records_csv(session.building.store.log),
        {"records.schema.json": lambda session: records_schema(session.building.store.log)},
    ),
    "records-xlsx": Export(
        "records.xlsx",
        _SHEET,
        "Every record, as a workbook. The command spread import reads it back.",
        lambda session: records_xlsx(session.building.store.log),
    ),
    "units-csv": Export(
        "units.csv",
        "text/csv; charset=utf-8",
        "Each unit with its chance and last looks, as CSV.",
        units_csv,
        {"units.schema.json": lambda session: units_schema()},
    ),
    "units-xlsx": Export(
        "units.xlsx", _SHEET, "Each unit with its chance and last looks, as a workbook.", units_xlsx
    ),
    "geojson": Export(
        "building.geojson",
        "application/geo+json",
        "Units with their chances, hallways, doors, risers, stairs and contacts, for a GIS. In longitude "
        "and latitude if the plan says where it stands, else in metres of the drawing.",
        units_geojson,
    ),
    "graphml": Export(
        "contacts.graphml",
        "application/graphml+xml",
        "The contact graph: an edge for each wall, floor, riser and hallway between two units, with "
        "chances and hazards.",
        lambda session: contacts_graphml(known_contacts(session)),
    ),
    "icalendar": Export(
        "calendar.ics",
        "text/calendar; charset=utf-8",
        "Duties and visits that are due, for a calendar.",
        _calendar,
    ),
    "gpkg": Export(
        "building.gpkg",
        "application/geopackage+sqlite3",
        "The same map as a GeoPackage, a layer a kind of thing.",
        geopackage,
        needs=("pyogrio",),
    ),
    "netcdf": Export(
        "draws.nc",
        "application/x-netcdf",
        "Draws of the fit by chain with rates and intervals, as netCDF that ArviZ opens.",
        netcdf,
        needs=("h5netcdf", "h5py"),
    ),
    "parquet": Export(
        "draws.parquet",
        "application/vnd.apache.parquet",
        "Draws of the fit, a row for each chain, draw and unit, as Parquet; rates and intervals beside it.",
        draws_parquet,
        {"rates.parquet": rates_parquet, "intervals.parquet": intervals_parquet},
        needs=("pyarrow",),
    ),
}


def make_export(session: Session, name: str) -> bytes:
    """Return one export.

    Raises SpreadError when there is none of that name.
    """
    if name not in EXPORTS:
        fix = f"name one of {', '.join(EXPORTS)}"
        raise SpreadError.at("export", "", f"there is no export {name[:40]!r}", fix)
    return EXPORTS[name].make(session)


def make_zip(session: Session) -> bytes:
    """Return every export that can be made here in one zip file, with a page that says what each is."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in ((README, readme(session).encode("utf-8")), *_all_files(session).items()):
            stamp = (session.on.year, session.on.month, session.on.day, 0, 0, 0)
            archive.writestr(zipfile.ZipInfo(name, stamp), data, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def readme(session: Session) -> str:
    """Return what the files are, as a page of text."""
    files = "\n".join(f"{one.file:18} {one.words}" for one in EXPORTS.values() if one.ready)
    lacking = [one.file for one in EXPORTS.values() if not one.ready]
    if lacking:
        files += f"\n\nNot here, for want of the extra spread[data]: {', '.join(lacking)}."
    return (
        f"{session.plan.name}, as known on {speak_date(session.on)}.\n\n{files}\n\n"
        "Chances are 0 to 1 and are no guarantee: a low one clears no unit. Units, never people.\n"
        "Each schema says which columns of a CSV file are text, numbers and days (Table Schema).\n"
        "Cells that a spreadsheet would take for a formula begin with an apostrophe in the CSV files.\n"
    )


def write_exports(
    session: Session, folder: Path, names: Sequence[str] = (), *, zipped: bool = False, replace: bool = False
) -> tuple[Path, ...]:
    """Write exports to a folder; all are made before the first is written.

    ``folder``: made if it is missing. ``names``: which exports; if empty all that need no more than what is
    installed. ``zipped``: write all of them as one zip file instead. ``replace``: whether files that are
    there may be replaced, each in one step. Raises SpreadError with every file that is there already, or the
    reason why the folder cannot be written to.
    """
    if zipped:
        files = {ZIP_FILE: make_zip(session)}
    elif names:
        files = {file: data for name in names for file, data in _files(session, EXPORTS[name]).items()}
    else:
        files = {README: readme(session).encode("utf-8"), **_all_files(session)}
    _check_folder(session, folder, files, replace=replace)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            write_whole(folder / name, data)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        fix = "name a folder you may write to"
        raise SpreadError.at(str(folder), "", f"it cannot be written ({reason})", fix) from None
    return tuple(folder / name for name in files)


def _all_files(session: Session) -> dict[str, bytes]:
    ready = (export for export in EXPORTS.values() if export.ready)
    return {file: data for export in ready for file, data in _files(session, export).items()}


def _files(session: Session, export: Export) -> dict[str, bytes]:
    """Return an export and what goes beside it."""
    makers = {export.file: export.make, **export.beside}
    return {file: make(session) for file, make in makers.items()}


def _check_folder(session: Session, folder: Path, files: Mapping[str, bytes], *, replace: bool) -> None:
    if folder.exists() and not folder.is_dir():
        raise SpreadError.at(str(folder), "", "it is a file, expected a folder", "name another folder")
    if folder.resolve() == session.building.folder.resolve():
        # Its records.csv and units.csv are the building itself.
        fix = "name another folder"
        raise SpreadError.at(str(folder), "", "it is the building's own folder", fix)
    there = [name for name in files if (folder / name).exists()]
    if there and not replace:
        fix = "name another folder, or add --replace to write over it"
        raise SpreadError([Problem(str(folder / name), "", "it is there already", fix) for name in there])

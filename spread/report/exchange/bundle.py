"""Every export by its name, one file or all in a zip, and how they reach a folder."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from spread.decisions.duties.owed import duties
from spread.errors import Problem, SpreadError
from spread.files import write_whole
from spread.report.exchange.graph import contacts_graphml
from spread.report.exchange.maps import units_geojson
from spread.report.exchange.tables import records_csv, records_xlsx, units_csv, units_xlsx
from spread.session import Session
from spread.trade.rules import load_rules
from spread.weeks import speak_date

README = "README.txt"
ZIP_FILE = "spread-export.zip"


@dataclass(frozen=True, slots=True)
class Export:
    """One file that people can take away.

    Parameters
    ----------
    file
        Its name.
    media_type
        What it is, for a browser.
    words
        What it holds, in a sentence.
    make
        Makes it.
    """

    file: str
    media_type: str
    words: str
    make: Callable[[Session], bytes]


def _calendar(session: Session) -> bytes:
    """Return visits and duties as a calendar; its stamp is the clock's, as RFC 5545 (3.8.7.2) asks."""
    # Here and not above: its library takes 0.1 s, and every other export does without.
    from spread.report.calendar import duty_events, visit_events, write_calendar  # noqa: PLC0415

    settings, view = session.building.settings, session.view
    rules = load_rules(settings.rules, session.building.folder)
    events = (
        *visit_events(view.followups.values(), session.on),
        *duty_events(duties(view.log, view.graph, rules, session.on), session.on),
    )
    return write_calendar(session.plan.name, events, dt.datetime.now(dt.UTC))


_SHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
EXPORTS: Mapping[str, Export] = {
    "records-csv": Export(
        "records.csv",
        "text/csv; charset=utf-8",
        "Every record, as CSV. The command spread import reads it back.",
        lambda session: records_csv(session.view.log),
    ),
    "records-xlsx": Export(
        "records.xlsx",
        _SHEET,
        "Every record, as a workbook. The command spread import reads it back.",
        lambda session: records_xlsx(session.view.log),
    ),
    "units-csv": Export(
        "units.csv", "text/csv; charset=utf-8", "Each unit with its chance and last looks, as CSV.", units_csv
    ),
    "units-xlsx": Export(
        "units.xlsx", _SHEET, "Each unit with its chance and last looks, as a workbook.", units_xlsx
    ),
    "geojson": Export(
        "units.geojson",
        "application/geo+json",
        "Units with their chances, for a GIS. In longitude and latitude if the plan says where it stands, "
        "else in metres of the drawing.",
        units_geojson,
    ),
    "graphml": Export(
        "contacts.graphml",
        "application/graphml+xml",
        "The contact graph: an edge for each wall, floor, riser and hallway between two units.",
        lambda session: contacts_graphml(session.contacts),
    ),
    "icalendar": Export(
        "calendar.ics",
        "text/calendar; charset=utf-8",
        "Duties and visits that are due, for a calendar.",
        _calendar,
    ),
}


def make_export(session: Session, name: str) -> bytes:
    """Return one export.

    Raises
    ------
    SpreadError
        When there is none of that name.
    """
    if name not in EXPORTS:
        fix = f"name one of {', '.join(EXPORTS)}"
        raise SpreadError(Problem("export", "", f"there is no export {name[:40]!r}", fix))
    return EXPORTS[name].make(session)


def make_zip(session: Session) -> bytes:
    """Return all exports in one zip file, with a page that says what each of them is."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in ((README, readme(session).encode("utf-8")), *_all_files(session).items()):
            stamp = (session.on.year, session.on.month, session.on.day, 0, 0, 0)
            archive.writestr(zipfile.ZipInfo(name, stamp), data, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def readme(session: Session) -> str:
    """Return what the files are, as a page of text."""
    files = "\n".join(f"{export.file:18} {export.words}" for export in EXPORTS.values())
    return (
        f"{session.plan.name}, as known on {speak_date(session.on)}.\n\n{files}\n\n"
        "Chances are 0 to 1 and are no guarantee: a low one clears no unit. Units, never people.\n"
        "Cells that a spreadsheet would take for a formula begin with an apostrophe in the CSV files.\n"
    )


def write_exports(
    session: Session, folder: Path, names: Sequence[str] = (), *, zipped: bool = False, replace: bool = False
) -> tuple[Path, ...]:
    """Write exports to a folder; all are made before the first is written.

    Parameters
    ----------
    session
        An open building.
    folder
        Made if it is missing.
    names
        Which exports; all if empty.
    zipped
        Write all of them as one zip file instead.
    replace
        Whether files that are there may be replaced, each in one step.

    Raises
    ------
    SpreadError
        With every file that is there already, or the reason why the folder cannot be written to.
    """
    if zipped:
        files = {ZIP_FILE: make_zip(session)}
    elif names:
        files = {EXPORTS[name].file: make_export(session, name) for name in names}
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
        raise SpreadError(Problem(str(folder), "", f"it cannot be written ({reason})", fix)) from None
    return tuple(folder / name for name in files)


def _all_files(session: Session) -> dict[str, bytes]:
    return {export.file: export.make(session) for export in EXPORTS.values()}


def _check_folder(session: Session, folder: Path, files: Mapping[str, bytes], *, replace: bool) -> None:
    if folder.exists() and not folder.is_dir():
        raise SpreadError(Problem(str(folder), "", "it is a file, expected a folder", "name another folder"))
    if folder.resolve() == session.building.folder.resolve():
        # Its records.csv and units.csv are the building itself.
        fix = "name another folder"
        raise SpreadError(Problem(str(folder), "", "it is the building's own folder", fix))
    there = [name for name in files if (folder / name).exists()]
    if there and not replace:
        fix = "name another folder, or add --replace to write over it"
        raise SpreadError([Problem(str(folder / name), "", "it is there already", fix) for name in there])

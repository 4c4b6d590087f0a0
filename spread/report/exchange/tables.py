"""Records and units as tables, in CSV and XLSX; records come back without a difference."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from spread.decisions.doors.ranking import DoorRow
from spread.plan.spreadsheet import write_workbook
from spread.records.cells import columns_for, guard, to_fields
from spread.records.incoming import SHEET, with_rows
from spread.records.kinds import Record
from spread.records.log import Log
from spread.session import Session
from spread.trade.biology import LEVEL_NAMES
from spread.words import ENGLISH
from spread.words.doors import reason_text, sure_words
from spread.words.relations import places

Cell = str | float | None
Table = list[Sequence[Cell]]
"""Rows of cells; the first row has the heads."""

UNIT_HEADS = (
    "unit",
    "floors",
    "stack",
    "area_m2",
    "status",
    "rank",
    "chance",
    *(f"chance_{level}" for level in LEVEL_NAMES[1:]),
    "chance_of_find",
    "rests_on",
    "reason",
    "ring",
    "duty",
    "duty_due",
    "last_look",
    "last_find",
    "last_treatment",
)
STATUS_WORDS = {"look": "look", "treat": "treat", "revisit": "look again"}


def records_csv(log: Log) -> bytes:
    """Return every row of a log, superseded ones too, as CSV that the log itself could be."""
    return with_rows(b"", log.rows)


def records_xlsx(log: Log) -> bytes:
    """Return every row of a log as a workbook with one sheet."""
    return write_workbook([(SHEET, records_table(log.rows))])


def records_table(rows: Sequence[Record]) -> Table:
    """Return records as rows of text, nothing guarded: a workbook marks its cells as text."""
    fields = [to_fields(row) for row in rows]
    columns = columns_for({name: text for row in fields for name, text in row.items() if text})
    return [columns, *([row.get(name, "") for name in columns] for row in fields)]


def units_csv(session: Session) -> bytes:
    """Return what is known of every unit as CSV, safe to open in a spreadsheet."""
    return write_csv(units_table(session))


def units_xlsx(session: Session) -> bytes:
    """Return what is known of every unit as a workbook."""
    return write_workbook([("units", units_table(session))])


def units_table(session: Session) -> Table:
    """Return a row for each unit of the plan, in its order: where it is, its chance, its last looks."""
    posterior = session.view.posterior
    doors = {row.unit: row for row in session.doors()}
    table: Table = [UNIT_HEADS]
    for unit in session.plan.units.values():
        at, door = posterior.units.index(unit.id), doors[unit.id]
        levels = [round(float(chance), 4) for chance in posterior.levels[at]]
        table.append(
            [
                unit.id,
                "+".join(floor for floor in session.plan.floors if floor in unit.parts),
                unit.stack,
                round(unit.area, 1),
                STATUS_WORDS[door.status],
                door.rank if door.status == "look" else None,
                round(door.chance, 4),
                *levels[1:],
                round(door.chance_of_find, 4),
                sure_words(door.sure, ENGLISH),
                reason_text(door.reasons, ENGLISH),
                places(door.ring, ENGLISH),
                *_duty(door),
                *_days(session, unit.id),
            ]
        )
    return table


def write_csv(table: Table) -> bytes:
    """Return a table as CSV in UTF-8; texts that a spreadsheet would run are guarded."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    for row in table:
        writer.writerow(
            ["" if cell is None else guard(cell) if isinstance(cell, str) else f"{cell:g}" for cell in row]
        )
    return stream.getvalue().encode("utf-8")


def _duty(door: DoorRow) -> tuple[str, str]:
    return (
        ("", "")
        if door.duty is None
        else (door.duty.status, door.duty.due.isoformat() if door.duty.due else "")
    )


def _days(session: Session, unit: str) -> list[str]:
    standing = session.view.standings[unit]
    found = (standing.last_look, standing.last_find, standing.last_treatment)
    return ["" if row is None else row.when.isoformat() for row in found]

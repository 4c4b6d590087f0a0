"""Records and units as tables, in CSV and XLSX; records come back without a difference."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from spread.decisions.doors.ranking import DoorRow
from spread.plan.spreadsheet import write_workbook
from spread.records.cells import columns_for, guard, to_fields
from spread.records.folder import as_file
from spread.records.incoming import SHEET
from spread.records.kinds import Record
from spread.records.log import Log
from spread.report.lines import csv_text
from spread.session import Session
from spread.trade.biology import LEVEL_NAMES
from spread.words import ENGLISH
from spread.words.doors import reason_text, sure_words
from spread.words.relations import places

Cell = str | float | None
Table = list[Sequence[Cell]]
"""Rows of cells; the first row has the heads."""

UNIT_FIELDS = {
    "unit": "string",
    "floors": "string",
    "stack": "string",
    "area_m2": "number",
    "status": "string",
    "rank": "integer",
    "chance": "number",
    **dict.fromkeys((f"chance_{level}" for level in LEVEL_NAMES[1:]), "number"),
    "chance_of_find": "number",
    "rests_on": "string",
    "reason": "string",
    "ring": "string",
    "duty": "string",
    "duty_due": "date",
    "last_look": "date",
    "last_find": "date",
    "last_treatment": "date",
}
"""Columns of the table of units with their types, as Table Schema names types."""
UNIT_HEADS = tuple(UNIT_FIELDS)
RECORD_TYPES = {"when": "date", "count": "integer", "days": "integer"}
"""Types of a record's fields that are not text."""
TABLE_SCHEMA = "https://datapackage.org/profiles/2.0/tableschema.json"
"""The profile of the open standard that the schemas follow; nothing is fetched from it."""
STATUS_WORDS = {"look": "look", "treat": "treat", "revisit": "look again"}


def records_csv(log: Log) -> bytes:
    """Return every row of a log, superseded ones too, as CSV that the log itself could be."""
    return as_file(log.rows)


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
    rows = (
        ["" if cell is None else guard(cell) if isinstance(cell, str) else f"{cell:g}" for cell in row]
        for row in table
    )
    return csv_text(rows).encode("utf-8")


def units_schema() -> bytes:
    """Return what the columns of the table of units are, as a Table Schema: a stack ``01`` is a text."""
    return _schema(UNIT_FIELDS, "unit")


def records_schema(log: Log) -> bytes:
    """Return what the columns of a log are, as a Table Schema."""
    heads = map(str, records_table(log.rows)[0])
    return _schema({name: RECORD_TYPES.get(name, "string") for name in heads}, "id")


def _schema(types: Mapping[str, str], key: str) -> bytes:
    fields = [
        {"name": name, "type": kind, **({"constraints": {"required": True}} if name == key else {})}
        for name, kind in types.items()
    ]
    head = {"$schema": TABLE_SCHEMA, "fields": fields, "missingValues": [""], "primaryKey": [key]}
    return json.dumps(head, indent=1).encode("utf-8")


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

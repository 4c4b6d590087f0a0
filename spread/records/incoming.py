"""Rows from elsewhere: read from CSV or XLSX, weighed against the log, added all or none.

An import that is repeated changes nothing: a row is known by its id. It is all or nothing, so that
nobody has to find out which half of a file went in.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from spread.errors import Problem, RecordError, SpreadError
from spread.plan.spreadsheet import is_workbook, read_workbook
from spread.records.cells import FREE_TEXT, header, unguard
from spread.records.kinds import ALL_FIELDS, FIELDS, Record
from spread.records.log import Log, chain_problems, taken_id
from spread.records.parse import RowReader, as_problems
from spread.records.sense import guess, shown
from spread.records.table import SIZE_LIMIT

SHEET = "records"  #: Name of the sheet that holds records


@dataclass(frozen=True, slots=True)
class Incoming:
    """What a file of records would do to a log."""

    new: tuple[Record, ...]  #: Rows that the log lacks, in the order of the file
    known: int = 0  #: How many rows it has already
    refused: int = 0  #: How many rows cannot be taken in
    #: Everything wrong with the file; if there is any, nothing is taken in
    problems: tuple[Problem, ...] = ()


def read_incoming(
    data: bytes, file: str, log: Log, units: Collection[str], *, today: dt.date | None = None
) -> Incoming:
    """Weigh a file of records against a log.

    Raises RecordError, SpreadError when the file is no table of records at all. What is wrong with its rows
    comes in ``problems``.

    Parameters
    ----------
    data
        A CSV file (commas, semicolons or tabs, UTF-8) or an XLSX workbook, with the columns of
        ``records.csv`` in any order. In CSV the apostrophe that guards against formulas is taken off.
    file : How messages name it
    log : What the building has
    units : Unit codes of the plan
    today : Rows dated more than a day after it are refused; None leaves that check out
    """
    from_sheet = is_workbook(data)
    rows = read_workbook(data, file, sheet=SHEET) if from_sheet else list(_csv_rows(data, file))
    if not rows:
        raise RecordError(Problem(file, "", "it is empty", f"begin with a line {header(FIELDS).strip()}"))
    (line, heads), *body = rows
    columns = _columns(heads, line, file, "row" if from_sheet else "line")
    reader = RowReader(units, today)
    problems: list[Problem] = []
    found: dict[str, Record] = {}
    places: dict[str, str] = {}
    seen: set[str] = set()
    known = refused = 0
    for number, cells in body:
        place = f"{'row' if from_sheet else 'line'} {number}"
        if any(cells[len(columns) :]) or (len(cells) < len(columns) and not from_sheet):
            what = f"the row has {len(cells)} cells and the header {len(columns)}"
            fix = "put a cell that holds the separator in double quotes, and leave no column out"
            problems.append(Problem(file, place, what, fix))
            refused += 1
            continue
        fields = _fields(cells, columns, guarded=not from_sheet)
        seen.add(fields["id"].strip())
        read = reader.read(fields)
        if isinstance(read, list):
            problems += as_problems(read, file, place)
            refused += 1
            continue
        earlier = log.by_id.get(read.id) or found.get(read.id)
        if earlier is None:
            found[read.id], places[read.id] = read, place
        elif earlier == read:
            known += 1
        else:
            problems += as_problems([taken_id(read.id)], file, place)
            refused += 1
    ids = seen | log.by_id.keys()
    chained = chain_problems(
        [*log.rows, *found.values()], ids, lambda row: places.get(row.id, f"row {shown(row.id)}"), file
    )
    refused += len({problem.where for problem in chained})
    return Incoming(tuple(found.values()), known, refused, (*problems, *chained))


def has_our_columns(data: bytes, file: str) -> bool:
    """Say whether a file's first line names columns of ``records.csv``; notes of a firm's own have others."""
    try:
        rows = read_workbook(data, file, sheet=SHEET) if is_workbook(data) else list(_csv_rows(data, file))
    except SpreadError:
        return False
    heads = {cell.strip() for cell in rows[0][1]} if rows else set(FIELDS)
    return len(heads & set(ALL_FIELDS)) >= 5 or not rows


def _csv_rows(data: bytes, file: str) -> Iterator[tuple[int, list[str]]]:
    if len(data) > SIZE_LIMIT:
        what = f"the file has {len(data):,} bytes, more than {SIZE_LIMIT:,}"
        raise RecordError(Problem(file, "", what, "check that it is the log of one building"))
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RecordError(
            Problem(file, f"byte {error.start + 1}", "it is not UTF-8 text", "save it as CSV in UTF-8")
        ) from None
    if "\0" in text:
        raise RecordError(Problem(file, "", "it is not text", "save it as CSV in UTF-8"))
    first = text.split("\n", 1)[0]
    separator = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    begins = 1
    try:
        for cells in reader:
            if any(cells):
                yield begins, cells
            begins = reader.line_num + 1
    except csv.Error as error:
        fix = "put a cell that holds commas, quotes or new lines in one pair of double quotes"
        raise RecordError(Problem(file, f"line {begins}", f"the row is not CSV ({error})", fix)) from None


def _columns(heads: Sequence[str], line: int, file: str, word: str) -> list[str]:
    columns = [head.strip() for head in heads]
    while columns and not columns[-1]:
        columns.pop()
    wrong = [(f"column {shown(name)} is missing", "") for name in FIELDS if name not in columns]
    if len(wrong) == len(FIELDS):
        wrong = [("the first line is not the header of a log", "")]
    wrong += [
        (f"unknown column {shown(name)}", guess(name, ALL_FIELDS))
        for name in columns
        if name not in ALL_FIELDS
    ]
    wrong += [
        (f"column {shown(name)} stands there twice", "take one of them out")
        for name in ALL_FIELDS
        if columns.count(name) > 1
    ]
    if wrong:
        usual = f"the header is {header(FIELDS).strip()}"
        raise RecordError([Problem(file, f"{word} {line}", what, fix or usual) for what, fix in wrong])
    return columns


def _fields(cells: Sequence[str], columns: Sequence[str], *, guarded: bool) -> dict[str, str]:
    row = dict.fromkeys(ALL_FIELDS, "")
    row.update(zip(columns, cells, strict=False))
    if guarded:
        row.update({name: unguard(row[name]) for name in FREE_TEXT})
    return row

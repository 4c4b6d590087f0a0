"""Any table as cells of text: XLSX, XLS, ODS, text with any usual separator, or cells that were pasted."""

from __future__ import annotations

import csv
import datetime as dt
import io
from dataclasses import dataclass
from typing import cast

from spread.errors import Problem, SpreadError
from spread.plan.list_file import list_text
from spread.worker import in_worker

MOST_CELLS = 2_000_000
LARGEST_FILE = 20_000_000
_BINARY = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""How XLSX and ODS begin (zip), and old XLS (a compound file)."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells of a table.

    Parameters
    ----------
    rows
        Number of the row as the file counts, from 1, and its cells; empty rows are left out.
    file
        How messages name it.
    sheet
        The sheet of a workbook; empty for text.
    sheets
        Every sheet of the workbook that has something in it.
    """

    rows: tuple[tuple[int, tuple[str, ...]], ...]
    file: str
    sheet: str = ""
    sheets: tuple[str, ...] = ()


def read_grid(data: bytes, file: str, sheet: str = "") -> Grid:
    """Read a file as cells.

    Parameters
    ----------
    data
        The whole file. A workbook is read in a process of its own, which is ended when it takes too much.
    file
        How messages name it.
    sheet
        Which sheet of a workbook; the one with most cells if empty.

    Raises
    ------
    SpreadError
        One sentence, when it is no table, is locked with a password, or takes too much.
    """
    if len(data) > LARGEST_FILE:
        what = f"it has {len(data):,} bytes, more than {LARGEST_FILE:,}"
        raise SpreadError(Problem(file, "", what, "keep only the sheet that is needed"))
    if is_binary(data):
        told = in_worker("spread.tables.grid:cells_of", data, file, sheet)
        found, rows, sheets = cast("tuple[str, list[tuple[int, list[str]]], list[str]]", told)
        grid = Grid(tuple((number, tuple(cells)) for number, cells in rows), file, found, tuple(sheets))
    else:
        grid = Grid(tuple(_text_rows(list_text(data, file), file)), file)
    if not grid.rows:
        raise SpreadError(Problem(file, "", "it is empty", "choose the file with the table in it"))
    return grid


def is_binary(data: bytes) -> bool:
    """Say whether a file is a workbook, and not text."""
    return data.startswith(_BINARY)


def cells_of(data: bytes, file: str, sheet: str = "") -> tuple[str, list[tuple[int, list[str]]], list[str]]:
    """Return the sheet, the cells and the sheets of a workbook; runs in the worker."""
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError  # noqa: PLC0415

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        names = book.sheet_names
        if sheet and sheet not in names:
            fix = f"choose among: {', '.join(names)}"
            raise SpreadError(Problem(file, "", f"it has no sheet {sheet[:40]!r}", fix))
        sheets = {name: book.get_sheet_by_name(name) for name in names}
        if not sheets:
            raise SpreadError(Problem(file, "", "it has no sheet", "save it anew"))
        name = sheet or max(sheets, key=lambda one: sheets[one].height * sheets[one].width)
        chosen = sheets[name]
        if chosen.height * chosen.width > MOST_CELLS:
            what = f"the sheet {name[:40]!r} has more than {MOST_CELLS:,} cells"
            raise SpreadError(Problem(file, "", what, "keep only the rows and columns that are needed"))
        rows = [(at, [_text(cell) for cell in cells]) for at, cells in enumerate(chosen.to_python(False), 1)]
    except PasswordError:
        what, fix = "it is locked with a password", "save a copy without one"
        raise SpreadError(Problem(file, "", what, fix)) from None
    except (CalamineError, ValueError, OSError, OverflowError) as error:
        what = f"it is no workbook that can be read ({str(error)[:80]})"
        raise SpreadError(Problem(file, "", what, "save it anew as XLSX or CSV")) from None
    filled = [one for one, of in sheets.items() if of.height * of.width]
    return name, [(at, cells) for at, cells in rows if any(cells)], filled


def _text(cell: object) -> str:
    """Return a cell as text: whole numbers without a point, days as ``2026-03-04``."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat()
    if isinstance(cell, dt.date):
        return cell.isoformat()
    return " ".join(str(cell).split())


def _text_rows(text: str, file: str) -> list[tuple[int, tuple[str, ...]]]:
    lines = text.splitlines()
    if lines and lines[0].casefold().startswith("sep="):
        lines[0] = ""
    sample = "\n".join(lines[:50])
    separator = max("\t;,|", key=lambda mark: _evenness(sample, mark))
    rows, begins = [], 1
    reader = csv.reader(io.StringIO("\n".join(lines) + "\n", newline=""), delimiter=separator)
    try:
        for cells in reader:
            kept = tuple(_unquoted(" ".join(cell.split())) for cell in cells)
            if any(kept):
                rows.append((begins, kept))
            begins = reader.line_num + 1
    except csv.Error as error:
        raise SpreadError(
            Problem(file, f"line {begins}", f"it is no table ({error})", "save the list as CSV")
        ) from None
    if sum(len(cells) for _, cells in rows) > MOST_CELLS:
        what = f"it has more than {MOST_CELLS:,} cells"
        raise SpreadError(Problem(file, "", what, "keep only the rows and columns that are needed"))
    return rows


def _unquoted(cell: str) -> str:
    """Return a cell without the marks by which spreadsheets keep text as text."""
    if cell.startswith('="') and cell.endswith('"'):
        return cell[2:-1]
    return cell[1:] if cell[:1] == "'" and cell[1:2] in "=+-@'" else cell


def _evenness(text: str, mark: str) -> tuple[int, int]:
    """Return how many lines have the commonest number of a separator, and that number."""
    counts = [len(next(csv.reader([line], delimiter=mark), [])) - 1 for line in text.splitlines() if line]
    often = max(set(counts), key=counts.count, default=0) if counts else 0
    return (counts.count(often) if often else 0, often)

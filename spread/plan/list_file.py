"""The text of a unit list that came as a file: text in any common coding, or an XLSX workbook."""

from __future__ import annotations

import codecs
import csv
import io

from spread.errors import PlanError
from spread.plan.spreadsheet import is_workbook, read_workbook

FIELDS = ("unit", "floor", "stack", "side", "order", "area_m2", "layout")
"""Fields of a unit list; the first two are needed, and no other is read."""
SHEET = "units"
"""Name of the sheet that is read of a workbook that has one of that name."""


def list_text(data: bytes, file: str) -> str:
    """Return the text of a unit list.

    ``data``: the whole file: text in UTF-8, in UTF-16 with a byte order mark or in Windows-1252; or a
    workbook, of which the sheet ``units`` is read, or the first. ``file``: how messages name it. Returns the
    text as it is; of a workbook CSV with only the columns that a list has, so that nothing about people is
    kept, and with row 7 of the sheet on line 7. Raises SpreadError when the file can be read as neither.
    """
    return _sheet_text(data, file) if is_workbook(data) else _decoded(data, file)


def field_of(head: str) -> str:
    """Return the field that a column's head means: ``Area m2`` is ``area_m2``."""
    return "_".join(head.strip().casefold().split())


def _decoded(data: bytes, file: str) -> str:
    no_text = PlanError.at(file, "", "it is not text", "save the list as CSV in UTF-8, or as XLSX")
    try:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            text = data.decode("utf-16")
        else:
            try:
                text = data.decode("utf-8-sig")
            except UnicodeDecodeError:
                text = data.decode("cp1252")
    except UnicodeDecodeError:
        raise no_text from None
    if any(ord(character) < 32 and character not in "\t\r\n\f" for character in text):
        raise no_text
    return text


def _sheet_text(data: bytes, file: str) -> str:
    rows = read_workbook(data, file, sheet=SHEET)
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    kept: list[int] = []
    written = 0
    for number, cells in rows:
        stream.write("\n" * (number - written - 1))
        written = number
        if not kept:
            fields = [field_of(head) for head in cells]
            kept = [at for at, field in enumerate(fields) if field in FIELDS]
            if not {"unit", "floor"} <= set(fields):
                writer.writerow(fields)  # its reader says what is missing, and names what it found
                break
            writer.writerow([fields[at] for at in kept])
        else:
            # One line a row, whatever is in its cells.
            writer.writerow([" ".join(cells[at].split()) if at < len(cells) else "" for at in kept])
    return stream.getvalue()

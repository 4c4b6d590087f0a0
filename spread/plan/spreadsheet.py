"""Tables as XLSX workbooks, every cell as text: what is written comes back letter for letter.

A spreadsheet runs what it takes for a formula and drops the zero of ``0101``. Here every cell is
stored as text and marked so, and characters that XML cannot hold are written ``_xHHHH_`` as ECMA-376
(part 1, 22.9.2.19, ``ST_Xstring``) asks.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from itertools import islice

from spread.errors import SpreadError
from spread.worker import in_worker

LARGEST_FILE = 20_000_000
"""Bytes of a workbook that is read."""
LARGEST_UNPACKED = 200_000_000
"""Bytes of its parts unpacked; a small file may claim to hold endless ones."""
MOST_ROWS = 200_000
MOST_COLUMNS = 200
MOST_CELLS = 3_000_000
TRUSTED = 2_000_000
"""Bytes, packed or not, up to which a workbook is read in this process: it can do no harm."""

_UNSAFE = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")


def is_workbook(data: bytes) -> bool:
    """Return whether bytes begin as a zip archive does, which every XLSX file is."""
    return data[:4] == b"PK\x03\x04"


def write_workbook(sheets: Sequence[tuple[str, Iterable[Sequence[str | float | None]]]]) -> bytes:
    """Write tables as a workbook.

    ``sheets``: a name and the rows of each, the first row the heads. Text stays text whatever it begins with;
    numbers stay numbers; None is an empty cell. Returns: the same for the same tables, but for the time in
    the workbook's properties.
    """
    from openpyxl import Workbook  # noqa: PLC0415 - takes 0.2 s and most commands do without
    from openpyxl.cell import WriteOnlyCell  # noqa: PLC0415
    from openpyxl.styles import Font  # noqa: PLC0415

    book = Workbook(write_only=True)
    for name, rows in sheets:
        sheet = book.create_sheet(name)
        sheet.freeze_panes = "A2"
        for number, row in enumerate(rows):
            cells = []
            for value in row:
                cell = WriteOnlyCell(sheet, value=_escape(value) if isinstance(value, str) else value)
                if isinstance(value, str):
                    cell.data_type = "s"  # a text that begins with = was taken for a formula
                    cell.quotePrefix = True  # and stays text when somebody edits it
                    cell.number_format = "@"
                if number == 0:
                    cell.font = Font(bold=True)
                cells.append(cell)
            sheet.append(cells)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def read_workbook(data: bytes, file: str, *, sheet: str = "") -> list[tuple[int, list[str]]]:
    """Read one sheet of a workbook as text.

    ``file``: how messages name it. ``sheet``: the sheet wanted, if the workbook has one of that name; the
    first otherwise. Returns number and cells of every row that is not empty. Days are ISO days, whole numbers
    have no point, and a formula counts as the value that was saved with it. Raises SpreadError, one sentence,
    when it is no workbook, or too large a one.
    """
    _check(data, file)
    if len(data) > TRUSTED or _unpacked(data) > TRUSTED:
        # A few hundred kB can hold ten million texts: such a file is read where it can be ended.
        read = in_worker("spread.plan.spreadsheet:rows_of", data, file, sheet)
        return [(number, cells) for number, cells in read]  # type: ignore[attr-defined]
    return rows_of(data, file, sheet)


def rows_of(data: bytes, file: str, sheet: str) -> list[tuple[int, list[str]]]:
    """Do what :func:`read_workbook` does, in this process and whatever the size."""
    from openpyxl import load_workbook  # noqa: PLC0415

    rows = []
    number = left = 0
    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        page = book[sheet] if sheet in book.sheetnames else book.worksheets[0]
        for number, values in enumerate(islice(page.iter_rows(values_only=True), MOST_ROWS + 1), start=1):
            cells = [_text(value) for value in values[:MOST_COLUMNS]]
            while cells and not cells[-1]:
                cells.pop()
            left += len(cells)
            if left > MOST_CELLS:
                break
            if any(cell.strip() for cell in cells):
                rows.append((number, cells))
    except MemoryError:
        raise
    except Exception:  # a broken workbook fails in as many ways as it can be broken
        raise SpreadError.at(
            file, "", "the workbook cannot be read", "save it again as XLSX, or as CSV in UTF-8"
        ) from None
    if left > MOST_CELLS:
        what = f"the sheet has more than {MOST_CELLS:,} cells"
        raise SpreadError.at(file, "", what, "split it into several files")
    if number > MOST_ROWS:
        what = f"the sheet has more than {MOST_ROWS:,} rows"
        raise SpreadError.at(file, "", what, "split it into several files")
    return rows


def _check(data: bytes, file: str) -> None:
    if len(data) > LARGEST_FILE:
        what = f"it is {len(data) / 1e6:.0f} MB large, expected at most {LARGEST_FILE / 1e6:.0f} MB"
        raise SpreadError.at(file, "", what, "keep only the sheet that is needed")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
        unpacked = _unpacked(data)
    except (zipfile.BadZipFile, ValueError, OSError):
        names, unpacked = [], 0
    if "xl/workbook.xml" not in names:
        raise SpreadError.at(file, "", "it is not an XLSX workbook", "save it as XLSX, or as CSV in UTF-8")
    if unpacked > LARGEST_UNPACKED:
        what = f"it unpacks to {unpacked / 1e6:,.0f} MB, more than {LARGEST_UNPACKED / 1e6:.0f} MB"
        raise SpreadError.at(file, "", what, "keep only the sheet that is needed")


def _unpacked(data: bytes) -> int:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return sum(part.file_size for part in archive.infolist())


def _escape(text: str) -> str:
    return _UNSAFE.sub(lambda found: f"_x{ord(found[0]):04X}_", text)


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ")
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)

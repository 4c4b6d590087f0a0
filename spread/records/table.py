"""The bytes of ``records.csv`` to its records, with everything that is wrong named by line."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from spread.errors import Problem, RecordError
from spread.records.cells import FREE_TEXT, HEADER, unguard
from spread.records.kinds import ALL_FIELDS, FIELDS, Record
from spread.records.log import Log, chain_problems, taken_id
from spread.records.parse import RowReader, as_problems
from spread.records.sense import guess, shown

SIZE_LIMIT = 50_000_000  #: Largest file that is read, in bytes
PROBLEM_LIMIT = 1000  #: Problems that are listed; of those beyond it the number is told

_BAD_BYTE = re.compile("[\udc80-\udcff]")  # how a byte that is not UTF-8 comes out of the decoder
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class Form:
    """How a file lays its rows out: what a row that is added must keep to."""

    columns: tuple[str, ...] = ()  #: Names in the order of the file
    #: What parts the cells: a comma, or what a spreadsheet of the reader's country writes instead
    separator: str = ","
    spare: int = 0  #: Empty columns at the right end that a spreadsheet has added


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong with a file, and the id of the row that it is about; empty where it has none."""

    id: str
    problem: Problem


@dataclass(frozen=True, slots=True)
class TableRead:
    """What a file of rows holds: the rows that can be read, and everything that cannot."""

    rows: dict[str, Record]  #: Records by id, in the order of the file
    #: Of the file or of its rows. Corrections are not checked: they may name rows of elsewhere.
    faults: tuple[Fault, ...]
    #: How the rows are laid out, without columns in an empty file; None where no header could be read
    form: Form | None
    where: dict[str, int]  #: The line of each id


def read_rows(data: bytes, units: Collection[str], *, file: str, today: dt.date | None = None) -> TableRead:
    """Read every row of a file that can be read; see :func:`read_table` for the parameters."""
    table = _Table(file, RowReader(units, today, kept=True))
    table.read(data)
    return TableRead(table.rows, tuple(table.faults), table.form, table.lines)


def read_table(data: bytes, units: Collection[str], *, file: str, today: dt.date | None = None) -> Log:
    """Return the log that the bytes of a file hold.

    Raises RecordError with every problem of the file.

    Parameters
    ----------
    data
        The whole file; empty for an empty log. UTF-8, with or without a byte order mark, its cells parted
        by commas, semicolons or tabs.
    units : Unit codes of the plan
    file : How messages name the file
    today : Rows dated more than a day after it are refused; None leaves that check out
    """
    read = read_rows(data, units, file=file, today=today)
    problems = [fault.problem for fault in read.faults]
    if read.rows:
        problems += chain_problems(
            list(read.rows.values()), read.where.keys(), lambda row: f"line {read.where[row.id]}", file
        )
    if problems:
        raise RecordError(listed(problems, file))
    return Log(tuple(read.rows.values()), file)


def listed(problems: list[Problem], file: str) -> list[Problem]:
    """Return at most :data:`PROBLEM_LIMIT` problems, and of those beyond it the number."""
    more = len(problems) - PROBLEM_LIMIT
    if more <= 0:
        return problems
    last = Problem(file, "", f"{more} more problems are not listed", "mend these first")
    return [*problems[:PROBLEM_LIMIT], last]


def form_of(data: bytes) -> Form:
    """Return how a file that can be read lays its rows out; without columns where it has no header yet."""
    text = data.decode("utf-8-sig")
    separator = _separator(text)
    first = next(_lines(text, separator), None)
    return Form() if first is None else _form(list(first[1]), separator)


def _separator(text: str) -> str:
    """Return what parts the cells of a file, by its first line."""
    return max(",;\t", key=text.lstrip("\r\n").split("\n", 1)[0].count)


def _form(header: list[str], separator: str) -> Form:
    columns = [name.strip() for name in header]
    count = len(columns)
    while columns and not columns[-1]:
        columns.pop()
    return Form(tuple(columns), separator, count - len(columns))


def widened(data: bytes, more: Collection[str]) -> bytes:
    """Return a file that :func:`read_table` accepts with columns added on the right, empty in every row.

    What stands in the file stays as it is, to the byte; blank lines too. Spare columns are filled first.
    """
    text = data.decode("utf-8")
    form = form_of(data)
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(lines, strict=True, delimiter=form.separator)
    out: list[str] = []
    is_header, begin = True, 0
    for cells in reader:
        *above, last = lines[begin : reader.line_num]
        begin = reader.line_num
        words = last.rstrip("\r\n")
        end = last[len(words) :] or "\n"
        if any(cells):
            if is_header:
                words = words.rstrip(form.separator) if form.spare else words
                words += "".join(f"{form.separator}{name}" for name in more)
            else:
                words += form.separator * max(0, len(form.columns) + len(more) - len(cells))
            is_header = False
        out += [*above, words + end]
    return "".join(out).encode("utf-8")


class _Table:
    """Collects rows and problems while it goes down a file once."""

    def __init__(self, file: str, reader: RowReader) -> None:
        self.file = file
        self.faults: list[Fault] = []
        self.rows: dict[str, Record] = {}
        self.lines: dict[str, int] = {}
        self.form: Form | None = None
        self._reader = reader

    def read(self, data: bytes) -> None:
        text = self._decode(data)
        if text is None:
            return
        whole = not text or text.endswith(("\n", "\r"))
        separator = _separator(text)
        lines = _lines(text, separator)
        first = next(lines, None)
        if first is None:
            self.form = Form()
            return
        number, header, _ = first
        if not isinstance(header, list):
            self._say(number, f"the header is not CSV: {header}", f"write {HEADER.strip()}")
            return
        form = _form(header, separator)
        columns = list(form.columns)
        if not self._check_header(number, columns, half=not whole and "\n" not in text):
            return
        self.form = form
        at = columns.index("id")
        odd = "\0" in text or _BAD_BYTE.search(text) is not None
        for number, cells, is_last in lines:
            half = is_last and not whole
            if isinstance(cells, list) and len(cells) > len(columns) and not any(cells[len(columns) :]):
                del cells[len(columns) :]  # empty columns that a spreadsheet adds
            if isinstance(cells, str) or len(cells) != len(columns):
                self._say_broken(number, cells, len(columns), half=half, at=at)
            elif odd and _odd(cells):
                self._say(number, _odd(cells), "save the file as CSV in UTF-8", cells[at].strip())
            else:
                self._take(number, dict(zip(columns, cells, strict=True)))

    def _decode(self, data: bytes) -> str | None:
        if len(data) > SIZE_LIMIT:
            what = f"the file has {len(data):,} bytes, more than {SIZE_LIMIT:,}"
            self.faults.append(
                Fault("", Problem(self.file, "", what, "check that it is the log of one building"))
            )
            return None
        if data.startswith(_UTF16):
            self.faults.append(
                Fault("", Problem(self.file, "", "the file is in UTF-16", "save it as CSV in UTF-8"))
            )
            return None
        # Bytes that are not UTF-8 stay recognisable in the text, so that each such row can be named.
        return data.decode("utf-8-sig", errors="surrogateescape")

    def _check_header(self, number: int, columns: list[str], *, half: bool) -> bool:
        before = len(self.faults)
        missing = [name for name in FIELDS if name not in columns]
        if half and missing and HEADER.startswith(",".join(columns)):
            self._say(
                number,
                "the header stops in the middle, as after a power cut",
                "delete the file; it holds no rows",
            )
        elif len(missing) == len(FIELDS):
            self._say(number, "the first line is not the header", f"begin with {HEADER.strip()}")
        else:
            for name in missing:
                self._say(number, f"column {shown(name)} is missing", f"the header is {HEADER.strip()}")
            for name in columns:
                if name not in ALL_FIELDS:
                    self._say(number, f"unknown column {shown(name)}", guess(name, ALL_FIELDS))
            for name in ALL_FIELDS:
                if columns.count(name) > 1:
                    self._say(number, f"column {shown(name)} stands there twice", "take one of them out")
        return len(self.faults) == before

    def _say_broken(self, number: int, cells: list[str] | str, expected: int, *, half: bool, at: int) -> None:
        id_ = cells[at].strip() if isinstance(cells, list) and len(cells) > at else ""
        if isinstance(cells, str):
            what = f"the row is not CSV: {cells}"
        else:
            what = f"the row has {len(cells)} cells and the header {expected}"
        if half:
            what = f"the last line stops in the middle, as after a power cut ({what})"
            self._say(number, what, "complete it or delete it, and end it with a new line", id_)
        else:
            fix = "put a cell that holds commas, quotes or new lines in one pair of double quotes"
            self._say(number, what, fix, id_)

    def _take(self, number: int, row: dict[str, str]) -> None:
        for name in FREE_TEXT:
            if row[name].startswith("'"):
                row[name] = unguard(row[name])
        read = self._reader.read(row)
        id_ = row["id"].strip()
        seen = self.lines.get(id_)
        if isinstance(read, Record):
            if seen is None:
                self.rows[id_] = read
            elif self.rows.get(id_, read) != read:
                what, fix = taken_id(id_)[1:]
                read = [("id", f"{what}, in line {seen}", fix)]
        if not isinstance(read, Record):
            self.faults += [Fault(id_, one) for one in as_problems(read, self.file, f"line {number}")]
        if id_ and seen is None:
            self.lines[id_] = number

    def _say(self, number: int, what: str, fix: str, id_: str = "") -> None:
        self.faults.append(Fault(id_, Problem(self.file, f"line {number}", what, fix)))


def _lines(text: str, separator: str = ",") -> Iterator[tuple[int, list[str] | str, bool]]:
    """Yield (line number, cells or what is wrong with them, whether it is the last row).

    Line numbers are those of an editor, where a note with a new line in it takes two. Rows without
    a word are left out.
    """
    reader = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=separator)
    held: tuple[int, list[str] | str] | None = None
    while True:
        number = reader.line_num + 1
        cells: list[str] | str
        try:
            cells = next(reader)
        except StopIteration:
            break
        except csv.Error as error:
            cells = _why_no_csv(str(error))
        if isinstance(cells, str) or any(cells):
            if held is not None:
                yield (*held, False)
            held = (number, cells)
    if held is not None:
        yield (*held, True)


def _why_no_csv(error: str) -> str:
    if "unexpected end" in error:
        return "a double quote is opened and never closed"
    if "limit" in error:
        return "a cell is longer than 131,072 characters; perhaps a double quote is never closed"
    return "after a closing double quote a comma or the end of the line is expected"


def _odd(cells: list[str]) -> str:
    if any("\0" in cell for cell in cells):
        return "the row holds a NUL byte"
    if any(_BAD_BYTE.search(cell) for cell in cells):
        return "the row holds bytes that are not UTF-8"
    return ""

"""A firm's notes as rows of the log: read only where a person has said what each wording means."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from spread.errors import RecordError
from spread.records.kinds import LEVELS, METHODS_OF, Record
from spread.records.log import Log
from spread.records.parse import record_from_fields
from spread.tables.answers import Answers, Question
from spread.tables.codes import by_bare_code, home_of, near
from spread.tables.dates import MONTH_FIRST, ORDERS, fitting_orders, read_day
from spread.tables.grid import Grid
from spread.tables.meanings import LEAVE_OUT, NOTES, plain
from spread.tables.table import A_TITLE, A_TOTAL, HEADINGS_AGAIN, Line, Table, read_table
from spread.tables.wordings import (
    NOTHING,
    Meaning,
    may_be_a_look,
    read_meaning,
    suggested_meaning,
    suggested_word,
)

LONGEST_NOTE = 400
_OURS = re.compile(r"t-([0-9a-f]{6})-([0-9a-f]{16})")
_WORK_CODE = re.compile(r"(?=[A-Za-z0-9-]*[0-9])[A-Za-z0-9][A-Za-z0-9-]{0,7}")
_LOOKED = ("inspection", "monitor")


@dataclass(frozen=True, slots=True)
class ReadRow:
    """A wording of a row of the file, and what becomes of it.

    Parameters
    ----------
    number
        The row as the file counts.
    original
        The wording as it stands there.
    record
        What is read; None if it is left out.
    why
        Why it is left out: a word of :data:`WHY`, or what is wrong with the row.
    """

    number: int
    original: str
    record: Record | None = None
    why: str = ""


WHY = (
    *("said so", "no day", "no unit", "no words", "a repeat", "known already", "not yet asked"),
    *("stood empty already", "another building", HEADINGS_AGAIN, A_TOTAL, A_TITLE),
)


@dataclass(frozen=True, slots=True)
class Notes:
    """What a file of notes, or of who lives where, would add to a log.

    Parameters
    ----------
    questions
        What must be answered before anything is taken in.
    rows
        Every wording of every row, in the order of the file.
    batch
        Marks the rows that come in together, so that they can be taken back together.
    table
        The columns as they are read.
    """

    questions: tuple[Question, ...]
    rows: tuple[ReadRow, ...]
    batch: str
    table: Table

    @property
    def records(self) -> tuple[Record, ...]:
        """Return the rows to take in; none while a question is open."""
        return () if self.questions else tuple(row.record for row in self.rows if row.record is not None)

    @property
    def left_out(self) -> Mapping[str, int]:
        """Return how many wordings are left out, by why."""
        return Counter(row.why for row in self.rows if row.record is None)


def read_notes(grid: Grid, answers: Answers, units: Collection[str], log: Log, today: dt.date) -> Notes:
    """Read a table of notes.

    Parameters
    ----------
    grid
        The file.
    answers
        What people said before; what is missing comes back as questions.
    units
        Unit codes of the plan.
    log
        What the building has: rows that came in before are known.
    today
        No row lies after it.

    Raises
    ------
    SpreadError
        When the file has no table, or an answer cannot be understood.
    """
    table = read_table(grid, answers, NOTES)
    questions = [*table.questions]
    said = _Said(
        table,
        orders_of(table, ("day",), answers, today, questions),
        _homes(table, answers, units, questions),
        _meanings(table, answers, questions),
        {sort: _words(table, answers, sort, questions) for sort in ("method", "level")},
    )
    batch = batch_of(grid, answers)
    every = [read for line in table.lines for read in said.rows(line, batch, units, today)]
    return Notes(tuple(questions), marked(every, table, log), batch, table)


def batch_of(grid: Grid, answers: Answers) -> str:
    """Return the mark of rows that come in together: of the file and of what was said."""
    return digest(grid.file, *(cell for _, cells in grid.rows for cell in cells), answers.text())[:6]


def marked(every: list[ReadRow], table: Table, log: Log) -> tuple[ReadRow, ...]:
    """Return rows as the file has them, without what is known, comes twice or empties an empty unit."""
    before = {found[2] for row in log.current if (found := _OURS.fullmatch(row.id))}
    turnovers: dict[str, list[tuple[dt.date, str]]] = defaultdict(list)
    for row in log.current:
        if row.kind == "turnover":
            turnovers[row.unit].append((row.when, row.method))
    rows: list[ReadRow] = []
    seen: set[str] = set()
    for read in sorted(every, key=lambda read: read.record.when if read.record else dt.date.min):
        why = read.why
        if record := read.record:
            mark = record.id[-16:]
            if mark in before or mark in seen:
                why = "a repeat" if mark in seen else "known already"
            elif record.kind == "turnover":
                past = [one for one in turnovers[record.unit] if one[0] <= record.when]
                if record.method == "moved-out" and past and max(past, key=_lived)[1] == "moved-out":
                    why = "stood empty already"
                elif (record.when, record.method) in past:
                    why = "known already"
                turnovers[record.unit].append((record.when, record.method))
            seen.add(mark)
        rows.append(ReadRow(read.number, read.original, why=why) if why else read)
    rows += [ReadRow(line.number, table.shown(line)[:120], why=why) for line, why in table.others]
    return tuple(sorted(rows, key=lambda read: read.number))


def taken_back(log: Log, batch: str, today: dt.date) -> tuple[Record, ...]:
    """Return the rows that take back everything of one import that is still counted."""
    return tuple(
        Record(
            f"b-{row.id[2:]}",
            max(row.when, today),
            row.unit,
            "note",
            note="An import taken back.",
            supersedes=row.id,
        )
        for row in log.current
        if (found := _OURS.fullmatch(row.id)) and found[1] == batch
    )


def orders_of(
    table: Table, meanings: Collection[str], answers: Answers, today: dt.date, questions: list[Question]
) -> Mapping[str, str]:
    """Return the order of day and month by column; asked where both fit all of it, or none does."""
    orders = {}
    for head in (head for meaning in meanings for head in table.heads(meaning)):
        texts = [line.cells[head] for line in table.lines if head in line.cells]
        fits = fitting_orders(texts, today)
        told = answers.get("days", head)
        if told in ORDERS:
            orders[head] = told
        elif len(fits) == 1:
            orders[head] = fits[0]
        else:
            orders[head] = MONTH_FIRST
            rows = tuple(line.number for line in table.lines if head in line.cells)
            questions.append(Question("days", head, fits[0] if fits else "", ORDERS, len(rows), rows[:3]))
    return orders


def _homes(
    table: Table, answers: Answers, units: Collection[str], questions: list[Question]
) -> Mapping[str, str]:
    """Return the unit by how it is written; what is no unit of the plan in other clothes is asked."""
    homes: dict[str, str] = {}
    known = by_bare_code(units)
    strange: dict[str, list[int]] = defaultdict(list)
    for line in table.lines:
        written = table.unit(line)
        if not written or written in homes or table.elsewhere(line):
            continue
        told = answers.get("units", written)
        if home := home_of(written, units, known):
            homes[written] = home
        elif told is not None and (told in units or told == LEAVE_OUT):
            homes[written] = told
        else:
            strange[written].append(line.number)
    for written, rows in strange.items():
        all_rows = [line.number for line in table.lines if table.unit(line) == written]
        options = (*near(written, units), LEAVE_OUT)
        questions.append(Question("units", written, LEAVE_OUT, options, len(all_rows), tuple(rows[:3])))
    return homes


def _meanings(table: Table, answers: Answers, questions: list[Question]) -> Mapping[str, Meaning]:
    """Return what each wording means, by its plain form; what nobody has said is asked once."""
    found: dict[str, Meaning] = {}
    for wording, rows in _distinct(table, "words").items():
        told = answers.get("words", wording)
        if told is None:
            meaning = suggested_meaning(wording)
            quiet = meaning != NOTHING and not may_be_a_look(wording, meaning)
            questions.append(Question("words", wording, meaning.words, (), len(rows), tuple(rows[:3]), quiet))
        else:
            found[plain(wording)] = read_meaning(told, answers.file, f"[words] {wording[:60]}")
    return found


def _words(table: Table, answers: Answers, sort: str, questions: list[Question]) -> Mapping[str, str]:
    known = LEVELS if sort == "level" else tuple(m for kind in _LOOKED for m in METHODS_OF[kind])
    found: dict[str, str] = {}
    for wording, rows in _distinct(table, sort).items():
        told = answers.get(sort, wording) or (plain(wording) if plain(wording) in known else None)
        if told in known:
            found[plain(wording)] = told
        elif told != LEAVE_OUT:
            options = (*known, LEAVE_OUT)
            suggestion = suggested_word(wording, sort) or LEAVE_OUT
            questions.append(Question(sort, wording, suggestion, options, len(rows), tuple(rows[:3])))
    return found


def _distinct(table: Table, meaning: str) -> Mapping[str, list[int]]:
    rows: dict[str, list[int]] = {}
    shown: dict[str, str] = {}
    for line in table.lines:
        if table.elsewhere(line):
            continue
        for head in table.heads(meaning):
            if text := line.cells.get(head, ""):
                rows.setdefault(shown.setdefault(plain(text), text), []).append(line.number)
    return rows


@dataclass(frozen=True, slots=True)
class _Said:
    """What was said of a table, by how it is written there."""

    table: Table
    orders: Mapping[str, str]
    homes: Mapping[str, str]
    meanings: Mapping[str, Meaning]
    words: Mapping[str, Mapping[str, str]]

    def rows(self, line: Line, batch: str, units: Collection[str], today: dt.date) -> Iterator[ReadRow]:
        """Return what becomes of each wording of a row."""
        written = self.table.unit(line)
        wordings = [(head, line.cells[head]) for head in self.table.heads("words") if head in line.cells]
        if not wordings:
            yield ReadRow(line.number, self.table.shown(line)[:120], why="no words")
        days = (read_day(line.cells.get(head, ""), order, today) for head, order in self.orders.items())
        day = next(filter(None, days), None)
        for head, wording in wordings:
            meaning = self.meanings.get(plain(wording))
            if self.table.elsewhere(line):
                yield ReadRow(line.number, wording, why="another building")
            elif meaning is None or (written and written not in self.homes):
                yield ReadRow(line.number, wording, why="not yet asked")
            elif meaning == NOTHING or self.homes.get(written) == LEAVE_OUT:
                yield ReadRow(line.number, wording, why="said so")
            elif not written or day is None:
                yield ReadRow(line.number, wording, why="no day" if written else "no unit")
            else:
                mark = digest(self.homes[written], day.isoformat(), head, *line.cells.values())[:16]
                fields = _fields(line, self.table, meaning, self.words, wording)
                fields |= {"id": f"t-{batch}-{mark}", "when": day.isoformat(), "unit": self.homes[written]}
                where = f"row {line.number}"
                try:
                    record = record_from_fields(fields, units, file="", where=where, today=today)
                except RecordError as error:
                    yield ReadRow(line.number, wording, why=error.problems[0].what)
                else:
                    yield ReadRow(line.number, wording, record)


def _fields(
    line: Line, table: Table, meaning: Meaning, words: Mapping[str, Mapping[str, str]], wording: str
) -> dict[str, str]:
    fields = {"kind": meaning.kind, "method": meaning.method, "found": meaning.found, "level": meaning.level}
    if meaning.kind in _LOOKED:
        method = words["method"].get(plain(table.value(line, "method")), "")
        if method in METHODS_OF[meaning.kind]:
            fields["method"] = method
        if meaning.found == "yes":
            fields["level"] = words["level"].get(plain(table.value(line, "level")), "") or meaning.level
            count = table.value(line, "count")
            fields["count"] = count if count.isascii() and count.isdigit() and 0 < len(count) < 5 else ""
    by = table.value(line, "by")
    fields["by"] = by if _WORK_CODE.fullmatch(by) else ""  # a work code, never a name
    note = table.value(line, "note")
    fields["note"] = " / ".join(filter(None, (wording, note)))[:LONGEST_NOTE]
    return fields


def _lived(turnover: tuple[dt.date, str]) -> tuple[dt.date, bool]:
    """Return a key that puts whoever moves in on a day after those who moved out on it."""
    return turnover[0], turnover[1] != "moved-out"


def digest(*parts: str) -> str:
    """Return a mark of texts, the same for the same texts."""
    return hashlib.blake2b("\x1f".join(parts).encode(), digest_size=16).hexdigest()

"""What a person must decide for messy tables of several hands, and how many of their rows come out right.

``python -m proofs.tables`` prints it for the tables of ``tests/data/tables``; the last are a set that was
written after the rules of ``spread/tables`` were done and was never used to tune them. Somebody who knows
what is meant answers as on the page: columns first; what may be confirmed together is one decision and one
more for each suggestion that is wrong; everything else is one decision each.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from spread.errors import PlanError
from spread.plan.drawing.reading import parse_unit_list
from spread.records.log import Log
from spread.tables.answers import Answers, Question
from spread.tables.grid import read_grid
from spread.tables.meanings import plain
from spread.tables.moves import read_moves
from spread.tables.notes import Notes, read_notes
from spread.tables.roll import Roll, roll_of
from spread.tables.wordings import NOTHING, may_be_a_look, read_meaning, suggested_meaning

FOLDER = Path(__file__).parent.parent / "tests" / "data" / "tables"
TODAY = dt.date(2026, 11, 29)
FILES = (
    *("roll-140.xlsx", "notes-204.xlsx", "notes-next.csv", "roll-140-next.xls", "service-export.xls"),
    *("european-list.ods", "caretaker.xlsx"),
)
"""In the order in which they come in; the second of a hand is the next one of the same firm."""
HELD_OUT = ("held-out-notes.csv", "held-out-roll.ods", "held-out-pasted.tsv")
"""Written after the rules were done; see ``tests/data/tables/held_out.py``."""


@dataclass(frozen=True)
class Measured:
    """What came of one table."""

    file: str
    questions: tuple[Question, ...]
    decisions: int
    expected: int  #: Rows that the truth has
    right: int
    wrong: tuple[Any, ...]  #: Rows that were read and that the truth does not have: silently wrong
    answers: Answers
    read: tuple[Notes, Roll | None]


def measured(
    file: str, before: Answers | None = None, folder: Path = FOLDER, log: Log | None = None
) -> Measured:
    """Read a table as somebody who knows what is meant would, after what was said before."""
    truth = json.loads((folder / f"{file}.truth.json").read_text(encoding="utf-8"))
    data, answers = (folder / file).read_bytes(), before or Answers()
    known = Answers(truth["answers"])
    log = log or Log()
    every: list[Question] = []
    decisions = 0
    while True:
        roll = roll_of(data, file, answers) if truth["sort"] == "roll" else None
        if truth["sort"] == "roll":
            assert roll is not None
            notes = read_moves(roll.grid, answers, (), log, TODAY)
        else:
            notes = read_notes(read_grid(data, file), answers, truth["units"], log, TODAY)
        asked = list(dict.fromkeys((*(roll.questions if roll else ()), *notes.questions)))
        if not asked:
            break
        now = [one for one in asked if one.topic in ("columns", "roll")] or asked
        decisions += decisions_for(now, known)
        for one in now:
            answers = answers.having(one.topic, one.key, right_answer(one, known))
        every += now
    got, expected = rows_of(notes, roll), rows_of_truth(truth, log)
    wrong = tuple(sorted(got - expected, key=repr))
    return Measured(
        file, tuple(every), decisions, len(expected), len(got & expected), wrong, answers, (notes, roll)
    )


def right_answer(question: Question, known: Answers) -> str:
    """Return what a person who knows would say."""
    said = known.get(question.topic, question.key)
    assert said is not None, f"nobody knows: {question}"
    return said


def decisions_for(questions: Sequence[Question], known: Answers) -> int:
    """Return how many decisions one step of the page takes."""
    quiet = [one for one in questions if one.quiet]
    mended = sum(right_answer(one, known) != one.suggestion for one in quiet)
    together = min(len(quiet) - mended, 1)
    return together + mended + len(questions) - len(quiet)


def rows_of(notes: Notes, roll: Roll | None) -> set[Any]:
    """Return what was read, as the truth has it."""
    moves = {(row.unit, row.method, row.when.isoformat()) for row in notes.records}
    if roll is None:
        return {
            (read.number, r.unit, r.when.isoformat(), r.kind, r.method, r.found, r.level)
            for read in notes.rows
            if (r := read.record)
        }
    try:
        units = parse_unit_list(roll.text).rows
    except PlanError:
        units = ()
    return {(row.unit, row.floor, row.area) for row in units} | moves


def rows_of_truth(truth: Any, log: Log) -> set[Any]:
    """Return the rows that should come out: what the log has already is not read again."""
    if truth["sort"] == "notes":
        return {tuple(row) for row in truth["records"]}
    known = {(row.unit, row.method, row.when.isoformat()) for row in log.current}
    empty = {row.unit for row in log.current if row.method == "moved-out"}
    moves = {tuple(row) for row in truth["moves"]} - known
    moves = {row for row in moves if row[1] == "moved-in" or row[0] not in empty}
    return {tuple(row) for row in truth["units"]} | moves


def every_table(files: Sequence[str] = FILES) -> list[Measured]:
    """Read the tables one after another; the next table of a hand knows what was said of the first."""
    said: dict[str, Measured] = {}
    out = []
    for file in files:
        first = next((said[one] for one in said if one[:5] == file[:5] and file in FILES), None)
        of_lists = first is not None and first.read[1] is not None
        log = Log(first.read[0].records) if first and of_lists else None
        said[file] = measured(file, first.answers if first else None, log=log)
        out.append(said[file])
    return out


def line(one: Measured) -> str:
    """Return one table's figures."""
    keys = [(q.topic, plain(q.key)) for q in one.questions]
    return (
        f"{one.file:<24}{len(keys):>10}{one.decisions:>10}{len(keys) - len(set(keys)):>7}"
        f"{one.right:>8} of {one.expected:<5}{len(one.wrong):>6}"
    )


def of_wordings(file: str = "held-out-notes.csv") -> dict[str, list[str]]:
    """Return the wordings of a held-out table by how the suggestion for each compares with what is meant."""
    truth = json.loads((FOLDER / f"{file}.truth.json").read_text(encoding="utf-8"))
    out: dict[str, list[str]] = {}
    for wording, said in truth["answers"]["words"].items():
        meant, may_be = read_meaning(said, file, wording), suggested_meaning(wording)
        if may_be == meant:
            how = "as meant"
        elif {may_be.found, meant.found} == {"yes", "no"}:
            how = "a find for a clear look, or the other way"
        else:
            how = "another meaning, or none"
        out.setdefault(how, []).append(wording)
        if may_be != NOTHING and not may_be_a_look(wording, may_be):
            out.setdefault("may be confirmed together", []).append(wording)
    return out


def main() -> None:
    """Print the figures of every table."""
    print(f"{'table':<24}{'questions':>10}{'decisions':>10}{'twice':>7}{'rows right':>16}{'wrong':>6}")
    every = every_table()
    for one in (*every, *every_table(HELD_OUT)):
        print(line(one))
    both = every[0].decisions + every[1].decisions
    print(f"A rent roll of 140 units and a year of 204 notes: {both} decisions.")
    print("What is suggested for the wordings that were held out:")
    for how, wordings in of_wordings().items():
        print(f"  {how}: {len(wordings)}")


if __name__ == "__main__":
    main()

"""A table that a page sent, the questions about it as a desk reads them, and what was said, kept."""

from __future__ import annotations

import base64
import binascii
import contextlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from spread.errors import SpreadError
from spread.files import write_whole
from spread.outlines.asking import FIRST
from spread.records.kinds import FOUND, LEVELS, METHODS_OF
from spread.tables.answers import TOPICS, Answers, Question, answers_of
from spread.tables.grid import Grid
from spread.tables.meanings import LEAVE_OUT
from spread.tables.moves import OF_THE_TITLE
from spread.tables.notes import Notes
from spread.tables.table import Table
from spread.tables.wordings import Meaning
from spread.toml_file import parse_toml
from spread.words.tables import asked_words, left_out_words, question_words, read_row_words

WORDS_FILE = "words.toml"
MOST_ROWS = 1_000
"""Rows that a page shows; all are counted and taken in."""
MOST_QUESTIONS = 200
"""Questions in one answer; the next come when these are answered."""
_COLUMNS = {
    "words": "what happened",
    "day": "the day",
    "unit": "the unit",
    "method": "how it was looked",
    "level": "how heavy",
    "count": "how many bugs",
    "by": "a work code",
    "note": "a note, kept as text",
    "building": "the building",
    LEAVE_OUT: "leave out, not read",
}
_ROLL = _COLUMNS | {
    "side": "the side of the hallway",
    "order": "the place along the hallway",
    "area m2": "the area in square metres",
    "area sq ft": "the area in square feet",
    "layout": "the layout, such as 1BR",
    "occupancy": "vacant or lived in",
    "moved in": "the day they moved in",
    "moved out": "the day they moved out",
}
_ROOMS = {
    "home": "a unit, or a room of one",
    "hallway": "a hallway of the house",
    "stair": "a stair of the house",
    "common": "a common room",
    "riser": "a shaft of pipes",
    LEAVE_OUT: "leave out",
}
_WORDS = {"columns": _COLUMNS, "roll": _ROLL, "rooms": _ROOMS}
_SENTENCES = ("list", "days", "building", "outlines", "rooms", "storeys")
"""Topics of which what is asked is a sentence, and not a heading or a wording."""
_LOOKED = ("inspection", "monitor")


def table_sent(sent: Mapping[str, Any], fallback: str) -> tuple[bytes, str, str]:
    """Return the bytes of a table that a page sent, how messages name it, and the sheet that is meant.

    Raises SpreadError when there is none.
    """
    name = str(sent.get("file_name") or fallback)[:80]
    sheet = str(sent.get("sheet") or "")[:200]
    file, text = sent.get("file"), sent.get("pasted")
    if isinstance(file, str) and file:
        try:
            return base64.b64decode(file, validate=True), name, sheet
        except binascii.Error:
            raise SpreadError.at(name, "", "it did not arrive whole", "choose it again") from None
    if isinstance(text, str) and text.strip():
        return text.encode(), name, sheet
    raise SpreadError.at("The table", "", "there is none yet", "choose a file, or paste cells")


def kept_in(folder: Path) -> bytes:
    """Return the answers of a folder, as they stand in its file; empty where there are none."""
    path = folder / WORDS_FILE
    return path.read_bytes() if path.exists() else b""


def answers_sent(sent: Mapping[str, Any], *kept: bytes) -> Answers:
    """Return what a page said, with what was ever said: of several files the first one that knows it."""
    answers = Answers(file=WORDS_FILE)
    for data in reversed(kept):
        for topic, of in answers_of(parse_toml(data, WORDS_FILE), WORDS_FILE).told.items():
            for key, said in of.items():
                answers = answers.having(topic, key, said)
    for topic, key, said in _told(sent.get("answers")):
        answers = answers.having(topic, key, said)
    return answers


def keep(answers: Answers, firm: Path) -> None:
    """Keep what holds for all of a firm beside its buildings, if it can be written; each has its own too."""
    with contextlib.suppress(OSError, SpreadError):
        write_whole(firm / WORDS_FILE, answers.of_a_firm().text())


def asked(questions: Sequence[Question], table: Table, grid: Grid) -> dict[str, Any]:
    """Return the questions that a page asks next: what columns mean decides what else is asked."""
    columns = [one for one in questions if one.topic in ("columns", "roll")]
    now = columns or questions
    return {
        "questions": [_question(table, one) for one in now[:MOST_QUESTIONS]],
        "open": len(now),
        "columns": bool(columns),
        "sheets": list(grid.sheets),
        "sheet": grid.sheet,
    }


def asked_of_outlines(questions: Sequence[Question]) -> dict[str, Any]:
    """Return the questions about a file of outlines: its columns first."""
    columns = [one for one in questions if one.topic == "outlines" and one.key in FIRST]
    now = columns or questions
    return {
        "questions": [_told_of(one, one.examples) for one in now[:MOST_QUESTIONS]],
        "open": len(now),
        "columns": bool(columns),
        "outlines": True,
    }


def rows_shown(notes: Notes) -> dict[str, Any]:
    """Return what becomes of each row, beside how it stands there."""
    return {
        "rows": [
            {"number": row.number, "original": row.original, "as": read_row_words(row), "out": row.why != ""}
            for row in ([] if notes.questions else notes.rows[:MOST_ROWS])
        ],
        "all_rows": len(notes.rows),
        "new": len(notes.records),
        "left_out": left_out_words(notes.left_out),
        "batch": notes.batch,
    }


def options_of(question: Question) -> list[dict[str, str]]:
    """Return what may be said: the value of each choice and its words."""
    if question.topic == "words":
        values = [*dict.fromkeys([*_meanings(), question.suggestion, LEAVE_OUT])]
    else:
        values = list(question.options)
    words = _WORDS.get(question.topic, {})
    return [{"value": value, "words": words.get(value, value)} for value in values if value]


def _meanings() -> Iterator[str]:
    for kind, methods in METHODS_OF.items():
        for method in methods:
            if kind not in _LOOKED:
                yield Meaning(kind, method).words
                continue
            for found in FOUND:
                yield Meaning(kind, method, found).words
                if found == "yes":
                    yield from (Meaning(kind, method, found, level).words for level in LEVELS)
    yield Meaning("report", found="yes").words


def _question(table: Table, question: Question) -> dict[str, Any]:
    lines = {line.number: line for line in table.lines if line.number in question.rows}
    if question.topic in ("columns", "roll"):
        cells = [line.cells[question.key] for line in lines.values() if question.key in line.cells]
    elif question.key == OF_THE_TITLE:
        cells = [table.title]
    else:  # a column that is left out stays unseen: it may speak of people
        cells = [f"row {line.number}: {table.shown(line)}" for line in lines.values()]
    return _told_of(question, cells)


def _told_of(question: Question, cells: Sequence[str]) -> dict[str, Any]:
    asked = asked_words(question)
    return asdict(question) | {
        "words": question_words(question),
        "label": asked[0].upper() + asked[1:] + "?" if question.topic in _SENTENCES else question.key,
        "choices": options_of(question),
        "examples": [cell[:160] for cell in dict.fromkeys(cells)],
    }


def _told(sent: object) -> Iterator[tuple[str, str, str]]:
    for topic, of in sent.items() if isinstance(sent, Mapping) else ():
        if topic in TOPICS and isinstance(of, Mapping):
            for key, said in of.items():
                if isinstance(said, str) and len(said) < 200:
                    yield topic, str(key), said

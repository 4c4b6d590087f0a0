"""A firm's own notes into the log: what each column and wording means is asked once, then all is taken in.

The server keeps nothing between two requests but the answers: a page sends the table and what was said each
time, and it is read anew. Only "Take in" and "Take it back" write. What was said is kept beside the log.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from flask import Blueprint, Flask, Response, jsonify, render_template

from dashboard.pages import Page
from dashboard.signin.who import note
from dashboard.take_in.choices import options_of
from dashboard.web.address import here
from dashboard.web.bar import bar_html
from dashboard.web.files import script_tags
from dashboard.web.sent import sent_json
from spread.errors import SpreadError
from spread.records.store import Store
from spread.session import Session
from spread.tables.answers import TOPICS, Answers, Question, answers_of
from spread.tables.grid import read_grid
from spread.tables.meanings import LEAVE_OUT
from spread.tables.notes import Notes, read_notes, taken_back
from spread.toml_file import parse_toml
from spread.words.tables import left_out_words, question_words, read_row_words

LARGEST = 4_000_000
WORDS_FILE = "words.toml"
MOST_ROWS = 1_000
"""Rows that the page shows; all are counted and taken in."""
MOST_QUESTIONS = 200
"""Questions in one answer; the next come when these are answered."""


def add_import(server: Flask, session: Session) -> None:
    """Put the page and its three addresses on the server."""
    pages = Blueprint("take_in", __name__, template_folder=".")

    @pages.get("/import")
    def import_page() -> str:
        return render_template(
            "take_in.html", bar=bar_html("/import"), root=here(""), scripts=script_tags("take_in/page.js")
        )

    @pages.post("/import/read")
    def read() -> tuple[Response, int]:
        try:
            return jsonify(ok=True, **shown(read_sent(session, sent_json())[0])), 200
        except SpreadError as error:
            return _refused(error)

    @pages.post("/import/take")
    def take() -> tuple[Response, int]:
        try:
            return jsonify(ok=True, **taken(session, sent_json())), 200
        except SpreadError as error:
            return _refused(error)

    @pages.post("/import/back")
    def back() -> tuple[Response, int]:
        try:
            rows = taken_back(session.building.log, str(sent_json().get("batch") or ""), session.today)
            if not rows:
                raise SpreadError.at("The import", "", "no row of it counts any more", "load the page again")
            session.building.store.extend(rows)
        except SpreadError as error:
            return _refused(error)
        note("import taken back", f"{len(rows)} rows")
        session.refresh()
        return jsonify(ok=True, rows=len(rows)), 200

    server.register_blueprint(pages)


def read_sent(session: Session, sent: Mapping[str, Any]) -> tuple[Notes, Answers]:
    """Read what a page sent with what was ever said; return it with all the answers.

    Raises SpreadError when it is no table, or an answer cannot be understood.
    """
    name = str(sent.get("file_name") or "What was pasted")[:80]
    grid = read_grid(_bytes_of(sent, name), name)
    building = session.building
    answers = _kept(building.store)
    for topic, key, said in _told(sent.get("answers")):
        answers = answers.having(topic, key, said)
    return read_notes(grid, answers, building.plan.units, building.log, session.today), answers


def shown(notes: Notes) -> dict[str, Any]:
    """Return what the page shows: columns first, then the other questions, then what would be taken in."""
    columns = [one for one in notes.questions if one.topic == "columns"]
    asked = columns or notes.questions  # what columns mean decides what else is asked
    return {
        "questions": [_question(notes, one) for one in asked[:MOST_QUESTIONS]],
        "open": len(asked),
        "columns": bool(columns),
        "rows": [
            {"number": row.number, "original": row.original, "as": read_row_words(row), "out": row.why != ""}
            for row in ([] if asked else notes.rows[:MOST_ROWS])
        ],
        "all_rows": len(notes.rows),
        "new": len(notes.records),
        "left_out": left_out_words(notes.left_out),
        "batch": notes.batch,
    }


def taken(session: Session, sent: Mapping[str, Any]) -> dict[str, Any]:
    """Take in what was shown, all of it or nothing, and keep what was said for the next file."""
    notes, answers = read_sent(session, sent)
    if notes.questions:
        what = f"{len(notes.questions)} questions are open and nothing was taken in"
        raise SpreadError.at("The import", "", what, "answer them first")
    if notes.batch != sent.get("batch"):
        what = "somebody has changed an answer since it was shown, and nothing was taken in"
        raise SpreadError.at("The import", "", what, "read it again and look at it once more")
    if not notes.records:
        raise SpreadError.at("The import", "", "it has no new row", "choose another file")
    session.building.store.keep_beside(WORDS_FILE, answers.text())
    session.building.store.extend(notes.records)
    note("import", f"{len(notes.records)} rows, batch {notes.batch}")
    session.refresh()
    return {"rows": len(notes.records), "batch": notes.batch}


def _question(notes: Notes, question: Question) -> dict[str, Any]:
    lines = {line.number: line for line in notes.table.lines if line.number in question.rows}
    if question.topic == "columns":
        cells = [line.cells[question.key] for line in lines.values() if question.key in line.cells]
    else:  # a column that is left out stays unseen: it may speak of people
        heads = {head for head, meaning in notes.table.meanings.items() if meaning != LEAVE_OUT}
        cells = [
            f"row {line.number}: " + " | ".join(text for head, text in line.cells.items() if head in heads)
            for line in lines.values()
        ]
    examples = [cell[:160] for cell in dict.fromkeys(cells)]
    return asdict(question) | {
        "words": question_words(question),
        "choices": options_of(question),
        "examples": examples,
    }


def _kept(store: Store) -> Answers:
    return answers_of(parse_toml(store.beside(WORDS_FILE), WORDS_FILE), WORDS_FILE)


def _told(sent: object) -> Iterator[tuple[str, str, str]]:
    for topic, of in sent.items() if isinstance(sent, Mapping) else ():
        if topic in TOPICS and isinstance(of, Mapping):
            for key, said in of.items():
                if isinstance(said, str) and len(said) < 200:
                    yield topic, str(key), said


def _bytes_of(sent: Mapping[str, Any], name: str) -> bytes:
    file, text = sent.get("file"), sent.get("pasted")
    if isinstance(file, str) and file:
        try:
            return base64.b64decode(file, validate=True)
        except binascii.Error:
            raise SpreadError.at(name, "", "it did not arrive whole", "choose it again") from None
    if isinstance(text, str) and text.strip():
        return text.encode()
    raise SpreadError.at("The table", "", "there is none yet", "choose a file, or paste cells")


def _refused(error: SpreadError) -> tuple[Response, int]:
    return jsonify(ok=False, problems=[str(problem) for problem in error.problems] or [str(error)]), 200


PAGE = Page("/import", "Import", "notes into the log", routes=add_import, largest_body=LARGEST)

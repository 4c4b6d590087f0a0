"""A firm's own tables into the log: what each column and wording means is asked once, then all is taken in.

Notes of visits, or a rent roll of which only who moved in or out is read. The server keeps nothing between
two requests but the answers: a page sends the table and what was said each time, and it is read anew. Only
"Take in" and "Take it back" write. What was said is kept beside the log, and beside the building for the
firm's others.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, Flask, Response, jsonify

from dashboard.pages import Page
from dashboard.signin.who import note
from dashboard.web.asked import WORDS_FILE, answers_sent, asked, keep, kept_in, rows_shown, table_sent
from dashboard.web.bar import bar_html
from dashboard.web.files import filled, script_tags
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from spread.decisions.doors.contradictions import repeated_by
from spread.errors import SpreadError
from spread.session import Session
from spread.tables.answers import Answers
from spread.tables.grid import Grid, read_grid
from spread.tables.moves import read_moves
from spread.tables.notes import Notes, read_notes, taken_back
from spread.words import ENGLISH
from spread.words.contradictions import repeated_words

LARGEST = 4_000_000
READERS = {"notes": read_notes, "roll": read_moves}
"""What a table may be, as a page names it."""


def add_import(server: Flask, session: Session) -> None:
    """Put the page and its three addresses on the server."""
    pages = Blueprint("take_in", __name__)

    @pages.get("/import")
    def import_page() -> str:
        return filled(
            "take_in/take_in.html",
            bar=bar_html("/import"),
            measure=desk_voice().measure,
            scripts=script_tags("take_in/page.js"),
        )

    @pages.post("/import/read")
    def read() -> tuple[Response, int]:
        try:
            notes, _, grid = read_sent(session, sent_json())
            again = repeated_by(session.building.store.log, notes.records)
        except SpreadError as error:
            return _refused(error)
        told = asked(notes.questions, notes.table, grid) | rows_shown(notes)
        return jsonify(ok=True, repeats=[repeated_words(one, ENGLISH) for one in again], **told), 200

    @pages.post("/import/take")
    def take() -> tuple[Response, int]:
        try:
            return jsonify(ok=True, **taken(session, sent_json())), 200
        except SpreadError as error:
            return _refused(error)

    @pages.post("/import/back")
    def back() -> tuple[Response, int]:
        try:
            rows = taken_back(session.building.store.log, str(sent_json().get("batch") or ""), session.today)
            if not rows:
                raise SpreadError.at("The import", "", "no row of it counts any more", "load the page again")
            session.building.store.extend(rows)
        except SpreadError as error:
            return _refused(error)
        note("import taken back", f"{len(rows)} rows")
        session.refresh()
        return jsonify(ok=True, rows=len(rows)), 200

    server.register_blueprint(pages)


def read_sent(session: Session, sent: Mapping[str, Any]) -> tuple[Notes, Answers, Grid]:
    """Read what a page sent with what was ever said; return it with all the answers and the cells.

    Raises SpreadError when it is no table, or an answer cannot be understood.
    """
    grid = read_grid(*table_sent(sent, "What was pasted"))
    building = session.building
    firm = kept_in(building.folder.resolve().parent)
    answers = answers_sent(sent, building.store.beside(WORDS_FILE), firm)
    read = READERS.get(str(sent.get("table")), read_notes)
    log = building.log if read is read_moves else building.store.log  # a list of units has the codes of today
    return read(grid, answers, building.codes, log, session.today), answers, grid


def taken(session: Session, sent: Mapping[str, Any]) -> dict[str, Any]:
    """Take in what was shown, all of it or nothing, and keep what was said for the next file."""
    notes, answers, _ = read_sent(session, sent)
    if notes.questions:
        what = f"{len(notes.questions)} questions are open and nothing was taken in"
        raise SpreadError.at("The import", "", what, "answer them first")
    if notes.batch != sent.get("batch"):
        what = "somebody has changed an answer since it was shown, and nothing was taken in"
        raise SpreadError.at("The import", "", what, "read it again and look at it once more")
    if not notes.records:
        raise SpreadError.at("The import", "", "it has no new row", "choose another file")
    folder = session.building.folder
    session.building.store.keep_beside(WORDS_FILE, answers.text())
    session.building.store.extend(notes.records)
    keep(answers, folder.resolve().parent)
    note("import", f"{len(notes.records)} rows, batch {notes.batch}")
    session.refresh()
    return {"rows": len(notes.records), "batch": notes.batch}


def _refused(error: SpreadError) -> tuple[Response, int]:
    return jsonify(ok=False, problems=[str(problem) for problem in error.problems] or [str(error)]), 200


PAGE = Page("/import", "Import", "notes into the log", routes=add_import, largest_body=LARGEST)

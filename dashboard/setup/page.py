"""A new building: from a list, a file of outlines or a form to a corrected plan in a folder of its own.

With no building open yet it is the first page there is, and what is made there is opened at once.

The server keeps nothing between two requests: a page sends the list and its corrections each time, and they
are drawn anew. Only the press on "Create" writes, and only into the folder that holds
the open building's, or the one that ``spread serve --folder`` names.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from flask import Blueprint, Flask, Response, current_app, jsonify

from dashboard.pages import Page
from dashboard.setup.described import drawn_from, roll_sent, told
from dashboard.web.asked import WORDS_FILE, answers_sent, keep, kept_in
from dashboard.web.bar import bar_html
from dashboard.web.files import filled, script_tags
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from spread.errors import SpreadError
from spread.plan.listing import SAMPLE
from spread.plan.unit_list import LAYOUTS
from spread.session import Session
from spread.start import create_building
from spread.trade.prices import HOUR
from spread.trade.rules import load_rules, rule_ids

Opener = Callable[[Path], None]
PLACE = "SPREAD_NEW_BUILDINGS"
"""Setting of a Flask server: the folder of new buildings, where it is not beside the open one."""
LARGEST = 8_000_000
"""Bytes of a request: a file of outlines of 5.5 MB grows by a third on its way."""
MOST_RECORDS = 50
LAYOUT_WORDS = {
    "double-loaded": "Hallway with units on both sides",
    "single-loaded": "Walkway with units on one side",
    "core": "Tower around a stair and lift",
    "walk-up-2": "Walk-up, two doors a landing",
    "walk-up-4": "Walk-up, four doors a landing",
}


_log = logging.getLogger(__name__)


def add_setup(server: Flask, session: Session) -> None:
    """Put the page on the server of an open building."""
    add_setup_pages(server, session.building.folder.resolve().parent)


def add_setup_pages(server: Flask, beside: Path, opened: Opener | None = None) -> None:
    """Put the page and its three addresses on a server.

    ``server``: its setting :data:`PLACE` names another folder for new buildings. ``beside``: the folder of
    new buildings. ``opened``: opens a building that was just made, on a server that has none yet.
    """
    pages = Blueprint("setup", __name__)

    def place() -> Path:
        return Path(current_app.config.get(PLACE) or beside).resolve()

    @pages.get("/setup")
    def setup_page() -> str:
        return filled(
            "setup/setup.html",
            bar=bar_html("/setup"),
            scripts=script_tags("setup/page.js"),
            measure=desk_voice().measure,
            layouts=[(name, LAYOUT_WORDS[name]) for name in LAYOUTS],
            rules=[(name, load_rules(name).title) for name in rule_ids()],
            hour=HOUR.central,
            parent=place().name or str(place()),
            first=opened is not None,
        )

    @pages.get("/setup/sample.csv")
    def sample() -> Response:
        response = Response(SAMPLE, mimetype="text/csv")
        response.headers["Content-Disposition"] = 'attachment; filename="unit-list.csv"'
        return response

    @pages.post("/setup/draw")
    def draw() -> tuple[Response, int]:
        try:
            return jsonify(ok=True, **told(sent_json(), place())), 200
        except SpreadError as error:
            return _refused(error)

    @pages.post("/setup/create")
    def create() -> tuple[Response, int]:
        try:
            folder = created(place(), sent_json())
        except SpreadError as error:
            return _refused(error)
        reply = {"ok": True, "folder": folder.name, "command": f"spread serve {folder}"}
        return jsonify(reply | open_made(folder, opened)), 201

    server.register_blueprint(pages)


def open_made(folder: Path, opened: Opener | None) -> dict[str, str]:
    """Open a building that was just made; return where it stands, or why it could not be opened."""
    if opened is None:
        return {}
    try:
        opened(folder)
    except SpreadError as error:
        return {"trouble": str(error)}
    except Exception:
        _log.exception("a new building could not be opened")
        return {"trouble": "It could not be opened here; the server's log says why."}
    return {"open": "/"}


def created(parent: Path, sent: Mapping[str, Any]) -> Path:
    """Write the building that a page describes; see :func:`spread.start.create_building`."""
    drawn = drawn_from(sent)
    hour = str(sent.get("hour") or "").strip().replace(",", ".")
    try:
        cost = float(hour) if hour else None
    except ValueError:
        what = f"{hour[:20]!r} is no number"
        raise SpreadError.at("The new building", "price of an hour", what, "write it as 50") from None
    records = sent.get("records") or []
    if not isinstance(records, list) or len(records) > MOST_RECORDS:
        what = f"the first records are no list of at most {MOST_RECORDS}"
        fix = "bring in more with the command spread import"
        raise SpreadError.at("The new building", "records", what, fix)
    rows = [{str(k): str(v) for k, v in row.items()} for row in records if isinstance(row, dict)]
    source = sent.get("roll")
    read = roll_sent(source, parent) if isinstance(source, Mapping) else None
    if read is not None and (still := (*read[0].questions, *read[1].questions)):
        what = f"{len(still)} questions about the list are open"
        raise SpreadError.at("The new building", "list", what, "answer them first")
    answers = read[2] if read else answers_sent(sent, kept_in(parent)) if sent.get("plan") else None
    moves = [row for row in read[1].records if row.unit in drawn.plan.units] if read else []
    folder = create_building(
        parent,
        str(sent.get("slug") or "").strip(),
        drawn.plan,
        drawn.clean,
        drawn.layout,
        rules=str(sent.get("rules") or ""),
        hour=cost,
        records=rows,
        moves=moves,
        more={WORDS_FILE: answers.text()} if answers else {},
    )
    if answers:
        keep(answers, parent)
    return folder


def _refused(error: SpreadError) -> tuple[Response, int]:
    return jsonify(ok=False, problems=[str(problem) for problem in error.problems] or [str(error)]), 200


PAGE = Page("/setup", "Set up", "a new building", routes=add_setup, largest_body=LARGEST)

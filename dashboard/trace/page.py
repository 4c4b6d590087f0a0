"""A building traced from drawings: a picture, what was clicked on it, and the regions that come of it.

The server keeps nothing between two requests: the browser keeps the pictures and the clicks, and sends what
is to be traced. Only the press on "Create" writes, a folder beside the open building's.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from flask import Blueprint, Flask, Response, current_app, jsonify

from dashboard.pages import Page
from dashboard.setup.page import PLACE, Opener, open_made
from dashboard.web.bar import bar_html
from dashboard.web.files import filled, script_tags
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from spread.drawings.opening import open_drawing
from spread.drawings.stacking import stacked
from spread.drawings.tracer import metres_of, trace
from spread.drawings.tracing import opening_of, tracings_of
from spread.errors import SpreadError
from spread.plan.checks import check_plan
from spread.session import Session
from spread.start import create_building

LARGEST = 8_000_000
"""Bytes of a request: a file of 5.5 MB grows by a third on its way."""
MOST_TEXTS = 400
NAME = "The tracing"


def add_trace(server: Flask, session: Session) -> None:
    """Put the page on the server of an open building."""
    add_trace_pages(server, session.building.folder.resolve().parent)


def add_trace_pages(server: Flask, beside: Path, opened: Opener | None = None) -> None:
    """Put the page and its addresses on a server; as :func:`dashboard.setup.page.add_setup_pages`."""
    pages = Blueprint("trace", __name__)

    @pages.get("/trace")
    def trace_page() -> str:
        return filled(
            "trace/trace.html",
            bar=bar_html("/trace"),
            measure=desk_voice().measure,
            scripts=script_tags("trace/page.js"),
        )

    @pages.post("/trace/open")
    def open_() -> tuple[Response, int]:
        try:
            return jsonify(ok=True, **picture(sent_json())), 200
        except SpreadError as error:
            return _refused(error)

    @pages.post("/trace/see")
    def see() -> tuple[Response, int]:
        try:
            return jsonify(ok=True, **seen(sent_json())), 200
        except SpreadError as error:
            return _refused(error)

    @pages.post("/trace/create")
    def create() -> tuple[Response, int]:
        try:
            place = Path(current_app.config.get(PLACE) or beside).resolve()
            folder, checks = created(place, sent_json())
        except SpreadError as error:
            return _refused(error)
        reply = {"ok": True, "folder": folder.name, "command": f"spread serve {folder}", "checks": checks}
        return jsonify(reply | open_made(folder, opened)), 201

    server.register_blueprint(pages)


def picture(sent: Mapping[str, Any]) -> dict[str, Any]:
    """Return the picture of a file that was sent, and what else it had."""
    name = str(sent.get("file_name") or "The file")[:80]
    opened = open_drawing(_bytes_of(sent.get("file"), name), name, opening_of(sent, name))
    return {
        "picture": base64.b64encode(opened.image).decode(),
        "wide": opened.wide,
        "high": opened.high,
        "pages": opened.pages,
        "layers": [{"name": name, "lines": lines} for name, lines in opened.layers.items()],
        "metre": opened.metre,
        "match": opened.match,
        "texts": [{"text": text, "at": [x, y]} for text, x, y in opened.texts[:MOST_TEXTS]],
    }


def seen(sent: Mapping[str, Any]) -> dict[str, Any]:
    """Return what one floor's clicks become, in pixels."""
    (floor,) = trace(sent, _pictures(sent, 1), NAME)
    (metre,) = metres_of(tracings_of(sent, NAME), NAME)
    return {**floor, "metre": metre}


def created(parent: Path, sent: Mapping[str, Any]) -> tuple[Path, list[str]]:
    """Trace every floor and write the building, whole or not at all; return what is doubtful in it too."""
    floors = tracings_of(sent, NAME)
    traced = trace(sent, _pictures(sent, len(floors)), NAME)
    name = " ".join(str(sent.get("name") or "").split())[:80] or "New building"
    plan = stacked(floors, traced, name=name, file=NAME)
    folder = create_building(parent, str(sent.get("slug") or "").strip(), plan)
    return folder, [str(problem) for problem in check_plan(plan)[1]]


def _pictures(sent: Mapping[str, Any], count: int) -> list[bytes]:
    given = sent.get("pictures")
    if not isinstance(given, list) or len(given) != count:
        what = "there is not one picture for each floor"
        raise SpreadError.at(NAME, "pictures", what, "choose the drawing again")
    return [_bytes_of(one, NAME) for one in given]


def _bytes_of(text: object, name: str) -> bytes:
    try:
        return base64.b64decode(text if isinstance(text, str) else "", validate=True)
    except (binascii.Error, ValueError):
        raise SpreadError.at(name, "", "it did not arrive whole", "choose it again") from None


def _refused(error: SpreadError) -> tuple[Response, int]:
    return jsonify(ok=False, problems=[str(problem) for problem in error.problems] or [str(error)]), 200


PAGE = Page("/trace", "Trace", "a building from a drawing", routes=add_trace, largest_body=LARGEST)
"""The tracer, a page of the manager's."""

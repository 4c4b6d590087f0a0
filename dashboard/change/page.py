"""Changing the plan of the open building: drawn in the browser, tried and shown here, kept on one press.

The browser has the changes that are not kept yet, with undo and redo, and sends all of them each time; the
server applies them anew to the plan as it stands. Nothing is written before "Keep"; what is kept can be
taken back.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Mapping
from typing import Any

from flask import Blueprint, Flask, Response, current_app, jsonify

from dashboard.change.drawing import standing, whole_drawing
from dashboard.change.work import REOPEN, Trial, Trials
from dashboard.pages import Page
from dashboard.setup.drawing import numbered_checks
from dashboard.signin.who import note
from dashboard.web.bar import bar_html
from dashboard.web.files import data_tag, filled, script_tags
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from spread.building import Building
from spread.changing import difference, redrawn, with_more, without
from spread.errors import SpreadError
from spread.plan.changes import CHANGES_FILE, change_of
from spread.session import Session
from spread.trade.routes import BY_HAND, BY_KEY
from spread.words.changes import change_words, difference_lines, moved_line

MOST = 200
"""Changes that a page may have open."""
LARGEST = 8_000_000
"""Bytes of a request: a new drawing with the changes to come."""


def add_change(server: Flask, session: Session) -> None:
    """Put the page and its addresses on the server of an open building."""
    pages = Blueprint("change", __name__)
    trials = Trials(session)
    turn = threading.Lock()

    @pages.get("/change")
    def change_page() -> str:
        return filled(
            "change/change.html",
            bar=bar_html("/change"),
            measure=desk_voice().measure,
            building=session.plan.name,
            today=session.today.isoformat(),
            key=session.building.store.identity,
            mark=trials.mark,
            routes=data_tag("routes", [(key, BY_KEY[key].contacts) for key in BY_HAND]),
            scripts=script_tags("change/page.js"),
        )

    @pages.post("/change/see")
    def see() -> tuple[Response, int]:
        try:
            return jsonify(ok=True, **seen(session.building, sent_json(), session.today)), 200
        except SpreadError as error:
            return _refused(error)

    @pages.post("/change/try")
    def begin() -> tuple[Response, int]:
        try:
            trial = trials.begin(changed(session.building, sent_json(), session.today))
        except SpreadError as error:
            return _refused(error)
        return jsonify(ok=True, **_far(trials, trial)), 200

    @pages.get("/change/now")
    def now() -> Response:
        return jsonify(ok=True, **_far(trials, trials.trial))

    @pages.post("/change/keep")
    def kept() -> tuple[Response, int]:
        sent = sent_json()
        try:
            with turn:
                after = changed(session.building, sent, session.today)
                trial = trials.keep(after, current_app.config.get(REOPEN))
        except SpreadError as error:
            return _refused(error)
        more = after.changes[len(session.building.changes) :]
        told = [*map(change_words, more), *(["drawn anew"] if after.redrawn else [])]
        note("plan changed", "; ".join(told)[:500] or "a change taken back")
        return jsonify(ok=True, reopens=trial is not None, **_far(trials, trial)), 200

    server.register_blueprint(pages)


def changed(building: Building, sent: Mapping[str, Any], today: dt.date) -> Building:
    """Return the building with the changes that a page sent, or without the kept one that it wants back.

    Raises SpreadError with what does not fit.
    """
    back, told = sent.get("back"), sent.get("changes")
    if isinstance(back, int) and not isinstance(back, bool):
        return without(building, back)
    if not isinstance(told, list) or len(told) > MOST:
        what = f"the changes are no list of at most {MOST}"
        raise SpreadError.at(CHANGES_FILE, "", what, "keep what there is, and go on")
    if sent.get("kept") != len(building.changes):
        what = "somebody has changed the plan meanwhile"
        raise SpreadError.at(CHANGES_FILE, "", what, "load the page again; what is not kept yet stays here")
    drawing = sent.get("drawing")
    if isinstance(drawing, str) and drawing:
        building = redrawn(building, drawing.encode(), str(sent.get("file_name") or "The drawing")[:80])
    made = [change_of(one, where=f"change {number}") for number, one in enumerate(told, start=1)]
    return with_more(building, made, today=today)


def seen(building: Building, sent: Mapping[str, Any], today: dt.date) -> dict[str, Any]:
    """Return what the page shows: the changed plan, what the changes do, and those that are kept."""
    told = {"kept": len(building.changes), **sent}
    after = changed(building, told, today)
    plan = after.plan
    checks = numbered_checks(plan)
    more = after.changes[len(building.changes) :]
    return {
        "floors": list(plan.floors),
        "drawings": {floor: whole_drawing(plan, floor, checks) for floor in plan.floors},
        "checks": [
            {"number": c.number, "words": c.words, "floor": c.place.floor if c.place else ""} for c in checks
        ],
        "unfit": [str(p) for p in after.warnings if p.file == CHANGES_FILE],
        "says": difference_lines(difference(building, after)) if more or after.redrawn else [],
        "open": [change_words(one) for one in more],
        "kept": [change_words(one) for one in building.changes],
        **standing(plan),
    }


def _far(trials: Trials, trial: Trial | None) -> dict[str, Any]:
    """Return how far a trial is, and what it shows once it is done."""
    told: dict[str, Any] = {"seconds": round(trials.seconds), "mark": trials.mark}
    if trial is None:
        return told | {"running": False}
    moves = [moved_line(move.unit, move.origins, move.after) for move in trial.moves]
    return told | {
        "running": trial.running,
        "share": round(trial.share, 3),
        "error": trial.error,
        "done": trial.session is not None,
        "moves": moves,
    }


def _refused(error: SpreadError) -> tuple[Response, int]:
    return jsonify(ok=False, problems=[str(problem) for problem in error.problems] or [str(error)]), 200


PAGE = Page(
    "/change", "Change", "the plan of the building", routes=add_change, in_bar=False, largest_body=LARGEST
)
"""The editor of the plan, a page of the manager's, linked from the floor plan."""

"""What forms of the desk record: one row each, or several of one press, answered in a sentence."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterable, Mapping

from flask import Response

from dashboard.plan.answers import fields_of
from dashboard.signin.who import recorded
from dashboard.web.voice import desk_voice
from spread.errors import SpreadError
from spread.session import Session
from spread.words import say
from spread.words.records import describe
from spread.words.refusals import refusal

log = logging.getLogger(__name__)
NOT_KEPT = "It could not be written and nothing was recorded; look whether the disk is full, and press again."


def said(words: str, *, ok: bool, row: str = "") -> Response:
    """Return an answer to a script: whether it was kept, in a sentence; ``row``: what was recorded."""
    response = Response(json.dumps({"ok": ok, "words": words, "row": row}), mimetype="application/json")
    response.headers["Cache-Control"] = "no-store"
    return response


def keep(session: Session, rows: Iterable[Mapping[str, str]]) -> Response:
    """Record rows one by one, signed by whoever is asking; the first that is refused ends it with why."""
    words, row, number = "", "", 0
    try:
        for fields in rows:
            kept = recorded(session, fields)
            words, row, number = say(kept.told, desk_voice()), kept.record.id, number + 1
    except SpreadError as error:
        return said(refusal(error, desk_voice()), ok=False)
    except OSError:
        log.exception("the records file could not be written")
        return said(NOT_KEPT, ok=False)
    return said(words if number == 1 else f"{number} recorded.", ok=True, row=row)


def keep_answer(session: Session, sent: Mapping[str, object]) -> Response:
    """Record an answer as the form of the floor plan gives it."""
    try:
        fields = fields_of(sent, session.plan, session.today)
    except SpreadError as error:
        return said(refusal(error, desk_voice()), ok=False)
    return keep(session, [fields])


def just_kept(session: Session, row: str) -> dict[str, str] | None:
    """Return the row that a page was opened anew for: what it says, and whether it can be taken back."""
    known = session.view.log.by_id.get(row)
    if known is None:
        return None
    voice = desk_voice()
    told = f"{known.unit}, {voice.day(known.when)}: {describe(known, voice)}"
    gone = known.supersedes or session.view.log.corrected_by(row)
    return {"row": row, "unit": known.unit, "words": told, "back": "" if gone else "yes"}

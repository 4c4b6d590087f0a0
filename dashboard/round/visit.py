"""The papers of a visit: its record, and the notice of its result for the resident."""

from __future__ import annotations

import datetime as dt

from flask import Response, abort, request

from dashboard.round.answers import given_day
from dashboard.web.files import sent
from dashboard.web.voice import asked_voice
from spread.decisions.case.job import job_record
from spread.errors import SpreadError
from spread.report.document import Document
from spread.report.html import write_html
from spread.report.job_text import job_document
from spread.report.notices import Visit, notices_for
from spread.report.pdf import write_pdf
from spread.report.photographs import kept_in
from spread.session import Session
from spread.words.refusals import refusal
from spread.words.voice import NOTICE_LANGUAGES


def visit_paper(session: Session, unit: str) -> Response:
    """Return the record of a visit: ``on`` is its day, and ``as=pdf`` asks for a file."""
    day, building = _asked_day(session), session.building
    record = job_record(session.view.log.of(unit), unit, day, building.settings.clearance)
    if record is None:
        abort(404, asked_voice().text("No row of that day is on record for this unit."))

    made = job_document(building.name, record, asked_voice(), kept_in(building.store))
    return _paper(made, f"visit-{day.isoformat()}")


def notice_paper(session: Session, unit: str) -> Response:
    """Return the notice of a result as its case stands on the day.

    ``in`` is the resident's language; the language of whoever asks if it is none of ours.
    """
    day, building, voice = _asked_day(session), session.building, asked_voice()
    asked = request.args.get("in", "")
    language = next((one for one in NOTICE_LANGUAGES if one == asked), voice.language)
    try:
        visit = Visit("result", day, session.today)
        (notice,) = notices_for(building, session.rules, unit, visit, language=language)
    except SpreadError as error:
        abort(404, refusal(error, voice))
    return _paper(notice.document, f"notice-{day.isoformat()}")


def _asked_day(session: Session) -> dt.date:
    try:
        return given_day({"when": request.args.get("on", "")}, session.today)
    except SpreadError as error:
        abort(400, refusal(error, asked_voice()))


def _paper(document: Document, name: str) -> Response:
    if request.args.get("as") != "pdf":
        return sent(write_html(document), "text/html")
    try:
        response = sent(write_pdf(document), "application/pdf")
    except SpreadError as error:
        abort(404, refusal(error, asked_voice()))
    response.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response

"""What the week page does besides showing: notices of a day made and ticked, and doors moved by hand."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from flask import Blueprint, Response, abort, request

from dashboard.signin.who import recorded
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from spread.decisions.week.entry import notice_row, notices_on_record
from spread.decisions.week.plan import why_not
from spread.errors import SettingsError, SpreadError
from spread.plan.access import clock_of
from spread.report.document import Document, Paper
from spread.report.html import write_html
from spread.report.notices import Visit, notices_together, read_window
from spread.report.pdf import write_pdf
from spread.report.week import Asked, WeekView, week_settings
from spread.session import Session
from spread.words import say
from spread.words.refusals import refusal


@dataclass(frozen=True, slots=True)
class Shown:
    """What a request asked for, as typed, what came of it and what was wrong with it."""

    given: Mapping[str, str]
    asked: Asked
    view: WeekView
    problems: tuple[str, ...] = ()


def add_acts(pages: Blueprint, session: Session, asked_now: Callable[[], Shown]) -> None:
    """Put the addresses on the week's blueprint; ``asked_now``: the week as the request asks for it."""

    @pages.get("/week/notices/<day>")
    def notices(day: str) -> Response:
        shown, visit = asked_now().view, _day(day)
        spanish = request.args.get("language") == "es"
        doors = {one.unit: one.purpose for one in shown.plan.to_announce(visit)}
        try:
            asked = Visit("entry", visit, session.on, window=_hours(request.args))
        except SettingsError as error:
            return Response(str(error), status=400, mimetype="text/plain")
        try:
            made = notices_together(
                session.building, shown.rules, doors, asked, language="es" if spanish else "en"
            )
            if request.args.get("as") != "pdf":
                return page(made, paper())
            return download(write_pdf(made, paper()), f"notices-{visit.isoformat()}.pdf", "application/pdf")
        except SpreadError as error:
            return Response(str(error), status=404, mimetype="text/plain")

    @pages.post("/week/notices")
    def given() -> Response:
        """Record that the notices of a day were handed out, or take all of them back."""
        sent = sent_json()
        visit, back = _day(str(sent.get("day", ""))), sent.get("back") is True
        units = sent.get("units")
        named = {unit for unit in units if isinstance(unit, str)} if isinstance(units, list) else set()
        today = session.today.isoformat()
        if back:
            kept = notices_on_record(session.view, visit)
            rows = [
                {"unit": unit, "kind": "note", "supersedes": row, "when": today, "note": "notice taken back"}
                for unit, row in kept.items()
            ]
        else:
            open_ = {one.unit for one in asked_now().view.plan.to_announce(visit)}
            try:
                hours = _hours(sent)
            except SettingsError as error:
                return _said(str(error), ok=False)
            window = "-".join(map(clock_of, hours)) if hours else ""
            rows = [{**notice_row(unit, visit, window), "when": today} for unit in sorted(named & open_)]
        try:
            for fields in rows:
                recorded(session, fields)
        except SpreadError as error:
            return _said(refusal(error, desk_voice()), ok=False)
        return _said(f"{len(rows)} recorded.", ok=True)

    @pages.post("/week/move")
    def move() -> Response:
        """Put a unit on another day, or leave it to the plan again; an unlawful day is refused with why."""
        sent = sent_json()
        unit, day = str(sent.get("unit", ""))[:40], str(sent.get("day", ""))
        if day:
            shown = asked_now()
            settings = week_settings(session, shown.asked)
            refused = why_not(session.view, shown.view.plan, unit, _day(day), settings)
            if refused is not None:
                return _said(say(refused, desk_voice()), ok=False)
        try:
            session.move(unit, _day(day) if day else None)
        except SpreadError as error:
            return _said(refusal(error, desk_voice()), ok=False)
        return _said("", ok=True)


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        abort(404)


def _hours(sent: Mapping[str, object]) -> tuple[int, int] | None:
    """Return first and last minute of the hours that a notice is to name; None where none were chosen.

    Raises SettingsError where they are no hours.
    """
    begins, ends = (str(sent.get(name, "") or "").strip()[:20] for name in ("from", "to"))
    if not begins and not ends:
        return None
    if (window := read_window(f"{begins}-{ends}")) is None:
        what = f"from {begins or 'nothing'} to {ends or 'nothing'} are no hours of a visit"
        raise SettingsError.at("The notices", "hours", what, "choose both, the later one last, or neither")
    return window


def _said(words: str, *, ok: bool) -> Response:
    return private(Response(json.dumps({"ok": ok, "words": words}), mimetype="application/json"))


def paper() -> Paper:
    """Return the paper that the address asks for."""
    return "letter" if request.args.get("paper") == "letter" else "a4"


def page(document: Document, on: Paper) -> Response:
    """Return a document as a page of its own."""
    return private(Response(write_html(document, on), mimetype="text/html"))


def private(response: Response) -> Response:
    """Return a response that no cache keeps."""
    response.headers["Cache-Control"] = "no-store"
    return response


def download(data: bytes, file: str, media_type: str) -> Response:
    """Return a file to keep."""
    response = Response(data, content_type=media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{file}"'
    # A file is kept by the user and never shown as a page of ours, whatever is in it.
    response.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return private(response)

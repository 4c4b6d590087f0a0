"""The manager's week: what is due, the next doors, a round, sheets and files. Plain Flask and HTML.

The page is whole when it arrives and works without scripts, so that it prints and reads anywhere.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Flask, Response, abort, request

from dashboard.pages import Page
from dashboard.signin.who import note
from dashboard.web.address import here
from dashboard.web.bar import bar_html
from dashboard.web.files import filled, script_tags
from dashboard.web.voice import asked_voice, desk_voice
from dashboard.words import chance_class
from spread.contacts.distances import Distances, distances_of
from spread.decisions.week import Owed, Week
from spread.errors import Problem, SettingsError, SpreadError
from spread.plan.access import clock_of, minute_of
from spread.report.document import Document, Paper
from spread.report.exchange.bundle import EXPORTS, ZIP_FILE, make_export, make_zip
from spread.report.html import write_html
from spread.report.sheets import door_sheets
from spread.report.week import (
    NOT_ADVICE,
    Asked,
    WeekView,
    day_title,
    headings,
    next_steps,
    promise_week,
    week_document,
    week_view,
)
from spread.session import Session
from spread.words import ENGLISH, Voice, say
from spread.words.doors import asked_words, order_words, reason_text
from spread.words.followup import revisit_words
from spread.words.round import no_door, rounds_head, stop_why
from spread.words.trust import warning_words
from spread.words.week import Line, line

FORM = ("minutes", "technicians", "begins")
"""Fields of the form for the round."""


def add_week(server: Flask, session: Session) -> None:
    """Put the page, its document and the downloads on a server."""
    pages = Blueprint("week", __name__)
    distances = distances_of(session.plan)

    def asked_now() -> Shown:
        return _shown(session, distances, {name: request.args.get(name, "") for name in FORM})

    @pages.get("/week")
    def week_page() -> str:
        return filled("week/week.html", **context(session, asked_now(), desk_voice()))

    @pages.get("/week/document")
    def week_as_document() -> Response:
        return _page(week_document(asked_now().view, session), _paper())

    @pages.get("/week/sheets")
    def sheets() -> Response:
        planned, voice = asked_now().view.round, asked_voice()
        if not planned.units:
            return Response(no_door(planned, voice), mimetype="text/plain")
        return _page(door_sheets(session, planned.units, voice=voice), _paper())

    @pages.get("/week/export/<name>")
    def export(name: str) -> Response:
        note("export", name[:40])
        if name == "all":
            return _download(make_zip(session), ZIP_FILE, "application/zip")
        if name not in EXPORTS:
            abort(404)
        kind = EXPORTS[name]
        try:
            return _download(make_export(session, name), kind.file, kind.media_type)
        except SpreadError as error:
            return Response(str(error), status=503, mimetype="text/plain")

    server.register_blueprint(pages)


@dataclass(frozen=True, slots=True)
class Shown:
    """What a request asked for, as typed, what came of it and what was wrong with it."""

    given: Mapping[str, str]
    view: WeekView
    problems: tuple[str, ...] = ()


def _shown(session: Session, distances: Distances, given: Mapping[str, str]) -> Shown:
    try:
        shown = Shown(given, week_view(session, asked_for(given), distances))
    except SettingsError as error:
        shown = Shown(given, week_view(session, Asked(), distances), tuple(map(str, error.problems)))
    promise_week(session, shown.view)
    return shown


def asked_for(given: Mapping[str, str]) -> Asked:
    """Return what a round may take from the words of a form; what is empty is the usual.

    Raises SettingsError with every word that cannot be read.
    """
    usual, problems = Asked(), []
    values: dict[str, float] = {
        "minutes": usual.minutes,
        "technicians": usual.technicians,
        "begins": usual.begins,
    }
    for name, word, example in (
        ("minutes", "a number of minutes", "240"),
        ("technicians", "a number of people", "1"),
        ("begins", "a time of day", "09:00"),
    ):
        text = given[name].strip()
        if not text:
            continue
        read = minute_of(text) if name == "begins" else _whole(text)
        if read is None:
            what = f"{text[:20]!r} is not {word}"
            problems.append(Problem("The round", name, what, f"write it as in {example}"))
        else:
            values[name] = read
    if problems:
        raise SettingsError(problems)
    return Asked(values["minutes"], int(values["technicians"]), int(values["begins"]))


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else None


def context(session: Session, shown: Shown, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return what the template shows, ready made: text and numbers, no arithmetic left to do."""
    given, view = shown.given, shown.view
    week, planned, usual = view.week, view.round, Asked()

    def lines(owed: Sequence[Owed]) -> list[Line]:
        return [line(one, week.on, voice) for one in owed]

    return {
        "bar": bar_html("/week"),
        "version": session.version,
        "scripts": script_tags("week/page.js"),
        "measure": voice.measure,
        "building": session.plan.name,
        "on": voice.day(week.on),
        "summary": _summary(week, voice),
        "revisits": revisit_words(session.view.followups, voice),
        "week": week,
        "heads": headings(voice),
        "late": lines(week.late),
        "days": [
            {"title": day_title(day, week.on, voice), "owed": lines(owed)} for day, owed in week.days if owed
        ],
        "undated": lines(week.undated),
        "free": "" if week.empty else ", ".join(voice.day(day) for day, owed in week.days if not owed),
        "next_steps": next_steps(view, voice),
        "warnings": warning_words(view.warnings, voice),
        "ranked": order_words(session.order, voice),
        "rules": view.rules,
        "not_advice": voice.term("law", NOT_ADVICE),
        "day_word": voice.text("today") if week.on == dt.date.today() else voice.day(week.on),
        "asked": {
            "minutes": given["minutes"] or f"{usual.minutes:g}",
            "technicians": given["technicians"] or usual.technicians,
            "begins": given["begins"] or clock_of(usual.begins),
        },
        "problems": shown.problems,
        "usual": f"the usual {usual.minutes:g} minutes, 1 technician and {clock_of(usual.begins)}",
        "round_words": rounds_head(planned, voice) if planned.units else no_door(planned, voice),
        "paths": [
            {
                "technician": path.technician,
                "stops": [
                    {
                        "clock": clock_of(planned.begins + stop.begin),
                        "unit": stop.unit,
                        "why": stop_why(stop, voice),
                    }
                    for stop in path.stops
                ],
            }
            for path in planned.paths
            if path.stops
        ],
        "left_out": [(unit, say(why, voice)) for unit, why in planned.left_out],
        "doors": [
            {
                "rank": row.rank,
                "unit": row.unit,
                "chance": voice.percent(row.chance),
                "shade": chance_class(row.chance),
                "reason": reason_text(row.reasons[:1], voice),
                "asked": asked_words(row, voice),
            }
            for row in view.doors
        ],
        "exports": tuple((name, export) for name, export in EXPORTS.items() if export.ready),
        "sheets": f"{here('/week/sheets')}?{urlencode(given)}",
        "document": f"{here('/week/document')}?{urlencode(given)}",
    }


def _summary(week: Week, voice: Voice) -> str:
    def units(lines: Sequence[Owed]) -> int:
        return sum(len(one.units) for one in lines)

    late, dated = units(week.late), sum(units(day) for _, day in week.days)
    undated = units(week.undated)
    told = [voice.text("{number} late", number=late)] if late else []
    told += [voice.text("{number} due this week", number=dated)] if dated else []
    told += [voice.text("{number} without a date", number=undated)] if undated else []
    return ", ".join(told) or voice.text("nothing due")


def _paper() -> Paper:
    return "letter" if request.args.get("paper") == "letter" else "a4"


def _page(document: Document, paper: Paper) -> Response:
    return _private(Response(write_html(document, paper), mimetype="text/html"))


def _private(response: Response) -> Response:
    response.headers["Cache-Control"] = "no-store"
    return response


def _download(data: bytes, file: str, media_type: str) -> Response:
    response = Response(data, content_type=media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{file}"'
    # A file is kept by the user and never shown as a page of ours, whatever is in it.
    response.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return _private(response)


PAGE = Page("/week", "Week", "what is due this week", routes=add_week)

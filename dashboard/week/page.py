"""The manager's week: what is due, the next doors, a round, sheets and files. Plain Flask and HTML.

The page is whole when it arrives and works without scripts, so that it prints and reads anywhere.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Flask, Response, abort, request

from dashboard.pages import Page
from dashboard.signin.who import note
from dashboard.web.address import here
from dashboard.web.answering import download, page, paper
from dashboard.web.bar import desk_frame
from dashboard.web.files import filled
from dashboard.web.voice import asked_voice, desk_voice
from dashboard.week.acts import Shown, add_acts
from dashboard.words import chance_class
from spread.contacts.distances import Distances, distances_of
from spread.decisions.round.parts import NINE
from spread.decisions.week.ahead import Owed, Week
from spread.decisions.week.entry import notices_on_record
from spread.errors import Problem, SettingsError, SpreadError
from spread.plan.access import clock_of, minute_of
from spread.report.exchange.bundle import EXPORTS, ZIP_FILE, make_export, make_zip
from spread.report.sheets import door_sheets
from spread.report.week import (
    NEXT_DOORS,
    Asked,
    WeekView,
    day_title,
    headings,
    listed_reasons,
    next_steps,
    promise_week,
    waiting,
    week_document,
    week_view,
)
from spread.session import Session
from spread.trade.rule_set import NOT_ADVICE
from spread.words import ENGLISH, Voice
from spread.words.doors import asked_words, order_words, reason_text
from spread.words.followup import revisit_words
from spread.words.plan_week import day_head, door_why, lead_words, let_go_words
from spread.words.trust import warning_words
from spread.words.week import Line, line

FORM = ("minutes", "technicians", "begins")
"""Fields of the form for the round."""


def add_week(server: Flask, session: Session) -> None:
    """Put the page, its document and the downloads on a server."""
    pages = Blueprint("week", __name__)
    distances = distances_of(session.plan)

    last: list[tuple[object, Shown]] = []

    def asked_now() -> Shown:
        given = {name: request.args.get(name, "") for name in FORM}
        # Moves too: another server of the building may have put a door on another day.
        key = (session.version, tuple(given.items()), session.moved)
        if not last or last[0][0] != key:
            last[:] = [(key, _shown(session, distances, given))]
        return last[0][1]

    @pages.get("/week")
    def week_page() -> str:
        return filled("week/week.html", **context(session, asked_now(), desk_voice()))

    @pages.get("/week/document")
    def week_as_document() -> Response:
        return page(week_document(asked_now().view, session), paper())

    @pages.get("/week/sheets")
    def sheets() -> Response:
        units, voice = asked_now().view.units, asked_voice()
        if not units:
            return Response(voice.text("No door may be entered today."), mimetype="text/plain")
        return page(door_sheets(session, units, voice=voice), paper())

    @pages.get("/week/export/<name>")
    def export(name: str) -> Response:
        note("export", name[:40])
        if name == "all":
            return download(make_zip(session), ZIP_FILE, "application/zip")
        if name not in EXPORTS:
            abort(404)
        kind = EXPORTS[name]
        try:
            return download(make_export(session, name), kind.file, kind.media_type)
        except SpreadError as error:
            return Response(str(error), status=503, mimetype="text/plain")

    add_acts(pages, session, asked_now)
    server.register_blueprint(pages)


def _shown(session: Session, distances: Distances, given: Mapping[str, str]) -> Shown:
    try:
        asked = asked_for(given)
        shown = Shown(given, asked, week_view(session, asked, distances))
    except SettingsError as error:
        told = tuple(map(str, error.problems))
        shown = Shown(given, Asked(), week_view(session, Asked(), distances), told)
    promise_week(session, shown.view)
    return shown


def asked_for(given: Mapping[str, str]) -> Asked:
    """Return what a round may take from the words of a form; what is empty is the usual.

    Raises SettingsError with every word that cannot be read.
    """
    problems: list[Problem] = []
    values: dict[str, int] = {}
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
    return Asked(values.get("minutes"), values.get("technicians"), values.get("begins", NINE))


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else None


def context(session: Session, shown: Shown, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return what the template shows, ready made: text and numbers, no arithmetic left to do."""
    given, view = shown.given, shown.view
    week, crew = view.week, shown.asked.crew(session.building.settings.technicians)

    def lines(owed: Sequence[Owed]) -> list[Line]:
        return [line(one, week.on, voice, sources=False) for one in owed]

    return {
        **desk_frame("/week", "week/page.js"),
        "version": session.version,
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
            "minutes": given["minutes"] or f"{max(one.minutes for one in crew):g}",
            "technicians": given["technicians"] or len(crew),
            "begins": given["begins"] or clock_of(NINE),
        },
        "problems": shown.problems,
        "plan": _plan(session, view, voice),
        "lead": lead_words(view.plan, voice),
        "let_go": let_go_words(view.plan, voice),
        "waits": waiting(view.plan, voice),
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
        "most": NEXT_DOORS,
        "exports": tuple((name, export) for name, export in EXPORTS.items() if export.ready),
        "query": urlencode(given),
        "fields": tuple(given.items()),
        "sheets": f"{here('/week/sheets')}?{urlencode(given)}",
        "document": f"{here('/week/document')}?{urlencode(given)}",
    }


def _plan(session: Session, view: WeekView, voice: Voice) -> list[dict[str, Any]]:
    """Return the days of the plan: each with its doors by technician, and what goes before them."""
    week, reasons = view.plan, listed_reasons(session, voice)
    by_hand = {*week.moved, *(one.unit for one in week.let_go)}
    first = next((one.day for one in week.days if one.round.units), week.on)
    days: list[dict[str, Any]] = []
    for one in week.days:
        announce, kept = week.to_announce(one.day), notices_on_record(session.view, one.day)
        lacking = {door.unit for door in announce}
        paths = [
            {
                "code": code,
                "until": clock_of(one.round.begins + path.finish),
                "stops": [
                    {
                        "clock": clock_of(one.round.begins + stop.begin),
                        "unit": stop.unit,
                        "why": door_why(week.doors[stop.unit], reasons[stop.unit], voice),
                        "owed": week.doors[stop.unit].why is not None,
                        "notice": stop.unit in lacking,
                        "moved": stop.unit in week.moved,
                        "by_hand": stop.unit in by_hand,
                    }
                    for stop in path.stops
                ],
            }
            for code, path in zip(one.technicians, one.round.paths, strict=True)
            if path.stops
        ]
        days.append(
            {
                "iso": one.day.isoformat(),
                "title": day_title(one.day, week.on, voice),
                "short": voice.day(one.day),
                "head": day_head(week, one, voice),
                "paths": paths,
                "announce": [door.unit for door in announce],
                "print": voice.many("Print {number} notice", "Print {number} notices", len(announce)),
                "all": len(announce) == len(one.round.units),
                "kept": len(kept),
                "first": one.day <= first,
                "waiting": _waiting_today(view, voice) if one.day == week.on else "",
            }
        )
    return days


def _waiting_today(view: WeekView, voice: Voice) -> str:
    """Return how many doors could be done today but for their notice; empty where none."""
    barred = sum(
        not door.entry.lawful_on(view.week.on) and door.not_before <= view.week.on
        for door in view.plan.doors.values()
    )
    return voice.many(
        "{number} door may not be entered today: its notice of entry has not run.",
        "{number} doors may not be entered today: their notice of entry has not run.",
        barred,
    ) if barred else ""  # fmt: skip


def _summary(week: Week, voice: Voice) -> str:
    def units(lines: Sequence[Owed]) -> int:
        return sum(len(one.units) for one in lines)

    late, dated = units(week.late), sum(units(day) for _, day in week.days)
    undated = units(week.undated)
    told = [voice.text("{number} late", number=late)] if late else []
    told += [voice.text("{number} due this week", number=dated)] if dated else []
    told += [voice.text("{number} without a date", number=undated)] if undated else []
    return ", ".join(told) or voice.text("nothing due")


PAGE = Page("/week", "Week", "what is due this week", routes=add_week, desk=True)

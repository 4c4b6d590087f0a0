"""What the week page does besides showing: notices of a day made and ticked, and doors moved by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from flask import Blueprint, Response, abort, request

from dashboard.desk.keeping import said
from dashboard.desk.notices import asked_window, give, notices_page, take_back
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from spread.decisions.week.plan import why_not
from spread.errors import SpreadError
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
        visit = _day(day)
        doors = {one.unit: one.purpose for one in asked_now().view.plan.to_announce(visit)}
        try:
            window = asked_window(request.args)
        except SpreadError as error:
            return Response(str(error), status=400, mimetype="text/plain")
        return notices_page(session, doors, visit, window)

    @pages.post("/week/notices")
    def given() -> Response:
        """Record that the notices of a day were handed out, or take all of them back."""
        sent = sent_json()
        visit = _day(str(sent.get("day", "")))
        if sent.get("back") is True:
            return take_back(session, visit)
        units = sent.get("units")
        named = {unit for unit in units if isinstance(unit, str)} if isinstance(units, list) else set()
        open_ = {one.unit for one in asked_now().view.plan.to_announce(visit)}
        try:
            window = asked_window(sent)
        except SpreadError as error:
            return said(refusal(error, desk_voice()), ok=False)
        return give(session, sorted(named & open_), visit, window)

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
                return said(say(refused, desk_voice()), ok=False)
        try:
            session.move(unit, _day(day) if day else None)
        except SpreadError as error:
            return said(refusal(error, desk_voice()), ok=False)
        return said("", ok=True)


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        abort(404)

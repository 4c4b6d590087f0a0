"""Many buildings on one server: the start page, and each building's pages below ``/at/KEY``."""

from __future__ import annotations

import datetime as dt
import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from typing import Any
from urllib.parse import quote

from flask import Flask, Response, abort, jsonify, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from dashboard.office.opening import Openings
from dashboard.signin.gate import FEED
from dashboard.signin.rights import OPENING
from dashboard.signin.who import may
from dashboard.web.bar import bar_html
from dashboard.web.files import filled
from dashboard.web.voice import desk_voice
from spread.people.roles import FIGURES, RECORD, UNITS
from spread.portfolio.standing import Kept, ranked, units_called
from spread.portfolio.team import Team, team_week
from spread.report.buildings import (
    days_of,
    found_text,
    found_words,
    heads,
    line_of,
    not_counted,
    stay_words,
    week_words,
)

AT = "/at"
_ASKED = "spread.asked"
_KEY = re.compile(rf"{AT}/([A-Za-z0-9][A-Za-z0-9._-]{{0,63}})(/.*)?")
LINKS = (
    (UNITS, "", "Plan and doors"),
    (RECORD, "round", "Round"),
    (UNITS, "week", "Week"),
    (FIGURES, "month", "Month"),
    (FIGURES, "past", "Past"),
    (FIGURES, "programmes", "Programmes"),
)
"""What the list of buildings links to: the right, the address below the building's, and the words."""


class Many(ABC):
    """A WSGI application: the start page, and each building's pages below ``/at/KEY``.

    Parameters
    ----------
    make
        Makes the server of a building from its key; takes seconds.
    mark
        Tells of a key what changes when the building's files or its log do.
    """

    front: Flask

    def __init__(self, make: Callable[[str], Flask], mark: Callable[[str], str]) -> None:
        self.openings = Openings(make, mark)

    @abstractmethod
    def works_here(self, environ: dict[str, Any], key: str) -> bool:
        """Say whether whoever asks works for a building: nobody else makes the server open it."""

    def feeds(self, environ: dict[str, Any], key: str) -> bool:
        """Say whether whoever asks has a key of a building's calendar feed."""
        return False

    @abstractmethod
    def kept(self) -> tuple[Kept, ...]:
        """Return what is kept of the buildings that whoever asks works for."""

    @abstractmethod
    def others(self) -> int:
        """Return how many buildings there are besides, where whoever asks may know."""

    @abstractmethod
    def check(self, key: str) -> None:
        """Answer whoever does not work for a building as if there were none."""

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:  # noqa: ANN401 - WSGI's own
        """Answer one request."""
        found = _KEY.fullmatch(environ.get("PATH_INFO", ""))
        if not found:
            return self.front(environ, start_response)
        key, path = found[1], found[2]
        if path is None:  # so that what is relative stands below it
            return Response(status=308, headers={"Location": f"{AT}/{key}/"})(environ, start_response)
        if path == FEED:
            if barred := self._barred(environ, key):
                return barred(environ, start_response)
        elif not self.works_here(environ, key):
            return self.front(environ, start_response)  # the way to sign in, or that this is not theirs
        if (server := self.openings.get(key).server) is None:  # whatever was asked: how far it is
            asked = {
                "REQUEST_METHOD": "GET",
                "PATH_INFO": f"{OPENING}/{key}",
                "QUERY_STRING": "",
                _ASKED: path,
            }
            return self.front(environ | asked, start_response)
        environ["SCRIPT_NAME"], environ["PATH_INFO"] = f"{AT}/{key}", path
        return server(environ, start_response)

    def _barred(self, environ: dict[str, Any], key: str) -> Response | None:
        """Return what a calendar program is answered without a key, or before the building is open."""
        if not self.works_here(environ, key) and not self.feeds(environ, key):
            return Response(status=404)
        if self.openings.get(key).server is None:
            return Response(status=503, headers={"Retry-After": "60"})
        return None

    def add_pages(self, front: Flask) -> None:
        """Put the start page and the way to each building on the server of the front."""

        @front.get("/health")
        def health() -> str:
            return "OK"

        @front.get("/")
        def home() -> str:
            return self._home()

        @front.get(f"{OPENING}/<key>")
        def opening(key: str) -> AnyResponse:
            self.check(key)
            return self._not_yet(key)

        @front.post(f"{OPENING}/<key>")
        def again(key: str) -> AnyResponse:
            self.check(key)
            self.openings.again(key)
            return redirect("/" if request.form.get("stay") else f"{AT}/{key}/", 303)

    def _home(self) -> str:
        voice, on, kept = desk_voice(), dt.date.today(), self.kept()
        figures = may(FIGURES)
        bare = kept if figures else [Kept(one.key, one.name, rows=one.rows, last=one.last) for one in kept]
        asked, team = request.args.get("unit", "").strip()[:40], _team()
        week = team_week(kept, on, team)
        found = units_called(kept, asked) if may(UNITS) else ()
        opened = {one.key: self.openings.known(one.key) for one in kept}
        return filled(
            "office/home.html",
            bar=bar_html("/"),
            heads=heads(voice),
            lines=[line_of(one, on, voice) for one in ranked(bare, on)],
            links=[(address, words) for right, address, words in LINKS if may(right)],
            at_work={key for key, one in opened.items() if one and not one.server and not one.problem},
            others=voice.number(self.others()),
            figures=figures,
            units=may(UNITS),
            asked=asked,
            found=[
                (f"{AT}/{one.kept.key}/?unit={quote(one.unit)}", found_words(one, voice)) for one in found
            ],
            nothing=found_text((), asked, voice),
            team=team,
            days=[
                (voice.day(day), [stay_words(stay, voice) for stay in stays]) for day, stays in days_of(week)
            ],
            week=week_words(week, team, voice),
            not_counted=not_counted(voice),
        )

    def _not_yet(self, key: str) -> AnyResponse:
        opening, visit = self.openings.get(key), "text/html" in request.headers.get("Accept", "")
        if opening.server is not None and visit:  # this very moment, or somebody kept the address
            return redirect(f"{AT}/{key}{request.environ.get(_ASKED, '/')}", 303)
        name = next((one.name for one in self.kept() if one.key == key), key)
        title = f"{name} cannot be opened" if opening.problem else f"Opening {name}"
        words = opening.problem or "Its log is being fitted; the page follows by itself."
        if visit:
            page = filled("office/opening.html", bar=bar_html("/"), key=key, title=title, words=words,
                          failed=bool(opening.problem))  # fmt: skip
            response = Response(page, status=503, mimetype="text/html")
        else:
            response = jsonify(ok=False, words=f"{title}. {words}", problems=[words])
            response.status_code = 503
        response.headers["Retry-After"] = "2"
        return response


def missing() -> None:
    """Answer that there is no such building."""
    abort(404)


def _team() -> Team:
    """Return the team that the address asks for; what is no number within bounds is the usual."""
    usual, read = Team(), {}
    for name, least, most in (("hours", 0.5, 24.0), ("days", 1, 7), ("travel", 0.0, 600.0)):
        try:
            value = float(request.args.get(name, ""))
        except ValueError:
            continue
        if least <= value <= most:
            read[name] = value
    return Team(
        read.get("hours", usual.hours), int(read.get("days", usual.days)), read.get("travel", usual.travel)
    )

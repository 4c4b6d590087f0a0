"""The front of an office: signing in, the list of buildings, people and audit; the way to each building."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from flask import Flask, Response, abort, jsonify, redirect, request
from flask_login import current_user
from sqlalchemy import Engine, func, select
from werkzeug.wrappers import Response as AnyResponse

from dashboard.app import OFFICE, create_app
from dashboard.change.work import REOPEN
from dashboard.office.opening import Openings
from dashboard.reach import LOCAL, Reach
from dashboard.security import guard
from dashboard.setup.page import LARGEST, add_setup_pages
from dashboard.signin.addresses import add_sign_in
from dashboard.signin.gate import shut
from dashboard.signin.rights import FRONT, OPENING
from dashboard.signin.team import add_team
from dashboard.signin.who import Gated, may, note, person
from dashboard.trace.page import LARGEST as LARGEST_TRACED
from dashboard.trace.page import add_trace_pages
from dashboard.web.bar import ONLY, bar_html
from dashboard.web.files import add_files, filled
from dashboard.web.voice import desk_voice
from spread.building import load_building
from spread.office.buildings import keys, mark_of, take_in
from spread.office.people import OfficePeople
from spread.office.tables import log_row
from spread.people.roles import BUILDINGS, FIGURES, RECORD, UNITS
from spread.session import Session

AT = "/at"
_ASKED = "spread.asked"
_KEY = re.compile(rf"{AT}/([a-z0-9][a-z0-9-]{{0,63}})(/.*)?")


class Office:
    """A WSGI application: the office's own pages, and each building's below ``/at/KEY``.

    Parameters
    ----------
    engine
        An open office.
    open_session
        Opens a building by its key; takes seconds.
    reach
        Which hosts and origins are ours.
    """

    def __init__(self, engine: Engine, open_session: Callable[[str], Session], reach: Reach = LOCAL) -> None:
        self.engine, self.people, self.reach = engine, OfficePeople(engine), reach
        self._open_session = open_session
        self.openings = Openings(self._server_of, lambda key: mark_of(engine, key))
        self.front = self._front()

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:  # noqa: ANN401 - WSGI's own
        """Answer one request."""
        found = _KEY.fullmatch(environ.get("PATH_INFO", ""))
        if not found:
            return self.front(environ, start_response)
        key, path = found[1], found[2]
        if path is None:  # so that what is relative stands below it
            return Response(status=308, headers={"Location": f"{AT}/{key}/"})(environ, start_response)
        if not self._works_here(environ, key):
            return self.front(environ, start_response)  # the way to sign in, or that this is not theirs
        if (server := self.openings.get(key).server) is None:  # whatever was asked: how far it is
            asked = {
                "REQUEST_METHOD": "GET",
                "PATH_INFO": f"{OPENING}/{key}",
                "QUERY_STRING": "",
                _ASKED: path,
            }
            return self.front(environ | asked | {_ASKED: path}, start_response)
        environ["SCRIPT_NAME"], environ["PATH_INFO"] = f"{AT}/{key}", path
        return server(environ, start_response)

    def _works_here(self, environ: dict[str, Any], key: str) -> bool:
        """Say whether whoever asks works for a building: nobody else makes the server open it."""
        with self.front.request_context(environ):
            found = current_user.person if current_user.is_authenticated else None
        return (
            found is not None and key in found.buildings
        )  # the database lets nobody work for one that is not

    def _server_of(self, key: str) -> Flask:
        return self._shown(key, self._open_session(key))

    def _shown(self, key: str, session: Session) -> Flask:
        asks = Gated(self.people, key, office=True)
        server = create_app(session, self.reach, asks, f"{AT}/{key}").server
        server.config[REOPEN] = lambda opened: self.openings.put(key, self._shown(key, opened))
        return server

    def _not_yet(self, key: str) -> AnyResponse:
        opening, visit = self.openings.get(key), "text/html" in request.headers.get("Accept", "")
        if opening.server is not None and visit:  # this very moment, or somebody kept the address
            return redirect(f"{AT}/{key}{request.environ.get(_ASKED, '/')}", 303)
        name = keys(self.engine).get(key, key)
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

    def _front(self) -> Flask:
        front = Flask("dashboard.office", static_folder=None)
        front.config[ONLY] = ("/setup", "/trace")
        add_files(front)

        @front.get("/health")
        def health() -> str:
            return "OK"

        @front.get("/")
        def home() -> str:
            found, names = person(), keys(self.engine)
            mine = [key for key in names if found is not None and key in found.buildings]
            counts = self._counts()
            voice = desk_voice()
            lines = [
                {
                    "key": key,
                    "name": names[key],
                    "rows": voice.number(counts.get(key, (0, None))[0]),
                    "last": voice.day(day) if (day := counts.get(key, (0, None))[1]) else "",
                }
                for key in mine
            ]
            links = [(address, words) for right, address, words in _LINKS if may(right)]
            others = voice.number(len(names) - len(mine)) if may(BUILDINGS) else ""
            return filled("office/home.html", bar=bar_html("/"), lines=lines, links=links, others=others)

        temporary = tempfile.TemporaryDirectory(prefix="spread-new-")
        front.extensions["spread-new"] = temporary  # it goes when the server goes

        @front.get(f"{OPENING}/<key>")
        def opening(key: str) -> AnyResponse:
            _check(key)
            return self._not_yet(key)

        @front.post(f"{OPENING}/<key>")
        def again(key: str) -> AnyResponse:
            _check(key)
            self.openings.again(key)
            return redirect(f"{AT}/{key}/", 303)

        def taken(folder: Path) -> None:
            building = load_building(folder)
            take_in(self.engine, folder, folder.name, building.name, building.store.log)
            note("building taken in", folder.name)

        add_setup_pages(front, Path(temporary.name), taken)
        add_trace_pages(front, Path(temporary.name), taken)
        guard(front, {"/setup": LARGEST, "/trace": LARGEST_TRACED}, reach=self.reach)
        shut(front, Gated(self.people, office=True), self.reach, OFFICE, FRONT)
        add_sign_in(front, self.people)
        add_team(front, self.people, lambda: keys(self.engine))
        return front

    def _counts(self) -> dict[str, tuple[int, Any]]:
        wanted = select(log_row.c.building, func.count(), func.max(log_row.c.day)).group_by(
            log_row.c.building
        )
        with self.engine.connect() as connection:
            return {str(key): (int(rows), last) for key, rows, last in connection.execute(wanted)}


def _check(key: str) -> None:
    """Answer whoever does not work for a building as if there were none."""
    found = person()
    if found is None or key not in found.buildings:
        abort(404)


_LINKS = (
    (UNITS, "", "Plan and doors"),
    (RECORD, "round", "Round"),
    (UNITS, "week", "Week"),
    (FIGURES, "past", "Past"),
    (FIGURES, "programmes", "Programmes"),
)
"""What the list of buildings links to: the right, the address below the building's, and the words."""

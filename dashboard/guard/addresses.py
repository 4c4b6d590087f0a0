"""What an open page asks every second or so: the version of the building, and what its log has lost."""

from __future__ import annotations

import logging
from collections.abc import Callable

from flask import Blueprint, Flask, Response, jsonify

from dashboard.signin.who import may, note, who
from dashboard.web.voice import desk_voice
from spread.decisions.round.twice import answered_twice
from spread.errors import SpreadError
from spread.people.roles import GUARD, UNITS
from spread.session import Session
from spread.words import say
from spread.words.guard import trouble_sentences

log = logging.getLogger(__name__)


def add_guard(server: Flask, session: Session) -> None:
    """Put the addresses on a server; where people sign in they are shut like all others."""
    guard = Blueprint("guard", __name__)

    def now(words: str = "") -> Response:
        trouble = session.building.store.trouble
        lines = [] if trouble is None or not may(UNITS) else trouble_sentences(trouble, desk_voice())
        choice = trouble is not None and may(GUARD) and bool(trouble.lost or trouble.altered)
        twice = answered_twice(session.view.log, session.today) if may(UNITS) else ()
        doors = [say(fact, desk_voice()) for fact in twice]
        return jsonify(version=session.version, lines=lines, choice=choice, words=words, twice=doors)

    def chosen(act: Callable[[], int]) -> Response:
        try:
            act()
            session.refresh()
        except SpreadError as error:
            return now(str(error))
        return now()

    @guard.get("/guard/now")
    def state() -> Response:
        try:
            session.refresh()
        except SpreadError as error:  # a file that cannot be opened this moment: said, and asked again
            return now(str(error))
        except OSError:
            log.exception("the records file could not be read")
        return now()

    @guard.post("/guard/put-back")
    def put_back() -> Response:
        note("log put back")
        return chosen(session.building.store.put_back)

    @guard.post("/guard/accept")
    def accept() -> Response:
        note("log accepted")
        by = who()
        why = f"taken as it is on a page by {by}" if by else "taken as it is on a page"
        return chosen(lambda: session.building.store.accept(why=why))

    server.register_blueprint(guard)

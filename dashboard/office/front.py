"""The front of an office: signing in, the list of buildings, people and audit; the way to each building."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

from flask import Flask
from flask_login import current_user
from sqlalchemy import Engine

from dashboard.app import OFFICE, create_app
from dashboard.change.work import REOPEN
from dashboard.office.many import AT, Many, missing
from dashboard.reach import LOCAL, Reach
from dashboard.security import guard
from dashboard.setup.page import LARGEST, add_setup_pages
from dashboard.signin.addresses import add_sign_in
from dashboard.signin.gate import shut
from dashboard.signin.rights import FRONT
from dashboard.signin.team import add_team
from dashboard.signin.who import Gated, may, note, person
from dashboard.trace.page import LARGEST as LARGEST_TRACED
from dashboard.trace.page import add_trace_pages
from dashboard.web.bar import ONLY
from dashboard.web.files import add_files
from spread.building import load_building
from spread.office.buildings import file_of, keys, mark_of, take_in
from spread.office.people import OfficePeople
from spread.office.summaries import read_office
from spread.people.roles import BUILDINGS
from spread.portfolio.standing import Kept
from spread.records.feed import FEED_FILE, opens
from spread.session import Session


class Office(Many):
    """The pages of an office, and of each of its buildings.

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
        super().__init__(self._server_of, lambda key: mark_of(engine, key))
        self.engine, self.people, self.reach = engine, OfficePeople(engine), reach
        self._open_session = open_session
        self.front = self._front()

    def works_here(self, environ: dict[str, Any], key: str) -> bool:
        """Say whether whoever asks works for a building; nobody is kept as working for one that is not."""
        with self.front.request_context(environ):
            found = current_user.person if current_user.is_authenticated else None
        return found is not None and key in found.buildings

    def feeds(self, environ: dict[str, Any], key: str) -> bool:
        """Say whether whoever asks has a key of a building's calendar feed."""
        asked = parse_qs(environ.get("QUERY_STRING", "")).get("key", [""])[0]
        return opens(file_of(self.engine, key, FEED_FILE), asked)

    def kept(self) -> tuple[Kept, ...]:
        """Return what is kept of the buildings that whoever asks works for."""
        found = person()
        return read_office(self.engine, found.buildings) if found is not None else ()

    def others(self) -> int:
        """Return how many buildings the office has besides, to who keeps the list of people."""
        found = person()
        return len(set(keys(self.engine)) - set(found.buildings if found else ())) if may(BUILDINGS) else 0

    def check(self, key: str) -> None:
        """Answer whoever does not work for a building as if there were none."""
        found = person()
        if found is None or key not in found.buildings:
            missing()

    def _server_of(self, key: str) -> Flask:
        return self._shown(key, self._open_session(key))

    def _shown(self, key: str, session: Session) -> Flask:
        asks = Gated(self.people, key, office=True)
        server = create_app(session, self.reach, asks, f"{AT}/{key}").server
        server.config[REOPEN] = lambda opened: self.openings.put(key, self._shown(key, opened))
        return server

    def _front(self) -> Flask:
        front = Flask("dashboard.office", static_folder=None)
        front.config[ONLY] = ("/setup", "/trace")
        add_files(front)
        self.add_pages(front)
        temporary = tempfile.TemporaryDirectory(prefix="spread-new-")
        front.extensions["spread-new"] = temporary  # it goes when the server goes

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

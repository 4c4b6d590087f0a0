"""Before there is a building: set-up and tracer alone, and the switch to the building made there."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from flask import Flask, redirect
from werkzeug.wrappers import Response as AnyResponse

from dashboard.app import create_app
from dashboard.change.work import REOPEN
from dashboard.reach import LOCAL, Reach
from dashboard.security import guard
from dashboard.setup.page import LARGEST, Opener, add_setup_pages
from dashboard.trace.page import LARGEST as LARGEST_TRACED
from dashboard.trace.page import add_trace_pages
from dashboard.web.bar import ONLY
from dashboard.web.files import add_files
from spread.session import Session


class Switch:
    """A WSGI application that hands each request on to the one that is shown now."""

    def __init__(self) -> None:
        self._shown: Callable[..., Iterable[bytes]] | None = None

    def show(self, app: Flask) -> None:
        """Hand requests on to ``app`` from now on; those that run already end where they began."""
        self._shown = app

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:  # noqa: ANN401 - WSGI's own
        """Answer one request."""
        if self._shown is None:
            raise RuntimeError("nothing is shown yet")
        return self._shown(environ, start_response)


def show_session(switch: Switch, session: Session, reach: Reach = LOCAL, **settings: object) -> None:
    """Show an open building, and in its place the same one anew when its plan has been changed.

    ``settings``: of each server.
    """

    def again(opened: Session) -> None:
        show_session(switch, opened, reach, **settings)

    server = create_app(session, reach).server
    server.config.update(settings, **{REOPEN: again})
    switch.show(server)


def create_first_app(folder: Path, opened: Opener) -> Flask:
    """Return the app of a server that has no building yet.

    ``folder``: where the new building's folder is made. ``opened``: called with that folder once it is
    written: opens the building and shows it in this app's place. Only the first building that is made is
    opened; a second one is made and named.
    """
    server = Flask("dashboard.first", static_folder=None)
    server.config[ONLY] = ("/setup", "/trace")
    turn = threading.Lock()
    done: list[Path] = []

    def open_once(made: Path) -> None:
        with turn:
            if not done:
                opened(made)
                done.append(made)

    @server.get("/")
    def home() -> AnyResponse:
        return redirect("/setup")

    @server.get("/health")
    def health() -> str:
        return "OK"

    add_files(server)
    add_setup_pages(server, folder.resolve(), open_once)
    add_trace_pages(server, folder.resolve(), open_once)
    guard(server, {"/setup": LARGEST, "/trace": LARGEST_TRACED})
    return server

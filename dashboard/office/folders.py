"""A folder of buildings' folders on this machine: the start page, and each building below ``/at/KEY``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from flask import Flask

from dashboard.app import create_app
from dashboard.change.work import REOPEN
from dashboard.office.many import AT, Many, missing
from dashboard.security import guard
from dashboard.setup.page import LARGEST, add_setup_pages
from dashboard.trace.page import LARGEST as LARGEST_TRACED
from dashboard.trace.page import add_trace_pages
from dashboard.web.bar import ABOVE, ONLY
from dashboard.web.files import add_files
from spread.errors import SettingsError
from spread.portfolio.folders import LOG_FILE, PEOPLE_FILE, SETTINGS_FILE, folders_in, read_kept
from spread.portfolio.standing import Kept
from spread.session import Session


class Folders(Many):
    """The pages of every building in a folder; nobody signs in, so it is for this machine alone.

    ``folder``: holds the buildings' folders. ``open_session``: opens one of them; takes seconds. Raises
    SettingsError where a building has people of its own, who sign in to it alone or to an office.
    """

    def __init__(self, folder: Path, open_session: Callable[[Path], Session]) -> None:
        super().__init__(self._server_of, self._mark)
        self.folder, self._open_session = folder, open_session
        gated = [path.name for path in folders_in(folder).values() if (path / PEOPLE_FILE).exists()]
        if gated:
            fix = "serve it by its own folder, or take the buildings into an office: spread office add"
            what = f"{gated[0]} has people who sign in"
            raise SettingsError.at(folder.name, PEOPLE_FILE, what, fix)
        self.front = self._front()

    def works_here(self, _environ: dict[str, Any], key: str) -> bool:
        """Say whether there is such a building: where nobody signs in, all are everybody's."""
        return key in folders_in(self.folder)

    def kept(self) -> tuple[Kept, ...]:
        """Return what is kept of every building that is there now."""
        return tuple(read_kept(key, path) for key, path in folders_in(self.folder).items())

    def others(self) -> int:
        """Return 0: all of them are shown."""
        return 0

    def check(self, key: str) -> None:
        """Answer for what is no building that there is none."""
        if key not in folders_in(self.folder):
            missing()

    def _mark(self, key: str) -> str:
        paths = [self.folder / key / name for name in (SETTINGS_FILE, LOG_FILE, "plan.geojson", "units.csv")]
        return repr([path.stat().st_mtime_ns for path in paths if path.exists()])

    def _server_of(self, key: str) -> Flask:
        return self._shown(key, self._open_session(self.folder / key))

    def _shown(self, key: str, session: Session) -> Flask:
        server = create_app(session, root=f"{AT}/{key}").server
        server.config[ABOVE] = True
        server.config[REOPEN] = lambda opened: self.openings.put(key, self._shown(key, opened))
        return server

    def _front(self) -> Flask:
        front = Flask("dashboard.office", static_folder=None)
        front.config.update({ONLY: ("/setup", "/trace"), ABOVE: True})
        add_files(front)
        self.add_pages(front)
        add_setup_pages(front, self.folder, lambda _made: None)
        add_trace_pages(front, self.folder, lambda _made: None)
        guard(front, {"/setup": LARGEST, "/trace": LARGEST_TRACED})
        return front

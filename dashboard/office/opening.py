"""Buildings of an office as they are opened: one after another, each in the background, once."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass

from flask import Flask

from spread.errors import SpreadError

log = logging.getLogger(__name__)


@dataclass(slots=True)
class Opening:
    """How far a building is: nothing yet, its server, or why it could not be opened as it was marked then."""

    server: Flask | None = None
    problem: str = ""
    mark: str = ""


class Openings:
    """The buildings that a server has open.

    Parameters
    ----------
    make
        Makes the server of a building from its key; takes seconds, for the log is fitted.
    mark
        Tells of a building's key what changes when its files or its log do.
    """

    def __init__(self, make: Callable[[str], Flask], mark: Callable[[str], str] = lambda _key: "") -> None:
        self._make, self._mark = make, mark
        self._lock = threading.Lock()
        self._turn = threading.Lock()  # a fit keeps a processor busy: one at a time
        self._known: dict[str, Opening] = {}

    def get(self, key: str) -> Opening:
        """Return how far a building is, and begin to open it where nobody has.

        One that could not be opened is left until it has changed, or somebody asks for it :meth:`again`.
        """
        known = self._known.get(key)
        if known is None or (known.problem and known.mark != self._mark(key)):
            return self._begin(key, known)
        return known

    def known(self, key: str) -> Opening | None:
        """Return how far a building is; None where nobody has begun to open it."""
        return self._known.get(key)

    def again(self, key: str) -> Opening:
        """Begin to open a building that could not be opened."""
        known = self._known.get(key)
        return self._begin(key, known) if known is None or known.problem else known

    def put(self, key: str, server: Flask) -> None:
        """Show another server of a building from now on: the same building, with a plan that was changed."""
        with self._lock:
            self._known[key] = Opening(server=server, mark=self._mark(key))

    def _begin(self, key: str, known: Opening | None) -> Opening:
        mark = self._mark(key)
        with self._lock:
            if self._known.get(key) is not known:  # somebody else was faster
                return self._known[key]
            self._known[key] = fresh = Opening(mark=mark)
        threading.Thread(target=self._open, args=(key, fresh), daemon=True).start()
        return fresh

    def wait(self, key: str, seconds: float = 120.0) -> Opening:
        """Return a building once it is open, or cannot be."""
        opening, done = self.get(key), threading.Event()
        end = threading.Timer(seconds, done.set)
        end.start()
        try:
            while not (opening.server or opening.problem or done.is_set()):
                done.wait(0.05)
        finally:
            end.cancel()
        return opening

    def _open(self, key: str, opening: Opening) -> None:
        with self._turn:
            try:
                opening.server = self._make(key)
            except SpreadError as error:
                opening.problem = str(error)
            except Exception:
                log.exception("a building of the office could not be opened")
                opening.problem = "It could not be opened; the server's log says why."

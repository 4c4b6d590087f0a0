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
    """How far a building is: nothing yet, its server, or why it could not be opened."""

    server: Flask | None = None
    problem: str = ""


class Openings:
    """The buildings that a server has open.

    Parameters
    ----------
    make
        Makes the server of a building from its key; takes seconds, for the log is fitted.
    """

    def __init__(self, make: Callable[[str], Flask]) -> None:
        self._make = make
        self._lock = threading.Lock()
        self._turn = threading.Lock()  # a fit keeps a processor busy: one at a time
        self._known: dict[str, Opening] = {}

    def get(self, key: str) -> Opening:
        """Return how far a building is, and begin to open it where nobody has; a failure is tried again."""
        with self._lock:
            known = self._known.get(key)
            if known is None or known.problem:
                told = known or Opening()
                self._known[key] = fresh = Opening()
                threading.Thread(target=self._open, args=(key, fresh), daemon=True).start()
                return told if told.problem else fresh
            return known

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

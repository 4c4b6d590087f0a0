"""What drives the difference between two compared programmes, worked out in a thread of its own."""

from __future__ import annotations

import logging
import threading
from collections.abc import Mapping
from dataclasses import replace

from dashboard.figures.drawn import Drawn
from dashboard.figures.programmes import drivers_figure
from dashboard.programmes.prices import typed_prices, usual_prices
from dashboard.programmes.work import Work
from spread.decisions.view import View
from spread.errors import SpreadError
from spread.programmes.drivers import Tornado, tornado
from spread.programmes.money import Prices
from spread.programmes.programme import Programme
from spread.programmes.run import RunSettings
from spread.session import Session
from spread.trade.pace import Pace

MOST_RUNS = 100
"""Runs of each case at most: there are some twenty cases."""


class Drivers:
    """One such piece of work at a time; what a stop or a new comparison leaves is thrown away."""

    def __init__(self) -> None:
        self.found: Tornado | None = None
        self.share, self.error = 0.0, ""
        self._thread: threading.Thread | None = None
        self._stop = threading.Event()

    @property
    def running(self) -> bool:
        """Whether it is at work."""
        return self._thread is not None and self._thread.is_alive() and not self._stop.is_set()

    def start(
        self, view: View, pair: tuple[Programme, Programme], settings: RunSettings, pace: Pace, prices: Prices
    ) -> bool:
        """Start with a programme and the one that it is held against; False when one is at work already."""
        if self.running:
            return False
        self.clear()
        stop = self._stop = threading.Event()
        few = replace(settings, runs=min(MOST_RUNS, settings.runs), snapshots=())

        def progress(share: float) -> None:
            if not stop.is_set():
                self.share = share

        def run() -> None:
            found, error = None, ""
            try:
                found = tornado(view, *pair, few, pace=pace, prices=prices, progress=progress, stop=stop)
            except SpreadError as problem:
                error = str(problem)
            except Exception:
                logging.getLogger(__name__).exception("the drivers failed")
                error = "The drivers could not be worked out; the server's log says why."
            # Cases cut short have fewer futures than the others and cannot be held against them.
            if not stop.is_set():
                self.found, self.error = found, error

        self._thread = threading.Thread(target=run, daemon=True)
        self._thread.start()
        return True

    def clear(self) -> None:
        """Stop, and throw away what was found."""
        self._stop.set()
        self.found, self.share, self.error = None, 0.0, ""

    def wait(self, seconds: float) -> bool:
        """Wait until it is at rest; return whether it is."""
        if self._thread is not None:
            self._thread.join(seconds)
        return not self.running


def asked(session: Session, work: Work, drivers: Drivers, sent: Mapping[str, object]) -> str:
    """Work out what drives a programme's difference to the first; without a ``key``, stop that.

    Returns why it cannot be, in a sentence; empty when it is done. Raises SpreadError if the building's own
    prices cannot be read.
    """
    if not sent.get("key"):
        drivers.clear()
        return ""
    against = next((programme for programme in work.chosen[1:] if programme.key == sent["key"]), None)
    if work.done is None or work.running or work.view is None or against is None:
        return "Compare programmes first, and choose one of them."
    prices = sent.get("prices")
    typed = typed_prices(usual_prices(session), prices if isinstance(prices, dict) else {})
    pair, pace = (against, work.chosen[0]), session.building.settings.pace
    if not drivers.start(work.view, pair, work.settings, pace, typed.prices):
        return "That is being worked out already."
    return ""


def drawn(work: Work, found: Tornado) -> Drawn:
    """Return the figure of what was found of two of the programmes compared."""
    names = {programme.key: programme.name for programme in work.chosen}
    return drivers_figure(found, names[found.key], names[found.reference])

"""The one comparison of a session: simulated in a thread of its own, watched and stopped from any other."""

from __future__ import annotations

import logging
import threading
from collections.abc import Sequence
from dataclasses import replace

from spread.decisions.view import View
from spread.errors import SpreadError
from spread.posterior.dynamics import Floats
from spread.programmes.beside import beside
from spread.programmes.drivers import Ran, set_to_ends
from spread.programmes.fees import Fees
from spread.programmes.flips import FLIP_RUNS, Flips, flips
from spread.programmes.looking_first import seen_of
from spread.programmes.money import Prices
from spread.programmes.programme import Programme
from spread.programmes.run import RunSettings, Simulated, simulate
from spread.session import Session


class Work:
    """The one simulation of a session: started, watched and stopped from any thread.

    ``session``: an open building.
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        self.simulations = 0
        self.error = ""
        self.chosen: tuple[Programme, ...] = ()
        self.settings = RunSettings()
        self.view: View | None = None
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._stop = threading.Event()
        self._done: Simulated | None = None
        self._beside: dict[str, Simulated] = {}
        self._ends: Ran | None = None
        #: What a look at every unit would find in each run; None until it is worked out
        self.seen: Floats | None = None
        self._holding: threading.Thread | None = None

    @property
    def running(self) -> bool:
        """Whether it is at work."""
        return self._thread is not None and self._thread.is_alive()

    @property
    def done(self) -> Simulated | None:
        """What is done so far."""
        return self._done

    @property
    def is_old(self) -> bool:
        """Whether the building has changed since the simulation was started."""
        return self.view is not None and self.view is not self.session.view

    def start(self, chosen: Sequence[Programme], settings: RunSettings) -> bool:
        """Start; False when one is at work already."""
        with self._lock:
            if self.running:
                return False
            self._stop = threading.Event()
            self._done, self.error, self._beside, self._ends, self.seen = None, "", {}, None, None
            self.chosen, self.settings = tuple(chosen), settings
            self.simulations += 1
            self.view = self.session.view
            self._thread = threading.Thread(
                target=self._run, args=(self.view, chosen, settings, self._stop), daemon=True
            )
            self._thread.start()
            return True

    def stop(self) -> None:
        """Stop after the piece at work; what is done is kept."""
        self._stop.set()

    @property
    def holding(self) -> bool:
        """Whether a programme is being held against doing nothing and waiting."""
        return self._holding is not None and self._holding.is_alive()

    def held(self, key: str) -> Simulated | None:
        """Return the runs that a programme is held against; None while they are made, which this begins.

        What would turn the verdict is simulated behind them.
        """
        if self.running or self._done is None or self.view is None or key in self._beside:
            return self._beside.get(key)
        with self._lock:
            if not self.holding:
                given = (self.view, self._done, key)
                self._holding = threading.Thread(target=self._hold, args=given, daemon=True)
                self._holding.start()
        return None

    def wait_held(self, key: str) -> Simulated | None:
        """Return the runs that a programme is held against, once all is made; None where that failed."""
        for _ in range(2):  # the first wait may be for those of another programme
            self.held(key)
            if self._holding is not None:
                self._holding.join()
        return self._beside.get(key)

    def turns(self, chosen: str, prices: Prices, fees: Fees | None) -> Flips | None:
        """Return what would turn the verdict at some prices; None until the runs for it are made."""
        if self._ends is None:
            return None
        return flips(self._ends, chosen=chosen, now=self.chosen[0].key, prices=prices, fees=fees)

    def _hold(self, view: View, done: Simulated, key: str) -> None:
        pace = self.session.building.settings.pace
        try:
            made, seen = beside(view, done, key, pace=pace), seen_of(view, done, pace=pace)
            if self._done is done:  # else a new comparison has begun
                self.seen = seen
                self._beside[key] = made
            if self._ends is None:
                few = replace(self.settings, runs=min(FLIP_RUNS, done.done), snapshots=())
                ends = set_to_ends(view, self.chosen, few, pace=pace)
                if self._done is done:
                    self._ends = ends
        except Exception:
            logging.getLogger(__name__).exception("holding a programme against others failed")
            self.error = "What it is held against could not be simulated; the server's log says why."

    def wait(self, seconds: float) -> bool:
        """Wait until it is at rest; return whether it is."""
        if self._thread is not None:
            self._thread.join(seconds)
        return not self.running

    def _run(
        self, view: View, chosen: Sequence[Programme], settings: RunSettings, stop: threading.Event
    ) -> None:
        pace = self.session.building.settings.pace
        try:
            simulate(view, chosen, settings, pace=pace, partial=self._keep, stop=stop)
        except SpreadError as error:
            self.error = str(error)
        except Exception:
            logging.getLogger(__name__).exception("the simulation failed")
            self.error = "The simulation failed; the server's log says why."

    def _keep(self, done: Simulated) -> None:
        self._done = done

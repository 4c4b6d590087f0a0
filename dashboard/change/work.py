"""The one trial of a changed plan: the log fitted with it in the background, then shown, or kept."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from spread.building import Building
from spread.changing import keep
from spread.errors import SpreadError
from spread.records import new_id
from spread.session import Session
from spread.trying import Move, moves_between

REOPEN = "SPREAD_REOPEN"
"""Setting of a Flask server: a function that shows a session in the place of the one that it shows now."""
Reopen = Callable[[Session], None]
_log = logging.getLogger(__name__)


@dataclass(slots=True)
class Trial:
    """A changed building and how far its fit is."""

    building: Building
    began: float = field(default_factory=time.monotonic)
    share: float = 0.0
    session: Session | None = None
    moves: tuple[Move, ...] = ()
    error: str = ""
    reopen: Reopen | None = None  #: Set once the change is kept: what shows it when it is fitted
    shown: bool = False

    @property
    def running(self) -> bool:
        """Whether it is at work."""
        return self.session is None and not self.error


def _alike(one: Building, other: Building) -> bool:
    return (one.changes, one.redrawn) == (other.changes, other.redrawn)


class Trials:
    """The trials of a session, one at a time: a newer one takes the place of an older one.

    ``session``: the open building.
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        self.mark = new_id()  #: Another one once the building is shown anew
        self._lock = threading.Lock()
        self._turn = threading.Lock()  # a fit keeps a processor busy: one at a time
        self._trial: Trial | None = None

    @property
    def trial(self) -> Trial | None:
        """The last one."""
        return self._trial

    @property
    def seconds(self) -> float:
        """How long the fit of the building took, as it stands."""
        return self.session.view.posterior.diagnostics.seconds

    def begin(self, building: Building) -> Trial:
        """Begin to fit a changed building; one of the same changes at work or done is taken as it is."""
        with self._lock:
            known = self._trial
            if known is not None and known.reopen is not None:
                return known  # kept already: it is on its way
            if known is not None and not known.error and _alike(known.building, building):
                return known
            self._trial = trial = Trial(building)
        threading.Thread(target=self._fit, args=(trial,), daemon=True).start()
        return trial

    def keep(self, building: Building, reopen: Reopen | None) -> Trial | None:
        """Keep a changed building, and show it once its log is fitted; None where nothing can show it.

        Raises PlanError where somebody has kept other changes meanwhile; nothing is written then.
        """
        keep(self.session.building, building)
        if reopen is None:
            return None
        trial = self.begin(building)
        with self._lock:
            trial.reopen = reopen
        self._show(trial)
        return trial

    def _fit(self, trial: Trial) -> None:
        def report(share: float) -> None:
            trial.share = share

        with self._turn:
            if trial is not self._trial:
                return  # a newer one has come while it waited
            try:
                on = None if self.session.live else self.session.on
                settings, seed = self.session.fit_settings, self.session.building.settings.seed
                fitted = Session.of(trial.building, on=on, seed=seed, settings=settings, progress=report)
                trial.moves = moves_between(self.session, fitted)
                trial.session = fitted
            except SpreadError as error:
                trial.error = str(error)
            except Exception:
                _log.exception("a changed plan could not be fitted")
                trial.error = "It could not be worked out; the server's log says why."
        self._show(trial)

    def _show(self, trial: Trial) -> None:
        with self._lock:
            if trial.reopen is None or trial.session is None or trial.shown:
                return
            trial.shown = True
        trial.session.refresh()  # rows that came in while it was fitted
        trial.reopen(trial.session)

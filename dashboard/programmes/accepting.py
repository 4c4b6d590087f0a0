"""Accepting a programme that was compared, and renewing its forecast, on the programme page."""

from __future__ import annotations

import logging
import threading
from collections.abc import Mapping
from typing import Any

from dashboard.programmes.offer import typed_offer, usual_offer
from dashboard.programmes.prices import typed_prices, usual_prices
from dashboard.programmes.proposal import verdict
from dashboard.programmes.work import Work
from dashboard.signin.who import note, who
from spread.errors import SettingsError, SpreadError
from spread.programmes.accepted import (
    Accepted,
    accepted_in,
    accepted_of,
    newest_forecast,
    renewed,
    standing,
    text_of,
)
from spread.programmes.results import summarise
from spread.session import Session
from spread.words import ENGLISH, say
from spread.words.held import renewed_line


class Accepting:
    """What was accepted for the building of a session, and a new forecast that is being made."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._texts = session.building.store.programmes
        self._kept: tuple[int, tuple[Accepted, ...]] = (-1, ())
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._problem = ""

    @property
    def kept(self) -> tuple[Accepted, ...]:
        """Everything that was accepted or renewed, in its order."""
        number = len(self._texts.all())
        if self._kept[0] != number:  # lines are only ever added
            self._kept = number, accepted_in(self._texts)
        return self._kept[1]

    def accept(self, work: Work, sent: Mapping[str, Any]) -> Accepted:
        """Keep a programme of the runs that are done, with prices and offer as typed.

        ``sent``: ``choose``, the key of a programme, empty for the verdict's; prices and offer by key. Raises
        SpreadError, in a sentence, where there is nothing to accept or it cannot be kept.
        """
        done, view, wanted = work.done, work.view, str(sent.get("choose", ""))
        if done is None or view is None or work.running:
            raise SpreadError("There is nothing to accept yet; wait until the runs of a comparison are done.")
        if wanted and wanted not in [runs.programme.key for runs in done.runs]:
            raise SpreadError("Choose one of the programmes that were compared, then accept it.")
        if work.is_old:
            raise SpreadError("The building has new answers since these runs; start again, then accept.")
        typed = typed_prices(usual_prices(self._session), sent)
        offer = typed_offer(usual_offer(self._session), sent)
        if typed.problems or offer.problems:
            raise SettingsError("\n".join([*typed.problems.values(), *offer.problems.values()]))
        if not wanted:
            comparison = summarise(done, typed.prices, fees=offer.terms.schedule)
            wanted = verdict(work, comparison, typed.prices).proposed
        kept = accepted_of(view, done, wanted, prices=typed.prices, terms=offer.terms, by=who())
        self._texts.keep(text_of(kept))
        note("programme accepted", kept.key)
        return kept

    @property
    def renewing(self) -> bool:
        """Whether a new forecast is being made."""
        return self._thread is not None and self._thread.is_alive()

    def renew(self) -> None:
        """Begin a new forecast of the programme that holds; raises SpreadError where there is none."""
        with self._lock:
            if self.renewing:
                raise SpreadError("A new forecast is being made already.")
            old = standing(self.kept)
            if old is None:
                raise SpreadError("No programme was accepted yet, so there is no forecast to renew.")
            self._problem = ""
            self._thread = threading.Thread(target=self._renew, args=(old, who()), daemon=True)
            self._thread.start()
        note("forecast renewed", old.key)

    def _renew(self, old: Accepted, by: str) -> None:
        session = self._session
        try:
            new = renewed(session.view, old, pace=session.building.settings.pace, by=by)
            self._texts.keep(text_of(new))
        except SpreadError as error:
            self._problem = str(error)
        except Exception:
            logging.getLogger(__name__).exception("renewing a forecast failed")
            self._problem = "The new forecast could not be made; the server's log says why."

    def told(self) -> dict[str, Any]:
        """Return what the page says of it."""
        kept = self.kept
        holds = standing(kept)
        lines = [] if holds is None else [say(holds, ENGLISH)]
        if holds is not None and (newest := newest_forecast(kept, holds)):
            lines.append(renewed_line(newest, ENGLISH))
        before = [one for one in kept if not one.renews and holds is not None and one.id != holds.id]
        lines += [ENGLISH.text("Before it: {accepted}", accepted=say(one, ENGLISH)) for one in before]
        return {"lines": lines, "renewing": self.renewing, "problem": self._problem}

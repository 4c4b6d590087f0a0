"""What the phones of one building know of each other: answers of today, doors taken, doors answered twice."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

from dashboard.round.claims import MOST, Claims
from dashboard.signin.who import may, who
from spread.decisions.round.twice import answered_twice, door_answers
from spread.errors import SpreadError
from spread.people.roles import RECORD
from spread.session import Session
from spread.words import Voice, say
from spread.words.guard import trouble_sentences
from spread.words.twice import answer_words

LONGEST_NAME = 64
MOST_CREW = 12
"""People on one round."""
Share = Callable[[Mapping[str, object], Collection[str], int], Sequence[str]]
log = logging.getLogger(__name__)


class Together:
    """Answers what a phone asks every few seconds."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self.claims = Claims(session.building.store)
        self._splitting = threading.Lock()  # one part after the other: the second is of what is left

    def now(self, ask: Mapping[str, object], voice: Voice) -> dict[str, Any]:
        """Return what has happened to the doors, by other programs too.

        Parameters
        ----------
        ask
            ``phone``, the name that a phone gave itself; ``holds``, the doors that it has taken (those that
            it does not name any more it gives back).
        voice
            In which answers are told.

        Returns
        -------
        dict
            ``answered``, what was answered today, by unit; ``taken``, by whom, by unit; ``holds``, the doors
            that this phone holds; ``twice``, doors with answers of several people, each with an ``id``;
            ``trouble``, what the log has lost.
        """
        session = self._session
        try:
            session.refresh()
        except (SpreadError, OSError):  # a file that cannot be opened this moment: asked again in a while
            log.warning("the records could not be read again", exc_info=True)
        view = session.view
        phone, holds = _phone(ask), self._units(ask.get("holds"))
        held = self.claims.hold(phone, who(), holds) if phone and may(RECORD) else ()
        trouble = session.building.store.trouble
        today = [row for row in door_answers(view.log, session.today) if row.when == session.today]
        return {
            "version": session.version,
            "day": session.today.isoformat(),
            "live": session.live,
            "answered": {row.unit: {"id": row.id, "words": answer_words(row, voice)} for row in today},
            "taken": self.claims.of_others(phone, who()),
            "holds": list(held),
            "trouble": [] if trouble is None else trouble_sentences(trouble, voice),
            "twice": [
                {
                    "id": "+".join(row.id for row in fact.rows),
                    "differ": fact.differ,
                    "words": say(fact, voice),
                }
                for fact in answered_twice(view.log, session.today)
                if not who() or who() in {row.by for row in fact.rows}
            ],
        }

    def part(self, ask: Mapping[str, object], voice: Voice, share: Share) -> dict[str, Any]:
        """Give a phone its part of the round, and return what :meth:`now` does with ``part`` besides.

        Parameters
        ----------
        ask
            As for :meth:`now`, and ``split``: how many go. Those that hold doors already have their part, so
            that the doors which nobody holds are for the rest of them.
        voice
            In which answers are told.
        share
            Chooses from the doors that nobody else holds for one of so many that still have no part.
        """
        phone, number = _phone(ask), ask.get("split")
        if not phone or not may(RECORD) or type(number) is not int or not 2 <= number <= MOST_CREW:
            return self.now(ask, voice)
        with self._splitting:
            others = self.claims.of_others(phone, who())
            crew = max(1, number - self.claims.other_phones(phone, who()))
            units = share(ask, others, crew)
            told = self.now({**ask, "holds": list(units)}, voice)
        return told | {"part": told["holds"]}

    def _units(self, told: object) -> list[str]:
        units = self._session.plan.units
        return [u for u in told[:MOST] if isinstance(u, str) and u in units] if isinstance(told, list) else []


def _phone(ask: Mapping[str, object]) -> str:
    """Return the name that a phone gave itself; empty if it gave none."""
    phone = ask.get("phone")
    return phone[:LONGEST_NAME] if isinstance(phone, str) else ""

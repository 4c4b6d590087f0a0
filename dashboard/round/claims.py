"""Doors that somebody has taken, so that two phones are not sent to one.

A claim is of a phone and of whoever is signed in on it. It is no record: it is kept beside the log, ends by
itself, and stops nobody from answering a door. Several servers at one store read each other's claims: what is
remembered is :data:`FRESH` seconds old at most, and whoever takes a door reads again first. Two servers that
grant one door in the same moment are told apart at the next word of their phones, seconds later.
"""

from __future__ import annotations

import json
import logging
import math
import threading
import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import asdict, dataclass

from spread.building import LOG_FILE
from spread.errors import SpreadError
from spread.records.store import Store

LASTS = 3 * 3600.0
"""Seconds that a claim outlives the last word of its phone: a basement, a lunch (judgement)."""
FRESH = 2.0
"""Seconds that claims of other servers may be remembered."""
MOST = 60
"""Doors that one phone may hold: more than anybody's day."""
FILE = f"{LOG_FILE}.claims"
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Claim:
    """One door taken: by which phone, by whom (empty where nobody signs in), and till when."""

    phone: str
    code: str
    until: float


class Claims:
    """Who has taken which door; safe in several threads.

    Parameters
    ----------
    store
        Of the building's log: claims outlive the server beside it.
    now
        Seconds since 1970.
    """

    def __init__(self, store: Store, now: Callable[[], float] = time.time) -> None:
        self._store, self._now = store, now
        self._lock = threading.Lock()
        self._claims: dict[str, Claim] = {}
        self._kept: dict[str, Claim] = {}
        self._read_at = -math.inf
        self._alone = False  # what was claimed could not be written: it lasts as long as the server

    def hold(self, phone: str, code: str, units: Collection[str]) -> tuple[str, ...]:
        """Say which doors a phone holds from now on; what it held besides is given back.

        Returns
        -------
        tuple of str
            The doors that it holds: those of ``units``, first come, that nobody else does.
        """
        with self._lock:
            self._take_in()
            now, others = self._now(), self._others(phone, code)
            held = tuple(unit for unit in dict.fromkeys(units) if unit not in others)[:MOST]
            self._claims = {**others, **dict.fromkeys(held, Claim(phone, code, now + LASTS))}
            self._keep()
            return held

    def of_others(self, phone: str, code: str) -> dict[str, str]:
        """Return the doors that others hold, each with the code of who does."""
        with self._lock:
            self._take_in(FRESH)
            others = self._others(phone, code)
            return {unit: claim.code for unit, claim in others.items()}

    def other_phones(self, phone: str, code: str) -> int:
        """Return how many other phones hold a door."""
        with self._lock:
            self._take_in(FRESH)
            return len({(claim.phone, claim.code) for claim in self._others(phone, code).values()})

    def _take_in(self, old: float = 0.0) -> None:
        """Read what other servers claimed, unless that was done less than ``old`` seconds ago."""
        if self._alone or time.monotonic() - self._read_at < old:
            return
        try:
            told = self._store.beside(FILE)
        except (SpreadError, OSError):  # not to be read this moment: what is remembered stands
            return
        self._read_at = time.monotonic()
        self._claims = _claims_of(told)
        self._kept = dict(self._claims)

    def _others(self, phone: str, code: str) -> dict[str, Claim]:
        now = self._now()
        return {
            unit: claim
            for unit, claim in self._claims.items()
            if claim.until > now and (claim.phone, claim.code) != (phone, code)
        }

    def _keep(self) -> None:
        """Write the claims where they differ from those in the file, or these are much older."""
        fresh = self._claims.keys() == self._kept.keys() and all(
            (claim.phone, claim.code) == (self._kept[unit].phone, self._kept[unit].code)
            and claim.until - self._kept[unit].until < LASTS / 12
            for unit, claim in self._claims.items()
        )
        if fresh:
            return
        self._kept = dict(self._claims)
        try:
            told = {unit: asdict(claim) for unit, claim in self._claims.items()}
            self._store.keep_beside(FILE, json.dumps(told))
            self._alone = False
        except SpreadError:  # no room, or a store that cannot be written: they last as long as the server
            self._alone = True
            _log.warning("claimed doors could not be written", exc_info=True)


def _claims_of(text: bytes) -> dict[str, Claim]:
    """Return the claims of a file; none where there are none or they are not ours to read."""
    try:
        told = json.loads(text)
        return {str(unit): _claim(one) for unit, one in told.items()}
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return {}


def _claim(told: Mapping[str, object]) -> Claim:
    until = told["until"]
    if not isinstance(until, float):
        raise TypeError("no time")
    return Claim(str(told["phone"]), str(told["code"]), min(until, time.time() + LASTS))

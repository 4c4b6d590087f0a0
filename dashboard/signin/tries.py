"""How many pass phrases may be tried: by work code and by address, counted before any is checked."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from limits import RateLimitItemPerHour, RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter

BY_CODE = (RateLimitItemPerMinute(5), RateLimitItemPerHour(40))
"""This and the other counts: common practice, no source. An hour is also what somebody who tries another's
code on purpose can hold that person up by; whoever is signed in stays so."""
BY_ADDRESS = (RateLimitItemPerMinute(60),)
"""A whole crew may sign in from one address within a minute."""
AT_ONCE = 2
"""Pass phrases checked at one time; each takes 64 MiB and a core."""


class Tries:
    """Counts tries by code, known or not, so that a wait tells nobody who is here."""

    def __init__(self) -> None:
        self._limiter = MovingWindowRateLimiter(MemoryStorage())
        self._lock = threading.Lock()
        self._turns = threading.BoundedSemaphore(AT_ONCE)
        self._room = threading.BoundedSemaphore(2 * AT_ONCE)

    @contextmanager
    def turn(self) -> Iterator[bool]:
        """Take a turn to check a pass phrase; False where too many do or wait for it already.

        The others of the server's threads are for those who are signed in.
        """
        if not self._room.acquire(blocking=False):
            yield False
            return
        try:
            with self._turns:
                yield True
        finally:
            self._room.release()

    def take(self, code: str, address: str) -> float:
        """Return the seconds to wait; 0.0 lets one try, and counts it."""
        asked = [*((item, f"code {code}") for item in BY_CODE), *((i, f"from {address}") for i in BY_ADDRESS)]
        with self._lock:
            for item, key in asked:
                if not self._limiter.test(item, key):
                    return max(self._limiter.get_window_stats(item, key).reset_time - time.time(), 1.0)
            for item, key in asked:
                self._limiter.hit(item, key)
            return 0.0

    def forget(self, code: str) -> None:
        """Begin anew with a code whose pass phrase was right."""
        with self._lock:
            for item in BY_CODE:
                self._limiter.clear(item, f"code {code}")

"""How long a code must wait after wrong pass phrases: nothing at first, then twice as long each time."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

FREE = 3
"""Wrong pass phrases before the first wait. This and the waits: common practice, no source."""
LONGEST_WAIT = 300.0
"""Seconds; also what somebody who tries another's code on purpose can hold that person up by."""
FORGOTTEN = 3600.0
"""Seconds without a try after which a code begins anew."""
MOST_CODES = 5000
"""Codes that are remembered; more would be somebody filling the memory."""


class Patience:
    """Counts tries by code, known or not, so that a wait tells nobody who is here.

    Parameters
    ----------
    clock
        Seconds that only grow.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._tries: dict[str, tuple[int, float, float]] = {}  # how many, the last, open again at

    def take(self, code: str) -> float:
        """Return the seconds that a code still has to wait; 0.0 lets it try, and counts the try."""
        now = self._clock()
        with self._lock:
            count, last, opens = self._tries.get(code, (0, now, now))
            if now < opens:
                return opens - now
            count = 1 if now - last > FORGOTTEN else count + 1
            wait = min(2.0 ** (count - FREE), LONGEST_WAIT) if count >= FREE else 0.0
            if code not in self._tries and len(self._tries) >= MOST_CODES:
                self._tries.pop(min(self._tries, key=lambda other: self._tries[other][2]))
            self._tries[code] = (count, now, now + wait)
            return 0.0

    def forget(self, code: str) -> None:
        """Begin anew with a code whose pass phrase was right."""
        with self._lock:
            self._tries.pop(code, None)

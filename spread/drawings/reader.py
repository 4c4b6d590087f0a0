"""Reading what a page or a file says of a tracing: each field checked, each fault one sentence."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from spread.errors import Problem
from spread.plain import unseen

FOOT = 0.3048
FARTHEST = 100_000
"""Pixels from the corner of a picture; a place farther off is none."""
LONGEST_NAME = 40
LONGEST_LIST = 8_000
"""Letters of all names of a list."""
At = tuple[float, float]


class Reader:
    """Reads the fields of one floor; gathers ``problems``."""

    def __init__(self, sent: object, file: str, where: str) -> None:
        self.file, self.where = file, where
        self.problems: list[Problem] = []
        self.sent: Mapping[str, Any] = sent if isinstance(sent, Mapping) else {}
        if not isinstance(sent, Mapping):
            self.fault("", "it is no object", "write it as in docs/drawings.md")

    def fault(self, field: str, what: str, fix: str) -> None:
        """Add a problem."""
        self.problems.append(Problem(self.file, ", ".join(filter(None, (self.where, field))), what, fix))

    def name(self, field: str, value: object = None) -> str:
        """Return a name of letters that are seen."""
        value = self.sent.get(field) if value is None else value
        text = " ".join(str(value).split()) if isinstance(value, str | int) else ""
        if not text or len(text) > LONGEST_NAME or unseen(text):
            self.fault(field, "it is no name", f"write 1 to {LONGEST_NAME} letters that are seen")
        return text

    def names(self, field: str) -> tuple[str, ...]:
        """Return a list of texts; none if it is left out."""
        given = self.sent.get(field) or []
        if not isinstance(given, list) or len(given) > 500 or not all(isinstance(one, str) for one in given):
            self.fault(field, "it is no list of names", 'write it as ["A-WALL"]')
            return ()
        if sum(map(len, given)) > LONGEST_LIST:  # they are handed to another process in its command
            self.fault(field, "it is too long a list", "name only the layers of walls")
            return ()
        return tuple(given)

    def number(self, field: str, otherwise: float, low: float, high: float) -> float:
        """Return a number within limits."""
        value = self.sent.get(field, otherwise)
        fits = isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high
        if not fits:
            self.fault(field, f"it is no number from {low:g} to {high:g}", "mend it or leave it out")
            return otherwise
        return float(value)

    def whole(self, field: str, otherwise: int, low: int, high: int) -> int:
        """Return a whole number within limits."""
        return int(self.number(field, otherwise, low, high))

    def place(self, field: str, value: object) -> At:
        """Return a place on the picture."""
        if isinstance(value, list) and len(value) == 2:
            fits = (isinstance(v, int | float) and not isinstance(v, bool) for v in value)
            if all(fits) and all(math.isfinite(v) and abs(v) <= FARTHEST for v in value):
                return float(value[0]), float(value[1])
        self.fault(field, "it is no place on the picture", "write it in pixels, as [120, 85]")
        return 0.0, 0.0

    def places(self, field: str, least: int, most: int) -> tuple[At, ...]:
        """Return a list of places."""
        given = self.sent.get(field) or []
        if not isinstance(given, list) or not least <= len(given) <= most:
            self.fault(
                field, f"it is no list of {least} to {most} places", "write it as [[120, 85], [130, 85]]"
            )
            return ()
        return tuple(self.place(field, one) for one in given)

    def metre(self) -> float:
        """Return the pixels of a metre from the one known length; nought where none is given."""
        given = self.sent.get("length")
        if given is None:
            return 0.0
        if not isinstance(given, Mapping) or ("metres" in given) == ("feet" in given):
            self.fault("length", "it is no known length", "write from, to, and metres or feet")
            return 0.0
        sub = Reader(given, self.file, f"{self.where}, length")
        unit, size = ("metres", 1.0) if "metres" in given else ("feet", FOOT)
        metres = sub.number(unit, 1.0, 0.3 / size, 500 / size) * size
        pixels = math.dist(sub.place("from", given.get("from")), sub.place("to", given.get("to")))
        self.problems += sub.problems
        if not sub.problems and not pixels >= 10:
            self.fault("length", "its two ends are in one place", "click both ends of the length")
        return pixels / metres

    def lists(self, field: str, most: int) -> Iterator[Any]:
        """Yield the entries of a list that may be left out."""
        given = self.sent.get(field) or []
        if not isinstance(given, list) or len(given) > most:
            self.fault(field, f"it is no list of at most {most:,}", "write it as in docs/drawings.md")
            return
        yield from given

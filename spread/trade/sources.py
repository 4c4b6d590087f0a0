"""A number that cannot be had without its range, its source and how far to trust it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

CONFIDENCES = ("A", "B", "C")  #: A strong; B usable; C weak: a judgement, an analogue or one small study

KINDS = ("published", "second-hand", "judged", "fitted", "none")
"""What a source is; ``fitted``: a joint fit to published figures (docs/evidence.md); ``none``: practice."""

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Sourced:
    """One number of the trade.

    Raises ValueError when the range is not in order, a value is not finite, or a word is missing.
    """

    #: central, low, high: Value used and the range it is believed to lie in; ``low <= central <= high``
    central: float
    low: float
    high: float
    unit: str  #: What it is counted in, such as ``"per week"`` or ``"chance"``
    #: Short citation, or "judgement", "from memory" or :data:`COMMON_PRACTICE`, with what it rests on
    source: str
    confidence: str  #: One of :data:`CONFIDENCES`
    kind: str = "published"  #: One of :data:`KINDS`

    def __post_init__(self) -> None:
        values = (self.low, self.central, self.high)
        if not all(math.isfinite(value) for value in values):
            raise ValueError(f"every value must be finite, found low, central, high = {values}")
        if not self.low <= self.central <= self.high:
            raise ValueError(f"expected low <= central <= high, found {values}")
        if not self.unit.strip() or not self.source.strip():
            raise ValueError("a number needs its unit and its source")
        if self.confidence not in CONFIDENCES:
            raise ValueError(f"confidence must be one of {CONFIDENCES}, found {self.confidence!r}")
        if self.kind not in KINDS:
            raise ValueError(f"kind must be one of {KINDS}, found {self.kind!r}")


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence for a sheet, with its source; an empty source never occurs."""

    text: str
    source: str  #: Where it is from; never empty
    topic: str = ""  #: What it is about, where cautions are grouped; may be empty


def judged(central: float, low: float, high: float, unit: str, source: str) -> Sourced:
    """Return a number that nobody measured; ``source`` opens with "judgement" and says what it rests on."""
    return Sourced(central, low, high, unit, source, "C", "judged")


def sourced_row(
    central: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
    *,
    unit: str,
    source: str,
    confidence: str,
    kind: str = "published",
) -> tuple[Sourced, ...]:
    """Return one :class:`Sourced` a level for numbers that share a source.

    ``central``, ``low``, ``high``: values by level, all of one length; ``unit``, ``source``, ``confidence``,
    ``kind``: as in :class:`Sourced`. Raises ValueError when the lengths differ or a range is not in order.
    """
    return tuple(
        Sourced(c, lo, hi, unit, source, confidence, kind)
        for c, lo, hi in zip(central, low, high, strict=True)
    )

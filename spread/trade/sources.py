"""A number that cannot be had without its range, its source and how far to trust it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

CONFIDENCES = ("A", "B", "C")
"""A strong; B usable; C weak: a judgement, an analogue or one small study."""

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Sourced:
    """One number of the trade.

    Parameters
    ----------
    central, low, high
        Value used and the range it is believed to lie in; ``low <= central <= high``.
    unit
        What it is counted in, such as ``"per week"`` or ``"chance"``.
    source
        Short citation, or "judgement", "from memory" or :data:`COMMON_PRACTICE`, with what it rests on.
    confidence
        One of :data:`CONFIDENCES`.

    Raises
    ------
    ValueError
        When the range is not in order, a value is not finite, or a word is missing.
    """

    central: float
    low: float
    high: float
    unit: str
    source: str
    confidence: str

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


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence for a sheet, with its source; an empty source never occurs.

    Parameters
    ----------
    text
        The sentence.
    source
        Where it is from; never empty.
    topic
        What it is about, where cautions are grouped; may be empty.
    """

    text: str
    source: str
    topic: str = ""


def sourced_row(
    central: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
    *,
    unit: str,
    source: str,
    confidence: str,
) -> tuple[Sourced, ...]:
    """Return one :class:`Sourced` a level for numbers that share a source.

    Parameters
    ----------
    central, low, high
        Values by level, all of one length.
    unit, source, confidence
        As in :class:`Sourced`.

    Raises
    ------
    ValueError
        When the lengths differ or a range is not in order.
    """
    return tuple(
        Sourced(c, lo, hi, unit, source, confidence) for c, lo, hi in zip(central, low, high, strict=True)
    )

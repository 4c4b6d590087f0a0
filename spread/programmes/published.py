"""What the simulation gives for published programmes, beside what was published."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class Published:
    """One published figure, and the same simulated without a log: shares, or per cent where they change."""

    name: str  #: Which one, as ``proofs/programmes_published.py`` calls it
    published: str  #: As published: ``12 %``, or ``3/9`` of the units of a trial
    simulated: float  #: Mean of the runs
    #: low, high: Where nine tenths of the runs lie
    low: float
    high: float
    met: bool  #: Whether the mean lies in what was accepted before it was run


@lru_cache(maxsize=1)
def published() -> tuple[Published, ...]:
    """Return every figure, met or missed, from ``published.toml``."""
    text = (files("spread.programmes") / "published.toml").read_text(encoding="utf-8")
    return tuple(Published(**row) for row in tomllib.loads(text)["figures"])

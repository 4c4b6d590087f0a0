"""A tie between two units that no drawing shows."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Link:
    """A tie given by hand: a shared laundry day, a moved sofa, relatives in two units."""

    #: a, b: Unit ids; the tie works both ways
    a: str
    b: str
    words: str  #: What ties them, as it should be read ("shares a laundry day with"). No names of people.
    strength: float = 1.0  #: Exposure; 1.0 counts as one typical contact
    route: str = "link"  #: The route it goes by: one of :data:`spread.trade.routes.BY_HAND`

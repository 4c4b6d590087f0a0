"""A row of a unit list, and what the numbering makes of it: a stack with a side and a place."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from statistics import median

NaturalKey = tuple[tuple[int, int, str], ...]


def natural_key(text: str) -> NaturalKey:
    """Return a key that sorts ``"2"`` before ``"10"`` and ``"A9"`` before ``"A10"``."""
    parts = re.findall(r"\d+|\D+", text.casefold())
    key = tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts)
    return (*key, (-1, 0, text))


@dataclass(frozen=True, slots=True)
class UnitRow:
    """One unit as listed.

    ``unit``, ``floor``: code as on the door, and floor name. ``stack``, ``side``, ``order``, ``area``,
    ``layout``: what the list says beyond that; empty text or None where it is silent. ``side`` is one of
    ``a``, ``b``, ``north``, ``east``, ``south``, ``west`` or empty; ``area`` is in m2. ``line``: line of the
    file, from 1.
    """

    unit: str
    floor: str
    stack: str = ""
    side: str = ""
    order: float | None = None
    area: float | None = None
    layout: str = ""
    line: int = 0

    def on(self, floor: str) -> UnitRow:
        """Return the row with its floor spelled ``floor``."""
        return replace(self, floor=floor)


@dataclass(frozen=True, slots=True)
class Stack:
    """Units one above another.

    ``name``: shown with its units. ``number``: the number that the codes of its units end in; its parity
    tells the side of a hallway. ``units``: row by floor name; a floor without this stack is missing.
    """

    name: str
    number: int
    units: Mapping[str, UnitRow]

    @property
    def side(self) -> str:
        """The side that the list gives, or empty."""
        return next((row.side for row in self.rows if row.side), "")

    @property
    def hand(self) -> str:
        """``a`` or ``b`` when the list gives a side (north and west are a), or empty."""
        return {"north": "a", "west": "a", "south": "b", "east": "b"}.get(self.side, self.side)

    @property
    def rows(self) -> tuple[UnitRow, ...]:
        """The rows in a fixed order."""
        return tuple(sorted(self.units.values(), key=lambda row: (natural_key(row.unit), row.floor)))

    @property
    def place(self) -> tuple[float, NaturalKey]:
        """Sorts stacks along a hallway: by the order given, else by number."""
        orders = [row.order for row in self.rows if row.order is not None]
        return (median(orders) if orders else float(self.number), natural_key(self.name))

    def area(self, default: float) -> float:
        """Return the middle of the areas given, in m2, or ``default``."""
        areas = [row.area for row in self.rows if row.area is not None]
        return median(areas) if areas else default

"""How one unit lies to another, and the ring around a unit, as facts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import networkx as nx

from spread.errors import SettingsError
from spread.facts import Fact
from spread.trade.routes import BY_KEY, ROUTES

Side = Literal["beside", "above", "below", "across"]
"""How a unit of a ring lies to the one in the middle; the order in which a ring is walked."""
SIDES: tuple[Side, ...] = ("beside", "above", "below", "across")


@dataclass(frozen=True, slots=True)
class SharedWall(Fact):
    """A unit shares so many metres of wall with ``unit``."""

    unit: str
    metres: float


@dataclass(frozen=True, slots=True)
class SharedFloor(Fact):
    """A unit lies above or below ``unit``; ``partly`` where less than half of the smaller one does."""

    unit: str
    above: bool
    partly: bool


@dataclass(frozen=True, slots=True)
class SameRiser(Fact):
    """A unit stands on a riser of ``unit``, so many floors up from it (negative: down)."""

    unit: str
    floors: int


@dataclass(frozen=True, slots=True)
class AcrossHallway(Fact):
    """The door of a unit faces that of ``unit``."""

    unit: str


@dataclass(frozen=True, slots=True)
class AlongHallway(Fact):
    """A unit's door is so many doors along the hallway from ``unit``; ``opposite``: on its other side."""

    unit: str
    doors: int
    opposite: bool


@dataclass(frozen=True, slots=True)
class ByStairs(Fact):
    """The door of a unit is so many floors up (negative: down) and metres by the stairs from ``unit``."""

    unit: str
    floors: int
    metres: float


@dataclass(frozen=True, slots=True)
class Tied(Fact):
    """A tie to ``unit`` in the words in which it was given, or in those of the row of its route."""

    unit: str
    words: str


Way = SharedWall | SharedFloor | SameRiser | AcrossHallway | AlongHallway | ByStairs | Tied


@dataclass(frozen=True, slots=True)
class RingPlace(Fact):
    """How a unit of a ring lies to ``unit`` in its middle; more than one side where it does so twice."""

    unit: str
    sides: tuple[Side, ...]


def ways_between(graph: nx.MultiGraph, a: str, b: str) -> dict[str, Way]:
    """Return how ``a`` lies to ``b`` by route, in the order of the routes; empty without a contact."""
    edges = graph.get_edge_data(a, b, default={})
    return {route: _way(graph, a, b, edges[route]) for route in ROUTES if route in edges}


def _way(graph: nx.MultiGraph, a: str, b: str, edge: dict[str, Any]) -> Way:
    route = edge["route"]
    if route == "wall":
        return SharedWall(b, edge["metres"])
    if route == "floor":
        smaller = min(graph.nodes[a]["area"], graph.nodes[b]["area"])
        return SharedFloor(b, edge["upper"] == a, edge["m2"] < 0.5 * smaller)
    if route == "riser":
        return SameRiser(b, _floors_up(graph, a, b, edge["floors_apart"]))
    if route == "hallway":
        return _along_hallway(graph, a, b, edge)
    return Tied(b, str(edge.get("words") or BY_KEY[route].words))


def _along_hallway(graph: nx.MultiGraph, a: str, b: str, edge: dict[str, Any]) -> Way:
    if edge["facing"]:
        return AcrossHallway(b)
    if edge["floors_apart"]:
        return ByStairs(b, _floors_up(graph, a, b, edge["floors_apart"]), edge["walk_m"])
    return AlongHallway(b, edge["doors_passed"] + 1, edge["opposite"])


def _floors_up(graph: nx.MultiGraph, a: str, b: str, apart: int) -> int:
    up, down = (sum(levels) / len(levels) for levels in (graph.nodes[unit]["levels"] for unit in (a, b)))
    return apart if up > down else -apart


def ring_around(
    graph: nx.MultiGraph, unit: str, *, rule: str = "LRUD", across: bool = False
) -> dict[str, RingPlace]:
    """Return the units that a ring around ``unit`` asks for, and how each lies to it.

    Returned: places by unit, in plan order.

    Parameters
    ----------
    unit : The unit in the middle
    rule
        Any of L and R (units that share a wall: a plan has no left and right, either letter asks for
        both), U (above) and D (below).
    across : Whether doors facing across the hallway belong to the ring
    """
    letters = set(rule.upper())
    if not letters <= set("LRUD"):
        raise SettingsError(f"ring rule '{rule}': expected letters L, R, U and D; write for example 'LRUD'.")
    ring = {}
    for other in sorted(graph.adj[unit], key=lambda name: graph.nodes[name]["index"]):
        edges = graph.get_edge_data(unit, other)
        sides: list[Side] = []
        for route, edge in edges.items():
            side = BY_KEY[route].side
            if side == "beside" and letters & set("LR"):
                sides.append("beside")
            elif side == "stacked":
                above = edge["upper"] == other
                if ("U" if above else "D") in letters:
                    sides.append("above" if above else "below")
            elif side == "facing" and across and edge["facing"]:
                sides.append("across")
        if sides:
            ring[other] = RingPlace(unit, tuple(sorted(set(sides), key=SIDES.index)))
    return ring

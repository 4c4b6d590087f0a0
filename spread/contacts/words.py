"""Contacts in words: how one unit lies to another, and the ring around a unit."""

from __future__ import annotations

from typing import Any

import networkx as nx

from spread.errors import SettingsError
from spread.trade.routes import BY_KEY, ROUTES


def relation(graph: nx.MultiGraph, a: str, b: str) -> list[tuple[str, str]]:
    """Return how ``a`` lies to ``b``: (route, words) such that "a {words} b" reads on.

    Examples: "shares 6.2 m of wall with", "directly above", "across the hallway from",
    "2 doors along the hallway from", "same riser, 2 floors up from". Empty where they have no contact.
    """
    edges = graph.get_edge_data(a, b, default={})
    return [(route, _words(graph, a, b, edges[route])) for route in ROUTES if route in edges]


def _words(graph: nx.MultiGraph, a: str, b: str, edge: dict[str, Any]) -> str:
    route = edge["route"]
    if route == "wall":
        return f"shares {edge['metres']:.1f} m of wall with"
    if route == "floor":
        smaller = min(graph.nodes[a]["area"], graph.nodes[b]["area"])
        partly = "partly" if edge["m2"] < 0.5 * smaller else "directly"
        return f"{partly} {'above' if edge['upper'] == a else 'below'}"
    if route == "riser":
        return f"same riser{_floors(graph, a, b, edge['floors_apart'])}"
    if route == "hallway":
        return _hallway(graph, a, b, edge)
    return str(edge["words"])


def _hallway(graph: nx.MultiGraph, a: str, b: str, edge: dict[str, Any]) -> str:
    if edge["facing"]:
        return "across the hallway from"
    if edge["floors_apart"]:
        floors = _floors(graph, a, b, edge["floors_apart"]).removeprefix(", ").removesuffix(" from")
        return f"{floors} and {edge['walk_m']:.0f} m by the stairs from"
    along = edge["doors_passed"] + 1
    if edge["opposite"]:
        return f"across and {along} door{'s' if along > 1 else ''} along the hallway from"
    return f"{'next door' if along == 1 else f'{along} doors'} along the hallway from"


def _floors(graph: nx.MultiGraph, a: str, b: str, apart: int) -> str:
    if not apart:
        return " as"
    up = sum(graph.nodes[a]["levels"]) / len(graph.nodes[a]["levels"])
    down = sum(graph.nodes[b]["levels"]) / len(graph.nodes[b]["levels"])
    return f", {apart} floor{'s' if apart > 1 else ''} {'up' if up > down else 'down'} from"


def ring_of(graph: nx.MultiGraph, unit: str, *, rule: str = "LRUD", across: bool = False) -> dict[str, str]:
    """Return the units that a ring around ``unit`` asks for, with words such as "beside 304".

    Parameters
    ----------
    graph
        The contact graph.
    unit
        The unit in the middle.
    rule
        Any of L and R (units that share a wall: a plan has no left and right, either letter asks for both),
        U (above) and D (below).
    across
        Whether doors facing across the hallway belong to the ring.

    Returns
    -------
    dict
        Words by unit, in plan order; a unit that is in the ring twice has both ("beside and above 304").
    """
    letters = set(rule.upper())
    if not letters <= set("LRUD"):
        raise SettingsError(f"ring rule '{rule}': expected letters L, R, U and D; write for example 'LRUD'.")
    ring = {}
    for other in sorted(graph.adj[unit], key=lambda name: graph.nodes[name]["index"]):
        edges = graph.get_edge_data(unit, other)
        places = []
        if any(BY_KEY[route].side == "beside" for route in edges) and letters & set("LR"):
            places.append("beside")
        for route, edge in edges.items():
            if BY_KEY[route].side == "stacked":
                above = edge["upper"] == other
                if above and "U" in letters:
                    places.append("above")
                if not above and "D" in letters:
                    places.append("below")
        if across and any(BY_KEY[route].side == "facing" and edge["facing"] for route, edge in edges.items()):
            places.append("across the hallway from")
        if places:
            ring[other] = f"{' and '.join(places)} {unit}"
    return ring

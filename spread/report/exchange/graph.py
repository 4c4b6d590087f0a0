"""The contact graph with what is known today, and as GraphML for programs that draw and measure graphs."""

from __future__ import annotations

import io
import json

import networkx as nx
import numpy as np
import shapely

from spread.decisions.view import View
from spread.plan.model import Plan
from spread.posterior.dynamics import Floats
from spread.session import Session
from spread.trade.routes import ROUTES

_LISTS_OF_NODES = ("floors", "levels", "pos")
_LISTS_OF_EDGES = ("risers",)
GAP = 5.0
"""Metres between two floors where they are drawn one above the other."""


def known_contacts(session: Session) -> nx.MultiGraph:
    """Return a copy of the contact graph with where units are, their chances and the hazards.

    Returns what :func:`spread.contacts.graph.build_contacts` gives, and of each node ``x`` and ``y`` (metres
    of the plan), ``pos`` (the same with the floors one above the other, for drawing), ``chance`` (infested
    today), ``status`` (``look``, ``treat``, ``revisit``) and ``hazard`` (a week: all that bears on the unit,
    as :meth:`spread.decisions.view.View.pressure_on` has it); of each edge ``hazard`` (a week, from a heavy
    unit at one end) and ``chance`` (that it carries bugs across in a week such as today's).
    """
    view, plan = session.view, session.plan
    graph: nx.MultiGraph = session.contacts.copy()
    places = positions(plan)
    chances = session.chances()
    for unit, node in graph.nodes(data=True):
        by_contact, *others = view.pressure_on(unit)
        x, y = places[unit]
        lifted = y + plan.level_of(node["floors"][0]) * _pitch(plan)
        node.update(x=x, y=y, pos=(x, lifted), chance=chances[unit], status=view.followups[unit].status)
        node["hazard"] = float(sum(by_contact.values()) + sum(others))
    for a, b, edge in graph.edges(data=True):
        edge["hazard"] = float(edge["exposure"] * view.dynamics.rates[ROUTES.index(edge["route"])])
        edge["chance"] = _crossing(view, a, b, edge["hazard"])
    return graph


def positions(plan: Plan) -> dict[str, tuple[float, float]]:
    """Return a point inside each unit on its lowest floor, in metres of the plan."""
    found = {}
    for unit in plan.units.values():
        lowest = min(unit.parts, key=plan.level_of)
        point = shapely.point_on_surface(unit.parts[lowest])
        found[unit.id] = (float(point.x), float(point.y))
    return found


def _pitch(plan: Plan) -> float:
    """Return how far one floor is drawn above another: the depth of the site and a gap."""
    outlines = [part for unit in plan.units.values() for part in unit.parts.values()]
    _, low, _, high = shapely.total_bounds(outlines)
    return float(high - low) + GAP


def _crossing(view: View, a: str, b: str, hazard: float) -> float:
    """Return the chance that a contact carries bugs within a week, from either end to the other if clear."""
    posterior, index = view.posterior, view.network.index
    conditions, total = posterior.conditions, 0.0
    for source, target in ((index[a], index[b]), (index[b], index[a])):
        shed: Floats = view.dynamics.shedding[posterior.draws[:, source]]
        if conditions is not None:
            shed = shed * (conditions.export[source] * conditions.openness[target])
        clear = posterior.draws[:, target] == 0
        total += float(posterior.weights @ (clear * -np.expm1(-hazard * shed)))
    return total


def contacts_graphml(graph: nx.MultiGraph) -> bytes:
    """Return the contact graph as GraphML.

    ``graph``: from :func:`known_contacts` or :func:`spread.contacts.graph.build_contacts`. Returns an edge a
    route, its route among its data and an id of its own; lists (floors, risers) as JSON text, because GraphML
    has only single values.
    """
    plain = nx.MultiGraph(**graph.graph)
    for node, data in graph.nodes(data=True):
        plain.add_node(node, **_written(data, _LISTS_OF_NODES))
    for number, (a, b, data) in enumerate(graph.edges(data=True)):
        plain.add_edge(a, b, key=f"e{number}", **_written(data, _LISTS_OF_EDGES))
    stream = io.BytesIO()
    nx.write_graphml_xml(plain, stream, encoding="utf-8", prettyprint=True)
    return stream.getvalue()


def _written(data: dict[str, object], lists: tuple[str, ...]) -> dict[str, object]:
    kept = {name: value for name, value in data.items() if value is not None}
    return {name: json.dumps(value) if name in lists else value for name, value in kept.items()}

"""The contact graph: a node a unit, an edge a route, each with what was measured and its exposure."""

from __future__ import annotations

from collections.abc import Sequence

import networkx as nx

from spread.contacts.exposure import ExposureSettings
from spread.contacts.links import Link
from spread.contacts.measured import measured
from spread.errors import Problem, SettingsError
from spread.plan.model import Plan
from spread.trade.route_rows import ROWS
from spread.trade.routes import BY_HAND


def build_contacts(
    plan: Plan, *, links: Sequence[Link] = (), settings: ExposureSettings | None = None
) -> nx.MultiGraph:
    """Return the contacts of a building, measured from its plan.

    ``links``: ties given by hand; ``settings``: constants; the defaults are the package's. Raises
    SettingsError for links to units that the plan does not have, all of them at once.

    Returns
    -------
    networkx.MultiGraph
        Node attributes ``index``, ``levels``, ``floors``, ``area`` (m2), ``stack``. Edge keys are the routes
        ``wall`` (``metres``, ``near_bed``), ``floor`` (``m2``, ``upper``), ``riser`` (``riser``, ``risers``,
        ``floors_apart``, ``near_bed``), ``hallway`` (``walk_m``, ``across_m``, ``doors_passed``, ``facing``,
        ``opposite``, ``floors_apart``) and those given by hand, as ``link`` (``words``); each has ``route``
        and ``exposure``.
        A unit without contacts stays as a node.
    """
    settings = settings or ExposureSettings()
    _check_links(plan, links)
    graph = nx.MultiGraph(name=plan.name)
    for index, unit in enumerate(plan.units.values()):
        floors = tuple(floor for floor in plan.floors if floor in unit.parts)
        levels = tuple(plan.level_of(floor) for floor in floors)
        graph.add_node(unit.id, index=index, levels=levels, floors=floors, area=unit.area, stack=unit.stack)
    for route in ROWS:
        for one in measured(route, plan, settings):
            _add(graph, one.a, one.b, route.key, one.exposure, **one.measures)
    _add_links(graph, links)
    return graph


def _add(graph: nx.MultiGraph, a: str, b: str, route: str, exposure: float, **measures: object) -> None:
    graph.add_edge(a, b, key=route, route=route, exposure=float(exposure), **measures)


def _check_links(plan: Plan, links: Sequence[Link]) -> None:
    problems = []
    for number, link in enumerate(links, start=1):
        where = f"link {number}"
        for unit in dict.fromkeys((link.a, link.b)):
            if unit not in plan.units:
                what = f"unit '{unit}' is not on the plan"
                problems.append(Problem("building.toml", where, what, "correct the unit or remove the link"))
        if link.a == link.b:
            what = f"it ties unit '{link.a}' to itself, expected two units"
            problems.append(Problem("building.toml", where, what, "correct the unit or remove the link"))
        if link.route not in BY_HAND:
            what = f"its route is '{link.route}', which is not given by hand"
            problems.append(Problem("building.toml", where, what, f"choose from {', '.join(BY_HAND)}"))
        if not 0 < link.strength < float("inf"):
            what = f"strength is {link.strength:g}, expected a number above 0 (1 is a typical contact)"
            problems.append(Problem("building.toml", where, what, "correct the strength or leave it out"))
    if problems:
        raise SettingsError(problems)


def _add_links(graph: nx.MultiGraph, links: Sequence[Link]) -> None:
    """Add links; two between the same units by one route add up."""
    for link in links:
        if graph.has_edge(link.a, link.b, key=link.route):
            edge = graph.edges[link.a, link.b, link.route]
            edge["exposure"] += link.strength
            edge["words"] += f" and {link.words}"
        else:
            _add(graph, link.a, link.b, link.route, link.strength, words=link.words)

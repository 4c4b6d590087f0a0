"""The contact graph: a node a unit, an edge a route, each with what was measured and its exposure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import networkx as nx
import numpy as np
import shapely
from numpy.typing import NDArray

from spread.contacts.exposure import ExposureSettings
from spread.contacts.floors import floor_overlaps
from spread.contacts.hallways import hallway_contacts
from spread.contacts.links import Link
from spread.contacts.risers import SharedRiser, shared_risers
from spread.contacts.walls import SharedWall, shared_walls
from spread.errors import Problem, SettingsError
from spread.plan.model import Plan


def build_contacts(
    plan: Plan, *, links: Sequence[Link] = (), settings: ExposureSettings | None = None
) -> nx.MultiGraph:
    """Return the contacts of a building, measured from its plan.

    Parameters
    ----------
    plan
        The building or site.
    links
        Ties given by hand.
    settings
        Constants; the defaults are the package's.

    Returns
    -------
    networkx.MultiGraph
        Node attributes ``index``, ``levels``, ``floors``, ``area`` (m2), ``stack``. Edge keys are the routes
        ``wall`` (``metres``, ``near_bed``), ``floor`` (``m2``, ``upper``), ``riser`` (``riser``, ``risers``,
        ``floors_apart``, ``near_bed``), ``hallway`` (``walk_m``, ``across_m``, ``doors_passed``, ``facing``,
        ``opposite``, ``floors_apart``) and ``link`` (``words``); each has ``route`` and ``exposure``.
        A unit without contacts stays as a node.

    Raises
    ------
    SettingsError
        For links to units that the plan does not have, all of them at once.
    """
    settings = settings or ExposureSettings()
    _check_links(plan, links)
    graph = nx.MultiGraph(name=plan.name)
    for index, unit in enumerate(plan.units.values()):
        floors = tuple(floor for floor in plan.floors if floor in unit.parts)
        levels = tuple(plan.level_of(floor) for floor in floors)
        graph.add_node(unit.id, index=index, levels=levels, floors=floors, area=unit.area, stack=unit.stack)
    beds = _beds(plan)
    _add_walls(graph, shared_walls(plan, settings), beds, settings)
    for over in floor_overlaps(plan, settings):
        _add(
            graph, over.lower, over.upper, "floor", over.m2 / settings.floor_m2, m2=over.m2, upper=over.upper
        )
    _add_risers(graph, plan, shared_risers(plan, settings), beds, settings)
    for way in hallway_contacts(plan, settings):
        _add(
            graph,
            way.a,
            way.b,
            "hallway",
            way.exposure,
            walk_m=way.walk_m,
            across_m=way.across_m,
            doors_passed=way.doors_passed,
            facing=way.facing,
            opposite=way.opposite,
            floors_apart=way.floors_apart,
        )
    _add_links(graph, links)
    return graph


def _add(graph: nx.MultiGraph, a: str, b: str, route: str, exposure: float, **measures: object) -> None:
    graph.add_edge(a, b, key=route, route=route, exposure=float(exposure), **measures)


Beds = dict[tuple[str, str], shapely.MultiPoint]


def _beds(plan: Plan) -> Beds:
    """Return the beds of each unit on each floor."""
    points: dict[tuple[str, str], list[shapely.Point]] = {}
    for bed in plan.beds:
        points.setdefault((bed.unit, bed.floor), []).append(bed.at)
    return {where: shapely.MultiPoint(beds) for where, beds in points.items()}


def _lines(faces: NDArray[np.float64]) -> shapely.MultiLineString:
    return shapely.MultiLineString(list(faces))


def _near(beds: Beds, unit: str, floor: str, thing: shapely.Geometry, reach: float) -> bool:
    sleeping = beds.get((unit, floor))
    return sleeping is not None and bool(shapely.dwithin(sleeping, thing, reach))


def _add_walls(
    graph: nx.MultiGraph, walls: Iterable[SharedWall], beds: Beds, settings: ExposureSettings
) -> None:
    metres: dict[tuple[str, str], float] = {}
    near: set[tuple[str, str]] = set()
    for wall in walls:
        pair = (wall.a, wall.b)
        metres[pair] = metres.get(pair, 0.0) + wall.metres
        sides = ((wall.a, wall.face_a), (wall.b, wall.face_b))
        if any(
            (unit, wall.floor) in beds and _near(beds, unit, wall.floor, _lines(face), settings.bed_reach)
            for unit, face in sides
        ):
            near.add(pair)
    for pair, total in metres.items():
        factor = settings.bed_factor if pair in near else 1.0
        exposure = factor * total / settings.wall_metres
        _add(graph, *pair, "wall", exposure, metres=total, near_bed=pair in near)


def _add_risers(
    graph: nx.MultiGraph, plan: Plan, shared: Iterable[SharedRiser], beds: Beds, settings: ExposureSettings
) -> None:
    """Add an edge a pair: two chases shared are twice the exposure of one."""
    outlines = {riser.id: riser.outline for riser in plan.risers}
    together: dict[tuple[str, str], list[SharedRiser]] = {}
    for one in shared:
        together.setdefault((one.a, one.b), []).append(one)
    near = {
        (unit, riser)
        for riser, outline in outlines.items()
        for unit, floor in beds
        if _near(beds, unit, floor, outline, settings.bed_reach)
    }
    for (a, b), several in together.items():
        several.sort(key=lambda one: (-one.exposure, one.riser))
        beside_bed = [bool({(a, one.riser), (b, one.riser)} & near) for one in several]
        exposure = sum(
            one.exposure * (settings.bed_factor if beside else 1.0)
            for one, beside in zip(several, beside_bed, strict=True)
        )
        _add(
            graph,
            a,
            b,
            "riser",
            exposure,
            riser=several[0].riser,
            risers=tuple(one.riser for one in several),
            floors_apart=min(one.floors_apart for one in several),
            near_bed=any(beside_bed),
        )


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
        if not 0 < link.strength < float("inf"):
            what = f"strength is {link.strength:g}, expected a number above 0 (1 is a typical contact)"
            problems.append(Problem("building.toml", where, what, "correct the strength or leave it out"))
    if problems:
        raise SettingsError(problems)


def _add_links(graph: nx.MultiGraph, links: Sequence[Link]) -> None:
    """Add links; two between the same units add up."""
    for link in links:
        if graph.has_edge(link.a, link.b, key="link"):
            edge = graph.edges[link.a, link.b, "link"]
            edge["exposure"] += link.strength
            edge["words"] += f" and {link.words}"
        else:
            _add(graph, link.a, link.b, "link", link.strength, words=link.words)

"""Walking metres between entry doors, and from the places where a round may start.

Indoors the walk is the exact one inside hallways, common rooms and stairs
(:mod:`spread.contacts.walking`), a floor of stairs being 2.5 storey heights. What no drawn hallway
joins is walked outdoors in a straight line, from a stair to a stair on the lowest floor of each
building, or from the doors there where a building has no stair: a drawing says nothing of the paths
outside. A unit without a way in is met in its middle.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import networkx as nx
import numpy as np
import shapely
from shapely import Point, Polygon

from spread.contacts.entries import FloorWalk, floor_walks
from spread.contacts.exposure import ExposureSettings
from spread.contacts.walking import Floats
from spread.errors import Problem, SettingsError
from spread.plan.model import Plan, Shaft, Shape

_POINT = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*(?:,\s*(\S.*?)\s*)?")
_HERE = "here"
MOST_NAMED = 12  #: Places that a message lists at most

Node = tuple[str, str, str]  #: What it is (``unit``, ``stair``, ``place``), its id, and the floor


@dataclass(frozen=True)
class Distances:
    """Walking metres in a building."""

    plan: Plan  #: The plan they were measured on
    units: tuple[str, ...]  #: Unit ids in plan order
    metres: Floats  #: Shape (N, N): from door to door, the nearest doors where a unit has several
    #: Shape (N,) each: metres to every door from the named places, which are commons, stairs and lifts (on
    #: their lowest floor), and hallways
    starts: Mapping[str, Floats]

    def between(self, a: str, b: str) -> float:
        """Return the metres from one unit's door to another's."""
        return float(self.metres[self.units.index(a), self.units.index(b)])

    @property
    def usual_start(self) -> str:
        """Where a round starts unless told otherwise: a lobby or entrance, else a lift, a stair or a door."""
        lowest = self.plan.floors[0]
        commons = [space.id for space in self.plan.commons if space.floor == lowest]
        named = [name for name in commons if re.search("lobby|entr|foyer|office", name, re.IGNORECASE)]
        stairs = [stair.id for stair in self.plan.stairs if lowest in stair.floors]
        stairs.sort(key=lambda name: not re.search("lift|elevator", name, re.IGNORECASE))
        return (*named, *stairs, *commons, *self.units)[0]

    def from_start(self, start: str) -> Floats:
        """Return metres to every door from a start, shape (N,).

        Raises SettingsError for a place that the building does not have, with what there is.

        Parameters
        ----------
        start
            A unit (its door), a common, a stair, a hallway, or a point ``x,y`` or ``x,y,floor`` of the
            drawing in metres, on the lowest floor unless a floor is given. Capitals do not matter.
        """
        text = start.strip()
        if text in self.units:
            return np.asarray(self.metres[self.units.index(text)])
        if text in self.starts:
            return self.starts[text]
        named = {name.casefold(): name for name in reversed((*self.starts, *self.units))}
        if text.casefold() in named:
            return self.from_start(named[text.casefold()])
        if match := _POINT.fullmatch(text):
            floor = match[3] or self.plan.floors[0]
            if floor in self.plan.floors:
                return _measure(self.plan, Point(float(match[1]), float(match[2])), floor)[1][_HERE]
        raise SettingsError(Problem(self.plan.name, "start", self._unknown(text), self._known(text)))

    def _unknown(self, text: str) -> str:
        if match := _POINT.fullmatch(text):
            floors = ", ".join(self.plan.floors)
            return f"there is no floor {match[3][:40]!r} for the point, expected one of {floors}"
        return f"there is no place {text[:40]!r}"

    def _known(self, text: str) -> str:
        names = [*self.starts, *self.units]
        close = difflib.get_close_matches(text.casefold(), [n.casefold() for n in names], n=1, cutoff=0.65)
        if close:
            hit = next(name for name in names if name.casefold() == close[0])
            return f"write {hit!r} if you mean that"
        shown = [f"'{name}'" for name in list(self.starts)[:MOST_NAMED]]
        places = f"there are {', '.join(shown)}; or use " if shown else "use "
        return f"{places}a unit code, or a point of the drawing such as '12.5,3.0'"


def distances_of(plan: Plan) -> Distances:
    """Measure a plan once; see :class:`Distances`."""
    metres, starts = _measure(plan)
    return Distances(plan, tuple(plan.units), metres, starts)


def _measure(plan: Plan, here: Point | None = None, floor: str = "") -> tuple[Floats, dict[str, Floats]]:
    """Return metres between units (N, N) and from named places (N,), and from ``here`` if given."""
    settings = ExposureSettings()
    places = _places(plan, here, floor, settings)
    walks = floor_walks(replace(plan, shafts=(*plan.shafts, *places)), settings)
    graph = _indoors(plan, walks, {place.id for place in places}, settings)
    reached = {node[1] for node in graph if node[0] == "unit"}
    points = dict(_stairs_at(plan))
    doors = {(door.unit, door.floor): door.at for door in plan.doors}
    for unit in plan.units:
        if unit not in reached:  # its door opens outdoors, or it has none
            at, level = _own_entry(plan, unit)
            graph.add_node(("unit", unit, level))
            points["unit", unit, level] = at
    if here is not None and ("place", _HERE, floor) not in graph:
        graph.add_node(("place", _HERE, floor))
        points["place", _HERE, floor] = here
    for node in graph:
        if node not in points:
            points[node] = doors.get((node[1], node[2])) or _middle(_outline_of(plan, places, node))
    _outdoors(plan, graph, points, settings)
    return _between(plan, graph)


def _places(plan: Plan, here: Point | None, floor: str, settings: ExposureSettings) -> list[Shaft]:
    """Return named rooms as stairs of one floor: so each gets a landing, and nothing else moves."""
    taken = {stair.id for stair in plan.stairs}
    places = [
        Shaft(space.id, "stair", (space.floor,), space.outline)
        for space in (*plan.commons, *plan.hallways)
        if space.id not in taken
    ]
    if here is not None:
        rooms = [space.outline for space in (*plan.hallways, *plan.commons) if space.floor == floor]
        rooms += [stair.outline for stair in plan.stairs if floor in stair.floors]
        near = [room for room in rooms if room.dwithin(here, settings.door_reach)]
        if near:
            room = min(near, key=here.distance)
            inside = shapely.get_point(shapely.shortest_line(room, here), 0)
            spot = inside.buffer(0.05).intersection(room)
            places.append(Shaft(_HERE, "stair", (floor,), spot if isinstance(spot, Polygon) else room))
    return places


def _indoors(
    plan: Plan, walks: Mapping[str, FloorWalk], places: set[str], settings: ExposureSettings
) -> nx.Graph:
    graph = nx.Graph()
    for floor, here in walks.items():
        nodes: list[Node] = [("unit", unit, floor) for unit in here.units]
        nodes += [("place" if name in places else "stair", name, floor) for name in here.stairs]
        graph.add_nodes_from(nodes)
        for i, j in np.argwhere(np.triu(np.isfinite(here.walk), 1)):
            _join(graph, nodes[i], nodes[j], float(here.walk[i, j]))
    for stair in plan.stairs:
        served = sorted(stair.floors, key=plan.level_of)
        for lower, upper in pairwise(served):
            climb = plan.level_of(upper) - plan.level_of(lower)
            flight = climb * settings.stair_factor * plan.storey_height
            _join(graph, ("stair", stair.id, lower), ("stair", stair.id, upper), flight, gate=True)
    return graph


def _join(graph: nx.Graph, a: Node, b: Node, metres: float, *, gate: bool = False) -> None:
    """Join two nodes by the shorter way; a gate leads to another floor or outdoors."""
    if a != b and metres < graph.get_edge_data(a, b, {"metres": np.inf})["metres"]:
        graph.add_edge(a, b, metres=metres, gate=gate)


def _outdoors(plan: Plan, graph: nx.Graph, points: Mapping[Node, Point], settings: ExposureSettings) -> None:
    """Join what the hallways do not, in straight lines between the exits of each part."""
    parts: list[list[Node]] = []
    for part in nx.connected_components(graph):
        lowest = min(plan.level_of(node[2]) for node in part)
        ground = sorted(node for node in part if plan.level_of(node[2]) == lowest)
        kinds: list[list[Node]] = [
            [node for node in ground if node[0] == kind] for kind in ("stair", "unit", "place")
        ]
        parts.append(next(nodes for nodes in kinds if nodes))
    parts.sort()
    per_floor = settings.stair_factor * plan.storey_height
    for number, exits in enumerate(parts):
        for other in parts[number + 1 :]:
            for a in exits:
                for b in other:
                    climb = abs(plan.level_of(a[2]) - plan.level_of(b[2]))
                    straight = float(points[a].distance(points[b]))
                    _join(graph, a, b, straight + climb * per_floor, gate=True)


def _between(plan: Plan, graph: nx.Graph) -> tuple[Floats, dict[str, Floats]]:
    """Return shortest walks between units and from places; only stairs and exits lie on the way."""
    nodes = list(graph)
    number = {node: k for k, node in enumerate(nodes)}
    metres = np.full((len(nodes), len(nodes)), np.inf)
    np.fill_diagonal(metres, 0.0)
    gates: set[int] = set()
    for a, b, edge in graph.edges(data=True):
        i, j = number[a], number[b]
        metres[i, j] = metres[j, i] = edge["metres"]
        if edge["gate"]:
            gates.update((i, j))
    for k in sorted(gates):
        metres = np.minimum(metres, metres[:, k, None] + metres[None, k, :])
    order = {unit: k for k, unit in enumerate(plan.units)}
    mine = [k for k, node in enumerate(nodes) if node[0] == "unit"]
    owner = np.array([order[nodes[k][1]] for k in mine])
    to_unit = np.full((len(nodes), len(order)), np.inf)
    np.minimum.at(to_unit.T, owner, metres[:, mine].T)
    between = np.full((len(order), len(order)), np.inf)
    np.minimum.at(between, owner, to_unit[mine])
    np.fill_diagonal(between, 0.0)
    starts: dict[str, Floats] = {}
    for k in sorted(range(len(nodes)), key=lambda k: plan.level_of(nodes[k][2])):
        if nodes[k][0] != "unit":
            starts.setdefault(nodes[k][1], to_unit[k])
    ordered = [space.id for space in plan.commons] + [stair.id for stair in plan.stairs]
    names = dict.fromkeys([*ordered, *starts])
    return between, {name: starts[name] for name in names if name in starts}


def _stairs_at(plan: Plan) -> list[tuple[Node, Point]]:
    return [
        (("stair", stair.id, floor), _middle(stair.outline))
        for stair in plan.stairs
        for floor in stair.floors
    ]


def _own_entry(plan: Plan, unit: str) -> tuple[Point, str]:
    doors = sorted(
        (door for door in plan.doors if door.unit == unit), key=lambda door: plan.level_of(door.floor)
    )
    if doors:
        return doors[0].at, doors[0].floor
    floor = min(plan.units[unit].parts, key=plan.level_of)
    return _middle(plan.units[unit].parts[floor]), floor


def _outline_of(plan: Plan, places: Sequence[Shaft], node: Node) -> Shape:
    if node[0] == "unit":
        return plan.units[node[1]].parts[node[2]]
    return next(place.outline for place in places if place.id == node[1] and node[2] in place.floors)


def _middle(outline: Shape) -> Point:
    centre = outline.centroid
    return centre if outline.covers(centre) else outline.representative_point()

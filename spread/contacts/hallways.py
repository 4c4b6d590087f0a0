"""Hallway contacts: how far it is from door to door, stairs included."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from spread.contacts.entries import FloorWalk, floor_walks
from spread.contacts.exposure import ExposureSettings
from spread.contacts.walking import Doorways
from spread.plan.model import Plan

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class HallwayContact:
    """Two units by the shortest walk between their entry doors."""

    #: a, b: Unit ids, the earlier of the plan first
    a: str
    b: str
    walk_m: float  #: Metres walked, with 2.5 storey heights for a floor of stairs
    across_m: float  #: The hallway's width at the doors, at most 4 m
    doors_passed: int  #: Doors on the way, two that face each other counted once
    facing: bool  #: Whether the doors are opposite each other across the hallway
    opposite: bool  #: Whether they are on opposite sides of it, facing or further along
    floors_apart: int  #: Floors between the two doors
    exposure: float  #: ``exp(-max(0, walk - across) / 9 m)``


def hallway_contacts(plan: Plan, settings: ExposureSettings | None = None) -> list[HallwayContact]:
    """Return every pair of units whose doors are near enough to count, in plan order.

    Walking is inside hallways, common rooms and stairs only; outdoors is no hallway, so two buildings of
    a site do not meet here unless a drawn space joins them. A unit without any drawn door gets one in the
    middle of its longest edge on a hallway.
    """
    settings = settings or ExposureSettings()
    walks = floor_walks(plan, settings)
    order = {unit: index for index, unit in enumerate(plan.units)}
    best: dict[tuple[str, str], HallwayContact] = {}
    facing: set[tuple[str, str]] = set()
    for contact in _door_pairs(plan, walks, settings):
        a, b = sorted((contact.a, contact.b), key=order.__getitem__)
        known = best.get((a, b))
        if contact.facing:
            facing.add((a, b))
        if known is None or contact.walk_m < known.walk_m:
            best[a, b] = contact
    found = []
    for a, b in sorted(best, key=lambda pair: (order[pair[0]], order[pair[1]])):
        contact = best[a, b]
        found.append(
            HallwayContact(
                a,
                b,
                contact.walk_m,
                contact.across_m,
                contact.doors_passed,
                (a, b) in facing,
                contact.opposite,
                contact.floors_apart,
                contact.exposure,
            )
        )
    return found


def _door_pairs(
    plan: Plan, walks: dict[str, FloorWalk], settings: ExposureSettings
) -> Iterator[HallwayContact]:
    reach = settings.hallway_reach + settings.facing_walk
    stairs = _stair_graph(plan, walks, settings)
    flights = dict(nx.all_pairs_dijkstra_path_length(stairs, cutoff=reach, weight="metres"))
    floors = list(walks)
    for index, floor in enumerate(floors):
        here = walks[floor]
        for other in floors[index:]:
            there = walks[other]
            walk, passed = _walk_between(floor, here, other, there, flights)
            if floor == other:
                walk, passed = _shorter(here, walk, passed)
                walk = np.where(np.triu(np.ones(walk.shape, dtype=bool), 1), walk, np.inf)
            across = np.minimum(here.ways.width[:, None], there.ways.width[None, :])
            for i, j in np.argwhere(walk - across <= settings.hallway_reach):
                if here.units[i] == there.units[j]:
                    continue
                exposure = settings.hallway_exposure(float(walk[i, j]), float(across[i, j]))
                if exposure <= 0:
                    continue
                same = floor == other
                opposite = same and _opposite(here.ways, i, j, settings.facing_walk)
                yield HallwayContact(
                    here.units[i],
                    there.units[j],
                    float(walk[i, j]),
                    float(across[i, j]),
                    int(passed[i, j]),
                    same and bool(here.facing[i, j]),
                    opposite,
                    abs(here.level - there.level),
                    exposure,
                )


def _opposite(ways: Doorways, i: int, j: int, widest: float) -> bool:
    """Return whether two doors are on the two sides of one hallway and not of what it runs around."""
    sides = ways.normal[i] @ ways.normal[j] < -0.5
    return bool(sides and abs((ways.at[j] - ways.at[i]) @ ways.normal[i]) <= widest)


def _stair_graph(plan: Plan, walks: dict[str, FloorWalk], settings: ExposureSettings) -> nx.Graph:
    """Return stairs as nodes ``(floor, number there)``, joined by floors walked and flights climbed."""
    graph = nx.Graph()
    per_floor = settings.stair_factor * plan.storey_height
    for floor, here in walks.items():
        doors = len(here.units)
        between = here.walk[doors:, doors:]
        for s in range(len(here.stairs)):
            graph.add_node((floor, s))
            for t in range(s):
                if np.isfinite(between[s, t]):
                    graph.add_edge((floor, s), (floor, t), metres=float(between[s, t]))
    for stair in plan.stairs:
        served = sorted((plan.level_of(floor), floor) for floor in stair.floors)
        for (low, lower), (high, upper) in pairwise(served):
            graph.add_edge(
                (lower, walks[lower].stairs.index(stair.id)),
                (upper, walks[upper].stairs.index(stair.id)),
                metres=(high - low) * per_floor,
            )
    return graph


def _walk_between(
    floor: str,
    here: FloorWalk,
    other: str,
    there: FloorWalk,
    flights: dict[tuple[str, int], dict[tuple[str, int], float]],
) -> tuple[Floats, Ints]:
    """Return metres and doors passed from every door here to every door there by way of a stair."""
    d, e = len(here.units), len(there.units)
    walk, passed = np.full((d, e), np.inf), np.zeros((d, e), dtype=np.intp)
    for s in range(len(here.stairs)):
        for (place, t), metres in flights[floor, s].items():
            if place != other or (floor == other and s == t):
                continue
            way = here.walk[:d, d + s, None] + metres + there.walk[None, e + t, :e]
            doors = here.passed[:d, d + s, None] + there.passed[None, e + t, :e]
            passed = np.where(way < walk, doors, passed)
            walk = np.minimum(walk, way)
    return walk, passed


def _shorter(here: FloorWalk, walk: Floats, passed: Ints) -> tuple[Floats, Ints]:
    """Return the walk on the floor itself unless going by way of other floors is shorter."""
    d = len(here.units)
    level = here.walk[:d, :d]
    return np.minimum(level, walk), np.where(walk < level, passed, here.passed[:d, :d])

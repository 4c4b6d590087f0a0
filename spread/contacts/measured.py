"""What the drawing of a building shows of each route: pairs of units, their exposure and their measures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from importlib import import_module

import numpy as np
import shapely
from numpy.typing import NDArray

from spread.contacts.exposure import ExposureSettings
from spread.contacts.floors import floor_overlaps
from spread.contacts.hallways import hallway_contacts
from spread.contacts.risers import SharedRiser, shared_risers
from spread.contacts.walls import shared_walls
from spread.plan.model import Plan
from spread.trade.route_rows import Route


@dataclass(frozen=True, slots=True)
class Measured:
    """A contact of one route."""

    #: a, b: Unit ids
    a: str
    b: str
    exposure: float  #: 1.0 for the typical contact of the route
    #: What was measured, as it stands on the edge of the contact graph
    measures: Mapping[str, object] = field(default_factory=dict)


def measured(route: Route, plan: Plan, settings: ExposureSettings) -> Iterator[Measured]:
    """Yield the contacts of a route, each pair once; none for a route that is given by hand."""
    if not route.measured_by:
        return
    module, _, function = route.measured_by.partition(":")
    found: Iterable[Measured] = getattr(import_module(module), function)(plan, settings)
    pairs: set[frozenset[str]] = set()
    for one in found:
        pair = frozenset((one.a, one.b))
        who = f"route {route.key}, {one.a} and {one.b}"
        assert len(pair) == 2, f"{who}: a unit is in no contact with itself"
        assert pair <= plan.units.keys(), f"{who}: the plan has no such unit"
        assert pair not in pairs, f"{who}: a pair comes once; add up what it has in more than one place"
        assert 0 < one.exposure < math.inf, f"{who}: exposure {one.exposure}, expected more than 0"
        pairs.add(pair)
        yield one


def floors(plan: Plan, settings: ExposureSettings) -> Iterator[Measured]:
    """Yield floors and ceilings."""
    for over in floor_overlaps(plan, settings):
        measures = {"m2": over.m2, "upper": over.upper}
        yield Measured(over.lower, over.upper, over.m2 / settings.floor_m2, measures)


def hallways(plan: Plan, settings: ExposureSettings) -> Iterator[Measured]:
    """Yield doors along a hallway."""
    for way in hallway_contacts(plan, settings):
        measures = asdict(way)
        yield Measured(measures.pop("a"), measures.pop("b"), measures.pop("exposure"), measures)


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


def walls(plan: Plan, settings: ExposureSettings) -> Iterator[Measured]:
    """Yield shared walls; a bed close to one raises it."""
    beds = _beds(plan)
    metres: dict[tuple[str, str], float] = {}
    near: set[tuple[str, str]] = set()
    for wall in shared_walls(plan, settings):
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
        yield Measured(*pair, exposure, {"metres": total, "near_bed": pair in near})


def risers(plan: Plan, settings: ExposureSettings) -> Iterator[Measured]:
    """Yield shared risers, one contact a pair: two chases shared are twice the exposure of one."""
    beds = _beds(plan)
    together: dict[tuple[str, str], list[SharedRiser]] = {}
    for one in shared_risers(plan, settings):
        together.setdefault((one.a, one.b), []).append(one)
    near = {
        (unit, riser.id)
        for riser in plan.risers
        for unit, floor in beds
        if _near(beds, unit, floor, riser.outline, settings.bed_reach)
    }
    for (a, b), several in together.items():
        several.sort(key=lambda one: (-one.exposure, one.riser))
        beside_bed = [bool({(a, one.riser), (b, one.riser)} & near) for one in several]
        exposure = sum(
            one.exposure * (settings.bed_factor if beside else 1.0)
            for one, beside in zip(several, beside_bed, strict=True)
        )
        measures = {
            "riser": several[0].riser,
            "risers": tuple(one.riser for one in several),
            "floors_apart": min(one.floors_apart for one in several),
            "near_bed": any(beside_bed),
        }
        yield Measured(a, b, exposure, measures)

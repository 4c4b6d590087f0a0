"""Features in metres to a plan: parts joined into units and shafts; doors, beds, outlets to units."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from spread.errors import Problem
from spread.plan.features import Feature
from spread.plan.model import Bed, Door, Outlet, Plan, Shaft, Shape, Space, Unit
from spread.plan.outlets import unit_of

POINT_RADIUS = 0.3
"""Metres around a riser or stair drawn as a point (common practice for a pipe chase, no source)."""
LONGEST_DOOR = 5.0
"""Metres of a door drawn as a line; a longer line is something else."""


def assemble(
    features: Sequence[Feature], floors: Sequence[str], *, name: str, storey_height: float, file: str
) -> tuple[Plan, list[Problem]]:
    """Return the plan of what could be read and the problems of the rest."""
    problems: list[Problem] = []
    units = _units(features, floors, file, problems)
    # Ids of units with a fault of their own count as known, or their doors would be blamed too.
    named = {feature.id for feature in features if feature.kind == "unit"}
    if not named:
        problems.append(Problem(file, "", "it has no feature of kind 'unit'", "draw at least one unit"))
    plan = Plan(
        name=name,
        floors=tuple(floors),
        units=units,
        hallways=_spaces(features, "hallway"),
        commons=_spaces(features, "common"),
        doors=tuple(_doors(features, units, named, file, problems)),
        shafts=_shafts(features, floors, file, problems),
        beds=tuple(_beds(features, units, named, file, problems)),
        outlets=tuple(_outlets(features, units, named, file, problems)),
        storey_height=storey_height,
        source=file,
    )
    return plan, problems


def _outline(feature: Feature) -> Shape | None:
    if isinstance(feature.shape, Point):
        return feature.shape.buffer(POINT_RADIUS)
    return feature.shape if isinstance(feature.shape, Polygon | MultiPolygon) else None


def _parts(
    features: Sequence[Feature], kind: str, file: str, problems: list[Problem]
) -> dict[str, dict[str, tuple[Feature, Shape]]]:
    """Gather the outlines of each id by floor; the same id twice on one floor is a problem."""
    found: dict[str, dict[str, tuple[Feature, Shape]]] = {}
    for feature in features:
        outline = _outline(feature)
        if feature.kind != kind or outline is None:
            continue
        parts = found.setdefault(feature.id, {})
        for floor in feature.floors:
            if floor in parts:
                problems.append(
                    Problem(
                        file,
                        feature.where,
                        f"floor {floor!r} already has a {kind} {feature.id!r} "
                        f"({parts[floor][0].where.split(' (')[0]})",
                        "give one of them another id, or draw both as one MultiPolygon",
                    )
                )
            else:
                parts[floor] = (feature, outline)
    return found


def _units(
    features: Sequence[Feature], floors: Sequence[str], file: str, problems: list[Problem]
) -> dict[str, Unit]:
    units = []
    for name, parts in _parts(features, "unit", file, problems).items():
        drawn = list(dict.fromkeys(id(feature) for feature, _ in parts.values()))
        stacks = list(dict.fromkeys(feature.stack for feature, _ in parts.values() if feature.stack))
        if len(stacks) > 1:
            problems.append(
                Problem(
                    file,
                    f"unit {name!r}",
                    f"its {len(drawn)} features name different stacks ({', '.join(stacks)})",
                    "give them the same stack",
                )
            )
        notes: dict[str, str] = {}
        for feature, _ in parts.values():
            notes = {**feature.notes, **notes}
        ordered = {floor: parts[floor][1] for floor in floors if floor in parts}
        units.append(Unit(name, ordered, stacks[0] if stacks else "", notes))
    level = {floor: index for index, floor in enumerate(floors)}
    units = [unit for unit in units if unit.parts]
    units.sort(key=lambda unit: min(level[floor] for floor in unit.parts))  # stable: then file order
    return {unit.id: unit for unit in units}


def _spaces(features: Sequence[Feature], kind: str) -> tuple[Space, ...]:
    return tuple(
        Space(feature.id, kind, floor, outline)
        for feature in features
        if feature.kind == kind and (outline := _outline(feature)) is not None
        for floor in feature.floors
    )


def _shafts(
    features: Sequence[Feature], floors: Sequence[str], file: str, problems: list[Problem]
) -> tuple[Shaft, ...]:
    """Join shafts drawn once a floor into one, as people draw them floor by floor."""
    shafts = []
    for kind in ("riser", "stair", "lift"):
        for name, parts in _parts(features, kind, file, problems).items():
            outlines = [outline for _, outline in parts.values()]
            outline = outlines[0]
            if all(other.is_valid for other in outlines) and not all(
                shapely.equals(outline, other) for other in outlines
            ):
                joined = shapely.union_all(outlines)
                outline = joined if isinstance(joined, Polygon | MultiPolygon) else outline
            shafts.append(Shaft(name, kind, tuple(f for f in floors if f in parts), outline))
    return tuple(shafts)


def _floor_in_unit(
    feature: Feature, units: dict[str, Unit], named: set[str], file: str, problems: list[Problem]
) -> str:
    """Return the floor on which a door, bed or outlet meets its unit, or say why there is none."""
    if feature.unit not in named:
        problems.append(
            Problem(
                file,
                feature.where,
                f"its unit {feature.unit!r} is not in the plan",
                "set properties.unit to the id of a unit that is drawn",
            )
        )
        return ""
    if feature.unit not in units:
        return ""
    parts = units[feature.unit].parts
    if not feature.floors:
        if len(parts) == 1:
            return next(iter(parts))
        problems.append(
            Problem(
                file,
                feature.where,
                f"its unit {feature.unit!r} is on several floors ({', '.join(parts)})",
                "set properties.floor to the one it is on",
            )
        )
        return ""
    if feature.floors[0] not in parts:
        problems.append(
            Problem(
                file,
                feature.where,
                f"it is on floor {feature.floors[0]!r} but its unit {feature.unit!r} "
                f"is on {', '.join(parts)}",
                "mend properties.floor or properties.unit",
            )
        )
        return ""
    return feature.floors[0]


def _doors(
    features: Sequence[Feature], units: dict[str, Unit], named: set[str], file: str, problems: list[Problem]
) -> list[Door]:
    doors = []
    for feature in features:
        if feature.kind != "door" or feature.shape is None:
            continue
        if feature.shape.length > LONGEST_DOOR:
            problems.append(
                Problem(
                    file,
                    feature.where,
                    f"it is a line of {feature.shape.length:.1f} m, longer than a door",
                    "draw it as a point or as a short line across the opening",
                )
            )
        floor = _floor_in_unit(feature, units, named, file, problems)
        if floor:
            doors.append(Door(feature.id, feature.unit, floor, _middle(feature.shape)))
    return doors


def _middle(shape: BaseGeometry) -> Point:
    """Return the middle of a door; a line of no length is the point where it stands."""
    if isinstance(shape, LineString) and shape.length > 0.0:
        return shapely.line_interpolate_point(shape, 0.5, normalized=True)
    return Point(shapely.get_coordinates(shape)[0])


def _beds(
    features: Sequence[Feature], units: dict[str, Unit], named: set[str], file: str, problems: list[Problem]
) -> list[Bed]:
    beds = []
    for feature in features:
        if feature.kind != "bed" or feature.shape is None:
            continue
        at = feature.shape.centroid
        if feature.unit:
            floor = _floor_in_unit(feature, units, named, file, problems)
            if floor:
                beds.append(Bed(feature.id, feature.unit, floor, at))
            continue
        holders = [
            (unit.id, floor)
            for unit in units.values()
            for floor, part in unit.parts.items()
            if (not feature.floors or floor in feature.floors) and part.covers(at)
        ]
        if len(holders) == 1:
            beds.append(Bed(feature.id, *holders[0], at))
        elif len(named) == len(units) or holders:
            found = "lies in no unit" if not holders else f"lies in {len(holders)} units or floors"
            problems.append(
                Problem(
                    file,
                    feature.where,
                    f"it names no unit and {found}",
                    "set properties.unit and properties.floor",
                )
            )
    return beds


def _outlets(
    features: Sequence[Feature], units: dict[str, Unit], named: set[str], file: str, problems: list[Problem]
) -> list[Outlet]:
    """Give outlets their units; whether one that names its unit lies there is for the checks to say."""
    outlets = []
    for feature in features:
        if feature.kind != "outlet" or not isinstance(feature.shape, Point) or not feature.floors:
            continue
        if feature.unit:
            if floor := _floor_in_unit(feature, units, named, file, problems):
                outlets.append(Outlet(feature.id, feature.unit, floor, feature.shape))
            continue
        floor = feature.floors[0]
        unit, what, fix = unit_of(units.values(), floor, feature.shape.x, feature.shape.y)
        if unit:
            outlets.append(Outlet(feature.id, unit, floor, feature.shape))
        elif len(named) == len(units):  # else it may lie in the unit that could not be read
            problems.append(Problem(file, feature.where, what, fix))
    return outlets

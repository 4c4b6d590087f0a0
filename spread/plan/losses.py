"""What is lost with a plan that can be used but says too little: the warnings of a check."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import networkx as nx
import shapely
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from spread.errors import Problem
from spread.plan.model import Plan, Shape, Unit

TOUCH = 0.7
"""Metres within which a door, riser or stair touches a space. Drawings of room interiors leave gaps of
wall thickness; 0.33 to 0.65 m were measured between rooms in openly published building models."""
RISER_TOUCH = 0.35
"""Metres within which a riser touches a unit, as in the contact graph: a chase is in its unit's wall."""
SLIVER = 0.05
"""Metres. An overlap nowhere wider is an uneven pen and not a fault (common practice, no source)."""
STACKED = 0.5
"""Square metres of overlap below which units of one stack do not stand on one another (no source)."""
SMALLEST, LARGEST = 8.0, 600.0
"""Square metres of a unit outside which the scale of the drawing is doubtful (no source)."""
LISTED = 8
"""Ids named in a sentence about many of them."""


def find_losses(plan: Plan) -> list[Problem]:
    """Return a sentence for each thing that cannot be counted; outlines must be valid."""
    return [
        *_shared_ids(plan),
        *_spaces_over_units(plan),
        *_odd_sizes(plan),
        *_unreached_doors(plan),
        *_units_without_door(plan),
        *_lonely_hallways(plan),
        *_shafts(plan),
        *_beds(plan),
        *_stacks(plan),
        *_empty_floors(plan),
    ]


def overlap(one: Shape, other: Shape) -> float:
    """Return the m2 that two outlines share, 0 where the shared part is nowhere wider than a sliver."""
    shared = shapely.intersection(one, other)
    return 0.0 if shared.buffer(-SLIVER / 2.0).is_empty else float(shared.area)


def name_some(ids: Sequence[str]) -> str:
    """Return ids as people read them: the first few and how many more."""
    shown = ", ".join(repr(one) for one in ids[:LISTED])
    return shown if len(ids) <= LISTED else f"{shown} and {len(ids) - LISTED} more"


def _shared_ids(plan: Plan) -> Iterator[Problem]:
    others = {space.id: space.kind for space in (*plan.hallways, *plan.commons)}
    others |= {shaft.id: shaft.kind for shaft in plan.shafts}
    for name in plan.units:
        if name in others:
            yield Problem(
                plan.source,
                f"unit {name!r}",
                f"a {others[name]} has the same id, so that people cannot tell which is meant",
                f"rename the {others[name]}",
            )


def _spaces_over_units(plan: Plan) -> Iterator[Problem]:
    for floor in plan.floors:
        units = plan.on_floor(floor)
        tree = STRtree([unit.parts[floor] for unit in units])
        for space in (*plan.hallways, *plan.commons):
            if space.floor != floor:
                continue
            for i in sorted(tree.query(space.outline, predicate="intersects").tolist()):
                area = overlap(units[i].parts[floor], space.outline)
                if area > 0.0:
                    yield Problem(
                        plan.source,
                        f"{space.kind} {space.id!r} on floor {floor!r}",
                        f"it overlaps unit {units[i].id!r} by {area:.2f} m2, "
                        "so that walks may be measured through the unit",
                        "draw it up to the unit's wall",
                    )


def _odd_sizes(plan: Plan) -> Iterator[Problem]:
    for reason, units in (
        (f"smaller than {SMALLEST:.0f}", [u for u in plan.units.values() if u.area < SMALLEST]),
        (f"larger than {LARGEST:.0f}", [u for u in plan.units.values() if u.area > LARGEST]),
    ):
        if units:
            yield Problem(
                plan.source,
                f"unit {units[0].id!r}",
                f"its area is {units[0].area:.1f} m2, and {len(units)} units are {reason} m2, so that "
                "contacts through walls and floors may be weighed wrongly",
                "check the scale of the drawing",
            )


def _unreached_doors(plan: Plan) -> Iterator[Problem]:
    """Find doors that open to nothing walkable; an outside walkway is drawn as a hallway."""
    if plan.doors and not _walkable(plan, None):
        yield Problem(
            plan.source,
            "",
            "it has no hallway, common room or stair, so that no contact along a hallway is counted",
            "draw hallways and outside walkways as features of kind 'hallway'",
        )
        return
    for floor in plan.floors:
        walkable = _walkable(plan, floor)
        for door in plan.doors:
            if door.floor == floor and all(shape.distance(door.at) > TOUCH for shape in walkable):
                yield Problem(
                    plan.source,
                    f"door {door.id!r}",
                    f"it touches no hallway, common room or stair on floor {floor!r}, so that contacts of "
                    f"unit {door.unit!r} along the hallway may be lost",
                    f"move it to within {TOUCH} m of one, or draw the walkway outside it as a hallway",
                )


def _walkable(plan: Plan, floor: str | None) -> list[Shape]:
    shapes = [s.outline for s in (*plan.hallways, *plan.commons) if floor is None or s.floor == floor]
    return shapes + [stair.outline for stair in plan.stairs if floor is None or floor in stair.floors]


def _units_without_door(plan: Plan) -> Iterator[Problem]:
    with_door = {door.unit for door in plan.doors}
    without = [name for name in plan.units if name not in with_door]
    if without:
        have = "unit has" if len(without) == 1 else "units have"
        yield Problem(
            plan.source,
            f"unit {without[0]!r}",
            f"{len(without)} {have} no door ({name_some(without)}), so that the way along the hallway "
            "is guessed, or lost where no hallway runs along the unit",
            "add a feature of kind 'door' that names the unit",
        )


def _lonely_hallways(plan: Plan) -> Iterator[Problem]:
    """Find hallways that nobody opens a door to; hallways joined to one another count as one.

    The door of a unit without one is guessed where a hallway runs along it, so such a unit counts.
    """
    with_door = {door.unit for door in plan.doors}
    for floor in plan.floors:
        spaces = [s for s in (*plan.hallways, *plan.commons) if s.floor == floor]
        shapes = [s.outline for s in spaces] + [t.outline for t in plan.stairs if floor in t.floors]
        if not shapes:
            continue
        joined = nx.Graph()
        joined.add_nodes_from(range(len(shapes)))
        joined.add_edges_from(STRtree(shapes).query(shapes, predicate="dwithin", distance=TOUCH).T.tolist())
        doors: list[BaseGeometry] = [door.at for door in plan.doors if door.floor == floor]
        doors += [unit.parts[floor] for unit in plan.on_floor(floor) if unit.id not in with_door]
        for group in nx.connected_components(joined):
            halls = [spaces[i] for i in sorted(group) if i < len(spaces) and spaces[i].kind == "hallway"]
            if halls and not any(shapes[i].distance(at) <= TOUCH for i in group for at in doors):
                yield Problem(
                    plan.source,
                    f"hallway {halls[0].id!r} on floor {floor!r}",
                    "no door opens to it or to anything joined to it, so that it carries no contact",
                    "add the doors, or join it to the next hallway",
                )


def _shafts(plan: Plan) -> Iterator[Problem]:
    for riser in plan.risers:
        touched = {
            unit.id
            for floor in riser.floors
            for unit in plan.on_floor(floor)
            if unit.parts[floor].distance(riser.outline) <= RISER_TOUCH
        }
        if len(touched) < 2:
            found = "no unit" if not touched else f"only unit {next(iter(touched))!r}"
            yield Problem(
                plan.source,
                f"riser {riser.id!r}",
                f"it touches {found} on its floors ({', '.join(riser.floors)}), so that it joins nothing",
                f"move it to within {RISER_TOUCH} m of the units it serves or mend its floors",
            )
    for stair in plan.stairs:
        off = [
            floor
            for floor in stair.floors
            if not any(
                space.floor == floor and space.outline.distance(stair.outline) <= TOUCH
                for space in (*plan.hallways, *plan.commons)
            )
            and not any(d.floor == floor and stair.outline.distance(d.at) <= TOUCH for d in plan.doors)
        ]
        if off:
            yield Problem(
                plan.source,
                f"stair {stair.id!r}",
                f"it touches no hallway, common room or door on floor {', '.join(off)}, so that walks "
                "between floors are not counted there",
                "move it to the hallway or mend its floors",
            )


def _beds(plan: Plan) -> Iterator[Problem]:
    for bed in plan.beds:
        if plan.units[bed.unit].parts[bed.floor].distance(bed.at) > 0.0:
            yield Problem(
                plan.source,
                f"bed {bed.id!r}",
                f"it lies outside its unit {bed.unit!r}, so that the walls near it are weighed wrongly",
                "move it into the unit",
            )


def _stacks(plan: Plan) -> Iterator[Problem]:
    stacks: dict[str, list[Unit]] = {}
    for unit in plan.units.values():
        if unit.stack:
            stacks.setdefault(unit.stack, []).append(unit)
    lost = "the floor route follows the drawing and not the stack's name"
    for stack, units in stacks.items():
        levels = {plan.level_of(floor) for unit in units for floor in unit.parts}
        for level in sorted(levels - {min(levels)}):
            floor, here = plan.floors[level], [u for u in units if plan.floors[level] in u.parts]
            below = [u for u in units if plan.floors[level - 1] in u.parts]
            if not below:
                yield Problem(
                    plan.source,
                    f"unit {here[0].id!r}",
                    f"its stack {stack!r} jumps: it has no unit on floor {plan.floors[level - 1]!r} "
                    f"below floor {floor!r} ({lost})",
                    "mend the stack or the floor of the unit, or draw the missing one",
                )
            for unit in here if below else ():
                parts = [u.parts[plan.floors[level - 1]] for u in below]
                if all(part.intersection(unit.parts[floor]).area < STACKED for part in parts):
                    yield Problem(
                        plan.source,
                        f"unit {unit.id!r}",
                        f"its stack {stack!r} jumps: it does not stand above unit {below[0].id!r} of that "
                        f"stack on the floor below ({lost})",
                        "mend the stack of one of them or redraw its outline",
                    )


def _empty_floors(plan: Plan) -> Iterator[Problem]:
    used = {space.floor for space in (*plan.hallways, *plan.commons)}
    used |= {floor for unit in plan.units.values() for floor in unit.parts}
    for floor in plan.floors:
        if floor not in used:
            yield Problem(
                plan.source,
                f"floor {floor!r}",
                "nothing is drawn on it, so that contacts between the floors around it are lost",
                "draw its units, or take it out of floors in building.toml",
            )

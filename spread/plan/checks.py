"""What is wrong with a plan that could be read: errors stop it, warnings say what is lost.

An **error** is a drawing that contradicts itself, so that contacts measured on it would be wrong. A
**warning** is a drawing that says too little: it is used, and the sentence tells what cannot be counted.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely import STRtree

from spread.errors import Problem
from spread.plan.losses import TOUCH, find_losses, overlap
from spread.plan.model import Plan, Shape
from spread.plan.outlets import stray_outlets


def check_plan(plan: Plan) -> tuple[list[Problem], list[Problem]]:
    """Look for what would make contacts wrong or missing.

    ``plan``: any plan, drawn or made from a unit list. Returns ``errors``: the plan cannot be used until
    these are mended; ``warnings``: the plan can be used; each sentence says what is lost.
    """
    invalid = list(_invalid(plan))
    errors = [*invalid, *_twice(plan), *_doors_off_their_unit(plan), *stray_outlets(plan)]
    if invalid:  # the measures below are undefined on outlines that cross themselves
        return errors, []
    errors += _overlaps(plan)
    return errors, find_losses(plan)


def _outlines(plan: Plan) -> Iterator[tuple[str, Shape]]:
    for unit in plan.units.values():
        for floor, part in unit.parts.items():
            yield f"unit {unit.id!r} on floor {floor!r}", part
    for space in (*plan.hallways, *plan.commons):
        yield f"{space.kind} {space.id!r} on floor {space.floor!r}", space.outline
    for shaft in plan.shafts:
        yield f"{shaft.kind} {shaft.id!r}", shaft.outline


def _invalid(plan: Plan) -> Iterator[Problem]:
    for where, outline in _outlines(plan):
        if outline.is_empty or not outline.is_valid:
            reason = "it is empty" if outline.is_empty else shapely.is_valid_reason(outline)
            yield Problem(
                plan.source,
                where,
                f"its outline is not a valid polygon ({_spoken(reason)})",
                "redraw it so that its edge never crosses or touches itself",
            )


def _spoken(reason: str) -> str:
    what, _, place = reason.partition("[")
    at = place.rstrip("]").split()
    if len(at) != 2:
        return what.lower()
    return f"{what.lower()} near x = {float(at[0]):.2f} m, y = {float(at[1]):.2f} m"


def _twice(plan: Plan) -> Iterator[Problem]:
    """Ids must be unique among doors, beds, outlets, shafts, and among the spaces of a floor."""
    groups = (
        ("door", [(door.id, "") for door in plan.doors]),
        ("bed", [(bed.id, "") for bed in plan.beds]),
        ("outlet", [(outlet.id, "") for outlet in plan.outlets]),
        ("riser or stair", [(shaft.id, "") for shaft in plan.shafts]),
        ("hallway or common room", [(s.id, s.floor) for s in (*plan.hallways, *plan.commons)]),
    )
    for kind, keys in groups:
        seen: dict[tuple[str, str], int] = {}
        for key in keys:
            seen[key] = seen.get(key, 0) + 1
        for (name, floor), count in seen.items():
            if count > 1:
                place = f" on floor {floor!r}" if floor else ""
                yield Problem(
                    plan.source,
                    f"{kind} {name!r}",
                    f"{count} features have this id{place}",
                    "give each its own",
                )


def _doors_off_their_unit(plan: Plan) -> Iterator[Problem]:
    for door in plan.doors:
        gap = plan.units[door.unit].parts[door.floor].distance(door.at)
        if gap > TOUCH:
            yield Problem(
                plan.source,
                f"door {door.id!r}",
                f"it is {gap:.1f} m away from its unit {door.unit!r} on floor {door.floor!r}, "
                f"expected within {TOUCH} m",
                "move the door or name the unit that it leads to",
            )


def _overlaps(plan: Plan) -> Iterator[Problem]:
    for floor in plan.floors:
        units = plan.on_floor(floor)
        if not units:
            continue
        parts = [unit.parts[floor] for unit in units]
        first, second = STRtree(parts).query(parts, predicate="intersects")
        for i, j in sorted(zip(first.tolist(), second.tolist(), strict=True)):
            area = overlap(parts[i], parts[j]) if i < j else 0.0
            if area > 0.0:
                yield Problem(
                    plan.source,
                    f"unit {units[i].id!r} on floor {floor!r}",
                    f"it overlaps unit {units[j].id!r} by {area:.2f} m2",
                    "move the wall between them so that they only touch",
                )

"""A drawing and its dated changes to the plan of today; what no longer fits is named, never dropped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shapely import Point, Polygon, box

from spread.errors import PlanError, Problem
from spread.plan.assemble import POINT_RADIUS
from spread.plan.changes import CHANGES_FILE, Change
from spread.plan.checks import check_plan
from spread.plan.editing import move_door, move_wall, name_riser
from spread.plan.model import Bed, Door, Outlet, Plan, Shaft, Space
from spread.plan.rebuilding import add_unit, drop_unit, merge_units, rename_unit, split_unit

LIFT_SIDE = 2.1
"""Metres of a lift or stair that is added as a place (as the drawings of unit lists have it)."""
BESIDE_PLAN = ("link", "unlink")
"""Steps of what no drawing shows: contacts given by hand (:mod:`spread.building`)."""


@dataclass(frozen=True, slots=True)
class Amended:
    """A plan with its changes. ``unfit``: a sentence for each change that no longer fits the drawing."""

    plan: Plan
    unfit: tuple[Problem, ...] = ()


def amend(plan: Plan, changes: Sequence[Change]) -> Amended:
    """Apply changes to a drawing, in their order; one that does not fit is left out and named."""
    unfit: list[Problem] = []
    for number, change in enumerate(changes, start=1):
        try:
            plan = apply(plan, change)
        except PlanError as error:
            where = f"line {number} ({change.step}, from {change.on.isoformat()})"
            fix = "take it out with spread plan, or correct the drawing"
            what = "; ".join(f"{p.where}: {p.what}" if p.where else p.what for p in error.problems)
            unfit.append(Problem(CHANGES_FILE, where, f"it no longer fits the drawing ({what})", fix))
    return Amended(plan, tuple(unfit))


def apply(plan: Plan, change: Change) -> Plan:
    """Apply one change.

    Raises PlanError when the plan has not what it changes, or would contradict itself after it; what the
    drawing shows already is left as it is.
    """
    return plan if change.step in BESIDE_PLAN else _sound(plan, _applied(plan, change))


def _applied(plan: Plan, change: Change) -> Plan:
    said, text = change.said, change.text
    steps: dict[str, Callable[[], Plan]] = {
        "rename": lambda: rename_unit(plan, text("unit"), text("to")),
        "split": lambda: split_unit(plan, text("unit"), said["into"], text("floor"), said.get("line", ())),
        "merge": lambda: merge_units(plan, said["units"], text("into")),
        "gone": lambda: drop_unit(plan, text("unit"), text("room")),
        "new": lambda: add_unit(plan, text("unit"), text("floor"), said.get("outline", ()), text("room")),
        "wall": lambda: move_wall(
            plan,
            text("a"),
            text("b"),
            said["metres"],
            floor=text("floor"),
            every_floor=bool(said.get("every_floor")),
        ),
        "move-door": lambda: move_door(plan, text("door"), said["metres"]),
        "name-riser": lambda: name_riser(plan, text("riser"), text("name")),
        "add": lambda: _added(plan, change),
        "remove": lambda: _removed(plan, text("kind"), text("id")),
        "room": lambda: _named(plan, text("id"), text("floor"), text("name")),
        "lift": lambda: _lifted(plan, text("id")),
    }
    return steps[change.step]()


def _sound(before: Plan, after: Plan) -> Plan:
    """Return the plan after a change; refuse one with errors that were not there before."""
    if after is before:
        return after
    known = set(check_plan(before)[0])
    new = [problem for problem in check_plan(after)[0] if problem not in known]
    if new:
        raise PlanError(new)
    return after


def _ids(plan: Plan, kind: str) -> set[str]:
    match kind:
        case "door":
            return {one.id for one in plan.doors}
        case "bed":
            return {one.id for one in plan.beds}
        case "outlet":
            return {one.id for one in plan.outlets}
        case _:
            return {one.id for one in plan.shafts}


def _added(plan: Plan, change: Change) -> Plan:
    kind, name, at = change.text("kind"), change.text("id"), Point(*change.said["at"])
    if name in _ids(plan, kind):
        return plan
    if kind in ("riser", "stair", "lift"):
        floors = tuple(floor for floor in plan.floors if floor in change.said["floors"])
        if strange := [floor for floor in change.said["floors"] if floor not in plan.floors]:
            what = f"there is no floor {strange[0]!r}"
            raise PlanError.at(plan.source, f"{kind} {name!r}", what, f"choose from {', '.join(plan.floors)}")
        half = LIFT_SIDE / 2
        square = box(at.x - half, at.y - half, at.x + half, at.y + half)
        outline: Polygon = at.buffer(POINT_RADIUS) if kind == "riser" else square
        return replace(plan, shafts=(*plan.shafts, Shaft(name, kind, floors, outline)))
    unit, floor = change.text("unit"), change.text("floor")
    if unit not in plan.units or floor not in plan.units[unit].parts:
        what = f"there is no unit {unit!r} on floor {floor!r}"
        raise PlanError.at(plan.source, f"{kind} {name!r}", what, "choose one that is drawn")
    if kind == "door":
        return replace(plan, doors=(*plan.doors, Door(name, unit, floor, at)))
    if kind == "bed":
        if not plan.units[unit].parts[floor].covers(at):
            what = f"the place lies outside unit {unit!r}"
            raise PlanError.at(plan.source, f"bed {name!r}", what, "choose a place in the unit")
        return replace(plan, beds=(*plan.beds, Bed(name, unit, floor, at)))
    return replace(plan, outlets=(*plan.outlets, Outlet(name, unit, floor, at)))


def _removed(plan: Plan, kind: str, name: str) -> Plan:
    """Take a thing out; one that the drawing does not have is out already."""
    match kind:
        case "door":
            return replace(plan, doors=tuple(one for one in plan.doors if one.id != name))
        case "bed":
            return replace(plan, beds=tuple(one for one in plan.beds if one.id != name))
        case "outlet":
            return replace(plan, outlets=tuple(one for one in plan.outlets if one.id != name))
        case _:
            return replace(plan, shafts=tuple(s for s in plan.shafts if s.id != name or s.kind != kind))


def _named(plan: Plan, name: str, floor: str, to: str) -> Plan:
    """Name a space as a common room, such as a laundry or a lounge; a hallway becomes one."""
    spaces = [*plan.hallways, *plan.commons]
    old = next((one for one in spaces if one.id == name and one.floor == floor), None)
    taken = {one.id for one in spaces if one is not old} | plan.units.keys() | {one.id for one in plan.shafts}
    if old is None:
        if any(one.id == to and one.floor == floor for one in plan.commons):
            return plan
        what = f"there is no room {name!r} on floor {floor!r}"
        raise PlanError.at(plan.source, "", what, "choose one that is drawn")
    if to in taken:
        raise PlanError.at(plan.source, f"room {name!r}", f"the name {to!r} is taken", "give it another")
    hallways = tuple(one for one in plan.hallways if one is not old)
    commons = tuple(one for one in plan.commons if one is not old)
    return replace(plan, hallways=hallways, commons=(*commons, Space(to, "common", floor, old.outline)))


def _lifted(plan: Plan, name: str) -> Plan:
    if not any(one.id == name and one.kind in ("stair", "lift") for one in plan.shafts):
        raise PlanError.at(
            plan.source, f"stair {name!r}", "there is no such stair", "choose one that is drawn"
        )
    shafts = tuple(replace(one, kind="lift") if one.id == name else one for one in plan.shafts)
    return replace(plan, shafts=shafts)

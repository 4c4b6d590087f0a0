"""Small corrections of a plan: move a wall or a door, name a riser. Each gives a new plan or one sentence.

A wall that moves gives one unit what it takes from the other, so that the area of all units stays the same
and nothing overlaps. What would leave a drawing that contradicts itself is refused and nothing changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon
from shapely.affinity import translate

from spread.errors import PlanError, Problem
from spread.plan.checks import check_plan
from spread.plan.facing import Wall, wall_between
from spread.plan.losses import SMALLEST, overlap
from spread.plan.model import Door, Outlet, Plan, Shaft, Shape, Unit
from spread.plan.outlets import EDGE

FARTHEST = 10.0
"""Metres that one step may move something."""
HALF_DOOR = 0.45
"""Metres from the middle of a door to its side, as drawn."""
LONGEST_NAME = 60
_GRID = 1e-4  # metres: a tenth of a millimetre, far below any pen


def move_wall(plan: Plan, a: str, b: str, metres: float, *, floor: str, every_floor: bool = False) -> Plan:
    """Move the wall between two units.

    ``a``, ``b``: two units that share a wall on ``floor``. ``metres``: how far towards ``b``; below 0 towards
    ``a``. ``every_floor``: move the wall between the same two stacks on all floors, and a riser in it with
    it. Outlets on the wall always go with it. Returns: Both units keep one straight edge where they face; all
    other parts are as they were. Raises PlanError, one sentence for each reason why it cannot be moved.
    """
    problems = [
        Problem(plan.source, f"unit {unit!r}", f"there is no such unit on floor {floor!r}", "choose another")
        for unit in (a, b)
        if unit not in plan.units or floor not in plan.units[unit].parts
    ]
    if problems:
        raise PlanError(problems)
    _check_metres(plan, f"the wall of {a} and {b}", metres)
    walls = [_wall(plan, a, b, floor)]
    if every_floor:
        walls += _same_walls(plan, walls[0])
    risers = _risers_in(plan, walls, metres)
    units: dict[str, Unit] = dict(plan.units)
    for wall in walls:
        for unit, shape in _shifted(plan, wall, metres, {riser.id for riser in risers}).items():
            units[unit] = replace(units[unit], parts={**units[unit].parts, wall.floor: shape})
    by = (walls[0].across[0] * metres, walls[0].across[1] * metres)
    moved = {riser.id: replace(riser, outline=translate(riser.outline, *by)) for riser in risers}
    shafts = tuple(moved.get(shaft.id, shaft) if shaft.kind == "riser" else shaft for shaft in plan.shafts)
    outlets = tuple(
        replace(one, at=translate(one.at, *by)) if any(_sits_on(one, wall) for wall in walls) else one
        for one in plan.outlets
    )
    return _sound(plan, replace(plan, units=units, shafts=shafts, outlets=outlets))


def move_door(plan: Plan, door: str, metres: float) -> Plan:
    """Move a door along the wall that it stands in.

    ``metres``: how far: to the east, or to the north in a wall that runs north; below 0 the other way. Raises
    PlanError when there is no such door, or it would leave its wall.
    """
    found = _door(plan, door)
    _check_metres(plan, f"door {door!r}", metres)
    begin, end = _wall_of_door(plan, found)
    length = math.dist(begin, end)
    along = (np.array(end) - np.array(begin)) / length
    now = float(along @ (np.array([found.at.x, found.at.y]) - np.array(begin)))
    low, high = HALF_DOOR - now, length - HALF_DOOR - now
    if not low <= metres <= high:
        room = (
            f"it can be moved from {low:+.1f} to {high:+.1f} m"
            if low <= high
            else f"the wall is only {length:.1f} m long"
        )
        what = f"moved by {metres:+.1f} m it would leave its wall; {room}"
        raise PlanError.at(plan.source, f"door {door!r}", what, "move it less")
    at = Point(found.at.x + metres * along[0], found.at.y + metres * along[1])
    doors = tuple(replace(one, at=at) if one.id == door else one for one in plan.doors)
    return _sound(plan, replace(plan, doors=doors))


def name_riser(plan: Plan, riser: str, name: str) -> Plan:
    """Give a riser another name.

    Raises PlanError when there is no such riser, or the name is empty, too long or taken.
    """
    name = " ".join(name.split())
    where = f"riser {riser!r}"
    if riser not in {shaft.id for shaft in plan.risers}:
        raise PlanError.at(plan.source, where, "there is no such riser", "choose one that is drawn")
    if not name or len(name) > LONGEST_NAME:
        what = "the name is empty" if not name else f"the name is longer than {LONGEST_NAME} characters"
        raise PlanError.at(plan.source, where, what, "give it a short name, such as 'kitchen 01'")
    others = {shaft.id for shaft in plan.shafts} | plan.units.keys()
    others |= {space.id for space in (*plan.hallways, *plan.commons)}
    if name in others - {riser}:
        raise PlanError.at(plan.source, where, f"the name {name!r} is taken", "give it another")
    shafts = tuple(
        replace(one, id=name) if one.kind == "riser" and one.id == riser else one for one in plan.shafts
    )
    return replace(plan, shafts=shafts)


def _check_metres(plan: Plan, where: str, metres: float) -> None:
    if not (math.isfinite(metres) and 0.01 <= abs(metres) <= FARTHEST):
        what = f"it was to be moved by {metres:g} m, expected 0.01 to {FARTHEST:g} m one way or the other"
        raise PlanError.at(plan.source, where, what, "give the metres as in 0.5 or -0.5")


def _wall(plan: Plan, a: str, b: str, floor: str) -> Wall:
    wall = wall_between(plan, a, b, floor)
    if wall is None:
        what = f"units {a!r} and {b!r} share no straight wall"
        raise PlanError.at(plan.source, f"floor {floor!r}", what, "choose two units side by side")
    return wall


def _same_walls(plan: Plan, wall: Wall) -> Iterable[Wall]:
    """Return the walls between the same two stacks on the other floors."""
    stacks = [plan.units[unit].stack for unit in (wall.a, wall.b)]
    for floor in plan.floors:
        if floor == wall.floor or not all(stacks):
            continue
        pair = [
            next((unit.id for unit in plan.on_floor(floor) if unit.stack == stack), "") for stack in stacks
        ]
        if not all(pair) or set(pair) & {wall.a, wall.b}:
            continue
        other = wall_between(plan, pair[0], pair[1], floor)
        if other is not None and math.dist(other.across, wall.across) < 0.05:
            yield other


def _risers_in(plan: Plan, walls: list[Wall], metres: float) -> list[Shaft]:
    """Return the risers that go with the walls; refuse where a riser would be torn between floors."""
    floors = {wall.floor for wall in walls}
    found = []
    for riser in plan.risers:
        here = [wall for wall in walls if wall.floor in riser.floors and _stands_in(riser, wall, metres)]
        if not here:
            continue
        left = [floor for floor in riser.floors if floor not in floors]
        if left:
            what = f"riser {riser.id!r} stands in this wall and goes on to floor {', '.join(left)}"
            fix = "move the wall on every floor at once, or leave it where the pipes are"
            raise PlanError.at(plan.source, f"the wall of {here[0].a} and {here[0].b}", what, fix)
        found.append(riser)
    return found


def _stands_in(riser: Shaft, wall: Wall, metres: float) -> bool:
    low, high = min(0.0, metres), max(0.0, metres) + wall.thick
    return overlap(riser.outline, wall.strip(low, high)) > 0.0


def _sits_on(outlet: Outlet, wall: Wall) -> bool:
    if outlet.floor != wall.floor or outlet.unit not in (wall.a, wall.b):
        return False
    return wall.strip(0.0, wall.thick).distance(outlet.at) <= EDGE + 2 * _GRID


def _shifted(plan: Plan, wall: Wall, metres: float, risers: set[str]) -> dict[str, Shape]:
    """Return the new outlines of both units: what one gains the other loses."""
    wall, depth = (wall, metres) if metres > 0 else (wall.turned(), -metres)
    gain, loss = wall.strip(0.0, depth), wall.strip(wall.thick, wall.thick + depth)
    grows, shrinks = (plan.units[unit].parts[wall.floor] for unit in (wall.a, wall.b))
    where = f"the wall of {wall.a} and {wall.b} on floor {wall.floor!r}"

    def refuse(what: str, fix: str = "move it less, or the other way") -> PlanError:
        return PlanError.at(plan.source, where, what, fix)

    if shapely.difference(loss, shrinks).area > 1e-3 * loss.area:
        raise refuse(f"unit {wall.b!r} is less than {depth:g} m deep there")
    rest = shapely.difference(shrinks, loss, grid_size=_GRID)
    if not isinstance(rest, Polygon) or rest.area < SMALLEST:
        raise refuse(f"unit {wall.b!r} would be cut in two or smaller than {SMALLEST:.0f} m2")
    whole = shapely.union(grows, gain, grid_size=_GRID)
    others = {
        f"unit {unit.id!r}": unit.parts[wall.floor]
        for unit in plan.on_floor(wall.floor)
        if unit.id not in (wall.a, wall.b)
    }
    others |= {
        f"{s.kind} {s.id!r}": s.outline for s in (*plan.hallways, *plan.commons) if s.floor == wall.floor
    }
    others |= {
        f"{s.kind} {s.id!r}": s.outline
        for s in plan.shafts
        if wall.floor in s.floors and not (s.kind == "riser" and s.id in risers)
    }
    others[f"unit {wall.a!r} itself"] = grows
    hit = next((name for name, shape in others.items() if overlap(shape, gain) > 0.0), "")
    if hit:
        raise refuse(f"the wall would run into {hit}")
    if not isinstance(whole, Polygon):
        raise refuse(f"unit {wall.a!r} would fall into pieces")
    new = {wall.a: _tidy(whole), wall.b: _tidy(rest)}
    for what, unit, at in _things(plan, wall):
        before, after = plan.units[unit].parts[wall.floor], new[unit]
        if after.distance(at) > before.distance(at) + 2 * _GRID:
            raise refuse(f"{what} would be left outside unit {unit!r}", f"move the {what.split()[0]} first")
        if what.startswith("door") and after.exterior.distance(at) > before.boundary.distance(at) + 2 * _GRID:
            raise refuse(f"{what} would stand inside unit {unit!r}", "move the door first")
    return dict(new)


def _things(plan: Plan, wall: Wall) -> Iterable[tuple[str, str, Point]]:
    for door in plan.doors:
        if door.floor == wall.floor and door.unit in (wall.a, wall.b):
            yield f"door {door.id!r}", door.unit, door.at
    for bed in plan.beds:
        if bed.floor == wall.floor and bed.unit in (wall.a, wall.b):
            yield f"bed {bed.id!r}", bed.unit, bed.at
    for outlet in plan.outlets:
        if outlet.floor == wall.floor and outlet.unit in (wall.a, wall.b) and not _sits_on(outlet, wall):
            yield f"outlet {outlet.id!r}", outlet.unit, outlet.at


def _tidy(shape: Polygon) -> Polygon:
    """Return an outline without corners that are none."""
    plain = shape.simplify(_GRID / 2)
    return plain if isinstance(plain, Polygon) and plain.is_valid else shape


def _sound(before: Plan, after: Plan) -> Plan:
    """Return the plan after a change; refuse one with errors that were not there before."""
    known = set(check_plan(before)[0])
    new = [problem for problem in check_plan(after)[0] if problem not in known]
    if new:
        raise PlanError(new)
    return after


def _door(plan: Plan, door: str) -> Door:
    found = next((one for one in plan.doors if one.id == door), None)
    if found is None:
        raise PlanError.at(plan.source, f"door {door!r}", "there is no such door", "choose another")
    return found


def _wall_of_door(plan: Plan, door: Door) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the ends of the wall that a door stands in, west or south first."""
    shape = plan.units[door.unit].parts[door.floor]
    edges = [
        (tuple(p), tuple(q))
        for one in (shape.geoms if isinstance(shape, MultiPolygon) else (shape,))
        for p, q in pairwise(_tidy(one).exterior.coords)
        if math.dist(p, q) > _GRID
    ]
    begin, end = min(edges, key=lambda edge: shapely.LineString(edge).distance(door.at))
    first, last = sorted([begin, end], key=lambda p: (round(p[0], 3), p[1]))
    return (float(first[0]), float(first[1])), (float(last[0]), float(last[1]))


_STEPS = ("wall", "door", "riser")


def apply_edits(plan: Plan, edits: Iterable[Mapping[str, object]]) -> Plan:
    """Apply a list of corrections, as a page sends them, one after the other.

    ``plan``: the plan as it was drawn. ``edits``: each ``{"step": "wall", "a": ..., "b": ..., "floor": ...,
    "metres": 0.5, "every_floor": True}``, ``{"step": "door", "door": ..., "metres": 0.5}`` or ``{"step":
    "riser", "riser": ..., "name": ...}``. Raises PlanError with the sentences of the first correction that
    cannot be made.
    """
    for number, edit in enumerate(edits, start=1):
        step = edit.get("step")
        if step not in _STEPS:
            what = f"correction {number} is {str(step)[:20]!r}, expected one of {', '.join(_STEPS)}"
            raise PlanError.at(plan.source, "", what, "take it back and make it again")
        if step == "riser":
            plan = name_riser(plan, str(edit.get("riser", "")), str(edit.get("name", "")))
            continue
        given = edit.get("metres")
        metres = float(given) if isinstance(given, int | float) and not isinstance(given, bool) else math.nan
        if step == "door":
            plan = move_door(plan, str(edit.get("door", "")), metres)
        else:
            a, b, floor = (str(edit.get(name, "")) for name in ("a", "b", "floor"))
            plan = move_wall(plan, a, b, metres, floor=floor, every_floor=edit.get("every_floor") is True)
    return plan

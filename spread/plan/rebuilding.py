"""Units that change: renamed, split, merged, gone and new; each step gives a new plan or one sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely import LineString, Point, Polygon
from shapely.ops import split as cut

from spread.errors import PlanError
from spread.plan.facing import wall_between
from spread.plan.losses import SMALLEST
from spread.plan.model import Plan, Shape, Space, Unit

_GRID = 1e-4
_REACH = 1_000.0
"""Metres that a drawn line is made longer at both ends: it parts the unit, wherever the pen stopped."""


def rename_unit(plan: Plan, unit: str, to: str) -> Plan:
    """Give a unit another code; what stands in it goes with it."""
    if unit not in plan.units and to in plan.units:
        return plan  # drawn under its new code already
    _there(plan, unit)
    _free(plan, to)
    units = {
        (to if code == unit else code): (replace(one, id=to) if code == unit else one)
        for code, one in plan.units.items()
    }
    return _moved(replace(plan, units=units), {unit: to})


def split_unit(
    plan: Plan, unit: str, into: Sequence[str], floor: str = "", line: Sequence[Sequence[float]] = ()
) -> Plan:
    """Part a unit in two.

    ``into``: two codes: first the part with the unit's door (of several its first; without one the larger
    part), then the other; one of them may be the unit's own. ``floor``, ``line``: where it is parted, in
    metres; without a line a unit on several floors is parted into its lowest floor and the rest.
    """
    if unit not in plan.units and all(code in plan.units for code in into):
        return plan
    one = _there(plan, unit)
    for code in into:
        if code != unit:
            _free(plan, code)
    parts: list[dict[str, Shape]]
    if line:
        if floor not in one.parts:
            raise PlanError.at(
                plan.source, f"unit {unit!r}", f"it is not on floor {floor!r}", "choose a floor that it is on"
            )
        first, second = _halves(plan, one, floor, line)
        parts = [{**one.parts, floor: first}, {floor: second}]
    elif len(one.parts) > 1:
        low = min(one.parts, key=plan.level_of)
        parts = [{low: one.parts[low]}, {name: part for name, part in one.parts.items() if name != low}]
    else:
        raise PlanError.at(plan.source, f"unit {unit!r}", "no line parts it", "draw a line across it")
    made = [
        replace(one, id=code, parts=part, stack=one.stack if code == into[0] else "")
        for code, part in zip(into, parts, strict=True)
    ]
    units: dict[str, Unit] = {}
    for code, other in plan.units.items():
        units |= {new.id: new for new in made} if code == unit else {code: other}
    return _handed(_in_order(plan, units), {unit}, made)


def _halves(plan: Plan, one: Unit, floor: str, line: Sequence[Sequence[float]]) -> tuple[Polygon, Polygon]:
    shape = one.parts[floor]
    where = f"unit {one.id!r} on floor {floor!r}"
    pieces = [p for p in cut(shape, _longer(line)).geoms if isinstance(p, Polygon) and p.area > _GRID]
    if len(pieces) != 2:
        what = (
            "the line does not part it" if len(pieces) < 2 else f"the line parts it into {len(pieces)} pieces"
        )
        raise PlanError.at(plan.source, where, what, "draw one line from wall to wall")
    small = min(piece.area for piece in pieces)
    if small < SMALLEST:
        what = f"a part of it would have {small:.1f} m2, less than {SMALLEST:.0f}"
        raise PlanError.at(plan.source, where, what, "draw the line elsewhere")
    door = next((d.at for d in plan.doors if d.unit == one.id and d.floor == floor), None)
    pieces.sort(key=lambda p: (p.distance(door) if door is not None else 0.0, -p.area, p.bounds))
    return pieces[0], pieces[1]


def _longer(line: Sequence[Sequence[float]]) -> LineString:
    """Return a line that goes on far beyond both of its ends."""
    points = [(float(x), float(y)) for x, y in line]

    def beyond(end: tuple[float, float], before: tuple[float, float]) -> tuple[float, float]:
        length = max(((end[0] - before[0]) ** 2 + (end[1] - before[1]) ** 2) ** 0.5, 1e-9)
        return end[0] + (end[0] - before[0]) / length * _REACH, end[1] + (
            end[1] - before[1]
        ) / length * _REACH

    return LineString([beyond(points[0], points[1]), *points, beyond(points[-1], points[-2])])


def middle_line(plan: Plan, unit: str, floor: str) -> list[list[float]]:
    """Return the line that parts a unit across the middle of its longer side."""
    shape = _there(plan, unit).parts.get(floor)
    if shape is None:
        raise PlanError.at(plan.source, f"unit {unit!r}", f"it is not on floor {floor!r}", "name its floor")
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape)).tolist()
    sides = sorted(
        ((corners[k], corners[k + 1]) for k in range(4)), key=lambda s: Point(s[0]).distance(Point(s[1]))
    )
    long = [LineString(side).interpolate(0.5, normalized=True) for side in sides[2:]]
    return [[round(at.x, 3), round(at.y, 3)] for at in long]


def merge_units(plan: Plan, two: Sequence[str], into: str) -> Plan:
    """Join two units into one; the wall between them goes.

    ``into``: the code of the whole; it may be that of one of them. Units of two floors are joined where one
    lies over the other.
    """
    if into in plan.units and not any(code in plan.units for code in two if code != into):
        return plan
    a, b = (_there(plan, code) for code in two)
    if into not in two:
        _free(plan, into)
    floors = [floor for floor in plan.floors if floor in a.parts and floor in b.parts]
    parts: dict[str, Shape] = {}
    for floor in plan.floors:
        if floor in floors:
            parts[floor] = _joined(plan, a, b, floor)
        elif floor in a.parts or floor in b.parts:
            parts[floor] = (a if floor in a.parts else b).parts[floor]
    if not floors and not _stacked(plan, a, b):
        what = f"units {a.id!r} and {b.id!r} touch nowhere"
        raise PlanError.at(
            plan.source, f"unit {a.id!r}", what, "choose two side by side, or one over the other"
        )
    whole = Unit(into, parts, stack=a.stack or b.stack, notes={**b.notes, **a.notes})
    units: dict[str, Unit] = {}
    for code, other in plan.units.items():
        if code == two[0]:
            units[into] = whole
        elif code != two[1]:
            units[code] = other
    return _moved(_in_order(plan, units), dict.fromkeys(two, into))


def _joined(plan: Plan, a: Unit, b: Unit, floor: str) -> Polygon:
    wall = wall_between(plan, a.id, b.id, floor)
    if wall is None:
        what = f"units {a.id!r} and {b.id!r} share no straight wall"
        raise PlanError.at(plan.source, f"floor {floor!r}", what, "choose two units side by side")
    strip = wall.strip(-_GRID, wall.thick + _GRID)
    whole = shapely.union_all([a.parts[floor], strip, b.parts[floor]], grid_size=_GRID)
    others = [unit.parts[floor] for unit in plan.on_floor(floor) if unit.id not in (a.id, b.id)]
    whole = shapely.difference(whole, shapely.union_all(others), grid_size=_GRID) if others else whole
    if not isinstance(whole, Polygon):
        what = f"units {a.id!r} and {b.id!r} would not be one piece"
        raise PlanError.at(plan.source, f"floor {floor!r}", what, "choose two units side by side")
    return whole


def _stacked(plan: Plan, a: Unit, b: Unit) -> bool:
    return any(
        abs(plan.level_of(one) - plan.level_of(other)) == 1
        and a.parts[one].intersection(b.parts[other]).area > 1.0
        for one in a.parts
        for other in b.parts
    )


def drop_unit(plan: Plan, unit: str, room: str = "") -> Plan:
    """Take a unit out; ``room``: the name of the common room that it becomes, such as ``laundry``."""
    if unit not in plan.units:
        if not room or any(space.id == room for space in plan.commons):
            return plan
        _there(plan, unit)
    one = plan.units[unit]
    if len(plan.units) == 1:
        raise PlanError.at(plan.source, f"unit {unit!r}", "it is the last unit", "leave at least one unit")
    commons = plan.commons
    if room:
        _no_space(plan, room)
        commons += tuple(Space(room, "common", floor, part) for floor, part in one.parts.items())
    return replace(
        plan,
        units={code: other for code, other in plan.units.items() if code != unit},
        commons=commons,
        doors=tuple(door for door in plan.doors if door.unit != unit),
        beds=tuple(bed for bed in plan.beds if bed.unit != unit),
        outlets=tuple(outlet for outlet in plan.outlets if outlet.unit != unit),
    )


def add_unit(
    plan: Plan, unit: str, floor: str, outline: Sequence[Sequence[float]] = (), room: str = ""
) -> Plan:
    """Add a unit: ``outline`` in metres, or the ``room`` that it was."""
    if unit in plan.units and not any(space.id == room for space in plan.commons):
        return plan
    _free(plan, unit)
    if floor not in plan.floors:
        raise PlanError.at(
            plan.source,
            f"unit {unit!r}",
            f"there is no floor {floor!r}",
            f"choose from {', '.join(plan.floors)}",
        )
    commons = plan.commons
    if room:
        old = next((space for space in commons if space.id == room and space.floor == floor), None)
        if old is None:
            what = f"there is no common room {room!r} on floor {floor!r}"
            raise PlanError.at(plan.source, f"unit {unit!r}", what, "choose one that is drawn")
        shape, commons = old.outline, tuple(space for space in commons if space is not old)
    else:
        shape = Polygon([(x, y) for x, y in outline])
    if not shape.is_valid or shape.area < SMALLEST:
        what = f"its outline is no room of at least {SMALLEST:.0f} m2"
        raise PlanError.at(
            plan.source, f"unit {unit!r}", what, "draw it larger, with an edge that does not cross itself"
        )
    return _in_order(replace(plan, commons=commons), {**plan.units, unit: Unit(unit, {floor: shape})})


def _there(plan: Plan, unit: str) -> Unit:
    if unit not in plan.units:
        raise PlanError.at(
            plan.source, f"unit {unit!r}", "there is no such unit in the plan", "name one that is drawn"
        )
    return plan.units[unit]


def _free(plan: Plan, code: str) -> None:
    if code in plan.units:
        raise PlanError.at(plan.source, f"unit {code!r}", "there is a unit of that code", "give another code")
    _no_space(plan, code)


def _no_space(plan: Plan, name: str) -> None:
    taken = {one.id for one in (*plan.hallways, *plan.commons)} | {one.id for one in plan.shafts}
    if name in taken | plan.units.keys():
        raise PlanError.at(plan.source, f"{name!r}", "something has that name", "give another name")


def _moved(plan: Plan, codes: dict[str, str]) -> Plan:
    """Let doors, beds and outlets go with their units."""

    def of(unit: str) -> str:
        return codes.get(unit, unit)

    return replace(
        plan,
        doors=tuple(replace(door, unit=of(door.unit)) for door in plan.doors),
        beds=tuple(replace(bed, unit=of(bed.unit)) for bed in plan.beds),
        outlets=tuple(replace(outlet, unit=of(outlet.unit)) for outlet in plan.outlets),
    )


def _handed(plan: Plan, gone: set[str], made: Sequence[Unit]) -> Plan:
    """Give doors, beds and outlets of a unit to the part in which each stands."""

    def of(unit: str, floor: str, at: Point) -> str:
        if unit not in gone:
            return unit
        here = [one for one in made if floor in one.parts]
        return min(here, key=lambda one: float(one.parts[floor].distance(at))).id

    return replace(
        plan,
        doors=tuple(replace(d, unit=of(d.unit, d.floor, d.at)) for d in plan.doors),
        beds=tuple(replace(b, unit=of(b.unit, b.floor, b.at)) for b in plan.beds),
        outlets=tuple(replace(o, unit=of(o.unit, o.floor, o.at)) for o in plan.outlets),
    )


def _in_order(plan: Plan, units: dict[str, Unit]) -> Plan:
    """Return the plan with units by their lowest floor, as every reader gives them."""

    def lowest(unit: Unit) -> int:
        return min(map(plan.level_of, unit.parts))

    return replace(plan, units={unit.id: unit for unit in sorted(units.values(), key=lowest)})

"""The sheet that layouts draw on, and a row of units along a hallway."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from math import sqrt
from typing import TypeVar

from shapely import Point, Polygon, transform
from shapely.affinity import translate

from spread.plan.drawing.listed import Stack
from spread.plan.model import Door, Shaft, Shape, Space

# Sizes in metres. Common practice, no source, except where a line says otherwise.
WALL = 0.2
DEFAULT_AREA = 48.0  # m2: 6.4 m by 7.5 m, a small flat
HALLWAY_WIDTH = 1.8
WALKWAY_WIDTH = 1.5
STAIR = (2.7, 5.4)
LIFT = (2.1, 2.2)
LIFT_FROM = 5  # floors: fewer are walked up
NARROWEST = 3.2
RISER = (0.6, 1.8)  # from the hallway wall, where bathrooms and kitchens lie
DOOR_FROM_RISER = 1.3
_S = TypeVar("_S", bound=Shape | Point)
_SHIFT = 0.08  # a wall moves by this share of a unit at most, so that stacks still stand on one another
_WANTS_MORE = 1.3
_SNAP = 1.0


def box(x0: float, y0: float, x1: float, y1: float) -> Polygon:
    """Return a rectangle between two corners, in any order."""
    (left, right), (low, high) = sorted((x0, x1)), sorted((y0, y1))
    return Polygon([(left, low), (right, low), (right, high), (left, high)])


def without(outline: Polygon, chase: Polygon) -> Polygon:
    """Return an outline less a riser inside it, which never cuts it in two."""
    rest = outline.difference(chase)
    return rest if isinstance(rest, Polygon) else outline


def depth_for(stacks: Sequence[Stack], default_area: float = DEFAULT_AREA) -> float:
    """Return the depth of a row from hallway to outside wall, in metres, from its middle unit."""
    areas = sorted(stack.area(default_area) for stack in stacks)
    return min(max(sqrt(1.17 * areas[len(areas) // 2]), 5.5), 11.0)


@dataclass
class Sheet:
    """What has been drawn so far, in local metres."""

    units: dict[str, tuple[Stack, str, Polygon]] = field(default_factory=dict)
    doors: list[Door] = field(default_factory=list)
    halls: list[Space] = field(default_factory=list)
    shafts: list[Shaft] = field(default_factory=list)

    def unit(self, stack: Stack, floor: str, outline: Polygon, door: Point) -> None:
        """Draw the unit of ``stack`` on ``floor`` with its entry door."""
        unit = stack.units[floor].unit
        self.units[unit] = (stack, floor, outline)
        self.doors.append(Door(f"door {unit}", unit, floor, door))

    def hallway(self, name: str, floors: Sequence[str], outline: Polygon, stacks: Sequence[Stack]) -> None:
        """Draw the hallway of ``stacks`` on every floor; a common room where it has no door."""
        for floor in floors:
            kind = "hallway" if any(floor in stack.units for stack in stacks) else "common"
            self.halls.append(Space(f"{name}, floor {floor}", kind, floor, outline))

    def stair(self, name: str, floors: Sequence[str], outline: Polygon) -> None:
        """Draw a stair or a lift through ``floors``."""
        self.shafts.append(Shaft(name, "stair", tuple(floors), outline))

    def riser(self, stacks: Sequence[Stack], floors: Sequence[str], outline: Polygon) -> None:
        """Draw a riser from the lowest to the highest unit of the stacks it serves.

        One that would serve a single unit joins nothing and is left out.
        """
        if sum(len(stack.units) for stack in stacks) < 2:
            return
        at = [i for i, floor in enumerate(floors) if any(floor in stack.units for stack in stacks)]
        name = "riser " + " + ".join(stack.name for stack in stacks)
        self.shafts.append(Shaft(name, "riser", tuple(floors[min(at) : max(at) + 1]), outline))

    def span(self) -> tuple[float, float]:
        """Return the westmost and eastmost x of everything drawn."""
        outlines: list[Shape] = [outline for _, _, outline in self.units.values()]
        outlines += [hall.outline for hall in self.halls] + [shaft.outline for shaft in self.shafts]
        return min(o.bounds[0] for o in outlines), max(o.bounds[2] for o in outlines)

    def moved(self, dx: float) -> Sheet:
        """Return the sheet moved east by ``dx`` metres, with coordinates on whole millimetres."""

        def at(shape: _S) -> _S:
            moved: _S = transform(translate(shape, dx), lambda xy: xy.round(3))
            return moved

        return Sheet(
            {unit: (stack, floor, at(outline)) for unit, (stack, floor, outline) in self.units.items()},
            [Door(d.id, d.unit, d.floor, at(d.at)) for d in self.doors],
            [Space(h.id, h.kind, h.floor, at(h.outline)) for h in self.halls],
            [Shaft(s.id, s.kind, s.floors, at(s.outline)) for s in self.shafts],
        )


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a row lies: ``u`` metres along the hallway, ``v`` metres away from it.

    ``along`` and ``away`` are unit vectors at right angles.
    """

    origin: tuple[float, float]
    along: tuple[float, float]
    away: tuple[float, float]

    def point(self, u: float, v: float) -> Point:
        """Return the place ``u`` along and ``v`` away."""
        return Point(
            self.origin[0] + u * self.along[0] + v * self.away[0],
            self.origin[1] + u * self.along[1] + v * self.away[1],
        )

    def box(self, u0: float, v0: float, u1: float, v1: float) -> Polygon:
        """Return the rectangle between two places."""
        one, two = self.point(u0, v0), self.point(u1, v1)
        return box(one.x, one.y, two.x, two.y)


@dataclass(frozen=True, slots=True)
class Row:
    """Stacks side by side along a hallway, the first at ``u = 0``.

    ``stacks``, ``widths``: from first to last; widths in metres without walls. ``depth``: metres from the
    hallway to the outside. ``frame``: where the row lies. ``wet``: indexes of the stacks with a riser in the
    wall after them. ``doors_from``, ``doors_to``: the stretch of ``u`` along which the hallway runs.
    """

    stacks: Sequence[Stack]
    widths: Sequence[float]
    depth: float
    frame: Frame
    wet: Collection[int]
    doors_from: float = 0.0
    doors_to: float = float("inf")

    def slots(self) -> list[tuple[float, float]]:
        """Return where each stack begins and ends along the hallway."""
        slots, u = [], 0.0
        for width in self.widths:
            slots.append((u, u + width))
            u += width + WALL
        return slots

    def riser(self, index: int) -> Polygon:
        """Return the outline of the riser in the wall after a stack."""
        end = self.slots()[index][1]
        return self.frame.box(end, RISER[0], end + WALL, RISER[1])

    def own_riser(self, index: int) -> Polygon:
        """Return the outline of a riser that serves one stack only, inside its hallway wall."""
        end = self.slots()[index][1]
        return self.frame.box(end - 1.5, 0.0, end - 0.6, 0.4)

    def extents(self, floor: str) -> dict[int, tuple[float, float]]:
        """Return where each unit of a floor begins and ends.

        Dry walls move a little with the areas given; a unit that is listed as much larger than its
        stack takes the place of a neighbour that this floor does not have.
        """
        ends = {i: slot for i, slot in enumerate(self.slots()) if floor in self.stacks[i].units}
        want = {i: (self.stacks[i].units[floor].area or 0.0) / self.depth or self.widths[i] for i in ends}
        for i in sorted(ends):
            if i + 1 in ends and i not in self.wet:
                most = _SHIFT * min(self.widths[i], self.widths[i + 1])
                move = (want[i] - self.widths[i] - want[i + 1] + self.widths[i + 1]) / 2
                move = min(max(move, -most), most)
                ends[i] = (ends[i][0], ends[i][1] + move)
                ends[i + 1] = (ends[i + 1][0] + move, ends[i + 1][1])
        free = set(range(len(self.stacks))) - set(ends)
        for i in sorted(ends):
            for j in (i + 1, i - 1):
                low, high = ends[i]
                if j not in free or want[i] < _WANTS_MORE * (high - low):
                    continue
                free.remove(j)
                begin, end = self.slots()[j]
                if j > i:
                    ends[i] = (low, end if low + want[i] > end - _SNAP else low + want[i])
                else:
                    ends[i] = (begin if high - want[i] < begin + _SNAP else high - want[i], high)
        return ends

    def door(self, index: int) -> float:
        """Return where along the hallway a stack has its doors: beside its riser."""
        low, high = self.slots()[index]
        u = high - DOOR_FROM_RISER if index in self.wet else low + DOOR_FROM_RISER
        return min(max(u, max(low, self.doors_from) + 0.6), min(high, self.doors_to) - 0.6)

    def draw(self, sheet: Sheet, floors: Sequence[str], alone: Collection[int]) -> None:
        """Draw the units of every floor; ``alone`` are the stacks that have a riser of their own."""
        served = [i for i in alone if len(self.stacks[i].units) > 1]
        inside = [self.own_riser(i) for i in served] + [self.riser(i) for i in self.wet]
        for i in sorted(alone):
            sheet.riser([self.stacks[i]], floors, self.own_riser(i))
        for floor in floors:
            for i, (low, high) in self.extents(floor).items():
                outline = self.frame.box(low, 0.0, high, self.depth)
                for chase in inside:
                    if outline.intersection(chase).area > 0:
                        outline = without(outline, chase)
                sheet.unit(self.stacks[i], floor, outline, self.frame.point(self.door(i), 0.0))


def paired(count: int) -> tuple[set[int], set[int]]:
    """Return, for a row of ``count`` stacks, those with a riser after them and those left alone."""
    return set(range(0, count - 1, 2)), {count - 1} if count % 2 else set()

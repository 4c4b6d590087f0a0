"""Walk-ups: entries side by side along the street, two or four doors on each stair landing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import mean

from shapely import Point

from spread.plan.drawing.listed import Stack
from spread.plan.drawing.sheet import WALL, Sheet, box, depth_for, without

_AREA = 56.0  # m2 where the list gives none
_WELL = 2.8  # m: a stair of two flights and its walls
_FLIGHT = 4.9
_NARROWEST = 4.0
_FROM_LANDING = 1.0


@dataclass(frozen=True, slots=True)
class _Column:
    """The stacks on one side of a landing, the front (street) one first; at most two."""

    stacks: tuple[Stack, ...]
    west: float
    east: float
    landing_east: bool

    @property
    def landing(self) -> float:
        return self.east if self.landing_east else self.west

    def from_landing(self, metres: float) -> float:
        return self.landing + (-metres if self.landing_east else metres)


def _sides(stacks: Sequence[Stack], doors: int) -> tuple[tuple[Stack, ...], tuple[Stack, ...]]:
    """Return left and right of a landing; numbers run clockwise from the left front."""
    half = doors // 2
    left = tuple(stack for stack in stacks if stack.hand == "a")
    right = tuple(stack for stack in stacks if stack.hand == "b")
    if len(left) + len(right) < len(stacks) or max(len(left), len(right)) > half:
        cut = max(1, min(half, (len(stacks) + 1) // 2))
        left, right = tuple(stacks[:cut]), tuple(stacks[cut:])
    return left, right[::-1]


def walk_up_two(stacks: Sequence[Stack], floors: Sequence[str], label: str = "") -> Sheet:
    """Draw entries with two units a landing (see :func:`walk_up_four`)."""
    return _walk_up(2, stacks, floors, label)


def walk_up_four(stacks: Sequence[Stack], floors: Sequence[str], label: str = "") -> Sheet:
    """Draw entries with four units a landing, side by side; the street is to the south.

    ``stacks``: in their order along the street; four make an entry. ``floors``: floors that the stairs serve,
    lowest first. ``label``: put before the names of landings and stairs. Returns one block, its first unit at
    the origin.
    """
    return _walk_up(4, stacks, floors, label)


def _walk_up(doors: int, stacks: Sequence[Stack], floors: Sequence[str], label: str) -> Sheet:
    sheet = Sheet()
    depth = max(depth_for(stacks, _AREA), _FLIGHT + 2 * _FROM_LANDING)
    entries = [stacks[i : i + doors] for i in range(0, len(stacks), doors)]
    sides = [_sides(entry, doors) for entry in entries]
    rear = any(len(side) > 1 for both in sides for side in both)
    columns: list[_Column] = []
    x = 0.0
    for number, (entry, (left, right)) in enumerate(zip(entries, sides, strict=True), start=1):
        width = _width(left, depth)
        columns.append(_Column(left, x, x + width, True))
        x += width
        name = f"{label}stair {number}"
        sheet.stair(name, floors, box(x + WALL, 0.0, x + _WELL - WALL, _FLIGHT))
        landing = box(x, _FLIGHT, x + _WELL, 2 * depth + WALL if rear else depth)
        sheet.hallway(f"{label}landing {number}", floors, landing, entry)
        x += _WELL
        if right:
            width = _width(right, depth)
            columns.append(_Column(right, x, x + width, False))
            x += width
        x += WALL
    alone = []
    for column in columns:
        if len(column.stacks) == 2:
            _front_and_rear(sheet, column, floors, depth)
        else:
            alone.append(column)
    _single(sheet, alone, floors, depth)
    return sheet


def _width(side: Sequence[Stack], depth: float) -> float:
    return max(mean(stack.area(_AREA) for stack in side) / depth, _NARROWEST)


def _front_and_rear(sheet: Sheet, column: _Column, floors: Sequence[str], depth: float) -> None:
    """Draw two units back to back, a riser in the wall between them, both doors on the landing."""
    front, rear = column.stacks
    share = front.area(_AREA) / (front.area(_AREA) + rear.area(_AREA))
    split = max(2 * depth * share, _FLIGHT + 2 * _FROM_LANDING - 0.4)
    top = 2 * depth + WALL
    split = min(split, top - WALL - 3.0)
    chase = box(column.from_landing(1.0), split, column.from_landing(2.2), split + WALL)
    for stack, low, high, door in (
        (front, 0.0, split, split - _FROM_LANDING),
        (rear, split + WALL, top, split + WALL + _FROM_LANDING),
    ):
        for floor in stack.units:
            outline = box(column.west, low, column.east, high)
            sheet.unit(stack, floor, outline, Point(column.landing, door))
    sheet.riser([front, rear], floors, chase)


def _single(sheet: Sheet, columns: Sequence[_Column], floors: Sequence[str], depth: float) -> None:
    """Draw units that run from street to rear; neighbours of two entries share the riser between them."""
    mates = {
        i
        for i, (one, two) in enumerate(pairwise(columns))
        if not one.landing_east and two.landing_east and two.west - one.east < 2 * WALL
    }
    for i, column in enumerate(columns):
        (stack,) = column.stacks
        outline = box(column.west, 0.0, column.east, depth)
        if i in mates:
            chase = box(column.east, 2.8, columns[i + 1].west, 4.0)
            sheet.riser([stack, *columns[i + 1].stacks], floors, chase)
        elif i - 1 not in mates and len(stack.units) > 1:
            chase = box(column.landing, 2.4, column.from_landing(0.4), 3.4)
            outline = without(outline, chase)
            sheet.riser([stack], floors, chase)
        for floor in stack.units:
            sheet.unit(stack, floor, outline, Point(column.landing, _FLIGHT + _FROM_LANDING))

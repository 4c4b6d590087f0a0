"""A tower: units around a ring-shaped lobby, stairs and lifts in the middle."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from shapely import Polygon

from spread.plan.drawing.listed import Stack
from spread.plan.drawing.sheet import LIFT, LIFT_FROM, WALL, Frame, Row, Sheet, box, depth_for

_RING = 1.5
_SMALLEST = 8.0  # m: the ring and, inside it, one stair beside two lifts
_ENTRY = 1.6  # m of ring that a corner unit needs for its door
_AREA, _AREA_OF_FOUR = 58.0, 75.0  # m2 where the list gives none; with one unit a face they are larger
_STAIR = 2.6
_FACES = ("north", "east", "south", "west")


def _shares(count: int) -> list[int]:
    """Return how many stacks face north, east, south and west: two east and west at most."""
    if count < 4:
        return [[1, 0, 0, 0], [1, 0, 1, 0], [1, 1, 1, 0]][count - 1]
    if count < 8:
        return [1 + (count > 4), 1 + (count > 6), 1 + (count > 5), 1]
    return [(count - 3) // 2, 2, (count - 4) // 2, 2]


def _faces(stacks: Sequence[Stack]) -> list[list[Stack]]:
    """Return the stacks of each face, clockwise; compass sides in the list decide where given."""
    faces: list[list[Stack]] = [[], [], [], []]
    if any(stack.side in _FACES for stack in stacks):
        for stack in stacks:
            if stack.side in _FACES:
                faces[_FACES.index(stack.side)].append(stack)
        for stack in stacks:
            if stack.side not in _FACES:
                min(faces, key=len).append(stack)
        return faces
    ring = sorted(stacks, key=lambda stack: stack.hand)  # stable: side a first, then side b
    begin = 0
    for face, share in zip(faces, _shares(len(ring)), strict=True):
        face.extend(ring[begin : begin + share])
        begin += share
    return faces


def _pairs(faces: Sequence[Sequence[Stack]]) -> tuple[list[set[int]], list[set[int]]]:
    """Return, by face, the stacks with a riser after them and those alone, pairing around the ring."""
    wet: list[set[int]] = [set(), set(), set(), set()]
    alone: list[set[int]] = [set(), set(), set(), set()]
    ring = [(f, i) for f, face in enumerate(faces) for i in range(len(face))]
    k = 0
    while k < len(ring):
        f, i = ring[k]
        if k + 1 < len(ring) and ring[k + 1] in {(f, i + 1), (f + 1, 0)}:
            wet[f].add(i)
            k += 2
        else:
            alone[f].add(i)
            k += 1
    return wet, alone


def core(stacks: Sequence[Stack], floors: Sequence[str], label: str = "") -> Sheet:
    """Draw units around a core.

    ``stacks``: in their order around the ring, clockwise from the north-west corner. ``floors``: floors that
    the stairs serve, lowest first. ``label``: put before the names of hallways and stairs. Returns one block
    around the origin.
    """
    sheet = Sheet()
    faces = _faces(stacks)
    default = _AREA if len(stacks) > 4 else _AREA_OF_FOUR
    middle = sorted(stack.area(default) for stack in stacks)[len(stacks) // 2]
    depth = depth_for(stacks, default)
    if max(len(face) for face in faces) == 1:
        depth = max((-_SMALLEST + sqrt(_SMALLEST**2 + 4 * middle)) / 2, 4.0)
    widths = [[max(stack.area(default) / depth, 3.2) for stack in face] for face in faces]
    for along in widths:
        if along:
            along[0] = max(along[0], depth + _ENTRY)

    def inner(one: int, other: int) -> float:
        needs = [sum(widths[f]) + WALL * len(widths[f]) - depth for f in (one, other)]
        return max(_SMALLEST, *needs)

    sx, sy = inner(0, 2), inner(1, 3)
    for f, along in enumerate(widths):
        if along:
            scale = ((sx, sy)[f % 2] + depth - WALL * len(along)) / sum(along)
            widths[f] = [width * scale for width in along]
    x, y = sx / 2, sy / 2
    frames = (
        Frame((-x - depth, y), (1.0, 0.0), (0.0, 1.0)),
        Frame((x, y + depth), (0.0, -1.0), (1.0, 0.0)),
        Frame((x + depth, -y), (-1.0, 0.0), (0.0, -1.0)),
        Frame((-x, -y - depth), (0.0, 1.0), (-1.0, 0.0)),
    )
    wet, alone = _pairs(faces)
    for f, face in enumerate(faces):
        row = Row(face, widths[f], depth, frames[f], wet[f], doors_from=depth)
        row.draw(sheet, floors, alone[f])
        for i in sorted(wet[f]):
            mate = face[i + 1] if i + 1 < len(face) else faces[f + 1][0]
            sheet.riser([face[i], mate], floors, row.riser(i))
    hole = box(-x + _RING, -y + _RING, x - _RING, y - _RING)
    lobby = Polygon(box(-x, -y, x, y).exterior, [hole.exterior])
    sheet.hallway(f"{label}lobby", floors, lobby, stacks)
    _draw_core(sheet, floors, label, hole.bounds)
    return sheet


def _draw_core(
    sheet: Sheet, floors: Sequence[str], label: str, hole: tuple[float, float, float, float]
) -> None:
    left, low, right, high = hole
    sheet.stair(f"{label}stair 1", floors, box(left, low, left + _STAIR, min(high, low + 5.4)))
    two_stairs = right - left >= 2 * _STAIR + 2 * LIFT[0] + 3 * WALL
    if two_stairs:
        sheet.stair(f"{label}stair 2", floors, box(right - _STAIR, low, right, min(high, low + 5.4)))
        centre = (left + right) / 2
        places = [(centre - LIFT[0] - WALL / 2, high - LIFT[1]), (centre + WALL / 2, high - LIFT[1])]
    else:
        places = [(right - LIFT[0], high - LIFT[1]), (right - LIFT[0], low)]
    for i, (x, y) in enumerate(places[: 2 if len(floors) >= LIFT_FROM else 1]):
        sheet.stair(f"{label}lift {i + 1}", floors, box(x, y, x + LIFT[0], y + LIFT[1]))

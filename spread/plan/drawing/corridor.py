"""Units along a hallway: on both sides of it, or along an outside walkway; stairs at the ends."""

from __future__ import annotations

from collections.abc import Sequence

from spread.plan.drawing.listed import Stack
from spread.plan.drawing.sheet import (
    DEFAULT_AREA,
    HALLWAY_WIDTH,
    LIFT,
    LIFT_FROM,
    NARROWEST,
    STAIR,
    WALKWAY_WIDTH,
    WALL,
    Frame,
    Row,
    Sheet,
    box,
    depth_for,
    paired,
)

_STRETCH = 0.08


def _widths(stacks: Sequence[Stack], depth: float) -> list[float]:
    return [max(stack.area(DEFAULT_AREA) / depth, NARROWEST) for stack in stacks]


def _length(widths: Sequence[float]) -> float:
    return sum(widths) + WALL * max(len(widths) - 1, 0)


def _draw_row(sheet: Sheet, row: Row, floors: Sequence[str]) -> None:
    wet, alone = row.wet, paired(len(row.stacks))[1]
    row.draw(sheet, floors, alone)
    for i in sorted(wet):
        sheet.riser(row.stacks[i : i + 2], floors, row.riser(i))


def sides(stacks: Sequence[Stack]) -> tuple[list[Stack], list[Stack]]:
    """Return the stacks of the two sides of a hallway.

    The list's own side comes first, then odd and even numbers; where that leaves one side empty,
    every other stack changes sides.
    """
    first = [s for s in stacks if (s.hand or ("a" if s.number % 2 else "b")) == "a"]
    second = [s for s in stacks if s not in first]
    if len(stacks) > 1 and not (first and second) and not any(s.hand for s in stacks):
        return list(stacks[0::2]), list(stacks[1::2])
    return first, second


def double_loaded(stacks: Sequence[Stack], floors: Sequence[str], label: str = "") -> Sheet:
    """Draw a hallway with units on both sides.

    ``stacks``: in their order along the hallway. ``floors``: floors that the stairs serve, lowest first.
    ``label``: put before the names of hallways and stairs. Returns one block, the hallway along x.
    """
    sheet = Sheet()
    depth, half = depth_for(stacks), HALLWAY_WIDTH / 2
    rows = sides(stacks)
    widths = [_widths(row, depth) for row in rows]
    lengths = [_length(each) for each in widths]
    long, short = (0, 1) if lengths[0] >= lengths[1] else (1, 0)
    spare = lengths[long] - lengths[short]
    if rows[short] and 0 < spare < _STRETCH * lengths[long]:
        scale = 1 + spare / sum(widths[short])
        widths[short] = [width * scale for width in widths[short]]
        spare = 0.0
    for stacks_here, width, sign in zip(rows, widths, (1.0, -1.0), strict=True):
        frame = Frame((0.0, sign * half), (1.0, 0.0), (0.0, sign))
        _draw_row(sheet, Row(stacks_here, width, depth, frame, paired(len(stacks_here))[0]), floors)

    lift = len(floors) >= LIFT_FROM
    end, sign = lengths[long], (1.0 if short == 0 else -1.0)
    room = spare - WALL  # what the shorter side leaves free at the east end
    if rows[short] and room >= STAIR[0]:
        east = end
        top = min(STAIR[1], depth)
        sheet.stair(f"{label}stair 2", floors, box(end - STAIR[0], sign * half, end, sign * (half + top)))
        if lift and room >= STAIR[0] + WALL + LIFT[0]:
            x = end - STAIR[0] - WALL
            sheet.stair(f"{label}lift", floors, box(x - LIFT[0], sign * half, x, sign * (half + LIFT[1])))
            lift = False
    else:
        east = end + WALL
        sheet.stair(f"{label}stair 2", floors, box(east, -STAIR[1] / 2, east + STAIR[0], STAIR[1] / 2))
    west = -WALL - (LIFT[0] + WALL if lift else 0.0)
    if lift:
        sheet.stair(
            f"{label}lift", floors, box(west + WALL / 2, half, west + WALL / 2 + LIFT[0], half + LIFT[1])
        )
    sheet.stair(f"{label}stair 1", floors, box(west - STAIR[0], -STAIR[1] / 2, west, STAIR[1] / 2))
    sheet.hallway(f"{label}hallway", floors, box(west, -half, east, half), stacks)
    return sheet


def single_loaded(stacks: Sequence[Stack], floors: Sequence[str], label: str = "") -> Sheet:
    """Draw units in one row along an outside walkway, a stair at each end (see :func:`double_loaded`)."""
    sheet = Sheet()
    depth = depth_for(stacks)
    widths = _widths(stacks, depth)
    end = _length(widths)
    frame = Frame((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))
    _draw_row(sheet, Row(stacks, widths, depth, frame, paired(len(stacks))[0]), floors)
    lift = len(floors) >= LIFT_FROM
    west, east = -WALL - (LIFT[0] + WALL if lift else 0.0), end + WALL
    walkway = box(west, -WALKWAY_WIDTH, east, 0.0)
    if lift:
        x = west + WALL / 2
        sheet.stair(f"{label}lift", floors, box(x, 0.0, x + LIFT[0], LIFT[1]))
    low = -WALKWAY_WIDTH
    sheet.stair(f"{label}stair 1", floors, box(west - STAIR[0], low, west, low + STAIR[1]))
    sheet.stair(f"{label}stair 2", floors, box(east, low, east + STAIR[0], low + STAIR[1]))
    sheet.hallway(f"{label}walkway", floors, walkway, stacks)
    return sheet

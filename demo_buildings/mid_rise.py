"""Ostrel Court: five storeys, an L of two hallways, 88 units of different sizes. Drawn in metres."""

from __future__ import annotations

from shapely import Point, box

from spread.plan.model import Bed, Door, Outlet, Plan, Shaft, Space, Unit

NAME = "Ostrel Court"
FLOORS = ("1", "2", "3", "4", "5")
HALF = 0.9  # m: half the hallway's width
DEPTH = 8.0  # m from hallway to outside wall
WALL = 0.2
# Widths from the corner outwards; both rows of a wing end at the same gable.
SOUTH = (6.2, 7.4, 6.2, 7.4, 6.2)
NORTH = (6.2, 6.8, 6.2, 6.4)
WEST = (6.2, 7.4, 6.2, 6.6)
EAST = (5.4, 5.6, 5.8)
OUT = HALF + DEPTH
WIRED = "3"  # the floor whose outlets are drawn: enough to show them


def _slots(first: float, widths: tuple[float, ...]) -> list[tuple[float, float]]:
    slots = []
    for width in widths:
        slots.append((first, first + width))
        first += width + WALL
    return slots


def _stacks() -> dict[
    str, tuple[tuple[float, float, float, float], tuple[float, float], tuple[float, float]]
]:
    """Return outline, door and bed of every stack, by its two digits; odd outside the L, even inside."""
    stacks = {}
    south = _slots(HALF + WALL, SOUTH)
    west = _slots(-HALF + WALL, WEST)
    outer = [((a, -OUT, b, -HALF), (a + 1.2, -HALF), (b - 1.0, -OUT + 1.5)) for a, b in reversed(south)]
    outer.append(((-OUT, -OUT, HALF, -HALF), (0.0, -HALF), (-OUT + 2.0, -OUT + 1.5)))
    outer += [((-OUT, a, -HALF, b), (-HALF, b - 1.2), (-OUT + 1.5, a + 1.0)) for a, b in west]
    north = _slots(OUT + WALL, NORTH)
    east = _slots(OUT + WALL, EAST)
    inner = [((a, HALF, b, OUT), (b - 1.2, HALF), (a + 1.0, OUT - 1.5)) for a, b in reversed(north)]
    inner.append(((HALF, HALF, OUT, OUT), (OUT - 1.2, HALF), (OUT - 1.5, OUT - 2.5)))
    inner += [((HALF, a, OUT, b), (HALF, a + 1.2), (OUT - 1.5, b - 2.6)) for a, b in east]
    for number, stack in enumerate(outer):
        stacks[f"{2 * number + 1:02d}"] = stack
    for number, stack in enumerate(inner):
        stacks[f"{2 * number + 2:02d}"] = stack
    return stacks


def _risers() -> list[tuple[str, tuple[float, float, float, float]]]:
    """Return the risers between back-to-back units, in the walls near the hallway."""
    risers = []
    for name, slots, low, high in (
        ("south", _slots(HALF + WALL, SOUTH), -HALF - 1.9, -HALF - 0.1),
        ("north", _slots(OUT + WALL, NORTH), HALF + 0.1, HALF + 1.9),
    ):
        for k in range(0, len(slots) - 1, 2):
            x = slots[k][1]
            risers.append((f"riser {name} {k // 2 + 1}", (x, low, x + WALL, high)))
    for name, slots, low, high in (
        ("west", _slots(-HALF + WALL, WEST), -HALF - 1.9, -HALF - 0.1),
        ("east", _slots(OUT + WALL, EAST), HALF + 0.1, HALF + 1.9),
    ):
        for k in range(0, len(slots) - 1, 2):
            y = slots[k][1]
            risers.append((f"riser {name} {k // 2 + 1}", (low, y, high, y + WALL)))
    risers.append(("riser corner", (OUT, HALF + 2.0, OUT + WALL, HALF + 3.8)))
    return risers


def _outlets(
    unit: str, floor: str, outline: tuple[float, float, float, float], bed: tuple[float, float]
) -> list[Outlet]:
    """Return three outlets: on the two walls nearest to the bed, a little beside it, and across the room."""
    (x0, y0, x1, y1), (x, y) = outline, bed
    side, across = (x0, x1) if x - x0 < x1 - x else (x1, x0)
    head = y0 if y - y0 < y1 - y else y1
    places = ((side, y + 0.6), (x - 0.7, head), (across, (y0 + y1) / 2))
    return [Outlet(f"outlet {unit}-{k}", unit, floor, Point(at)) for k, at in enumerate(places, start=1)]


def draw() -> Plan:
    """Return the drawn plan: a laundry on the ground floor, two flats made one on the top floor."""
    stacks = _stacks()
    gable_x = _slots(HALF + WALL, SOUTH)[-1][1] + WALL
    gable_y = _slots(-HALF + WALL, WEST)[-1][1] + WALL
    units: dict[str, Unit] = {}
    doors, halls, beds, outlets = [], [], [], []
    commons: list[Space] = []
    wing_a = box(-HALF, -HALF, gable_x, HALF)
    hallway = wing_a.union(box(-HALF, -HALF, HALF, gable_y))
    for floor in FLOORS:
        halls.append(Space(f"hallway {floor}", "hallway", floor, hallway))
        for code, (outline, door, bed) in stacks.items():
            x0, y0, x1, y1 = outline
            unit = floor + code
            if floor == "1" and code == "08":
                commons.append(Space("laundry", "common", floor, box(*outline)))
                continue
            if floor == "5" and code == "05":
                continue
            if floor == "5" and code == "07":  # with 505's rooms: the large flat of the top floor
                x1 = stacks["05"][0][2]
            units[unit] = Unit(unit, {floor: box(x0, y0, x1, y1)}, stack=code)
            doors.append(Door(f"door {unit}", unit, floor, Point(door)))
            if int(unit) % 3 == 0:
                beds.append(Bed(f"bed {unit}", unit, floor, Point(bed)))
                outlets += _outlets(unit, floor, (x0, y0, x1, y1), bed) if floor == WIRED else []
    shafts = [Shaft(name, "riser", FLOORS, box(*outline)) for name, outline in _risers()]
    shafts.append(Shaft("stair east", "stair", FLOORS, box(gable_x, -1.35, gable_x + 2.7, 1.35)))
    shafts.append(Shaft("stair north", "stair", FLOORS, box(-1.35, gable_y, 1.35, gable_y + 2.7)))
    return Plan(
        NAME,
        FLOORS,
        units,
        tuple(halls),
        tuple(commons),
        tuple(doors),
        tuple(shafts),
        tuple(beds),
        tuple(outlets),
    )

"""Small plans for the contact tests, drawn by hand."""

from __future__ import annotations

import numpy as np
from shapely import Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from spread.plan.model import Bed, Door, Outlet, Plan, Shaft, Space, Unit


def plan_of(
    units, *, floors=("1",), hallways=(), commons=(), doors=(), shafts=(), beds=(), outlets=(), height=2.8
) -> Plan:
    """Make a plan: ``units`` maps an id to an outline on the first floor or to outlines by floor."""
    parts = {
        name: shape if isinstance(shape, dict) else {floors[0]: shape} for name, shape in dict(units).items()
    }
    return Plan(
        name="test",
        floors=tuple(floors),
        units={name: Unit(name, shapes) for name, shapes in parts.items()},
        hallways=tuple(Space(f"H{k}", "hallway", f, s) for k, (f, s) in enumerate(hallways)),
        commons=tuple(Space(f"C{k}", "common", f, s) for k, (f, s) in enumerate(commons)),
        doors=tuple(Door(f"D{k}", u, f, Point(p)) for k, (u, f, p) in enumerate(doors)),
        shafts=tuple(shafts),
        beds=tuple(Bed(f"B{k}", u, f, Point(p)) for k, (u, f, p) in enumerate(beds)),
        outlets=tuple(Outlet(f"O{k}", u, f, Point(p)) for k, (u, f, p) in enumerate(outlets)),
        storey_height=height,
    )


def riser(name, floors, outline) -> Shaft:
    return Shaft(name, "riser", tuple(floors), outline)


def stair(name, floors, outline) -> Shaft:
    return Shaft(name, "stair", tuple(floors), outline)


def corridor_building(floors: int, a_side: int, *, width=7.0, depth=8.0, hall=1.8, wall=0.2) -> Plan:
    """Draw a double-loaded corridor, ``a_side`` units a side, odd codes south, stairs at both ends."""
    names = tuple(str(k + 1) for k in range(floors))
    units, hallways, doors = {}, [], []
    length = a_side * width
    for name in names:
        for k in range(a_side):
            left, right = k * width, (k + 1) * width - wall
            middle = (left + right) / 2
            south, north = f"{name}{2 * k + 1:02d}", f"{name}{2 * k + 2:02d}"
            units[south] = {name: box(left, -depth, right, 0)}
            units[north] = {name: box(left, hall, right, hall + depth)}
            doors += [(south, name, (middle, 0)), (north, name, (middle, hall))]
        hallways.append((name, box(0, 0, length, hall)))
    ends = [stair("S1", names, box(-3, 0, 0, hall)), stair("S2", names, box(length, 0, length + 3, hall))]
    return plan_of(units, floors=names, hallways=hallways, doors=doors, shafts=ends)


def moved(plan: Plan, angle: float, dx: float, dy: float) -> Plan:
    """Return the same plan turned by ``angle`` degrees about the origin and shifted."""

    def move(shape: BaseGeometry) -> BaseGeometry:
        return affinity.translate(affinity.rotate(shape, angle, origin=(0, 0)), dx, dy)

    return Plan(
        name=plan.name,
        floors=plan.floors,
        units={
            u.id: Unit(u.id, {f: move(s) for f, s in u.parts.items()}, u.stack) for u in plan.units.values()
        },
        hallways=tuple(Space(s.id, s.kind, s.floor, move(s.outline)) for s in plan.hallways),
        commons=tuple(Space(s.id, s.kind, s.floor, move(s.outline)) for s in plan.commons),
        doors=tuple(Door(d.id, d.unit, d.floor, move(d.at)) for d in plan.doors),
        shafts=tuple(Shaft(s.id, s.kind, s.floors, move(s.outline)) for s in plan.shafts),
        beds=tuple(Bed(b.id, b.unit, b.floor, move(b.at)) for b in plan.beds),
        outlets=tuple(Outlet(o.id, o.unit, o.floor, move(o.at)) for o in plan.outlets),
        storey_height=plan.storey_height,
    )


def cut_rectangles(
    rng: np.random.Generator, count: int, size: float = 40.0, least: float = 1.0
) -> list[Polygon]:
    """Cut a square into rectangles without gaps: ``count`` random cuts of the largest, whole metres."""
    pieces = [(0.0, 0.0, size, size)]
    for _ in range(count):
        pieces.sort(key=lambda p: (p[2] - p[0]) * (p[3] - p[1]))
        x0, y0, x1, y1 = pieces.pop()
        share = rng.uniform(0.3, 0.7)
        if x1 - x0 > y1 - y0:
            cut = round(x0 + share * (x1 - x0))
            pieces += [(x0, y0, cut, y1), (cut, y0, x1, y1)]
        else:
            cut = round(y0 + share * (y1 - y0))
            pieces += [(x0, y0, x1, cut), (x0, cut, x1, y1)]
    return [box(*p) for p in pieces if min(p[2] - p[0], p[3] - p[1]) >= least]

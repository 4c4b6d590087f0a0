"""The floor as the editor shows it: what can be taken hold of, and all that stands in it by name."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from shapely import MultiPolygon

from dashboard.setup.drawing import Check, floor_drawing, handle
from spread.plan.facing import walls_of
from spread.plan.model import Plan, Shape
from spread.plan.svg import frame_of


def whole_drawing(plan: Plan, floor: str, checks: tuple[Check, ...]) -> str:
    """Return a floor as SVG in metres with all that can be taken hold of, as units, walls and rooms."""
    _, low, _, high = frame_of(plan)
    flip = low + high
    under = "".join((*_units(plan, floor, flip), *_rooms(plan, floor, flip)))
    svg = floor_drawing(plan, floor, checks)
    first = svg.index('<g class="grip') if '<g class="grip' in svg else svg.index("</svg>")
    over = "".join((*_stairs(plan, floor, flip), *_beds(plan, floor, flip)))
    svg = svg[:first] + under + svg[first:].removesuffix("</svg>") + over + "</svg>"
    return svg.replace("<svg ", f'<svg data-flip="{flip:.4f}" ', 1)


def _path(shape: Shape, flip: float) -> str:
    pieces = shape.geoms if isinstance(shape, MultiPolygon) else (shape,)
    rings = [ring for one in pieces for ring in (one.exterior, *one.interiors)]
    drawn = ("L".join(f"{x:.2f},{flip - y:.2f}" for x, y in ring.coords) for ring in rings)
    return "".join(f"M{points}Z" for points in drawn)


def _units(plan: Plan, floor: str, flip: float) -> Iterator[str]:
    for unit in plan.on_floor(floor):
        shape = f'<path class="shown" fill-rule="evenodd" d="{_path(unit.parts[floor], flip)}"/>'
        yield handle("unit", f"Unit {unit.id}", {"unit": unit.id}, shape, stop=False)


def _rooms(plan: Plan, floor: str, flip: float) -> Iterator[str]:
    for space in (*plan.hallways, *plan.commons):
        if space.floor == floor:
            shape = f'<path class="shown" fill-rule="evenodd" d="{_path(space.outline, flip)}"/>'
            word = "Hallway" if space.kind == "hallway" else "Room"
            yield handle("room", f"{word} {space.id}", {"room": space.id}, shape, stop=False)


def _stairs(plan: Plan, floor: str, flip: float) -> Iterator[str]:
    for one in plan.stairs:
        if floor in one.floors:
            shape = f'<path class="shown" d="{_path(one.outline, flip)}"/>'
            data = {"stair": one.id, "kind": one.kind}
            yield handle("stair", f"{one.kind.capitalize()} {one.id}", data, shape, stop=False)


def _beds(plan: Plan, floor: str, flip: float) -> Iterator[str]:
    for kind, things in (("bed", plan.beds), ("outlet", plan.outlets)):
        for one in things:
            if one.floor == floor:
                at = f'cx="{one.at.x:.2f}" cy="{flip - one.at.y:.2f}"'
                data = {"thing": one.id, "kind": kind}
                label = f"{kind.capitalize()} {one.id} of {one.unit}"
                yield handle("thing", label, data, f'<circle class="shown" {at} r="0.35"/>', stop=False)


def standing(plan: Plan) -> dict[str, Any]:
    """Return by name what stands in a plan: the keyboard's way to everything that the drawing shows."""
    walls: dict[tuple[str, str], list[str]] = {}
    for floor in plan.floors:
        for wall in walls_of(plan, floor):
            walls.setdefault((wall.a, floor), []).append(wall.b)
            walls.setdefault((wall.b, floor), []).append(wall.a)
    return {
        "units": [
            {
                "id": unit.id,
                "floors": list(unit.parts),
                "walls": {floor: sorted(walls.get((unit.id, floor), [])) for floor in unit.parts},
                "things": [
                    {"kind": kind, "id": one.id, "floor": one.floor}
                    for kind, things in (("door", plan.doors), ("bed", plan.beds), ("outlet", plan.outlets))
                    for one in things
                    if one.unit == unit.id
                ],
            }
            for unit in plan.units.values()
        ],
        "rooms": [
            {"id": one.id, "kind": one.kind, "floor": one.floor} for one in (*plan.hallways, *plan.commons)
        ],
        "shafts": [{"id": one.id, "kind": one.kind, "floors": list(one.floors)} for one in plan.shafts],
    }

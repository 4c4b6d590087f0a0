"""The plan of the set-up page: the drawing, what can be taken hold of in it, and its checks in place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from spread.errors import Problem
from spread.plan.checks import check_plan
from spread.plan.facing import walls_of
from spread.plan.model import Plan
from spread.plan.places import Place, place_of
from spread.plan.svg import frame_of, plan_svg

_CROWDED = 1.6  # metres between two marks that would lie on one another


@dataclass(frozen=True, slots=True)
class Check:
    """A numbered check: its words, whether it stops the building, and where it lies."""

    number: int
    words: str
    stops: bool
    place: Place | None


def numbered_checks(plan: Plan) -> tuple[Check, ...]:
    """Return every check of a plan with a number, those that stop it first."""
    errors, warnings = check_plan(plan)
    every: list[tuple[Problem, bool]] = [(p, True) for p in errors] + [(p, False) for p in warnings]
    return tuple(
        Check(number, str(problem), stops, place_of(plan, problem))
        for number, (problem, stops) in enumerate(every, start=1)
    )


def floor_drawing(plan: Plan, floor: str, checks: Sequence[Check]) -> str:
    """Return a floor as SVG with handles on its walls, doors and risers and the checks where they lie."""
    _, low, _, high = frame_of(plan)
    flip = low + high
    over = "".join((*_walls(plan, floor, flip), *_doors(plan, floor, flip), *_risers(plan, floor, flip)))
    marks = "".join(_marks(floor, flip, checks))
    svg = plan_svg(plan, floor).replace('role="img"', 'role="group"', 1).rstrip()
    return svg.removesuffix("</svg>") + over + marks + "</svg>"


def handle(kind: str, label: str, data: dict[str, str], shape: str, *, stop: bool = True) -> str:
    """Return something of a drawing that can be taken hold of; ``stop``: whether the keyboard stops there."""
    own = " ".join(f'data-{name}="{escape(value)}"' for name, value in data.items())
    return (
        f'<g class="grip grip-{kind}" role="button" tabindex="{0 if stop else -1}" data-step="{kind}" {own} '
        f'aria-label="{escape(label)}">{shape}</g>'
    )


def _walls(plan: Plan, floor: str, flip: float) -> Iterator[str]:
    for wall in walls_of(plan, floor):
        (x0, y0), (x1, y1) = wall.at(0.0, wall.thick / 2), wall.at(wall.length, wall.thick / 2)
        ends = f'x1="{x0:.2f}" y1="{flip - y0:.2f}" x2="{x1:.2f}" y2="{flip - y1:.2f}"'
        shape = f'<line class="reach" {ends}/><line class="shown" {ends}/>'
        across = f"{wall.across[0]:.4f},{-wall.across[1]:.4f}"
        data = {"a": wall.a, "b": wall.b, "floor": floor, "across": across}
        yield handle("wall", f"Wall between {wall.a} and {wall.b}", data, shape)


def _doors(plan: Plan, floor: str, flip: float) -> Iterator[str]:
    for door in plan.doors:
        if door.floor == floor:
            at = f'cx="{door.at.x:.2f}" cy="{flip - door.at.y:.2f}"'
            shape = f'<circle class="reach" {at} r="0.7"/><circle class="shown" {at} r="0.4"/>'
            yield handle("door", f"Door of {door.unit}", {"door": door.id}, shape)


def _risers(plan: Plan, floor: str, flip: float) -> Iterator[str]:
    for riser in plan.risers:
        if floor in riser.floors:
            at = riser.outline.representative_point()
            where = f'x="{at.x - 0.45:.2f}" y="{flip - at.y - 0.45:.2f}" width="0.9" height="0.9"'
            shape = f'<rect class="shown" {where} rx="0.2"/>'
            yield handle("riser", f"Riser {riser.id}", {"riser": riser.id}, shape)


def _marks(floor: str, flip: float, checks: Sequence[Check]) -> Iterator[str]:
    taken: list[tuple[float, float]] = []
    for check in checks:
        at = check.place
        if at is None or at.floor != floor or at.x is None or at.y is None:
            continue
        x, y = at.x, flip - at.y + _CROWDED
        while any(abs(x - tx) < _CROWDED and abs(y - ty) < _CROWDED for tx, ty in taken):
            x += _CROWDED
        taken.append((x, y))
        kind = "stops" if check.stops else "warns"
        yield (
            f'<g class="check {kind}"><title>{escape(check.words)}</title>'
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.75"/>'
            f'<text x="{x:.2f}" y="{y + 0.33:.2f}" font-size="0.95" text-anchor="middle">'
            f"{check.number}</text></g>"
        )

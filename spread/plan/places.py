"""Where on the drawing a problem lies, found by the words that name the feature."""

from __future__ import annotations

import ast
import re
from collections.abc import Sequence
from dataclasses import dataclass

from spread.errors import Problem
from spread.plan.model import Bed, Door, Outlet, Plan, Shape

_NAMED = re.compile(
    r"(?P<kind>unit|door|bed|outlet|riser|stair|lift|hallway|common|floor) "
    r"(?P<id>'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\")"
    r"(?: on floor (?P<floor>'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\"))?"
)


@dataclass(frozen=True, slots=True)
class Place:
    """A floor, and metres on it; ``x`` and ``y`` are None for a floor as a whole."""

    floor: str
    x: float | None = None
    y: float | None = None


def place_of(plan: Plan, problem: Problem) -> Place | None:
    """Return where a problem of a plan lies.

    ``problem``: from :func:`spread.plan.checks.check_plan`. Returns None for what concerns the drawing as a
    whole.
    """
    found = _NAMED.match(problem.where)
    if found is None:
        return None
    name, floor = ast.literal_eval(found["id"]), found["floor"]
    floor = "" if floor is None else ast.literal_eval(floor)
    if found["kind"] == "floor":
        return Place(name) if name in plan.floors else None
    return _place(plan, found["kind"], name, floor)


def _place(plan: Plan, kind: str, name: str, floor: str) -> Place | None:
    if kind == "unit" and name in plan.units:
        parts = plan.units[name].parts
        floor = floor if floor in parts else next(iter(parts))
        return _middle(floor, parts[floor])
    things: dict[str, Sequence[Door | Bed | Outlet]] = {
        "door": plan.doors,
        "bed": plan.beds,
        "outlet": plan.outlets,
    }
    for thing in things.get(kind, ()):
        if thing.id == name:
            return Place(thing.floor, thing.at.x, thing.at.y)
    for shaft in plan.shafts:
        if shaft.kind == kind and shaft.id == name and shaft.floors:
            return _middle(floor if floor in shaft.floors else shaft.floors[0], shaft.outline)
    for space in (*plan.hallways, *plan.commons):
        if space.kind == kind and space.id == name and floor in ("", space.floor):
            return _middle(space.floor, space.outline)
    return None


def _middle(floor: str, shape: Shape) -> Place:
    if shape.is_empty or not shape.is_valid:
        return Place(floor)
    at = shape.representative_point()
    return Place(floor, at.x, at.y)

"""Which unit an outlet belongs to: found by where it is drawn, or named and checked against the drawing."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import shapely
from shapely import Point

from spread.errors import Problem
from spread.plan.model import Plan, Unit

EDGE = 0.1
"""Metres that an outlet may be drawn outside the outline of its unit: a slip of the pen, or half a thin wall
(judgement, no source)."""
_ALIKE = 0.001  # metres between two distances that are the same
_ROUNDED = 0.003  # metres; a written drawing holds millimetres, and what was read must be read again


def distances(units: Iterable[Unit], floor: str, x: float, y: float) -> list[tuple[float, str]]:
    """Return how far the units of a floor are from a place, nearest first; those of no outline are left out.

    ``x``, ``y``: metres of the plan. Returns pairs of (metres, unit id); 0 m for a unit that the place is in
    or on the edge of.
    """
    here = [unit for unit in units if floor in unit.parts]
    gaps = shapely.distance([unit.parts[floor] for unit in here], Point(x, y)).tolist() if here else []
    ids = (unit.id for unit in here)
    return sorted(gap for gap in zip(gaps, ids, strict=True) if not math.isnan(gap[0]))


def unit_of(units: Iterable[Unit], floor: str, x: float, y: float) -> tuple[str, str, str]:
    """Return the unit of an outlet that names none, or in its place what is wrong and what to do."""
    gaps = distances(units, floor, x, y)
    if not gaps or gaps[0][0] > EDGE + _ALIKE:
        return "", *_nowhere(gaps, floor)
    alike = [unit for gap, unit in gaps if gap <= gaps[0][0] + _ALIKE]
    if len(alike) > 1:
        what = f"it is as near to unit {alike[0]!r} as to unit {alike[1]!r}"
        return "", what, "set properties.unit to the one whose room it opens to"
    return alike[0], "", ""


def _nowhere(gaps: Sequence[tuple[float, str]], floor: str) -> tuple[str, str]:
    if not gaps:
        return f"it lies in no unit, and floor {floor!r} has none", "mend properties.floor"
    gap, unit = gaps[0]
    what = f"it lies in no unit; the nearest on floor {floor!r} is unit {unit!r}, {gap:.2f} m away"
    return what, "move it to a wall of the unit that it is in, or remove it"


def stray_outlets(plan: Plan) -> Iterator[Problem]:
    """Yield a sentence for each outlet that is not in or on the edge of the unit that it names."""
    for outlet in plan.outlets:
        own = float(plan.units[outlet.unit].parts[outlet.floor].distance(outlet.at))
        if not own > EDGE + _ROUNDED:  # not a number: the unit's outline is empty, which is said of the unit
            continue
        gaps = distances(plan.units.values(), outlet.floor, outlet.at.x, outlet.at.y)
        if gaps[0][0] > EDGE + _ALIKE:
            what, fix = _nowhere(gaps, outlet.floor)
            what += f" (it names {outlet.unit!r})"
        else:
            what = f"it names unit {outlet.unit!r}, {own:.2f} m away, but lies in unit {gaps[0][1]!r}"
            fix = "move it or name the unit that it is in"
        yield Problem(plan.source, f"outlet {outlet.id!r}", what, fix)

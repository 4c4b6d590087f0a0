"""The plan of a floor coloured by the chance of bed bugs, for paper: every unit has its figure in it too."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from spread.plan.model import Plan
from spread.plan.svg import plan_svg
from spread.report.document import Picture
from spread.words import ENGLISH, Voice

_BOX = re.compile(r'viewBox="\S+ \S+ (\S+) (\S+)"')
STEPS = (
    (0.0, "#ffffff", "below 6%"),
    (0.06, "#fdebd0", "6 to 10%"),
    (0.10, "#fbcf98", "10 to 25%"),
    (0.25, "#f4a963", "25 to 50%"),
    (0.50, "#e8854a", "50% and above"),
)
"""Lower bound, colour and words of each step. One hue from light to dark, which reads in any kind of colour
vision and in grey; dark letters keep a contrast above 4.5 on all of them (tested)."""
HERE = "#9ec9d9"
"""Colour of the one unit that a small plan points at."""


def where_picture(plan: Plan, unit: str, voice: Voice = ENGLISH) -> Picture:
    """Return the floor of a unit with that unit marked, small enough for a page with room to write."""
    floor = next(iter(plan.units[unit].parts))
    # A word in it as well, for print without colours; a key would be too small to read.
    title, here = voice.text("Floor {name}", name=floor), voice.text("here")
    svg = plan_svg(plan, floor, title=title, fills={unit: HERE}, notes={unit: here}, key=())
    told = voice.text("Plan of floor {floor} with unit {unit} marked.", floor=floor, unit=unit)
    return Picture(svg, told, width=fitting_width(svg, 0.75, 0.33))


def fitting_width(svg: str, widest: float, highest: float) -> float:
    """Return the width at which a drawing fits a width and a height, all as shares of the page's width."""
    match = _BOX.search(svg)
    wide, high = (float(match[1]), float(match[2])) if match else (1.0, 1.0)
    return min(widest, highest * wide / high)


def colour_of(chance: float) -> str:
    """Return the colour of a chance, as it is printed in the unit: in whole per cent."""
    return next(colour for least, colour, _ in reversed(STEPS) if round(chance, 2) >= least)


def floors_by_chance(plan: Plan, chances: Mapping[str, float]) -> Iterable[str]:
    """Return the floors of a plan, that with the highest expected number of infested units first."""
    total = {floor: sum(chances.get(unit.id, 0.0) for unit in plan.on_floor(floor)) for floor in plan.floors}
    return sorted(plan.floors, key=lambda floor: (-total[floor], plan.floors.index(floor)))


def sheet_of_floors(plan: Plan, floors: Sequence[str], chances: Mapping[str, float], columns: int) -> str:
    """Draw several floors beside each other, with one key under them.

    ``plan``, ``floors``: what to draw, in reading order. ``chances``: chance by unit, 0 to 1. ``columns``:
    Floors in a row.
    """
    maps = [
        plan_svg(
            plan,
            floor,
            title=f"Floor {floor}",
            fills={unit.id: colour_of(chances[unit.id]) for unit in plan.on_floor(floor)},
            notes={unit.id: ENGLISH.percent(chances[unit.id]) for unit in plan.on_floor(floor)},
            key=(),
        )
        for floor in floors
    ]
    match = _BOX.search(maps[0])
    wide, high = (float(match[1]), float(match[2])) if match else (1.0, 1.0)
    rows = -(-len(maps) // columns)
    parts = [
        _HEAD.sub(
            f'<svg x="{place % columns * wide:.2f}" y="{place // columns * high:.2f}" '
            f'width="{wide:.2f}" height="{high:.2f}" ',
            _SIZE.sub("", one, count=1),
            count=1,
        )
        for place, one in enumerate(maps)
    ]
    size = wide * columns / 60
    foot = rows * high + 2.2 * size
    for place, (_, colour, words) in enumerate(STEPS):
        x = (0.4 + place * 11.5) * size
        parts.append(
            f'<rect x="{x:.2f}" y="{rows * high + 0.5 * size:.2f}" width="{1.6 * size:.2f}" '
            f'height="{size:.2f}" fill="{colour}" stroke="#22313a" stroke-width="0.1"/>'
            f'<text x="{x + 2.0 * size:.2f}" y="{rows * high + 1.35 * size:.2f}" '
            f'font-size="{1.1 * size:.2f}">{words}</text>'
        )
    total = wide * columns
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {total:.2f} {foot:.2f}" '
        f'width="{total * 8:.0f}" height="{foot * 8:.0f}" font-family="system-ui, sans-serif" fill="#22313a">'
        f'<rect width="{total:.2f}" height="{foot:.2f}" fill="#ffffff"/>{"".join(parts)}</svg>'
    )


_SIZE = re.compile(r'width="\d+" height="\d+" (?=font-family)')
_HEAD = re.compile(r'<svg xmlns="http://www.w3.org/2000/svg" role="img" ')

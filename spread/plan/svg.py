"""One floor of a plan as a picture: plain SVG that needs nothing else, for documents and for looking."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon

from spread.plan.model import Door, Plan, Shaft, Shape

_INK, _SOFT, _LINE = "#22313a", "#5b6b73", "#7c8b92"
_PAPER, _UNIT, _HALL, _COMMON = "#ffffff", "#fbf8f2", "#dde7ea", "#e9e4d3"
_CORE, _STAIR, _RISER, _DOOR, _BED = "#eceeee", "#c3d0d4", "#8a4b2d", "#22313a", "#cfd8c9"
_MARGIN, _FOOT, _HEAD = 1.6, 3.6, 3.0
_KEY_WIDTH = 31.0
_PIXELS_PER_METRE = 16


def plan_svg(
    plan: Plan,
    floor: str,
    *,
    title: str = "",
    fills: Mapping[str, str] | None = None,
    notes: Mapping[str, str] | None = None,
    key: Sequence[tuple[str, str]] | None = None,
) -> str:
    """Draw one floor.

    ``title``: words over it; the plan's name and the floor if empty. ``fills``, ``notes``: colour and a line
    of text under the code by unit, for a map of something; a unit in neither is plain. ``key``: what the
    fills mean, as pairs of colour and words, in place of the key of a plain plan; none if there are no pairs.
    Returns an ``<svg>`` element with units and their codes, hallways, doors, risers, stairs and beds, a scale
    bar and a key. North is up; one user unit is one metre. All floors have the same frame. Raises ValueError
    when the plan has no such floor.
    """
    plan.level_of(floor)
    x0, y0, x1, y1 = frame_of(plan)
    wide, high = max(x1 - x0, _KEY_WIDTH) + 2 * _MARGIN, y1 - y0 + _HEAD + _FOOT
    title = title or f"{plan.name}, floor {floor}"
    marks = "\n".join(_marks(plan, floor, y1 + y0, fills or {}, notes or {}))
    if key is None:
        keys = _key(x0, y1 + 1.8)
    else:
        keys = _colours(x0, y1 + 1.8, max(x1 - x0, _KEY_WIDTH) / 40, key) if key else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(title)}" '
        f'viewBox="{x0 - _MARGIN:.2f} {y0 - _HEAD:.2f} {wide:.2f} {high:.2f}" '
        f'width="{wide * _PIXELS_PER_METRE:.0f}" height="{high * _PIXELS_PER_METRE:.0f}" '
        f'font-family="system-ui, sans-serif" fill="{_INK}">\n'
        f"<title>{escape(title)}</title>\n"
        f'<rect x="{x0 - _MARGIN:.2f}" y="{y0 - _HEAD:.2f}" width="{wide:.2f}" height="{high:.2f}" '
        f'fill="{_PAPER}"/>\n'
        f'<text x="{x0:.2f}" y="{y0 - 1.3:.2f}" font-size="1.2" font-weight="600">{escape(title)}</text>\n'
        f"{marks}\n{keys}\n</svg>\n"
    )


def frame_of(plan: Plan) -> tuple[float, float, float, float]:
    """Return the box around all floors: least x, least y, most x and most y, in metres.

    A plan without a shape has a box of one metre, so that there is something to draw on.
    """
    shapes: list[Shape | Point] = [part for unit in plan.units.values() for part in unit.parts.values()]
    shapes += [space.outline for space in (*plan.hallways, *plan.commons)]
    shapes += [shaft.outline for shaft in plan.shafts] + [door.at for door in plan.doors]
    if not shapes:
        return 0.0, 0.0, 1.0, 1.0
    x0, y0, x1, y1 = shapely.total_bounds(np.array(shapes, dtype=object)).tolist()
    return x0, y0, x1, y1


def _marks(
    plan: Plan, floor: str, flip: float, fills: Mapping[str, str], notes: Mapping[str, str]
) -> Iterator[str]:
    """Yield everything on the floor, lowest layer first; ``flip`` minus y is y on paper."""
    for space in (*plan.hallways, *plan.commons):
        if space.floor == floor:
            fill = _HALL if space.kind == "hallway" else _COMMON
            yield _path(space.outline, flip, f'fill="{fill}" stroke="{_LINE}" stroke-width="0.06"')
            yield from _cores(plan, floor, space.outline, flip)
    for shaft in plan.stairs:
        if floor in shaft.floors:
            yield from _stair(shaft, flip)
    units = plan.on_floor(floor)
    edge = f'stroke="{_INK}" stroke-width="0.14"'
    for unit in units:
        yield _path(unit.parts[floor], flip, f'fill="{fills.get(unit.id, _UNIT)}" {edge}')
    yield from _furniture(plan, floor, flip)
    for shaft in plan.risers:
        if floor in shaft.floors:
            style = f'fill="{_RISER}" stroke="{_RISER}" stroke-width="0.16" stroke-linejoin="round"'
            yield _path(shaft.outline, flip, style)
    for door in plan.doors:
        if door.floor == floor:
            yield _door(door, plan.units[door.unit].parts[floor], flip)
    for unit in units:
        yield _code(unit.id, unit.parts[floor], flip, notes.get(unit.id, ""))


def _furniture(plan: Plan, floor: str, flip: float) -> Iterator[str]:
    for bed in plan.beds:
        if bed.floor == floor:
            x, y = bed.at.x, flip - bed.at.y
            yield _rect(x - 0.7, y - 1.0, x + 0.7, y + 1.0, _BED, more='rx="0.15"')
            yield _rect(x - 0.55, y - 0.9, x + 0.55, y - 0.45, _PAPER, more='rx="0.1"')
    for outlet in plan.outlets:
        if outlet.floor == floor:
            yield _outlet(outlet.at.x, flip - outlet.at.y)


def _cores(plan: Plan, floor: str, hallway: Shape, flip: float) -> Iterator[str]:
    """Fill what a hallway goes round when a stair stands in it: a core, where a courtyard stays open."""
    for ring in (ring for one in _polygons(hallway) for ring in one.interiors):
        hole = Polygon(ring)
        if any(floor in stair.floors and hole.covers(stair.outline) for stair in plan.stairs):
            yield _path(hole, flip, f'fill="{_CORE}" stroke="{_LINE}" stroke-width="0.06"')


def _polygons(shape: Shape) -> tuple[Polygon, ...]:
    return tuple(shape.geoms) if isinstance(shape, MultiPolygon) else (shape,)


def _path(shape: Shape, flip: float, style: str) -> str:
    rings = [ring for one in _polygons(shape) for ring in (one.exterior, *one.interiors)]
    d = " ".join(
        "M" + " L".join(f"{x:.2f} {flip - y:.2f}" for x, y in shapely.get_coordinates(ring)[:-1]) + " Z"
        for ring in rings
    )
    return f'<path d="{d}" fill-rule="evenodd" {style}/>'


def _rect(x0: float, y0: float, x1: float, y1: float, fill: str, *, more: str = "") -> str:
    return (
        f'<rect x="{x0:.2f}" y="{y0:.2f}" width="{x1 - x0:.2f}" height="{y1 - y0:.2f}" '
        f'fill="{fill}" stroke="{_LINE}" stroke-width="0.06" {more}/>'
    )


def _line(x0: float, y0: float, x1: float, y1: float, width: float, *, colour: str = _SOFT) -> str:
    return (
        f'<line x1="{x0:.2f}" y1="{y0:.2f}" x2="{x1:.2f}" y2="{y1:.2f}" '
        f'stroke="{colour}" stroke-width="{width}"/>'
    )


def _stair(shaft: Shaft, flip: float) -> Iterator[str]:
    """Yield a stair with its treads, or a lift (known by its id) with a cross."""
    yield _path(shaft.outline, flip, f'fill="{_STAIR}" stroke="{_SOFT}" stroke-width="0.1"')
    x0, low, x1, high = shaft.outline.bounds
    y0, y1 = flip - high, flip - low
    if shaft.kind == "lift" or "lift" in shaft.id.casefold() or "elevator" in shaft.id.casefold():
        yield _line(x0, y0, x1, y1, 0.06)
        yield _line(x0, y1, x1, y0, 0.06)
        return
    upright = y1 - y0 >= x1 - x0
    begin, end = (y0, y1) if upright else (x0, x1)
    for step in np.arange(begin + 1.0, end - 0.9, 0.3).tolist():
        yield _line(x0, step, x1, step, 0.05) if upright else _line(step, y0, step, y1, 0.05)
    middle = (x0 + x1) / 2 if upright else (y0 + y1) / 2
    ends = (middle, begin + 1.0, middle, end - 1.0) if upright else (begin + 1.0, middle, end - 1.0, middle)
    yield _line(*ends, 0.12)


def _door(door: Door, outline: Shape, flip: float) -> str:
    """Draw an opening of 0.9 m along the wall nearest to the door."""
    coords = [shapely.get_coordinates(one.exterior) for one in _polygons(outline)]
    ends = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in coords])
    walls = shapely.linestrings(ends)
    (x0, y0), (x1, y1) = ends[int(np.argmin(shapely.distance(walls, door.at)))].tolist()
    length = float(np.hypot(x1 - x0, y1 - y0)) or 1.0
    dx, dy = 0.45 * (x1 - x0) / length, 0.45 * (y1 - y0) / length
    x, y = door.at.x, door.at.y
    ends_on_paper = (x - dx, flip - y + dy, x + dx, flip - y - dy)
    return _line(*ends_on_paper, 0.42, colour=_DOOR) + _line(*ends_on_paper, 0.24, colour=_PAPER)


def _outlet(x: float, y: float) -> str:
    """Draw an outlet: a disc with two slots."""
    style = f'fill="{_PAPER}" stroke="{_INK}" stroke-width="0.08"'
    slots = (_line(x + dx, y - 0.1, x + dx, y + 0.1, 0.08, colour=_INK) for dx in (-0.1, 0.1))
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.28" {style}/>' + "".join(slots)


def _code(code: str, outline: Shape, flip: float, note: str) -> str:
    largest = max(_polygons(outline), key=lambda one: one.area)
    at = largest.centroid
    if not largest.covers(at.buffer(0.8)):
        at = shapely.maximum_inscribed_circle(largest, tolerance=0.2).interpolate(0.0)
        at = Point(at.x, at.y)
    x0, _, x1, _ = largest.bounds
    size = min(1.5, 0.85 * (x1 - x0) / (0.62 * max(len(code), 1)))
    lift = 0.55 * size if note else 0.0
    text = (
        f'<text x="{at.x:.2f}" y="{flip - at.y + 0.35 * size - lift:.2f}" font-size="{size:.2f}" '
        f'text-anchor="middle">{escape(code)}</text>'
    )
    if note:
        text += (
            f'<text x="{at.x:.2f}" y="{flip - at.y + 0.9 * size:.2f}" font-size="{0.8 * size:.2f}" '
            f'text-anchor="middle" font-weight="600">{escape(note)}</text>'
        )
    return text


def _colours(x: float, y: float, size: float, key: Sequence[tuple[str, str]]) -> str:
    """Draw what the colours of a map mean, in letters of a size."""
    parts, at = [], x
    for fill, words in key:
        parts.append(_rect(at, y - 0.6 * size, at + 1.2 * size, y + 0.3 * size, fill))
        parts.append(
            f'<text x="{at + 1.5 * size:.2f}" y="{y + 0.2 * size:.2f}" font-size="{size:.2f}" '
            f'fill="{_INK}">{escape(words)}</text>'
        )
        at += (2.4 + 0.52 * len(words)) * size
    return "".join(parts)


def _key(x: float, y: float) -> str:
    """Draw a bar of 5 m and what the marks mean."""
    parts = [_line(x, y, x + 5.0, y, 0.12, colour=_INK), _line(x, y - 0.25, x, y + 0.25, 0.12, colour=_INK)]
    parts.append(_line(x + 5.0, y - 0.25, x + 5.0, y + 0.25, 0.12, colour=_INK))
    style = f'font-size="0.8" fill="{_SOFT}"'
    parts.append(f'<text x="{x + 5.5:.2f}" y="{y + 0.28:.2f}" {style}>5 m</text>')
    at = x + 8.6
    for fill, word, room in (
        (_HALL, "hallway", 5.5),
        (_STAIR, "stair, lift", 6.3),
        (_RISER, "riser", 4.1),
        ("", "door", 0.0),
    ):
        if fill:
            parts.append(_rect(at, y - 0.35, at + 0.8, y + 0.35, fill))
        else:
            parts += [
                _line(at, y, at + 0.8, y, 0.42, colour=_DOOR),
                _line(at, y, at + 0.8, y, 0.24, colour=_PAPER),
            ]
        parts.append(f'<text x="{at + 1.05:.2f}" y="{y + 0.28:.2f}" {style}>{word}</text>')
        at += room
    return "".join(parts)

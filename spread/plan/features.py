"""One GeoJSON feature to what it says: kind, id, floors and shape, or the sentences about it."""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from shapely.geometry.base import BaseGeometry

from spread.errors import Problem
from spread.plain import unseen
from spread.plan.geometries import GeometryError, read_geometry

KINDS = ("unit", "hallway", "door", "riser", "stair", "lift", "bed", "outlet", "common")
"""Words of ``properties.kind``."""

CONTACT = "contact"
"""A line between two units of our own export: contacts are measured from the drawing and never read."""

_SHAPES = {
    "unit": ("Polygon", "MultiPolygon"),
    "hallway": ("Polygon", "MultiPolygon"),
    "common": ("Polygon", "MultiPolygon"),
    "riser": ("Polygon", "MultiPolygon", "Point"),
    "stair": ("Polygon", "MultiPolygon", "Point"),
    "lift": ("Polygon", "MultiPolygon", "Point"),
    "door": ("Point", "LineString"),
    "bed": ("Point", "Polygon"),
    "outlet": ("Point",),
}
_OTHER_WORDS = {
    "apartment": "unit",
    "flat": "unit",
    "dwelling": "unit",
    "corridor": "hallway",
    "hall": "hallway",
    "landing": "hallway",
    "walkway": "hallway",
    "chase": "riser",
    "shaft": "riser",
    "stairs": "stair",
    "staircase": "stair",
    "elevator": "lift",
    "laundry": "common",
    "lobby": "common",
    "room": "common",
    "socket": "outlet",
    "receptacle": "outlet",
    "jack": "outlet",
}
_ON_ONE_FLOOR = {"door": "a door", "bed": "a bed", "outlet": "an outlet"}
OWN = ("kind", "id", "floor", "floors", "unit", "stack")
"""Properties that are read; those of a unit that are not are kept as its notes."""


@dataclass(frozen=True, slots=True)
class Feature:
    """What one feature says, with its geometry as drawn (degrees or metres).

    ``floors`` is empty where a door or bed leaves it to its unit; ``where`` names the feature
    in sentences; ``shape`` is None when the geometry could not be read.
    """

    where: str
    kind: str
    id: str
    floors: tuple[str, ...]
    shape: BaseGeometry | None
    unit: str = ""
    stack: str = ""
    notes: Mapping[str, str] = field(default_factory=dict)


def read_features(
    values: Sequence[Any], floors: Sequence[str], file: str
) -> tuple[list[Feature], list[Problem]]:
    """Read every feature; a feature with a fault is kept when its kind and id are known.

    It is kept so that a door which names a wrongly drawn unit is not blamed as well. Floors that
    the building does not have are gathered into one sentence a name.
    """
    features: list[Feature] = []
    problems: list[Problem] = []
    unknown: dict[str, list[str]] = {}
    for number, value in enumerate(values, start=1):
        if _is_contact(value):
            continue
        feature, faults = _read_feature(value, number, file)
        problems += faults
        if feature is None:
            continue
        for floor in feature.floors:
            if floor not in floors:
                unknown.setdefault(floor, []).append(feature.where)
        features.append(replace(feature, floors=tuple(f for f in feature.floors if f in floors)))
        if feature.floors and not features[-1].floors:
            features[-1] = replace(features[-1], shape=None)  # already named; nothing to build
    problems += [_unknown_floor(floor, wheres, floors, file) for floor, wheres in unknown.items()]
    return features, problems


def _is_contact(value: object) -> bool:
    properties = value.get("properties") if isinstance(value, dict) else None
    return isinstance(properties, dict) and properties.get("kind") == CONTACT


def _unknown_floor(floor: str, wheres: list[str], floors: Sequence[str], file: str) -> Problem:
    others = f" (and in {len(wheres) - 1} more features)" if len(wheres) > 1 else ""
    close = difflib.get_close_matches(floor, floors, n=1)
    known = ", ".join(floors[:12]) + (", ..." if len(floors) > 12 else "")
    return Problem(
        file,
        wheres[0],
        f"floor {floor!r}{others} is not a floor of the building, which has {known}",
        (f"write {close[0]!r} if you mean that, " if close else "write one of those, ")
        + "or add it to floors in building.toml",
    )


def _read_feature(value: object, number: int, file: str) -> tuple[Feature | None, list[Problem]]:
    where = f"feature {number}"
    if not isinstance(value, dict) or value.get("type") != "Feature":
        return None, [Problem(file, where, "it is not a GeoJSON Feature", 'give it "type": "Feature"')]
    properties = value.get("properties")
    if not isinstance(properties, dict):
        return None, [
            Problem(file, where, "it has no properties", "add at least kind, id and floor to its properties")
        ]
    name = _text(properties.get("id")) or _text(value.get("id"))
    kind = properties.get("kind")
    if kind not in KINDS:
        where += f" (id {name!r})" if name else ""
        return None, [_unknown_kind(kind, where, file)]
    where += f" ({kind} {name!r})" if name else f" ({kind})"
    problems: list[Problem] = []
    if not name:
        problems.append(Problem(file, where, "it has no id", "give it the text properties.id"))
    floors = _floors(properties, kind, where, file, problems)
    shape = _shape(value, kind, where, file, problems)
    unit = _text(properties.get("unit"))
    if kind == "door" and not unit:
        problems.append(
            Problem(file, where, "it names no unit", "set properties.unit to the id of the unit it leads to")
        )
    stack = _text(properties.get("stack"))
    for what, text in (("id", name), ("unit", unit), ("stack", stack), *(("floor", f) for f in floors)):
        if odd := unseen(text):
            words = f"its {what} holds a character that is not seen ({odd})"
            problems.append(Problem(file, where, words, "type it again"))
    if problems and not name:
        return None, problems
    return (
        Feature(
            where=where,
            kind=kind,
            id=name,
            floors=floors,
            shape=None if problems else shape,
            unit=unit,
            stack=stack,
            notes=_notes(properties) if kind == "unit" else {},
        ),
        problems,
    )


def _unknown_kind(kind: object, where: str, file: str) -> Problem:
    words = ", ".join(KINDS)
    if kind is None or kind == "":
        return Problem(file, where, "it has no kind", f"set properties.kind to one of {words}")
    close = difflib.get_close_matches(str(kind).lower(), KINDS, n=1)
    guess = _OTHER_WORDS.get(str(kind).lower()) or (close[0] if close else "")
    fix = f"write {guess!r} if that is what it is" if guess else f"write one of {words}"
    return Problem(file, where, f"its kind {str(kind)[:40]!r} is not known", fix)


def _floors(
    properties: Mapping[str, Any], kind: str, where: str, file: str, problems: list[Problem]
) -> tuple[str, ...]:
    given = properties.get("floors")
    if given is None:
        given = properties.get("floor")
        given = [] if given is None else [given]
    elif not isinstance(given, list):
        problems.append(
            Problem(file, where, "its floors are not a list", 'write them as in "floors": ["1", "2"]')
        )
        return ()
    names = [_text(floor) for floor in given]
    if not all(names):
        problems.append(
            Problem(file, where, "a floor of it is not a name", 'write floors as text, such as "floor": "2"')
        )
    elif len(set(names)) < len(names):
        problems.append(Problem(file, where, "it names one floor twice", "name each of its floors once"))
    elif kind in _ON_ONE_FLOOR and len(names) > 1:
        what = f"{_ON_ONE_FLOOR[kind]} is on one floor and not on {len(names)}"
        problems.append(Problem(file, where, what, "draw one for each floor"))
    elif not names and kind in ("riser", "stair", "lift"):
        problems.append(
            Problem(file, where, "it has no floors", 'list all it runs through, as in "floors": ["1", "2"]')
        )
    elif not names and kind not in ("door", "bed"):
        problems.append(Problem(file, where, "it has no floor", "set properties.floor to the floor's name"))
    return tuple(name for name in dict.fromkeys(names) if name)


def _shape(
    value: Mapping[str, Any], kind: str, where: str, file: str, problems: list[Problem]
) -> BaseGeometry | None:
    try:
        shape = read_geometry(value.get("geometry"))
    except GeometryError as error:
        problems.append(Problem(file, where, error.what, error.fix))
        return None
    except RecursionError:
        problems.append(Problem(file, where, "its geometry is nested without end", "draw it again"))
        return None
    if shape.geom_type not in _SHAPES[kind]:
        wanted = " or ".join(_SHAPES[kind])
        problems.append(
            Problem(
                file,
                where,
                f"it is a {shape.geom_type}, expected {wanted}",
                f"draw it as a {_SHAPES[kind][0]}",
            )
        )
        return None
    return shape


def _text(value: object) -> str:
    """Return an id or a floor as text; a whole number counts, anything else that is not text does not."""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool) or not isinstance(value, int | float):
        return ""
    if isinstance(value, int):
        return str(value)
    return str(int(value)) if math.isfinite(value) and value == int(value) else ""


def _notes(properties: Mapping[str, Any]) -> dict[str, str]:
    notes = {}
    for key, value in properties.items():
        if key in OWN or value is None:
            continue
        notes[key] = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return notes

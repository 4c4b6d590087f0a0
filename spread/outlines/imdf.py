"""An IMDF archive (OGC 20-094): units, levels and openings of an indoor map. Runs in the worker.

Occupants and addresses are not read: they may be people.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from spread.errors import SpreadError
from spread.outlines.archives import members_of
from spread.outlines.found import not_too_many, written_room
from spread.plan.geometries import GeometryError, read_geometry
from spread.plan.projection import LocalPlane

_DOOR_REACH = 0.45


def read_imdf(data: bytes, file: str) -> dict[str, Any] | None:
    """Return what an archive holds; None where it is no IMDF archive."""
    found = members_of(data, file, (".json", ".geojson"))
    by_name = {path.rsplit("/", 1)[-1].lower(): content for path, content in found.items()}
    if "manifest.json" not in by_name or "unit.geojson" not in by_name:
        return None
    units = list(_features(by_name, "unit", file))
    levels = sorted(_features(by_name, "level", file), key=lambda one: _ordinal(one[1]))
    place = {number: n for n, (number, _, _) in enumerate(levels)}
    if not units or not levels:
        raise SpreadError.at(file, "", "it has no units or no levels", "export the archive again")
    plane = _plane([shape for _, _, shape in units], file)
    rooms, outlines = [], []
    for n, (_, properties, shape) in enumerate(units, start=1):
        level = place.get(str(properties.get("level_id")))
        name = _label(properties)
        where = f"unit.geojson, feature {n}" + (f" ({name!r})" if name else "")
        if level is None:
            raise SpreadError.at(file, where, "it names no level that there is", "export the archive again")
        drawn = shape is not None and shape.geom_type in ("Polygon", "MultiPolygon")
        outline = shapely.transform(shape, plane.to_metres) if drawn else None
        outlines.append(outline)
        word = str(properties.get("category") or "")
        fault = "" if outline is not None else "it has no outline that is an area"
        rooms.append(written_room([level], outline, where, name=name, word=word, group=name, fault=fault))
    not_too_many(outlines, file)
    return {
        "levels": [_label(properties) or f"level {_ordinal(properties):g}" for _, properties, _ in levels],
        "rooms": rooms,
        "doors": list(_doors(by_name, plane, place, rooms, outlines, file)),
        "north": 0.0,
        "metre": 1.0,
    }


def _features(
    files: Mapping[str, bytes], name: str, file: str
) -> Iterator[tuple[str, Mapping[str, Any], BaseGeometry | None]]:
    """Yield id, properties and shape of the features of a file of the archive."""
    content = files.get(f"{name}.geojson")
    if content is None:
        return
    inner = f"{name}.geojson"
    try:
        features = json.loads(content.decode("utf-8-sig"))["features"]
        for number, one in enumerate(features, start=1):
            properties, held = one.get("properties") or {}, one.get("geometry")
            shape = None if held is None else read_geometry(held)
            yield str(one.get("id") or number), dict(properties), shape
    except GeometryError as error:
        raise SpreadError.at(file, f"{inner}, feature {number}", error.what, error.fix) from None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        what = "it is no GeoJSON FeatureCollection in UTF-8"
        raise SpreadError.at(file, inner, what, "export the archive again") from None


def _label(properties: Mapping[str, Any]) -> str:
    """Return a feature's name: its short one, else that in English, else in any language."""
    for key in ("short_name", "name", "alt_name"):
        held = properties.get(key)
        texts = list(held.values()) if isinstance(held, dict) else [held]
        if isinstance(held, dict) and "en" in held:
            texts.insert(0, held["en"])
        for text in texts:
            if isinstance(text, str) and text.strip():
                return text.strip()
    return ""


def _ordinal(properties: Mapping[str, Any]) -> float:
    value = properties.get("ordinal")
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else 0.0


def _plane(shapes: Sequence[BaseGeometry | None], file: str) -> LocalPlane:
    at = shapely.get_coordinates([one for one in shapes if one is not None])
    if (
        not len(at)
        or not np.isfinite(at).all()
        or np.abs(at[:, 1]).max() > 85
        or np.abs(at[:, 0]).max() > 180
    ):
        what = "its units are not in longitude and latitude"
        raise SpreadError.at(file, "unit.geojson", what, "export the archive again")
    middle = (at.min(axis=0) + at.max(axis=0)) / 2
    return LocalPlane(float(middle[0]), float(middle[1]))


def _doors(
    files: Mapping[str, bytes],
    plane: LocalPlane,
    place: Mapping[str, int],
    rooms: Sequence[Mapping[str, Any]],
    outlines: Sequence[BaseGeometry | None],
    file: str,
) -> Iterator[dict[str, Any]]:
    for _, properties, shape in _features(files, "opening", file):
        level = place.get(str(properties.get("level_id")))
        if level is None or shape is None:
            continue
        at = shapely.transform(shape, plane.to_metres).centroid
        near = sorted(
            (float(one.distance(at)), n)
            for n, one in enumerate(outlines)
            if one is not None and level in rooms[n]["levels"]
        )
        reached = [n for far, n in near if far < _DOOR_REACH][:2]
        if reached:
            yield {"level": level, "at": [at.x, at.y], "rooms": reached}

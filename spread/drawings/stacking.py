"""Traced floors one above another in metres: a drawing that every reader of plans takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import shape

from spread.drawings.tracer import metres_of
from spread.drawings.tracing import FloorTracing
from spread.plan.geojson import parse_plan
from spread.plan.geometries import write_point, write_shape
from spread.plan.model import Plan

Floats = NDArray[np.float64]


def stacked(
    floors: Sequence[FloorTracing], traced: Sequence[Mapping[str, Any]], *, name: str, file: str
) -> Plan:
    """Return the plan of traced floors and of the floors that are copies of them, lowest first."""
    features: list[dict[str, Any]] = []
    names: list[str] = []
    for floor, metre, got in zip(floors, metres_of(floors, file), traced, strict=True):
        place = _Placing(floors[0], floor, metre)
        codes = {click.id: click.id for click in floor.clicks}
        for level, renamed in [(floor.floor, codes), *floor.copies.items()]:
            names.append(level)
            features += _features(got, place, level, {**codes, **renamed})
    levels = _in_order(names)
    collection = {"type": "FeatureCollection", "coordinates_in": "metres", "features": features}
    return parse_plan(collection, levels, name=name, file=file)


def _in_order(names: Sequence[str]) -> list[str]:
    """Return floors lowest first: by number where all are numbers, else as they were given."""
    if all(name.lstrip("-").isascii() and name.lstrip("-").isdigit() for name in names):
        return sorted(names, key=int)
    return list(names)


class _Placing:
    """Pixels of one floor to metres over the lowest floor; y runs up."""

    def __init__(self, base: FloorTracing, floor: FloorTracing, metre: float) -> None:
        self._turn, self._shift = np.complex128(1 / metre), np.complex128(0)
        if floor is not base:
            lower = [complex(x, -y) / base.metre for x, y in base.match]
            upper = [complex(x, -y) for x, y in floor.match]
            self._turn = np.complex128((lower[1] - lower[0]) / (upper[1] - upper[0]))
            self._shift = np.complex128(lower[0] - self._turn * upper[0])
        least = np.array(base.outline) * (1, -1) / base.metre
        self._shift -= complex(*least.min(axis=0))

    def __call__(self, at: Floats) -> Floats:
        moved = self._turn * (at[:, 0] - 1j * at[:, 1]) + self._shift
        return np.stack([moved.real, moved.imag], axis=1).round(3)


def _features(
    got: Mapping[str, Any], place: _Placing, level: str, codes: Mapping[str, str]
) -> Iterator[dict[str, Any]]:
    halls = 0
    for region in got["regions"]:
        outline: Any = shapely.transform(shape(region["geometry"]), place)
        kind = region["kind"]
        if kind == "left-out":
            continue
        for part in shapely.get_parts(outline) if kind == "hallway" else [outline]:
            halls += kind == "hallway"
            own = {"id": f"hall-{level}-{halls}"} if kind == "hallway" else {"id": codes[region["id"]]}
            if kind == "common":
                own = {"id": f"{region['id']}-{level}"}
            on = {"floors": [level]} if kind == "stair" else {"floor": level}
            yield _feature(write_shape(part), kind=kind, **own, **on)
    for number, door in enumerate(got["doors"], start=1):
        at = shapely.Point(place(np.array([door["at"]], dtype=float))[0])
        unit = codes[door["unit"]]
        yield _feature(write_point(at), kind="door", id=f"door-{level}-{number}", unit=unit, floor=level)


def _feature(geometry: Mapping[str, Any], **properties: object) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": geometry}

"""``plan.geojson``: a drawing to a plan and back.

RFC 7946 longitude and latitude are projected to metres around the middle of the drawing; a file with the
foreign member ``"coordinates_in": "metres"`` is taken as it is drawn.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from spread.errors import PlanError, Problem
from spread.files import write_whole
from spread.plan.assemble import assemble
from spread.plan.features import OWN, Feature, read_features
from spread.plan.geometries import write_point, write_shape
from spread.plan.model import Plan
from spread.plan.projection import LocalPlane

LARGEST_FILE = 50_000_000
"""Bytes. A plan of 10,000 units drawn with 50 corners each is about 15 MB."""
WIDEST_SITE = 5_000.0
"""Metres. A wider drawing is in the wrong unit or order of coordinates."""
NORTHERNMOST, SOUTHERNMOST = 79.0, -57.0
"""Latitudes beyond which there are no apartment buildings (Longyearbyen 78.2 N, Puerto Williams 54.9 S;
common geography, no source). It catches swapped coordinates where latitude 90 does not."""


def read_plan(
    path: Path, floors: Sequence[str], *, name: str, storey_height: float = 2.8, shown_as: str | None = None
) -> Plan:
    """Read a drawing.

    ``path``: a GeoJSON FeatureCollection in UTF-8. ``floors``: Floor names, lowest first. ``storey_height``:
    metres from floor to floor. ``shown_as``: the file as sentences name it; its own name if not given.
    Returns units by their lowest floor and then in the order of the file. Overlaps and the like are not
    looked for here: see :func:`spread.plan.checks.check_plan`. Raises PlanError with every problem of the
    file.
    """
    file = shown_as or path.name
    collection = _load(path, file)
    return parse_plan(collection, floors, name=name, storey_height=storey_height, file=file)


def parse_plan(
    collection: object,
    floors: Sequence[str],
    *,
    name: str,
    storey_height: float = 2.8,
    file: str = "plan.geojson",
) -> Plan:
    """Turn a parsed FeatureCollection into a plan; see :func:`read_plan`."""
    problems = list(_collection_problems(collection, file))
    if problems or not isinstance(collection, Mapping):
        raise PlanError(problems)
    features, problems = read_features(collection["features"], floors, file)
    in_metres = collection.get("coordinates_in") == "metres"
    scale = _scale_problem(features, in_metres, file)
    if scale is not None:
        problems.insert(0, scale)
    elif not in_metres:
        features = _project(features)
    plan, more = assemble(features, floors, name=name, storey_height=storey_height, file=file)
    problems += more
    if problems:
        raise PlanError(problems)
    return plan


def _load(path: Path, file: str) -> object:
    try:
        size = path.stat().st_size
        _check_size(size, file)
        data = path.read_bytes()
    except FileNotFoundError:
        raise PlanError.at(file, "", "there is no such file", "check its name and folder") from None
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise PlanError.at(
            file, "", f"it cannot be read ({reason})", "check that it is a file you may open"
        ) from None
    return _parsed(data, file)


def _check_size(size: int, file: str) -> None:
    if size > LARGEST_FILE:
        what = f"it is {size / 1e6:,.0f} MB, larger than the {LARGEST_FILE / 1e6:.0f} MB that are read"
        fix = "leave out what is not a unit, hallway, door, riser, stair, bed, outlet or common room"
        raise PlanError.at(file, "", what, fix)


def plan_of(
    data: bytes, floors: Sequence[str], *, name: str, storey_height: float = 2.8, file: str = "plan.geojson"
) -> Plan:
    """Read a drawing that is not kept yet; see :func:`read_plan`."""
    _check_size(len(data), file)
    return parse_plan(_parsed(data, file), floors, name=name, storey_height=storey_height, file=file)


def _parsed(data: bytes, file: str) -> object:
    try:
        return json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise PlanError.at(
            file, f"byte {error.start + 1}", "it is not UTF-8 text", "save it as UTF-8"
        ) from None
    except json.JSONDecodeError as error:
        raise PlanError.at(
            file,
            f"line {error.lineno}, column {error.colno}",
            f"it is not JSON ({error.msg[0].lower()}{error.msg[1:]})",
            "export the drawing again as GeoJSON",
        ) from None
    except (RecursionError, ValueError):
        # Brackets thousands deep, or a whole number of thousands of digits.
        raise PlanError.at(
            file, "", "it is nested too deep or holds an endless number", "export the drawing again"
        ) from None


def _collection_problems(collection: object, file: str) -> Iterator[Problem]:
    kind = collection.get("type") if isinstance(collection, Mapping) else None
    if not isinstance(collection, Mapping) or kind != "FeatureCollection":
        found = f"its type is {str(kind)[:40]!r}" if kind else "it has no type"
        yield Problem(
            file,
            "",
            f"it is not a GeoJSON FeatureCollection ({found})",
            "export all features of the drawing together as GeoJSON",
        )
        return
    features = collection.get("features")
    if not isinstance(features, list):
        yield Problem(file, "", "its features are not a list", "export the drawing again as GeoJSON")
    elif not features:
        yield Problem(file, "", "it has no features", "draw at least one unit")
    unit = collection.get("coordinates_in")
    if unit not in (None, "metres"):
        yield Problem(
            file,
            "member 'coordinates_in'",
            f"it is {str(unit)[:40]!r}, expected 'metres'",
            "convert the drawing to metres, or remove the member if it is in longitude and latitude",
        )
    crs = json.dumps(collection.get("crs"))
    if unit is None and crs != "null" and "CRS84" not in crs and "4326" not in crs:
        yield Problem(
            file,
            "member 'crs'",
            f"it names another coordinate system ({crs[:80]}), which RFC 7946 no longer has",
            'export in longitude and latitude (WGS 84), or in metres with "coordinates_in": "metres"',
        )


def _scale_problem(features: Sequence[Feature], in_metres: bool, file: str) -> Problem | None:
    """Say it when the drawing cannot be in the unit and order that it says it is in."""
    drawn = [feature for feature in features if feature.shape is not None]
    if not drawn:
        return None
    if not in_metres:
        problem = _order_problem(drawn, file)
        if problem is not None:
            return problem
        drawn = _project(drawn)
    box = shapely.total_bounds([feature.shape for feature in drawn])
    extent = max(box[2] - box[0], box[3] - box[1])
    if not extent <= WIDEST_SITE or not np.abs(box).max() < 1e9:
        wide = f"{extent:,.0f} m" if extent < 1e7 else "thousands of km"
        what = f"the whole drawing would be {wide} wide and lie {np.abs(box).max():.3g} m from its origin"
        fix = "draw it in metres around a corner of the site, not in millimetres or feet"
        if not in_metres:
            what = f"read as longitude and latitude the whole drawing would be {wide} wide"
            fix = (
                'if it is drawn in metres add "coordinates_in": "metres" beside "type"; '
                "otherwise check that longitude comes first"
            )
        return Problem(file, "", what, fix)
    if extent < 1.0 and any(feature.kind == "unit" for feature in drawn):
        what = f"the whole drawing would be {extent:.2g} m wide"
        fix = "draw it in its true size"
        if in_metres and np.abs(box).max() <= 180.0:
            what += ", so that its coordinates look like longitude and latitude"
            fix = 'remove the member "coordinates_in": "metres"'
        return Problem(file, "", what, fix)
    return None


def _order_problem(drawn: Sequence[Feature], file: str) -> Problem | None:
    def north(feature: Feature) -> tuple[float, float]:
        return feature.shape.bounds[1], feature.shape.bounds[3]  # type: ignore[union-attr]

    swap = (
        "longitude comes first and latitude second; if it is drawn in metres "
        'add "coordinates_in": "metres" beside "type"'
    )
    for limits, reason in (
        ((-90.0, 90.0), "there is none beyond 90"),
        ((SOUTHERNMOST, NORTHERNMOST), "no apartment building stands there"),
    ):
        wrong = [f for f in drawn if north(f)[0] < limits[0] or north(f)[1] > limits[1]]
        if wrong:
            low, high = north(wrong[0])
            others = f" (and {len(wrong) - 1} more features like it)" if len(wrong) > 1 else ""
            latitude = low if low < limits[0] else high
            return Problem(file, wrong[0].where, f"its latitude is {latitude:.6g}{others}, {reason}", swap)
    for feature in drawn:
        west, _, east, _ = feature.shape.bounds  # type: ignore[union-attr]
        if west < -180.0 or east > 180.0:
            longitude = west if west < -180.0 else east
            return Problem(file, feature.where, f"its longitude is {longitude:.6g}, beyond 180", swap)
    return None


def place_on_earth(path: Path, floors: Sequence[str]) -> LocalPlane | None:
    """Return where on Earth a drawing stands, as the plane that :func:`read_plan` put it on.

    ``path``: a drawing that :func:`read_plan` accepts. ``floors``: Floor names, lowest first. Returns None
    where the drawing is in metres, which says nothing of its place.
    """
    collection = _load(path, path.name)
    if not isinstance(collection, Mapping) or collection.get("coordinates_in") == "metres":
        return None
    return _plane_of(read_features(collection["features"], floors, path.name)[0])


def _plane_of(features: Sequence[Feature]) -> LocalPlane | None:
    """Return the plane around the middle of features in degrees; None where none has a shape."""
    shapes = [feature.shape for feature in features if feature.shape is not None]
    positions = shapely.get_coordinates(shapes)
    if not len(positions):
        return None
    first = LocalPlane(float(positions[0, 0]), float(positions[0, 1]))
    around = first.to_metres(positions)
    middle = first.to_degrees((around.min(axis=0) + around.max(axis=0))[None, :] / 2.0)[0]
    return LocalPlane(float(middle[0]), float(middle[1]))


def _project(features: Sequence[Feature]) -> list[Feature]:
    """Return the features in metres around the middle of them all."""
    plane = _plane_of(features)
    if plane is None:
        return list(features)
    return [
        feature
        if feature.shape is None
        else replace(feature, shape=shapely.transform(feature.shape, plane.to_metres))
        for feature in features
    ]


def write_plan(plan: Plan, path: Path) -> None:
    """Write a plan as a drawing in metres, one feature a line, whole or not at all.

    ``plan``: what to write. Reading it back gives the same plan to 1 mm; units come back in the same order
    when that order goes by floor, as every reader of this package makes it. ``path``: where; an older file of
    that name is replaced in one step. Raises PlanError when the folder is missing or may not be written to.
    """
    write_whole(path, plan_text(plan), error=PlanError)


def plan_text(plan: Plan) -> str:
    """Return a plan as :func:`write_plan` writes it."""
    head = {"type": "FeatureCollection", "name": plan.name, "coordinates_in": "metres"}
    lines = ",\n".join(json.dumps(feature, ensure_ascii=False) for feature in _write_features(plan))
    return json.dumps(head, ensure_ascii=False, indent=1)[:-2] + f',\n "features": [\n{lines}\n]}}\n'


def _write_features(plan: Plan) -> Iterator[dict[str, Any]]:
    def feature(geometry: dict[str, Any], **properties: str | list[str]) -> dict[str, Any]:
        return {"type": "Feature", "properties": properties, "geometry": geometry}

    for unit in plan.units.values():
        own = {"kind": "unit", "id": unit.id, **({"stack": unit.stack} if unit.stack else {})}
        for floor in sorted(unit.parts, key=plan.level_of):
            notes = {key: value for key, value in unit.notes.items() if key not in OWN}
            yield feature(write_shape(unit.parts[floor]), **own, floor=floor, **notes)
    for space in (*plan.hallways, *plan.commons):
        yield feature(write_shape(space.outline), kind=space.kind, id=space.id, floor=space.floor)
    for shaft in plan.shafts:
        yield feature(write_shape(shaft.outline), kind=shaft.kind, id=shaft.id, floors=list(shaft.floors))
    for door in plan.doors:
        yield feature(write_point(door.at), kind="door", id=door.id, unit=door.unit, floor=door.floor)
    for bed in plan.beds:
        yield feature(write_point(bed.at), kind="bed", id=bed.id, unit=bed.unit, floor=bed.floor)
    for outlet in plan.outlets:
        own = {"kind": "outlet", "id": outlet.id, "unit": outlet.unit, "floor": outlet.floor}
        yield feature(write_point(outlet.at), **own)

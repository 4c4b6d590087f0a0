"""A building on a map: GeoJSON and GeoPackage with what is known of each unit, and the contacts as lines.

Where the drawing says where on Earth it stands, coordinates are longitude and latitude as RFC 7946 asks.
A drawing in metres does not, and inventing a place would put the building on somebody else's map: it stays
in metres and says so twice, in ``coordinates_in`` for this program and, for a GIS, in the ``crs`` member of
GeoJSON 2008 (which RFC 7946 dropped and GDAL still reads) as a local system that is nowhere on Earth.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from spread.building import PLAN_FILE
from spread.plan.features import CONTACT
from spread.plan.geojson import place_on_earth
from spread.plan.projection import LocalPlane
from spread.report.exchange.draws import needed
from spread.report.exchange.graph import known_contacts, positions
from spread.report.exchange.tables import UNIT_FIELDS, units_table
from spread.session import Session

LOCAL_METRES = 'LOCAL_CS["Local metres of this building",UNIT["metre",1]]'
"""OGC 01-009 (WKT 1) for a plane that is tied to no place."""
LONGITUDE_LATITUDE = "OGC:CRS84"
DEGREE_DIGITS, METRE_DIGITS = 8, 3
"""Digits after the point: about a millimetre of both (RFC 7946, 11.2, warns of more than is known)."""
STROKE = 0.5
"""Metres. A contact between units one above the other has no length on a plan; it is drawn this long."""
LAYERS = {
    "unit": ("units", "MultiPolygon"),
    "hallway": ("hallways", "MultiPolygon"),
    "common": ("commons", "MultiPolygon"),
    "riser": ("risers", "MultiPolygon"),
    "stair": ("stairs", "MultiPolygon"),
    "lift": ("lifts", "MultiPolygon"),
    "door": ("doors", "Point"),
    CONTACT: ("contacts", "LineString"),
}
"""The layer of a GeoPackage and its geometry, by kind of thing."""


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing on the map: its kind, what is known of it and its outline in metres of the plan."""

    kind: str
    known: Mapping[str, Any]
    shape: shapely.Geometry


def units_geojson(session: Session) -> bytes:
    """Return a FeatureCollection of everything on the map.

    Returns: UTF-8. A feature for each unit on each of its floors with the columns of the table of units;
    hallways, commons, risers, stairs and doors; and a line for each contact. ``kind``, ``id`` and ``floor``
    are as in a drawing, so that the file can also be read as one.
    """
    plane = _plane(session)
    head: dict[str, Any] = {
        "type": "FeatureCollection",
        "name": f"{session.plan.name}, {session.on.isoformat()}",
    }
    if plane is None:
        head["coordinates_in"] = "metres"
        head["crs"] = {"type": "name", "properties": {"name": LOCAL_METRES}}
    features = [
        {
            "type": "Feature",
            "properties": {"kind": thing.kind, **thing.known},
            "geometry": _geometry(_placed(thing.shape, plane), DEGREE_DIGITS if plane else METRE_DIGITS),
        }
        for thing in things(session)
    ]
    return json.dumps({**head, "features": features}, ensure_ascii=False, indent=None).encode("utf-8")


def geopackage(session: Session) -> bytes:
    """Return the same as a GeoPackage with a layer a kind; it needs the extra ``data``."""
    write = needed("pyogrio", "a GeoPackage").raw.write
    plane = _plane(session)
    by_kind: dict[str, list[Thing]] = {}
    for thing in things(session):
        by_kind.setdefault(thing.kind, []).append(thing)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "building.gpkg"
        for kind, found in by_kind.items():
            layer, geometry_type = LAYERS[kind]
            names = list(dict.fromkeys(name for thing in found for name in thing.known))
            write(
                path,
                shapely.to_wkb([_as(geometry_type, _placed(thing.shape, plane)) for thing in found]),
                [_column(name, found) for name in names],
                names,
                layer=layer,
                driver="GPKG",
                geometry_type=geometry_type,
                crs=LOCAL_METRES if plane is None else LONGITUDE_LATITUDE,
                append=path.exists(),
            )
        return path.read_bytes()


def things(session: Session) -> Iterator[Thing]:
    """Yield units, spaces, shafts, doors and contacts of a building with what is known of them."""
    plan = session.plan
    heads, *rows = units_table(session)
    # A day that is not known is null and not a text without letters.
    known = {
        str(row[0]): {
            str(name): None if UNIT_FIELDS[str(name)] == "date" and not cell else cell
            for name, cell in zip(heads[2:], row[2:], strict=True)
        }
        for row in rows
    }
    for unit in plan.units.values():
        for floor in plan.floors:
            if floor in unit.parts:
                yield Thing("unit", {"id": unit.id, "floor": floor, **known[unit.id]}, unit.parts[floor])
    for space in (*plan.hallways, *plan.commons):
        yield Thing(space.kind, {"id": space.id, "floor": space.floor}, space.outline)
    for shaft in plan.shafts:
        yield Thing(shaft.kind, {"id": shaft.id, "floors": list(shaft.floors)}, shaft.outline)
    for door in plan.doors:
        yield Thing("door", {"id": door.id, "unit": door.unit, "floor": door.floor}, door.at)
    yield from _contacts(session)


def _contacts(session: Session) -> Iterator[Thing]:
    places = positions(session.plan)
    for number, (a, b, edge) in enumerate(known_contacts(session).edges(data=True)):
        metres = edge.get("metres", edge.get("walk_m"))
        known = {
            "id": f"contact {number}",
            "a": a,
            "b": b,
            "route": edge["route"],
            "metres": None if metres is None else round(float(metres), 2),
            "m2": round(float(edge["m2"]), 2) if "m2" in edge else None,
            "hazard": float(f"{edge['hazard']:.4g}"),
            "chance": float(f"{edge['chance']:.4g}"),
        }
        line = shapely.LineString([places[a], places[b]])
        if line.length < STROKE:
            x, y = places[a]
            line = shapely.LineString([(x, y), (x + STROKE, y)])
        yield Thing(CONTACT, known, line)


def _plane(session: Session) -> LocalPlane | None:
    drawing = session.building.folder / PLAN_FILE
    return place_on_earth(drawing, session.building.settings.floors) if drawing.exists() else None


def _placed(shape: shapely.Geometry, plane: LocalPlane | None) -> shapely.Geometry:
    return shape if plane is None else shapely.transform(shape, plane.to_degrees)


def _geometry(shape: shapely.Geometry, digits: int) -> dict[str, Any]:
    # Outer rings counter-clockwise, as RFC 7946 (3.1.6) asks. Rounded last, and not by snapping to a
    # grid: that could take a corner away.
    oriented = shapely.orient_polygons(shape)
    rounded = shapely.transform(oriented, lambda positions: np.round(positions, digits))
    written: dict[str, Any] = json.loads(shapely.to_geojson(rounded))
    return written


def _as(geometry_type: str, shape: shapely.Geometry) -> shapely.Geometry:
    """Return a polygon as one of several, as its layer has it."""
    if geometry_type == "MultiPolygon" and isinstance(shape, shapely.Polygon):
        return shapely.MultiPolygon([shape])
    return shape


def _column(name: str, found: list[Thing]) -> np.ndarray:
    """Return the values of one column in a type that a GeoPackage has."""
    values = [thing.known.get(name) for thing in found]
    if UNIT_FIELDS.get(name) == "date":
        return np.array(values, dtype="datetime64[D]")
    kinds = {type(value) for value in values if value is not None}
    if kinds and kinds <= {int, float}:
        return np.array(values, dtype=np.float64)
    texts = ["+".join(value) if isinstance(value, list) else value for value in values]
    return np.array(texts, dtype=object)

"""Units on a map: GeoJSON with what is known of each.

Where the drawing says where on Earth it stands, coordinates are longitude and latitude as RFC 7946 asks.
A drawing in metres does not, and inventing a place would put the building on somebody else's map: it stays
in metres and says so twice, in ``coordinates_in`` for this program and, for a GIS, in the ``crs`` member of
GeoJSON 2008 (which RFC 7946 dropped and GDAL still reads) as a local system that is nowhere on Earth.
"""

from __future__ import annotations

import json
from typing import Any

import shapely
from shapely import MultiPolygon

from spread.building import PLAN_FILE
from spread.plan.geojson import place_on_earth
from spread.plan.model import Shape
from spread.plan.projection import LocalPlane
from spread.report.exchange.tables import UNIT_HEADS, units_table
from spread.session import Session

LOCAL_METRES = 'LOCAL_CS["Local metres of this building",UNIT["metre",1]]'
"""OGC 01-009 (WKT 1) for a plane that is tied to no place."""
DEGREE_DIGITS, METRE_DIGITS = 8, 3
"""Digits after the point: about a millimetre of both (RFC 7946, 11.2, warns of more than is known)."""


def units_geojson(session: Session) -> bytes:
    """Return a FeatureCollection with a feature for each unit on each of its floors.

    Parameters
    ----------
    session
        An open building.

    Returns
    -------
    bytes
        UTF-8. Properties are the columns of the table of units, and ``kind``, ``id`` and ``floor``, so that
        the file can also be read as a drawing of the units.
    """
    drawing = session.building.folder / PLAN_FILE
    floors = session.building.settings.floors
    plane = place_on_earth(drawing, floors) if drawing.exists() else None
    _, *rows = units_table(session)
    known = {str(row[0]): dict(zip(UNIT_HEADS[2:], row[2:], strict=True)) for row in rows}
    features = [
        {
            "type": "Feature",
            "properties": {"kind": "unit", "id": unit.id, "floor": floor, **known[unit.id]},
            "geometry": _geometry(unit.parts[floor], plane),
        }
        for unit in session.plan.units.values()
        for floor in session.plan.floors
        if floor in unit.parts
    ]
    head: dict[str, Any] = {
        "type": "FeatureCollection",
        "name": f"{session.plan.name}, {session.on.isoformat()}",
    }
    if plane is None:
        head["coordinates_in"] = "metres"
        head["crs"] = {"type": "name", "properties": {"name": LOCAL_METRES}}
    return json.dumps({**head, "features": features}, ensure_ascii=False, indent=None).encode("utf-8")


def _geometry(shape: Shape, plane: LocalPlane | None) -> dict[str, Any]:
    if plane is not None:
        shape = shapely.transform(shape, plane.to_degrees)
    digits = METRE_DIGITS if plane is None else DEGREE_DIGITS
    # Outer rings counter-clockwise, as RFC 7946 (3.1.6) asks.
    oriented = shapely.orient_polygons(shape)
    polygons = oriented.geoms if isinstance(oriented, MultiPolygon) else (oriented,)
    coordinates = [
        [
            [[round(x, digits), round(y, digits)] for x, y in shapely.get_coordinates(ring).tolist()]
            for ring in (one.exterior, *one.interiors)
        ]
        for one in polygons
    ]
    if len(coordinates) == 1:
        return {"type": "Polygon", "coordinates": coordinates[0]}
    return {"type": "MultiPolygon", "coordinates": coordinates}

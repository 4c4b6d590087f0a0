"""Map layers: GeoPackage, Shapefile (zipped) and GeoJSON to outlines with their cells.

Runs in the worker. Where a layer knows its place on Earth it is projected to metres around its middle, so
that neither degrees nor a map's own scale count; else its unit of length is asked.
"""

from __future__ import annotations

import io
import json
import math
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import PurePosixPath
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from spread.errors import SpreadError
from spread.outlines.archives import members_of
from spread.outlines.found import MOST_ROOMS, not_too_many, plain, written_room
from spread.plan.features import KINDS
from spread.plan.geojson import WIDEST_SITE
from spread.plan.geometries import GeometryError, read_geometry
from spread.plan.projection import LocalPlane

MOST_COLUMNS = 200
SHAPEFILE = b"\x00\x00\x27\x0a"
"""How every .shp begins."""
_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_CLOSED = 0.02
"""Share of a line's length that its two ends may be apart and still close (a pen's slip; no source)."""
_AREAS = ("Polygon", "MultiPolygon")
_DEGREES = "EPSG:4326"

Read = tuple[Sequence[str], list[list[object]], list[BaseGeometry | None], str]
"""Headings, cells row by row, shapes, and the system of coordinates as text."""


def is_geopackage(data: bytes) -> bool:
    """Return whether bytes are a GeoPackage: an SQLite file with the mark of one."""
    return data[:16] == b"SQLite format 3\0" and data[68:72] in (b"GPKG", b"GP10", b"GP11")


def read_geopackage(data: bytes, file: str) -> dict[str, Any]:
    """Return every layer of areas or lines of a GeoPackage."""
    from pyogrio import list_layers  # noqa: PLC0415 - an extra

    try:
        warnings.simplefilter("ignore")  # in the worker alone: of the name that it gives the file
        names = [str(name) for name, kind in list_layers(data) if kind]
    except Exception:  # whatever GDAL says of a spoilt file
        raise SpreadError.at(file, "", "it is no whole GeoPackage", "export it again") from None
    return _written(((name, _read(data, file, name)) for name in names[:50]), file)


def read_shapefiles(data: bytes, file: str) -> dict[str, Any]:
    """Return every shapefile of an archive."""
    found = members_of(data, file, _PARTS)
    layers = [path for path in found if path.lower().endswith(".shp")]
    if not layers:
        what = "it holds no IMDF manifest and no shapefile (.shp)"
        raise SpreadError.at(file, "", what, "pack the .shp, .shx, .dbf and .prj files of the floor plan")

    for path in layers:
        if found[path][:4] != SHAPEFILE:  # what it is else could name other files to read
            raise SpreadError.at(file, path, "it is no shapefile", "export it again")

    def packed() -> Iterator[tuple[str, Read]]:
        for path in layers[:50]:
            stem, stream = path[:-4].lower(), io.BytesIO()
            with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as clean:
                for name, content in found.items():
                    if name.lower().startswith(stem + ".") and name[-4:].lower() in _PARTS:
                        clean.writestr("layer" + name[-4:].lower(), content)
            name = PurePosixPath(path).stem
            yield name, _read(stream.getvalue(), f"{file}, {name}", None)

    return _written(packed(), file)


def read_geojson(data: bytes, file: str) -> dict[str, Any]:
    """Return the features of a GeoJSON file as a layer; in degrees, or as they are if it says metres."""
    try:
        held = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise SpreadError.at(file, "", "it is not JSON in UTF-8", "export it again as GeoJSON") from None
    features = held.get("features") if isinstance(held, dict) else None
    if not isinstance(features, list) or not features:
        raise SpreadError.at(file, "", "it is no GeoJSON with features", "export it again as GeoJSON")
    kept = [one for one in features[: MOST_ROOMS + 1] if isinstance(one, dict)]
    said = [one.get("properties") if isinstance(one, dict) else None for one in features]
    if all(isinstance(of, dict) and of.get("kind") in KINDS for of in said):
        return {"own": held}  # our own drawing
    properties = [one["properties"] if isinstance(one.get("properties"), dict) else {} for one in kept]
    columns = list(dict.fromkeys(key for of in properties for key in of))[:MOST_COLUMNS]
    cells: list[list[object]] = [[of.get(key) for key in columns] for of in properties]
    shapes: list[BaseGeometry | None] = []
    for number, one in enumerate(kept, start=1):
        try:
            shapes.append(read_geometry(one.get("geometry")))
        except (GeometryError, RecursionError) as error:
            what, fix = (
                getattr(error, "what", "its geometry is nested"),
                getattr(error, "fix", "draw it again"),
            )
            raise SpreadError.at(file, f"row {number}", what, fix) from None
    where = "metres" if held.get("coordinates_in") == "metres" else _DEGREES
    return _written([("features", (columns, cells, shapes, where))], file)


def _read(data: bytes, file: str, layer: str | None) -> Read:
    from pyogrio.raw import read  # noqa: PLC0415 - an extra

    try:
        meta, _, shapes, fields = read(data, layer=layer, max_features=MOST_ROOMS + 1, force_2d=True)
        shown = [np.asarray(column).tolist() for column in fields[:MOST_COLUMNS]]
        outlines = [None if one is None else shapely.from_wkb(one) for one in shapes]
    except Exception:  # whatever GDAL says of a spoilt layer
        what = "it cannot be read: a part of it is missing or spoilt"
        raise SpreadError.at(file, layer or "", what, "export it again, all of its files") from None
    rows = [list(row) for row in zip(*shown, strict=True)] if shown else [[] for _ in outlines]
    return [str(name) for name in meta["fields"]][:MOST_COLUMNS], rows, outlines, str(meta.get("crs") or "")


def _written(layers: Any, file: str) -> dict[str, Any]:  # noqa: ANN401 - pairs, made one by one
    kept: dict[str, tuple[Read, float | None]] = {}
    for name, (columns, cells, shapes, system) in layers:
        if any(_is_drawn(one) for one in shapes):
            not_too_many(shapes, file)
            placed, metre = _in_metres(shapes, system, file)
            kept[name] = ((columns, cells, placed, system), metre)
    if not kept:
        what = "it has no layer of areas"
        raise SpreadError.at(file, "", what, "export the layer with the outlines of units or rooms")
    known = [metre for _, metre in kept.values()]
    return {
        "layers": {name: _layer(*of[:3]) for name, (of, _) in kept.items()},
        "metre": known[0] if len(set(known)) == 1 else None,
        "north": 0.0 if all(of[3] and metre for of, metre in kept.values()) else None,
    }


def _is_drawn(shape: BaseGeometry | None) -> bool:
    return shape is not None and shape.geom_type in (*_AREAS, "LineString", "MultiLineString")


def _layer(
    columns: Sequence[str], cells: list[list[object]], shapes: list[BaseGeometry | None]
) -> dict[str, Any]:
    rooms, kept = [], []
    for number, (of, shape) in enumerate(zip(cells, shapes, strict=True), start=1):
        if not _is_drawn(shape):
            continue
        outline, fault = _closed(shape)
        rooms.append(written_room([0], outline, f"row {number}", fault=fault))
        kept.append([_text(cell) for cell in of])
    return {"columns": [plain(one) for one in columns], "cells": kept, "rooms": rooms}


def _text(cell: object) -> str:
    """Return a cell as text; a whole number that a table keeps as 101.0 is 101."""
    if isinstance(cell, float):
        return "" if not math.isfinite(cell) else f"{cell:.0f}" if cell == int(cell) else f"{cell:g}"
    return plain(cell if isinstance(cell, str | int) else "")


def _closed(shape: BaseGeometry | None) -> tuple[BaseGeometry | None, str]:
    if shape is None or shape.geom_type in _AREAS:
        return shape, ""
    line = shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape
    ends = shapely.get_coordinates(line)
    gap = math.dist(ends[0], ends[-1])
    if line.geom_type == "LineString" and len(ends) > 3 and gap <= _CLOSED * line.length:
        return shapely.Polygon(ends), ""
    at = f"near x = {ends[0][0]:.2f}, y = {ends[0][1]:.2f}"
    return None, f"its outline is a line that is not closed: its ends are {gap:.2f} apart, {at}"


def _in_metres(
    shapes: list[BaseGeometry | None], system: str, file: str
) -> tuple[list[BaseGeometry | None], float | None]:
    """Return shapes in metres where the system of coordinates says how; else as they are, and None."""
    if system == "metres" or not system:
        return shapes, 1.0 if system else None
    to_degrees = None
    if system != _DEGREES:
        from pyproj import CRS, Transformer  # noqa: PLC0415 - an extra
        from pyproj.exceptions import ProjError  # noqa: PLC0415

        try:
            known = CRS.from_user_input(system)
            if not (known.is_geographic or known.is_projected):
                factor = known.axis_info[0].unit_conversion_factor if known.axis_info else 0.0
                return shapes, factor or None
            to_degrees = Transformer.from_crs(known, _DEGREES, always_xy=True)
        except ProjError:
            return shapes, None
    at = shapely.get_coordinates([one for one in shapes if one is not None])
    if not len(at) or not np.isfinite(at).all():
        raise SpreadError.at(file, "", "a coordinate of it is no number", "export it again")
    middle = (at.min(axis=0) + at.max(axis=0)) / 2
    around = _degrees(middle[None, :], to_degrees)[0]
    if not (np.isfinite(around).all() and abs(around[1]) < 85 and abs(around[0]) <= 360):
        return shapes, None  # it is not drawn in the system that it names: the unit is asked
    plane = LocalPlane(float(around[0]), float(around[1]))
    if np.ptp(plane.to_metres(_degrees(at, to_degrees)), axis=0).max() > WIDEST_SITE:
        return shapes, None

    def place(xy: np.ndarray) -> np.ndarray:
        return plane.to_metres(_degrees(xy, to_degrees)).round(4)

    return [None if one is None else shapely.transform(one, place) for one in shapes], 1.0


def _degrees(xy: np.ndarray, to_degrees: Any) -> np.ndarray:  # noqa: ANN401 - of the extra
    if to_degrees is None:
        return xy
    return np.column_stack(to_degrees.transform(xy[:, 0], xy[:, 1]))

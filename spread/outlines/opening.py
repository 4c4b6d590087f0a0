"""Any file of outlines to what it holds, in a process that may be ended."""

from __future__ import annotations

from typing import Any

from spread.drawings.extra import need_extra
from spread.drawings.ifc import SMALLER, is_ifc, told_if_spoilt
from spread.errors import SpreadError
from spread.outlines.archives import is_zip, members_of
from spread.outlines.found import Found, found_of
from spread.outlines.layers import SHAPEFILE, is_geopackage
from spread.worker import in_worker

SECONDS = 90.0
"""How names of these files end; what they are is told by how they begin."""


def is_outlines(data: bytes, file: str) -> bool:
    """Return whether a file is to be read here: by how it begins, an archive by its name too."""
    if is_zip(data):
        return (
            file.lower().endswith((".zip", ".imdf", ".ifczip")) or b"unit.geojson" in data or b".shp" in data
        )
    named = file.lower().endswith((".ifc", ".ifczip", ".gpkg", ".shp", ".geojson", ".imdf"))
    return named or is_ifc(data) or is_geopackage(data) or _is_json(data)


def _is_json(data: bytes) -> bool:
    return data[:1000].lstrip(b"\xef\xbb\xbf \r\n\t")[:1] == b"{"


def open_outlines(data: bytes, file: str) -> Found:
    """Return what a file of outlines holds; SpreadError, one sentence, for what cannot be read."""
    if is_ifc(data):
        need_extra(file, "ifc")
    elif is_geopackage(data):
        need_extra(file, "gis")
    reader = "spread.outlines.opening:outlines_of"
    got: Any = in_worker(reader, data, file, seconds=SECONDS, smaller=SMALLER)
    return found_of(got)


def outlines_of(data: bytes, file: str) -> dict[str, Any]:
    """Read a file; runs in the worker."""
    from spread.outlines.ifc import read_ifc  # noqa: PLC0415 - what only one kind needs
    from spread.outlines.imdf import read_imdf  # noqa: PLC0415
    from spread.outlines.layers import read_geojson, read_geopackage, read_shapefiles  # noqa: PLC0415

    if not data:
        raise SpreadError.at(file, "", "it is empty", "choose an IFC, a GeoPackage, or an archive of layers")
    if is_ifc(data):
        with told_if_spoilt(file):
            return read_ifc(data, file)
    if is_geopackage(data):
        return read_geopackage(data, file)
    if is_zip(data):
        packed = [content for content in members_of(data, file, (".ifc",)).values() if is_ifc(content)]
        if packed:
            if len(packed) > 1:
                what = f"it holds {len(packed)} models"
                raise SpreadError.at(file, "", what, "pack the architect's model alone")
            need_extra(file, "ifc")
            return outlines_of(packed[0], file)
        found = read_imdf(data, file)
        if found is not None:
            return found
        need_extra(file, "gis")
        return read_shapefiles(data, file)
    if _is_json(data):
        return read_geojson(data, file)
    if data[:4] == SHAPEFILE:
        fix = "pack it with its .shx, .dbf and .prj into one ZIP"
        raise SpreadError.at(file, "", "a shapefile alone does not say what its areas are", fix)
    what = "it is no IFC, GeoPackage, GeoJSON or archive of layers that can be read"
    raise SpreadError.at(file, "", what, "export it again; a drawing or a picture goes to the page Trace")

"""A building model (IFC 2x3, 4, 4.3): what its readers share."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from spread.errors import SpreadError

MOST_ENTITIES = 1_000_000
"""Lines of a file; an open model of two dwellings with their furniture has 39,000."""
WALLS = ("IfcWall", "IfcCurtainWall", "IfcColumn")
SMALLER = "save the floor plan alone, without furniture, pipes and land"
_SECOND_FLOOR = 1.5  # metres of a room above the next storey's floor that make it a room of that storey too
_ENTITY = re.compile(rb"^\s*#\d+\s*=", re.MULTILINE)
_OTHER = "save it as IFC 2x3 or IFC 4 (.ifc)"

Floats = NDArray[np.float64]
Solid = tuple[Any, Floats, Floats]
"""An element, its triangles (n, 3, 3) in metres, and their normals."""


def open_model(data: bytes, file: str) -> Any:  # noqa: ANN401 - of the extra
    """Return an opened model; SpreadError for what is none, or too large."""
    import ifcopenshell  # noqa: PLC0415 - an extra
    from ifcopenshell.util.unit import get_project_unit  # noqa: PLC0415

    entities = len(_ENTITY.findall(data))
    if entities > MOST_ENTITIES:
        what = f"it has {entities:,} entities, more than the {MOST_ENTITIES:,} that are read"
        raise SpreadError.at(file, "", what, SMALLER)
    if b"END-ISO-10303-21" not in data:  # the library reads as far as it comes
        raise SpreadError.at(file, "", "it is cut short", "save it again and send it whole")
    try:
        model = ifcopenshell.file.from_string(data.decode("latin-1"))
        read = len(model.entity_names())
        length = get_project_unit(model, "LENGTHUNIT")
    except Exception:  # whatever the library's own parser throws
        raise SpreadError.at(file, "", "it is no whole IFC model of a known schema", _OTHER) from None
    if read < entities:  # it stops where it does not understand, and says nothing
        what = f"a part of it is spoilt: {read:,} of its {entities:,} entities can be read"
        raise SpreadError.at(file, "", what, "export it again, whole")
    if length is None:
        raise SpreadError.at(file, "", "it does not say its unit of length", "export it again with its units")
    return model


def solids(model: Any, kinds: Sequence[str], *, cut: bool) -> Iterator[Solid]:  # noqa: ANN401
    """Yield the elements of some kinds as triangles; ``cut``: with their openings, which takes long."""
    import ifcopenshell.geom as geometry  # noqa: PLC0415 - an extra

    settings = geometry.settings()
    settings.set("use-world-coords", True)
    settings.set("disable-opening-subtractions", not cut)
    items = [one for kind in kinds for one in by_type(model, kind)]
    if not items:
        return
    iterator = geometry.iterator(settings, model, 1, include=items)
    going = iterator.initialize()
    while going:
        made = iterator.get()
        corners = np.array(made.geometry.verts).reshape(-1, 3)
        triangles = corners[np.array(made.geometry.faces, dtype=int).reshape(-1, 3)]
        if len(triangles) and np.isfinite(triangles).all():
            sides = triangles[:, 1:] - triangles[:, :1]
            yield model.by_id(made.id), triangles, np.cross(sides[:, 0], sides[:, 1])
        going = iterator.next()


@contextmanager
def told_if_spoilt(file: str) -> Iterator[None]:
    """Say it in a sentence when the library meets a reference that leads nowhere."""
    try:
        yield
    except RuntimeError:
        what = "a part of it leads nowhere or is spoilt"
        raise SpreadError.at(file, "", what, "export it again, whole") from None


def by_type(model: Any, kind: str) -> list[Any]:  # noqa: ANN401
    """Return the elements of a kind and of those below it."""
    try:
        return list(model.by_type(kind))
    except RuntimeError:  # a kind that this schema does not have
        return []


class Storeys:
    """The storeys of a model, lowest first, with their heights in metres."""

    def __init__(self, model: Any) -> None:  # noqa: ANN401
        import ifcopenshell.util.unit as units  # noqa: PLC0415
        from ifcopenshell.util import placement  # noqa: PLC0415 - an extra

        metre = units.calculate_unit_scale(model)
        heights = []
        for storey in by_type(model, "IfcBuildingStorey"):
            place = storey.ObjectPlacement
            high = placement.get_local_placement(place)[2][3] if place else (storey.Elevation or 0.0)
            heights.append((float(high) * metre, storey))
        heights.sort(key=lambda one: one[0])
        self.heights = [high for high, _ in heights]
        self.names = [str(one.Name or one.LongName or f"storey {n}") for n, (_, one) in enumerate(heights, 1)]
        self._level = {one.id(): n for n, (_, one) in enumerate(heights)}

    def of(self, element: Any, low: float) -> int:  # noqa: ANN401
        """Return the level of an element: its storey, or by the height that it begins at."""
        from ifcopenshell.util.element import get_aggregate, get_container  # noqa: PLC0415 - an extra

        for _ in range(5):
            element = get_container(element) or get_aggregate(element)
            if element is None or element.id() in self._level:
                break
        if element is not None and element.id() in self._level:
            return self._level[element.id()]
        below = [n for n, high in enumerate(self.heights) if high <= low + 0.5]
        return below[-1] if below else 0

    def passed(self, first: int, high: float) -> list[int]:
        """Return the levels of what begins on one and ends at a height."""
        return [first] + [
            n for n in range(first + 1, len(self.heights)) if high > self.heights[n] + _SECOND_FLOOR
        ]


def footprint(triangles: Floats, normals: Floats) -> BaseGeometry:
    """Return what the faces that look down cover."""
    down = normals[:, 2] < -0.5 * np.linalg.norm(normals, axis=1)
    return shapely.union_all(shapely.polygons(triangles[down][:, :, :2]), grid_size=1e-4)


def is_ifc(data: bytes) -> bool:
    """Return whether bytes begin as an IFC file does."""
    return re.match(rb"\s*ISO-10303-21;", data[:200]) is not None

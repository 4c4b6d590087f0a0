"""What a file of outlines holds, as its reader hands it from its own process: JSON with outlines as WKB."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from spread.drawings.ifc import SMALLER
from spread.errors import SpreadError

MOST_ROOMS = 20_000
MOST_CORNERS = 2_000_000


@dataclass(frozen=True, slots=True)
class Room:
    """A room, or the whole outline of a unit.

    ``levels``: places in the list of levels; a stair may pass several. ``name``: as it is written; ``word``:
    what it says it is, such as "Bedroom"; ``group``: the zone or code that it says it belongs to. ``outline``
    is None where it has none that is closed, and ``fault`` says why. ``place``: how sentences name it.
    """

    levels: tuple[int, ...]
    name: str
    word: str
    group: str
    outline: BaseGeometry | None
    place: str
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """A door: its level, where it is, and the rooms that it stands between, by their places in the list."""

    level: int
    at: tuple[float, float]
    rooms: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of a map: headings, cells row by row, and the rows as rooms without a name."""

    columns: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    rooms: tuple[Room, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """What a file holds.

    ``levels``: names of storeys, lowest first. ``links``: pairs of rooms that open into one another without a
    wall between. ``pipes``: outlines of vertical pipes with the levels that they pass. ``north``: degrees by
    which to turn the drawing anticlockwise so that north is up; None where the file does not say. ``metre``:
    metres of one unit of its coordinates; None where the file does not say. ``layers``: of a map. ``own``: a
    drawing that says what everything is in our own words.
    """

    levels: tuple[str, ...] = ()
    rooms: tuple[Room, ...] = ()
    doors: tuple[Way, ...] = ()
    links: tuple[tuple[int, int], ...] = ()
    pipes: tuple[tuple[tuple[int, ...], BaseGeometry], ...] = ()
    north: float | None = None
    metre: float | None = None
    layers: Mapping[str, Layer] | None = None
    own: Mapping[str, Any] | None = None


def written_room(
    levels: Sequence[int],
    outline: BaseGeometry | None,
    place: str,
    *,
    name: str = "",
    word: str = "",
    group: str = "",
    fault: str = "",
) -> dict[str, Any]:
    """Return a room as JSON holds it."""
    wkb = None if outline is None else shapely.to_wkb(shapely.force_2d(outline), hex=True)
    texts = {"name": plain(name), "word": plain(word), "group": plain(group), "fault": fault}
    return {"levels": list(levels), "outline": wkb, "place": place, **texts}


def plain(text: object) -> str:
    """Return a text of the file in one line, cut to what a name may be."""
    return " ".join(str(text if text is not None else "").split())[:60]


def found_of(got: Mapping[str, Any]) -> Found:
    """Return what a reader wrote as JSON."""
    layers = got.get("layers")
    return Found(
        levels=tuple(got.get("levels", ())),
        rooms=_rooms(got.get("rooms", ())),
        doors=tuple(
            Way(d["level"], (d["at"][0], d["at"][1]), tuple(d["rooms"])) for d in got.get("doors", ())
        ),
        links=tuple((a, b) for a, b in got.get("links", ())),
        pipes=tuple((tuple(p["levels"]), shapely.from_wkb(p["outline"])) for p in got.get("pipes", ())),
        north=got.get("north"),
        metre=got.get("metre"),
        own=got.get("own"),
        layers=None
        if layers is None
        else {
            name: Layer(tuple(of["columns"]), tuple(map(tuple, of["cells"])), _rooms(of["rooms"]))
            for name, of in layers.items()
        },
    )


def _rooms(written: Sequence[Mapping[str, Any]]) -> tuple[Room, ...]:
    return tuple(
        Room(
            tuple(one["levels"]),
            one["name"],
            one["word"],
            one["group"],
            None if one["outline"] is None else shapely.from_wkb(one["outline"]),
            one["place"],
            one["fault"],
        )
        for one in written
    )


def not_too_many(outlines: Sequence[BaseGeometry | None], file: str) -> None:
    """Refuse a file with more rooms or corners than a building has."""
    corners = int(shapely.get_num_coordinates([one for one in outlines if one is not None]).sum())
    if len(outlines) > MOST_ROOMS or corners > MOST_CORNERS:
        what = f"it has {len(outlines):,} outlines with {corners:,} corners, more than are read"
        raise SpreadError.at(file, "", what, SMALLER)

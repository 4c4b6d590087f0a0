"""The parts of a building, in metres: what every reader makes and every later step takes.

Coordinates are local metres, x to the east and y to the north, one plane for the whole
site; a floor is a name, ordered from the lowest in :attr:`Plan.floors`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shapely import MultiPolygon, Point, Polygon

Shape = Polygon | MultiPolygon


@dataclass(frozen=True, slots=True)
class Unit:
    """A dwelling.

    ``id``: the unit's code exactly as on its door; leading zeros are kept. ``parts``: outline by floor name.
    A unit over two floors has two. ``stack``: name of the units above and below it, or empty. ``notes``:
    Anything else the plan says of it (layout, area given by a list, building name).
    """

    id: str
    parts: Mapping[str, Shape]
    stack: str = ""
    notes: Mapping[str, str] = field(default_factory=dict)

    @property
    def area(self) -> float:
        """Floor area in m2, all floors together."""
        return float(sum(part.area for part in self.parts.values()))


@dataclass(frozen=True, slots=True)
class Space:
    """A hallway or a common room (laundry, lobby) on one floor. ``kind`` says which."""

    id: str
    kind: str
    floor: str
    outline: Shape


@dataclass(frozen=True, slots=True)
class Door:
    """An entry door of a unit, on one floor, where the unit meets a hallway (or the outside)."""

    id: str
    unit: str
    floor: str
    at: Point


@dataclass(frozen=True, slots=True)
class Shaft:
    """A riser (plumbing or electrical chase), a stair or a lift, which ``kind`` says by these words."""

    id: str
    kind: str
    floors: tuple[str, ...]
    outline: Shape


@dataclass(frozen=True, slots=True)
class Bed:
    """A sleeping place drawn in a unit."""

    id: str
    unit: str
    floor: str
    at: Point


@dataclass(frozen=True, slots=True)
class Outlet:
    """An electrical outlet, a jack or a switch plate of a unit, mostly on one of its walls."""

    id: str
    unit: str
    floor: str
    at: Point


@dataclass(frozen=True, slots=True)
class Plan:
    """A building or a site.

    Parameters
    ----------
    name
        What the building is called.
    floors
        Floor names, lowest first.
    units
        Units by id, in a fixed order that every array of the package follows.
    hallways, commons
        Walkable spaces; commons are laundries, lobbies and the like.
    doors, shafts, beds, outlets
        Entry doors, risers and stairs, sleeping places, electrical outlets and jacks. Most plans draw no
        outlets; that none is drawn says nothing of the room.
    storey_height
        Metres from floor to floor, used for stairs.
    source
        The file it was read from, as the user named it.
    """

    name: str
    floors: tuple[str, ...]
    units: Mapping[str, Unit]
    hallways: tuple[Space, ...] = ()
    commons: tuple[Space, ...] = ()
    doors: tuple[Door, ...] = ()
    shafts: tuple[Shaft, ...] = ()
    beds: tuple[Bed, ...] = ()
    outlets: tuple[Outlet, ...] = ()
    storey_height: float = 2.8
    source: str = "plan.geojson"

    @property
    def risers(self) -> tuple[Shaft, ...]:
        """The plumbing and electrical chases."""
        return tuple(shaft for shaft in self.shafts if shaft.kind == "riser")

    @property
    def stairs(self) -> tuple[Shaft, ...]:
        """The stairs and lifts, by which people go from floor to floor; a lift is walked as a stair is."""
        return tuple(shaft for shaft in self.shafts if shaft.kind in ("stair", "lift"))

    def level_of(self, floor: str) -> int:
        """Return 0 for the lowest floor, 1 for the next one up and so on."""
        return self.floors.index(floor)

    def on_floor(self, floor: str) -> tuple[Unit, ...]:
        """Return the units with a part on ``floor``, in plan order."""
        return tuple(unit for unit in self.units.values() if floor in unit.parts)

    def __repr__(self) -> str:
        return (
            f"Plan({self.name!r}: {len(self.units)} units on {len(self.floors)} floors, "
            f"{len(self.hallways)} hallways, {len(self.doors)} doors, "
            f"{len(self.risers)} risers, {len(self.stairs)} stairs)"
        )

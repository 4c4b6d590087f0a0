"""Tolliwick Gardens: four walk-up buildings of twelve units around a lawn, one laundry. Drawn in metres."""

from __future__ import annotations

from shapely import Point, box

from spread.plan.model import Door, Plan, Shaft, Space, Unit

NAME = "Tolliwick Gardens"
FLOORS = ("1", "2", "3")
PLACES = {"A": (0.0, 0.0), "B": (46.0, 0.0), "C": (0.0, 34.0), "D": (46.0, 34.0)}
WIDTH, DEPTH, STAIR, WALL = 7.6, 8.4, 2.6, 0.2
LINKS = (
    ("A203", "C102", "shared laundry day"),
    ("B304", "D201", "relatives, a sofa was carried over"),
)
"""Ties given by hand; invented like everything here."""


def draw() -> Plan:
    """Return the site: each building has two entries with an open stair between two flats a floor."""
    units: dict[str, Unit] = {}
    doors, halls, shafts = [], [], []
    for floor in FLOORS:
        for building, (x, y) in PLACES.items():
            for entry in range(2):
                left = x + entry * (2 * WIDTH + STAIR + WALL)
                middle = left + WIDTH
                halls.append(
                    Space(
                        f"landing {building}{entry + 1}, floor {floor}",
                        "hallway",
                        floor,
                        box(middle, y, middle + STAIR, y + 2.4),
                    )
                )
                for side in range(2):
                    unit = f"{building}{floor}{2 * entry + side + 1:02d}"
                    start = left + side * (WIDTH + STAIR)
                    units[unit] = Unit(
                        unit,
                        {floor: box(start, y, start + WIDTH, y + DEPTH)},
                        stack=f"{building}{2 * entry + side + 1:02d}",
                        notes={"building": building},
                    )
                    doors.append(Door(f"door {unit}", unit, floor, Point(middle + side * STAIR, y + 1.2)))
    for building, (x, y) in PLACES.items():
        party = x + 2 * WIDTH + STAIR
        shafts.append(Shaft(f"riser {building}", "riser", FLOORS, box(party, y + 3.0, party + WALL, y + 4.8)))
        for entry in range(2):
            middle = x + entry * (2 * WIDTH + STAIR + WALL) + WIDTH
            shafts.append(
                Shaft(
                    f"stair {building}{entry + 1}",
                    "stair",
                    FLOORS,
                    box(middle, y + 2.4, middle + STAIR, y + 7.0),
                )
            )
    laundry = Space("laundry", "common", "1", box(38.5, 19.0, 44.5, 25.0))
    return Plan(NAME, FLOORS, units, tuple(halls), (laundry,), tuple(doors), tuple(shafts))

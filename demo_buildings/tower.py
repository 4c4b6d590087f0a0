"""Verrin Tower: fifteen storeys of fifteen units on a double-loaded hallway, from a unit list only."""

from __future__ import annotations

NAME = "Verrin Tower"
FLOORS = tuple(str(floor) for floor in range(1, 16))
AREAS = (52, 46, 46, 46, 52, 40, 46, 46, 46, 46, 40, 46, 52, 46, 52)
"""Square metres by stack, from stack 01 to stack 15."""


def unit_list() -> str:
    """Return ``units.csv``."""
    lines = ["unit,floor,area_m2,layout"]
    for floor in FLOORS:
        for stack, area in enumerate(AREAS, start=1):
            layout = "studio" if area < 45 else "1BR"
            lines.append(f"{floor}{stack:02d},{floor},{area},{layout}")
    return "\n".join(lines) + "\n"

"""A unit list as text: from a few numbers where nobody has typed one yet, a sample, and one cleaned."""

from __future__ import annotations

import csv
import io

from spread.errors import PlanError, Problem
from spread.plan.drawing.reading import UnitList
from spread.plan.list_file import FIELDS

MOST_FLOORS, MOST_ON_FLOOR = 60, 60
SAMPLE = (
    "unit,floor,stack,side,area_m2,layout\n"
    "101,1,01,a,52,1BR\n102,1,02,b,48,1BR\n103,1,03,a,52,1BR\n104,1,04,b,66,2BR\n"
    "201,2,01,a,52,1BR\n202,2,02,b,48,1BR\n203,2,03,a,52,1BR\n204,2,04,b,66,2BR\n"
)
"""An invented list of eight units, to download and change."""


def list_from_form(floors: int, on_floor: int, *, first: int = 1) -> str:
    """Return a unit list for a building with as many units on every floor.

    ``floors``, ``on_floor``: how many floors, and units on each. ``first``: number of the lowest floor.
    Returns: CSV with codes such as ``304``: the floor, and the number on it in two digits. Raises PlanError
    with every number that is out of bounds.
    """
    problems = [
        Problem("The form", name, f"it is {value}, expected {least} to {most}", "give another number")
        for name, value, least, most in (
            ("floors", floors, 1, MOST_FLOORS),
            ("units on a floor", on_floor, 1, MOST_ON_FLOOR),
            ("lowest floor", first, 0, 20),
        )
        if not least <= value <= most
    ]
    if problems:
        raise PlanError(problems)
    rows = (
        f"{floor}{number:02d},{floor}\n"
        for floor in range(first, first + floors)
        for number in range(1, on_floor + 1)
    )
    return "unit,floor\n" + "".join(rows)


def clean_list(units: UnitList) -> str:
    """Return a list with what Spread reads of it and nothing else, so that nothing about people is kept."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(FIELDS)
    for row in units.rows:
        order, area = ("" if value is None else f"{value:g}" for value in (row.order, row.area))
        writer.writerow([row.unit, row.floor, row.stack, row.side, order, area, row.layout])
    return stream.getvalue()

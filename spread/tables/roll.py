"""A rent roll or another list of units as the list that a building is drawn from."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass

from spread.plan.list_file import FIELDS
from spread.tables.answers import Answers, Question
from spread.tables.grid import Grid
from spread.tables.meanings import ROLL
from spread.tables.table import Line, Table, read_table

M2_PER_SQ_FT = 0.09290304
"""Exact: the international foot is 0.3048 m."""
FLOORS = ("before the last two digits", "the first digit", "one floor")
"""How a floor may be told from a unit's number where the list has none."""


@dataclass(frozen=True, slots=True)
class Roll:
    """What a list of units says.

    Parameters
    ----------
    questions
        What must be answered first.
    text
        The list as :func:`spread.plan.drawing.reading.parse_unit_list` reads it: only what is known of units,
        nothing about people.
    left_out
        Rows without a unit.
    table
        The columns as they are read.
    """

    questions: tuple[Question, ...]
    text: str
    left_out: tuple[int, ...]
    table: Table


def read_roll(grid: Grid, answers: Answers) -> Roll:
    """Read a list of units.

    Raises
    ------
    SpreadError
        When the file has no table, or an answer cannot be understood.
    """
    table = read_table(grid, answers, ROLL)
    questions = [*table.questions]
    lines = [line for line in table.lines if table.value(line, "unit")]
    without = [line for line in lines if not table.value(line, "floor")]
    rule = answers.get("list", "floors")
    if without and rule not in FLOORS:
        rows = tuple(line.number for line in without)
        suggestion = _likely(table, without)
        questions.append(Question("list", "floors", suggestion, FLOORS, len(rows), rows[:3]))
        rule = suggestion
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(FIELDS)
    for line in lines:
        floor = table.value(line, "floor") or _floor(table.value(line, "unit"), rule or "")
        cells: Mapping[str, str] = {
            "unit": table.value(line, "unit"),
            "floor": floor,
            "stack": table.value(line, "stack"),
            "side": table.value(line, "side"),
            "order": table.value(line, "order"),
            "area_m2": _area(table, line),
            "layout": table.value(line, "layout"),
        }
        writer.writerow([cells[field] for field in FIELDS])
    units = {line.number for line in lines}
    left = tuple(line.number for line in table.lines if line.number not in units)
    return Roll(tuple(questions), stream.getvalue(), left, table)


def _likely(table: Table, lines: list[Line]) -> str:
    digits = [re.sub(r"\D", "", table.value(line, "unit")) for line in lines]
    if all(len(one) >= 3 for one in digits):
        return FLOORS[0]
    return FLOORS[1] if all(len(one) == 2 for one in digits) else FLOORS[2]


def _floor(unit: str, rule: str) -> str:
    """Return a floor by a rule; empty where the code has too few digits, so that its row is told."""
    digits = "".join(re.findall(r"\d+", unit)[:1])
    if rule == FLOORS[0]:
        return digits[:-2]
    return digits[:1] if rule == FLOORS[1] else "1"


def _area(table: Table, line: Line) -> str:
    metres, feet = table.value(line, "area m2"), table.value(line, "area sq ft")
    number = _number(metres) if metres else _number(feet)
    if number is None:
        return ""
    return f"{number if metres else number * M2_PER_SQ_FT:.1f}"


def _number(text: str) -> float | None:
    found = re.search(r"\d[\d,]*(?:\.\d+)?", text)
    if not found:
        return None
    plain = found.group()
    if re.fullmatch(r"\d+,\d{1,2}", plain):
        plain = plain.replace(",", ".")
    return float(plain.replace(",", ""))

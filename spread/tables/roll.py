"""A rent roll or another list of units as the list that a building is drawn from."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from spread.errors import SpreadError
from spread.plan.list_file import FIELDS, field_of
from spread.plan.spreadsheet import is_workbook
from spread.tables.answers import Answers, Question
from spread.tables.grid import Grid, is_binary, read_grid
from spread.tables.meanings import LEAVE_OUT, ROLL, heading_row, is_of_people, suggested
from spread.tables.table import Line, Table, read_table

M2_PER_SQ_FT = 0.09290304
"""Exact: the international foot is 0.3048 m."""
FLOORS = ("before the last two digits", "the first digit", "the digits before the letter", "one floor")
"""How a floor may be told from a unit's number where the list has none."""
_OURS: Mapping[str, str] = {**{field: field for field in FIELDS}, "area_m2": "area m2"}
"""Headings that are our own words, and ask nobody anything."""
_ABOVE = re.compile(r"ph|penthouse|roof", re.IGNORECASE)


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
        Rows that are no unit of the building, and why.
    table
        The columns as they are read.
    grid
        The file.
    """

    questions: tuple[Question, ...]
    text: str
    left_out: tuple[tuple[int, str], ...]
    table: Table
    grid: Grid


def roll_of(data: bytes, file: str, answers: Answers, sheet: str = "") -> Roll | None:
    """Read a file as a list of units that somebody keeps; None where it has our own columns and no others.

    A file with the columns of :data:`spread.plan.list_file.FIELDS`, each unit's floor among them, is read by
    its own reader, which names the line of everything that is wrong. So is what is no table at all. It knows
    text and XLSX only.

    Raises
    ------
    SpreadError
        When a workbook cannot be read, or an answer cannot be understood.
    """
    ours = (is_workbook(data) and b"vnd.oasis" not in data[:200]) or not is_binary(data)
    try:
        grid = read_grid(data, file, sheet)
    except SpreadError:
        if sheet or not ours:
            raise
        return None
    heads = grid.rows[heading_row(grid.rows, ROLL)][1]
    some = [cell for cell in heads if cell and not is_of_people(cell)]
    wide = len(grid.rows) > 1 and max(len(of) for _, of in grid.rows) > 1
    if ours and not sheet and (has_our_columns(grid) or not some or not wide):
        return None
    return read_roll(grid, answers)


def has_our_columns(grid: Grid) -> bool:
    """Say whether a list has our own columns: nothing else that could be read, and no floor missing."""
    heads = [field_of(cell) for cell in grid.rows[0][1]]
    if not {"unit", "floor"} <= set(heads):
        return False
    if any(head not in FIELDS and suggested(head, ROLL) != LEAVE_OUT for head in heads):
        return False
    unit, floor = heads.index("unit"), heads.index("floor")
    return all(len(of) > floor and of[floor] for _, of in grid.rows[1:] if len(of) > unit and of[unit])


def table_of_units(grid: Grid, answers: Answers) -> Table:
    """Return a list of units with what each of its columns means."""
    ours = {cell: _OURS[field_of(cell)] for cell in grid.rows[0][1] if field_of(cell) in _OURS}
    return read_table(grid, answers, ROLL, "roll", ours)


def read_roll(grid: Grid, answers: Answers) -> Roll:
    """Read a list of units.

    Raises
    ------
    SpreadError
        When the file has no table, or an answer cannot be understood.
    """
    table = table_of_units(grid, answers)
    questions = [*table.questions]
    lines = []
    left = [(line.number, why) for line, why in table.others]
    seen: dict[str, tuple[str, ...]] = {}
    floors = _floors(table, answers, questions)
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(FIELDS)
    for line in table.lines:
        unit = table.unit(line)
        row = (
            unit,
            floors.get(line.number, ""),
            *(table.value(line, field) for field in ("stack", "side", "order")),
            _area(table, line),
            table.value(line, "layout"),
        )
        if not unit:
            left.append((line.number, "no unit"))
        elif table.elsewhere(line):
            left.append((line.number, "another building"))
        elif seen.get(unit) == row or (unit in seen and not any(row[2:])):
            left.append((line.number, "a repeat"))
        else:  # a unit that comes twice and differs is told by the reader of the list
            seen[unit] = row
            lines.append(line)
            writer.writerow(row)
    return Roll(tuple(questions), stream.getvalue(), tuple(sorted(left)), table, grid)


def _floors(table: Table, answers: Answers, questions: list[Question]) -> Mapping[int, str]:
    """Return the floor by row: as it stands there, by one rule for all others, or by their letters."""
    lines = [line for line in table.lines if table.unit(line) and not table.elsewhere(line)]
    floors = {line.number: floor for line in lines if (floor := table.value(line, "floor"))}
    without = [line for line in lines if line.number not in floors]
    if not without:
        return floors
    rule = answers.get("list", "floors")
    if rule not in FLOORS:
        rule = _likely([table.value(line, "unit") for line in without])
        questions.append(_question("floors", rule, FLOORS, without))
    odd: dict[str, list[Line]] = {}
    for line in without:
        unit = table.value(line, "unit")
        if floor := _floor(unit, rule):
            floors[line.number] = floor
        else:
            odd.setdefault(_letters(unit), []).append(line)
    for letters, of in odd.items():
        told = answers.get("list", f"floor of {letters}")
        if told is None:
            known = [*dict.fromkeys(floors.values())]
            options = (letters, *sorted(known, key=lambda name: (len(name), name)), LEAVE_OUT)
            suggestion = letters if _ABOVE.match(letters) else ""
            questions.append(_question(f"floor of {letters}", suggestion, options, of))
        elif told != LEAVE_OUT:
            floors |= dict.fromkeys((line.number for line in of), told)
    return floors


def _question(key: str, suggestion: str, options: Sequence[str], lines: Sequence[Line]) -> Question:
    rows = tuple(line.number for line in lines)
    return Question("list", key, suggestion, tuple(dict.fromkeys(options)), len(rows), rows[:3])


def _digits(unit: str) -> str:
    """Return the number in a code: the last run of three digits or more, else all of its digits."""
    runs = re.findall(r"\d+", unit)
    return next((run for run in reversed(runs) if len(run) > 2), "".join(runs))


def _letters(unit: str) -> str:
    """Return what a code without a floor of its own begins with: ``PH2`` gives ``PH``."""
    return (re.match(r"[^\W\d]+", unit.strip()) or re.match(r".*", unit.strip()))[0][:20]  # type: ignore[index]


def _likely(units: Sequence[str]) -> str:
    """Return the rule that fits most units; of two alike the first."""
    rules = Counter({rule: sum(bool(_floor(unit, rule)) for unit in units) for rule in FLOORS[:3]})
    best = max(FLOORS[:3], key=lambda rule: (rules[rule], -FLOORS.index(rule)))
    return best if rules[best] * 2 > len(units) else FLOORS[3]


def _floor(unit: str, rule: str) -> str:
    """Return a floor by a rule; empty where the code is not of its kind."""
    if rule == FLOORS[0]:
        return _digits(unit)[:-2] if len(_digits(unit)) > 2 else ""
    if rule == FLOORS[1]:
        return _digits(unit)[:1] if len(_digits(unit)) == 2 else ""
    if rule == FLOORS[2]:
        found = re.fullmatch(r"(?:\D*[\s#.-])?(\d{1,2})[-\s]?[A-Za-z]", unit.strip())
        return found[1] if found else ""
    return "1"


def _area(table: Table, line: Line) -> str:
    metres, feet = table.value(line, "area m2"), table.value(line, "area sq ft")
    number = _number(metres) if metres else _number(feet)
    if not number:  # nought square feet are what is not known
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

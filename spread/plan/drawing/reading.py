"""Reading a unit list: every problem with its line, all at once."""

from __future__ import annotations

import csv
import io
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from spread.errors import PlanError, Problem
from spread.plan.drawing.floor_names import infer_floors, match_floor
from spread.plan.drawing.listed import UnitRow
from spread.plan.drawing.numbering import find_stacks
from spread.plan.list_file import FIELDS, field_of, list_text

LARGEST_FILE = 5_000_000
"""Bytes; a list of ten thousand units is about a tenth of it."""
MOST_UNITS = 10_000
LONGEST_NAME = 40
"""Characters of a code, a floor or a stack."""
SMALLEST_AREA, LARGEST_AREA = 5.0, 600.0
SIDES = {
    "a": ("a", "left", "l", "odd", "front", "street", "1"),
    "b": ("b", "right", "r", "even", "back", "rear", "yard", "courtyard", "2"),
    "north": ("north", "n"),
    "east": ("east", "e"),
    "south": ("south", "s"),
    "west": ("west", "w"),
}
"""What the field ``side`` may say, by the word kept."""
_SIDE = {word: side for side, words in SIDES.items() for word in words}


@dataclass(frozen=True, slots=True)
class UnitList:
    """The units of a building as listed.

    ``rows``: a row a unit, in the order of the file. ``floors``: floor names, lowest first, as given or as
    inferred from the names. ``source``: the file as the user named it.
    """

    rows: tuple[UnitRow, ...]
    floors: tuple[str, ...]
    source: str = "units.csv"

    def __repr__(self) -> str:
        return f"UnitList({self.source!r}: {len(self.rows)} units on {len(self.floors)} floors)"


def read_unit_list(
    path: Path, floors: Sequence[str] | None = None, *, shown_as: str | None = None
) -> UnitList:
    """Read a list of units.

    Returns: Codes exactly as written, leading zeros kept. Raises SpreadError with every problem found, each
    naming its line and field.

    Parameters
    ----------
    path
        A text file separated by commas, semicolons or tabs, or a workbook (see
        :func:`spread.plan.list_file.list_text`), with a line of field names: ``unit`` and ``floor``, and
        optionally ``stack``, ``side``, ``order``, ``area_m2`` (m2) and ``layout`` (a free note on the
        unit, such as ``1BR``). Other fields are not read, so that nothing about people is.
    floors
        Floor names, lowest first; by default inferred from the list, basements lowest.
    shown_as
        How problems name the file; by default its own name.
    """
    name = shown_as or path.name
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            what = f"it is {size / 1e6:.0f} MB large, expected a list of at most {LARGEST_FILE / 1e6:.0f} MB"
            raise PlanError.at(name, "", what, "keep only the columns of the units")
        data = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise PlanError.at(name, "", f"it cannot be read ({reason})", "check its name and place") from None
    return parse_unit_list(list_text(data, name), floors, name)


def parse_unit_list(text: str, floors: Sequence[str] | None = None, name: str = "units.csv") -> UnitList:
    """Read a list of units from text (see :func:`read_unit_list`)."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if lines[0].casefold().startswith("sep="):  # a spreadsheet's own first line, no part of the table
        lines[0] = ""
    head = next((line for line in lines if line.strip(" \t,;")), "")
    separator = max("\t;,", key=head.count)
    reader = csv.reader(io.StringIO("\n".join(lines)), delimiter=separator, skipinitialspace=True)
    columns: dict[str, int] = {}
    problems: list[Problem] = []
    rows: list[UnitRow] = []
    count = 0

    def report(where: str, what: str, fix: str) -> None:
        problems.append(Problem(name, where, what, fix))

    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if not columns:
                columns = _columns(cells, reader.line_num, name)
                continue
            count += 1
            if count > MOST_UNITS:
                problems.append(
                    Problem(name, "", f"it has more than {MOST_UNITS} units", "split it by building")
                )
                break
            rows.append(_row(cells, columns, reader.line_num, floors, report))
    except csv.Error as error:
        where = f"line {reader.line_num}"
        problems.append(Problem(name, where, f"it is not a table ({error})", "save the list as CSV"))
    if not count and not problems:
        problems.append(Problem(name, "", "it has no units", "add a row for each unit below the field names"))
    problems += _twice(rows, name)
    found = tuple(floors) if floors is not None else infer_floors(row.floor for row in rows)
    if not problems:
        rows = [row.on(match_floor(row.floor, found) or row.floor) for row in rows]
        problems += _stack_problems(rows, name)
    if problems:
        raise PlanError(problems)
    return UnitList(tuple(rows), found, name)


def _columns(cells: Sequence[str], line: int, name: str) -> dict[str, int]:
    heads = [field_of(cell) for cell in cells]
    problems = []
    for field in ("unit", "floor"):
        if field not in heads:
            found = ", ".join(head for head in heads if head) or "none"
            problems.append(
                Problem(
                    name,
                    f"line {line}",
                    f"the field {field!r} is missing, found {found}",
                    f"the first line names the fields: unit,floor and optionally {','.join(FIELDS[2:])}",
                )
            )
    for field, times in Counter(head for head in heads if head in FIELDS).items():
        if times > 1:
            problems.append(
                Problem(name, f"line {line}", f"the field {field!r} is named {times} times", "keep one")
            )
    if problems:
        raise PlanError(problems)
    return {field: heads.index(field) for field in FIELDS if field in heads}


def _row(
    cells: Sequence[str],
    columns: dict[str, int],
    line: int,
    floors: Sequence[str] | None,
    report: Callable[[str, str, str], None],
) -> UnitRow:
    def value(field: str) -> str:
        at = columns.get(field, len(cells))
        text = cells[at].strip() if at < len(cells) else ""
        return text[2:-1] if text.startswith('="') and text.endswith('"') else text  # spreadsheet's text

    def wrong(field: str, what: str, fix: str) -> None:
        report(f"line {line}, field {field!r}", what, fix)

    for field in ("unit", "floor", "stack"):
        if len(value(field)) > LONGEST_NAME:
            wrong(field, f"{value(field)[:12]!r}... is longer than {LONGEST_NAME} characters", "shorten it")
            return UnitRow("", "")
    unit, floor = value("unit"), value("floor")
    if not unit:
        wrong("unit", "it is empty", "write the code on the unit's door")
    if not floor:
        wrong("floor", f"the floor of unit {unit!r} is empty", "write the floor that it is on")
    elif floors is not None:
        match = match_floor(floor, floors)
        if match is None:
            listed = ", ".join(floors)
            wrong("floor", f"{floor!r} is not a floor of building.toml ({listed})", "mend it or add it there")
        floor = match or floor
    side = _SIDE.get(value("side").casefold(), "")
    if value("side") and not side:
        expected = ", ".join(
            word for words in SIDES.values() for word in words if len(word) > 1 or word in "ab"
        )
        wrong("side", f"{value('side')!r} is no side, expected one of {expected}", "use one of these")
    order = _number(value("order"))
    if value("order") and order is None:
        wrong("order", f"{value('order')!r} is no number", "number the units along the hallway: 1, 2, 3")
    area = _number(value("area_m2"))
    if value("area_m2") and (area is None or not SMALLEST_AREA <= area <= LARGEST_AREA):
        wrong(
            "area_m2",
            f"{value('area_m2')!r} is no area of a unit, expected square metres from {SMALLEST_AREA:.0f} "
            f"to {LARGEST_AREA:.0f}",
            "write a number in m2 (10 square feet are 0.93 m2) or leave it empty",
        )
    return UnitRow(unit, floor, value("stack"), side, order, area, value("layout"), line)


def _number(text: str) -> float | None:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None
    return number if abs(number) < 1e9 else None


def _twice(rows: Sequence[UnitRow], name: str) -> list[Problem]:
    lines: dict[str, list[int]] = defaultdict(list)
    for row in rows:
        if row.unit:
            lines[row.unit].append(row.line)
    return [
        Problem(
            name,
            f"lines {', '.join(map(str, on))}, field 'unit'",
            f"the unit {unit!r} is listed {len(on)} times",
            "keep one row for each unit",
        )
        for unit, on in lines.items()
        if len(on) > 1
    ]


def _stack_problems(rows: Sequence[UnitRow], name: str) -> list[Problem]:
    """Find stacks with two units on one floor, and stacks on two sides of the hallway."""
    problems = []
    for stacks in find_stacks(rows).values():
        for stack in stacks:
            hands: dict[str, UnitRow] = {}
            for row in stack.rows:
                if row.side:
                    hands.setdefault(row.side, row)
            if len(hands) > 1:
                both = " and ".join(f"{row.unit!r} on side {side!r}" for side, row in hands.items())
                lines = ", ".join(str(row.line) for row in hands.values())
                problems.append(
                    Problem(
                        name,
                        f"lines {lines}, field 'side'",
                        f"stack {stack.name!r} has {both}, expected one side for units above one another",
                        "mend the side, or give the units different stacks",
                    )
                )
        places: dict[tuple[str, str], list[UnitRow]] = defaultdict(list)
        for row in sorted((row for stack in stacks for row in stack.rows), key=lambda row: row.line):
            if row.stack:
                places[row.stack, row.floor].append(row)
        for (stack_name, floor), same in places.items():
            if len(same) > 1:
                problems.append(
                    Problem(
                        name,
                        f"lines {', '.join(str(row.line) for row in same)}, field 'stack'",
                        f"stack {stack_name!r} has {len(same)} units on floor {floor!r} "
                        f"({', '.join(repr(row.unit) for row in same)}), expected one",
                        "give each its own stack",
                    )
                )
    return problems

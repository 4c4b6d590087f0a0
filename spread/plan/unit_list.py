"""A building from its list of units: read the list, choose a layout, draw a credible plan.

The drawing is a schematic: neighbours, stacks, sides, stairs and risers follow the numbering and the
common practice of the layout, sizes follow the areas listed. It is meant to be corrected by hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from spread.errors import PlanError, Problem
from spread.plan.drawing.core import core
from spread.plan.drawing.corridor import double_loaded, single_loaded
from spread.plan.drawing.floor_names import match_floor
from spread.plan.drawing.listed import Stack, UnitRow, natural_key
from spread.plan.drawing.numbering import find_stacks
from spread.plan.drawing.reading import UnitList, read_unit_list
from spread.plan.drawing.sheet import Sheet
from spread.plan.drawing.walk_up import walk_up_four, walk_up_two
from spread.plan.model import Door, Plan, Shaft, Space, Unit

__all__ = ["LAYOUTS", "UnitList", "UnitRow", "choose_layout", "draw_plan", "read_unit_list"]

_DRAW: Mapping[str, Callable[[Sequence[Stack], Sequence[str], str], Sheet]] = {
    "double-loaded": double_loaded,
    "single-loaded": single_loaded,
    "core": core,
    "walk-up-2": walk_up_two,
    "walk-up-4": walk_up_four,
}
LAYOUTS: tuple[str, ...] = tuple(_DRAW)
"""The layouts that can be drawn."""
_BETWEEN_BUILDINGS = 10.0
_WALKED = 4  # floors: buildings with more have a lift (common practice, no source)
_TOWER = 8  # floors


def choose_layout(unit_list: UnitList) -> tuple[str, str]:
    """Choose a layout from the numbers of floors and of units on them.

    Returns ``layout``: one of :data:`LAYOUTS`; ``why``: one sentence for the user, who may know better.

    Notes
    -----
    Common practice, no source: walk-ups have at most four floors and two or four doors a landing,
    towers of few units a floor have a core, other houses a hallway with units on both sides.
    """
    blocks = find_stacks(unit_list.rows)
    widest = max(
        max(Counter(floor for stack in stacks for floor in stack.units).values())
        for stacks in blocks.values()
    )
    tall = len({row.floor for row in unit_list.rows})
    hands = {stack.hand for stacks in blocks.values() for stack in stacks}
    seen = f"{_count(tall, 'floor')} with at most {_count(widest, 'unit')} each"
    if len(blocks) > 1:
        seen = f"{len(blocks)} buildings, {seen}"
    if len(hands) == 1 and hands != {""} and widest > 1:
        return "single-loaded", "The list puts every unit on one side, so they are drawn along one walkway."
    if tall <= _WALKED and widest <= 2:
        return "walk-up-2", f"{seen}: drawn as a walk-up with two doors a landing."
    if tall <= _WALKED and widest <= 4:
        return "walk-up-4", f"{seen}: drawn as a walk-up with four doors a landing."
    if widest <= 4 or (tall >= _TOWER and widest <= 8):
        return "core", f"{seen}: drawn as a tower with stair and lift in its core."
    return "double-loaded", f"{seen}: drawn as a hallway with units on both sides."


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def draw_plan(
    unit_list: UnitList,
    layout: str | None = None,
    *,
    floors: Sequence[str] | None = None,
    name: str,
    storey_height: float = 2.8,
    source: str | None = None,
) -> Plan:
    """Draw a plan from a list of units.

    Returns every unit once, with a door on a hallway; units of a stack one above another. No beds: a list
    does not say where they stand. Raises PlanError when the layout is unknown or a unit's floor is not among
    ``floors``.

    ``unit_list``: what :func:`read_unit_list` gave; the order of its rows does not matter. ``layout``: one of
    :data:`LAYOUTS`; by default what :func:`choose_layout` says. ``floors``: floor names, lowest first; by
    default the list's own. ``storey_height``: metres from floor to floor. ``source``: the file that problems
    of the plan name; by default the list's.
    """
    layout = layout or choose_layout(unit_list)[0]
    if layout not in _DRAW:
        raise PlanError.at(
            unit_list.source,
            "",
            f"the layout {layout!r} is not known, expected one of {', '.join(LAYOUTS)}",
            "name one of these, or none to have it chosen",
        )
    names = tuple(floors) if floors is not None else unit_list.floors
    if not unit_list.rows:
        raise PlanError.at(unit_list.source, "", "it has no units to draw", "add a row for each unit")
    rows = _on_floors(unit_list, names)
    sheets = []
    east = 0.0
    for block, stacks in find_stacks(rows).items():
        top = max(names.index(floor) for stack in stacks for floor in stack.units)
        sheet = _DRAW[layout](stacks, names[: top + 1], f"{block} " if block else "")
        low, high = sheet.span()
        sheets.append((block, sheet.moved(east - low)))
        east += high - low + _BETWEEN_BUILDINGS
    return _gather(sheets, names, name, storey_height, source or unit_list.source)


def _on_floors(unit_list: UnitList, floors: Sequence[str]) -> list[UnitRow]:
    rows, problems = [], []
    for row in unit_list.rows:
        floor = match_floor(row.floor, floors)
        if floor is None:
            problems.append(
                Problem(
                    unit_list.source,
                    f"line {row.line}, field 'floor'",
                    f"unit {row.unit!r} is on floor {row.floor!r}, expected one of {', '.join(floors)}",
                    "mend the floor, or add it to floors in building.toml",
                )
            )
        else:
            rows.append(row.on(floor))
    if problems:
        raise PlanError(problems)
    return rows


def _gather(
    sheets: Sequence[tuple[str, Sheet]], floors: tuple[str, ...], name: str, storey_height: float, source: str
) -> Plan:
    found: list[tuple[tuple[object, ...], Unit]] = []
    doors: list[Door] = []
    halls: list[Space] = []
    shafts: list[Shaft] = []
    for number, (block, sheet) in enumerate(sheets):
        for code, (stack, floor, outline) in sheet.units.items():
            row = stack.units[floor]
            notes = {"layout": row.layout} if row.layout else {}
            if row.area is not None:
                notes["area_m2"] = f"{row.area:g}"
            if block:
                notes["building"] = block
            key = (floors.index(floor), number, stack.place, natural_key(code))
            found.append((key, Unit(code, {floor: outline}, stack.name, notes)))
        doors += sheet.doors
        halls += sheet.halls
        shafts += sheet.shafts
    units = {unit.id: unit for _, unit in sorted(found, key=lambda pair: pair[0])}
    place = {unit: i for i, unit in enumerate(units)}
    return Plan(
        name=name,
        floors=floors,
        units=units,
        hallways=tuple(space for space in halls if space.kind == "hallway"),
        commons=tuple(space for space in halls if space.kind == "common"),
        doors=tuple(sorted(doors, key=lambda door: place[door.unit])),
        shafts=tuple(shafts),
        storey_height=storey_height,
        source=source,
    )

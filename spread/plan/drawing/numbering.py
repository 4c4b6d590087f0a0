"""What unit codes say: which units stand one above another, in which building of a site.

Common practice, no source: the last digits after the floor's number name the line of units, odd
and even lines lie on opposite sides, and letters before the number name a building.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from spread.plan.drawing.floor_names import floor_number
from spread.plan.drawing.listed import NaturalKey, Stack, UnitRow, natural_key

_CODE = re.compile(r"^(?P<prefix>.*?)(?P<digits>\d*)[\s./_-]*(?P<letter>[A-Za-z]?)$", re.DOTALL)
_EDGE = " -./_#"
_TOO_MANY_LINES = 1.5
_TOO_MANY_CLASHES = 0.1
_RUNNING = 1.2


@dataclass(frozen=True, slots=True)
class _Code:
    row: UnitRow
    prefix: str
    digits: str
    letter: str


@dataclass(frozen=True, order=True, slots=True)
class _Line:
    number: int
    suffix: str = ""

    @property
    def name(self) -> str:
        return f"{self.number:02d}{self.suffix}"


def _split(row: UnitRow) -> _Code:
    """Split a code into building, number and letter; a floor's own letters (PH, G) are no building."""
    text = row.unit.strip()
    if not row.floor.isdecimal() and text.casefold().startswith(row.floor.casefold()):
        text = text[len(row.floor) :].strip(_EDGE)
    match = _CODE.match(text)
    if match is None:
        return _Code(row, text, "", "")
    return _Code(row, match["prefix"].strip(_EDGE).upper(), match["digits"], match["letter"].upper())


def _letter_line(letter: str) -> _Line:
    return _Line(ord(letter) - ord("A") + 1)


def _after_floor(code: _Code) -> _Line:
    """Return what follows the floor's number: 412 on floor 4 is line 12, 4C is line C (3)."""
    digits, floor = code.digits.lstrip("0"), floor_number(code.row.floor)
    if code.letter and (not digits or digits == floor):
        return _letter_line(code.letter)
    if not digits:
        return _Line(1)
    rest = digits.removeprefix(floor) if floor else digits
    if rest == digits or not rest or len(rest) > 3:
        rest = digits[-2:]
    return _Line(int(rest), code.letter)


def _last(count: int) -> Callable[[_Code], _Line]:
    def line(code: _Code) -> _Line:
        if not code.digits:
            return _letter_line(code.letter) if code.letter else _Line(1)
        return _Line(int(code.digits[-count:]) or 10**count, code.letter)  # 10 comes after 9

    return line


def _buildings(codes: Sequence[_Code]) -> list[str]:
    """Return the building of each code: its letters, if they are used on more than one floor."""
    floors: dict[str, set[str]] = defaultdict(set)
    for code in codes:
        floors[code.prefix].add(code.row.floor)
    if all(code.prefix == floor_number(code.row.floor) for code in codes) or len(floors) == 1:
        return ["" for _ in codes]
    only_floor = len({code.row.floor for code in codes}) == 1
    sizes = Counter(code.prefix for code in codes)
    own = {p for p, on in floors.items() if len(on) > 1 or (only_floor and sizes[p] > 1)}
    return [code.prefix if code.prefix in own else "" for code in codes]


def _by_rank(codes: Sequence[_Code]) -> list[_Line]:
    """Return the place of each unit among those of its floor: for numbers that run through the house."""
    floors: dict[str, list[NaturalKey]] = defaultdict(list)
    for code in codes:
        floors[code.row.floor].append(natural_key(code.row.unit))
    ranks = {floor: {key: i + 1 for i, key in enumerate(sorted(keys))} for floor, keys in floors.items()}
    return [_Line(ranks[code.row.floor][natural_key(code.row.unit)]) for code in codes]


def _running(codes: Sequence[_Code]) -> bool:
    """Tell whether the numbers run through the house, 1 to 40, and do not start anew on each floor."""
    numbers = {int(code.digits) for code in codes if code.digits}
    return len(numbers) == len(codes) and max(numbers) - min(numbers) < _RUNNING * len(codes)


def _lines(codes: Sequence[_Code]) -> list[_Line]:
    """Return the line of each code by the first reading under which lines repeat from floor to floor."""
    widest = max(Counter(code.row.floor for code in codes).values())
    most = widest if _running(codes) else _TOO_MANY_LINES * widest
    for reading in (_after_floor, _last(2), _last(1)):
        lines = [reading(code) for code in codes]
        cells = {(code.row.floor, line) for code, line in zip(codes, lines, strict=True)}
        clashes = len(codes) - len(cells)
        if clashes <= _TOO_MANY_CLASHES * len(codes) and len(set(lines)) <= most:
            return lines
    return _by_rank(codes)


def _named(stack: str) -> str:
    """Return a stack's name as given, ``"1"`` and ``"01"`` being one stack."""
    return f"{int(stack):02d}" if stack.isdecimal() else stack


def find_stacks(rows: Sequence[UnitRow]) -> dict[str, list[Stack]]:
    """Return the stacks of each building of a list.

    Returns stacks by building letters (empty when the codes name none), in their order along the hallway.
    """
    codes = [_split(row) for row in sorted(rows, key=lambda row: natural_key(row.unit))]
    blocks: dict[str, list[_Code]] = defaultdict(list)
    for code, building in zip(codes, _buildings(codes), strict=True):
        blocks[building].append(code)
    return {
        name: _stacks(blocks[name], f"{name}-" if name else "") for name in sorted(blocks, key=natural_key)
    }


def _stacks(codes: Sequence[_Code], label: str) -> list[Stack]:
    units: dict[str, dict[str, UnitRow]] = defaultdict(dict)
    numbers: dict[str, Counter[int]] = defaultdict(Counter)
    pairs = list(zip(codes, _lines(codes), strict=True))
    for code, line in sorted(pairs, key=lambda pair: not pair[0].row.stack):
        name = label + (_named(code.row.stack) if code.row.stack else line.name)
        while code.row.floor in units[name]:
            name += f" {code.prefix or code.letter or 'extra'}"
        units[name][code.row.floor] = code.row
        numbers[name][line.number] += 1
    stacks = []
    for name, rows in units.items():
        if rows:
            number = min(numbers[name], key=lambda n: (-numbers[name][n], n))
            stacks.append(Stack(name, number, rows))
    return sorted(stacks, key=lambda stack: stack.place)

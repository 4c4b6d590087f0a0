"""The room sheet as data: where to look in a home, what counts, what is usually done, with what care.

The rows are in ``room.toml`` beside this module, each with its source or marked as common practice.
A firm puts a ``room.toml`` of its own into a building's folder; it then stands in place of ours.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType, UnionType

from spread.errors import Problem
from spread.toml_file import parse_toml, read_toml
from spread.toml_table import TomlTable
from spread.trade.sources import COMMON_PRACTICE, CONFIDENCES, Sourced

ROOM_FILE = "room.toml"  #: Name of a firm's own sheet in a building's folder
LARGEST_FILE = 200_000  #: Bytes of a sheet; a longer file is something else
_FIX = "put texts in quotes; start a row with [[items]]"
LONGEST_TEXT = 400  #: Characters of one text of a row: it has to fit on a page

GROUPS = ("bed", "seating", "near", "home", "check")
"""What a row is part of; ``check`` rows are traps and covers, where nothing hides at first."""
SLEEPING_ROWS = MappingProxyType(
    {
        "bed": ("mattress", "box-spring", "bed-frame"),
        "sofa": ("sofa",),
        "bunk-bed": ("bunk-bed",),
        "floor-bed": ("floor-bed",),
        "cot": ("cot",),
        "hospital-bed": ("hospital-bed",),
        "wheelchair": ("wheelchair",),
    }
)
"""Kinds of sleeping place, each with the rows that have to be seen of it: where a bed has no box spring or
frame, ``nothing`` or ``missing`` says so. A row that is named like its kind is the whole thing."""
SLEEPING = tuple(SLEEPING_ROWS)
SEATS = ("sofa", "wheelchair")
"""Kinds that are seats: one is a sleeping place only where somebody says so."""
COVERED = ("bed", "bunk-bed", "floor-bed")
"""Kinds whose mattress we encase; that of a cot or a hospital bed is for whoever looks after it."""
RINGS = ("place", "beside", "reach", "room", "home")
"""How far a row is from where people sleep: the place itself, beside it, within :data:`REACH`, farther."""
REACH = 2.1  #: Metres from the bed within which most bugs stay (common practice, no source)
NEAR_BED = 4.6
"""Metres (15 feet) from the bed to which :data:`NEAR_BED_SHARE` speaks."""
NEAR_BED_SHARE = Sourced(
    0.87, 0.85, 0.90, "share of bugs on mattress, box spring or within 4.6 m of the bed",
    "NDSU Extension, ndsu.edu/agriculture/node/1984 (the middle is ours); the share within 1 or 2 m was "
    "found in no field study", "B",
)  # fmt: skip
"""How many bugs are met near the bed, as published."""

_CODE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_SLACK = 0.005  # weights are written with two or three decimals
_DOSE = re.compile(
    r"\d[\d.,]*\s*(?:ml|millilit\w*|l|lit(?:er|re)s?|gal|gallons?|oz|fl|ounces?|g|kg|grams?|lbs?|pounds?|ppm"
    r"|teaspoons?|tablespoons?|cups?|%|percent|per cent)(?![\w°])",
    re.IGNORECASE,
)
TEXTS = ("name", "look", "evidence", "treat", "product", "caution")
"""Fields of a row that are read by people."""
BED_IN_ORDER = (
    "bedding", "bed-skirt", "mattress", "box-spring", "bed-frame", "bunk-bed", "floor-bed", "cot",
    "hospital-bed", "headboard",
)  # fmt: skip
"""A bed as it is taken apart: nobody gets at a box spring before the mattress is off."""


@dataclass(frozen=True, slots=True)
class RoomItem:
    """One row of the sheet."""

    code: str  #: What a finding calls it
    name: str  #: What a page calls it
    group: str  #: One of :data:`GROUPS`
    ring: int  #: Index into :data:`RINGS` for somebody who sleeps in a bed
    weight: float  #: Share of the bugs expected there, for somebody who sleeps in a bed
    #: look, evidence, treat, product, caution: Where to look, what counts, the usual treatment without
    #: products, what of products, and the care to take. Never a dose.
    look: str
    evidence: str
    treat: str
    product: str
    caution: str
    tools: tuple[str, ...]  #: What to have in hand
    #: source, confidence: Where the row is from and how far to trust it; no confidence for common practice
    source: str
    confidence: str = ""
    #: Kinds of sleeping place that it is a part of, or stands at; empty for a thing of the home
    at: tuple[str, ...] = ()
    ours: bool = True  #: Whether it is ours to treat; a medical device is not

    @property
    def furniture(self) -> bool:
        """Whether it is a sleeping place of few homes, whose row is shown where there is one."""
        return bool(self.at) and not set(self.at) & {"bed", "sofa"}


@dataclass(frozen=True, slots=True)
class RoomNote:
    """Something that holds for the whole room, with its source."""

    text: str
    #: source, confidence: As in :class:`spread.trade.sources.Sourced`; no confidence for common practice
    source: str
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class RoomItems:
    """A whole sheet: its rows in the order of the file, its notes, and where its weights are from."""

    #: name, language: Of the sheet
    name: str
    language: str
    #: items, notes: Its rows in the order of the file, and its notes
    items: tuple[RoomItem, ...]
    notes: tuple[RoomNote, ...]
    #: weights_source, weights_confidence: Where the weights are from
    weights_source: str
    weights_confidence: str = ""
    file: str = ROOM_FILE  #: How messages name it

    @property
    def by_code(self) -> Mapping[str, RoomItem]:
        """The rows by their code."""
        return MappingProxyType({item.code: item for item in self.items})

    def weight(self, item: RoomItem, sleeping: str = "bed") -> float:
        """Return where to look first, for a sleeping place of this kind; all rows sum to 1.

        The row of another kind of bed takes what the parts of a plain bed have that it has not. Where people
        sleep on a seat the bed rows together get what the seating rows had, and the other way round; within
        each the shares stay as they are, and a wheelchair that is slept in changes places with the sofa.
        """
        if item.group not in ("bed", "seating"):
            return item.weight
        known = self.by_code
        if sleeping not in SEATS:
            if item.group == "bed" and sleeping != "bed" and sleeping in known:
                if item.code == sleeping:
                    return math.fsum(row.weight for row in self.items if _only_of_others(row, sleeping))
                return 0.0 if _only_of_others(item, sleeping) else item.weight
            return item.weight
        total = {
            group: math.fsum(row.weight for row in self.items if row.group == group)
            for group in ("bed", "seating")
        }
        mine, other = total[item.group], total["seating" if item.group == "bed" else "bed"]
        turned = {"sofa": sleeping, sleeping: "sofa"}.get(item.code, item.code)
        weight = known[turned].weight if {"sofa", sleeping} <= set(known) else item.weight
        return weight * other / mine if mine else 0.0

    def ring(self, item: RoomItem, sleeping: str = "bed") -> int:
        """Return how far a row is from a sleeping place of this kind, an index into :data:`RINGS`."""
        if sleeping not in SEATS or item.group not in ("bed", "seating"):
            return item.ring
        return 0 if item.group == "seating" and sleeping in item.at else 3


def _only_of_others(item: RoomItem, sleeping: str) -> bool:
    return item.group == "bed" and sleeping not in item.at


def load_room(folder: Path | None = None) -> RoomItems:
    """Return the sheet of a building's folder; ours where it has none of its own.

    Raises SettingsError with every problem of the folder's own sheet.
    """
    own = folder / ROOM_FILE if folder else None
    if own is not None and own.exists():
        return read_room(own)
    return parse_room(files("spread.trade").joinpath(ROOM_FILE).read_text(encoding="utf-8"))


def read_room(path: Path, *, shown_as: str | None = None) -> RoomItems:
    """Read a sheet from a file; raises SettingsError with every problem of the file."""
    file, big = shown_as or path.name, "give it the rows of one sheet"
    return _checked(read_toml(path, largest=LARGEST_FILE, too_large=big, shown_as=file, fix=_FIX), file)


def parse_room(text: str, file: str = ROOM_FILE) -> RoomItems:
    """Turn the text of a sheet into one; see :func:`read_room`."""
    return _checked(parse_toml(text, file, fix=_FIX), file)


def _checked(table: Mapping[str, object], file: str) -> RoomItems:
    top = TomlTable(file, "", table, "field")
    sheet = RoomItems(
        name=_text(top, "name"),
        language=top.text("language", "en"),
        items=tuple(_item(row) for row in top.tables("items")),
        notes=tuple(_note(row) for row in top.tables("notes")),
        weights_source=_text(top, "weights_source"),
        weights_confidence=_confidence(top, "weights_source", "weights_confidence"),
        file=file,
    )
    if not sheet.items:
        top.fail("items", "it has no rows", "start each row with a line [[items]]")
    top.problems += _together(sheet, file)
    top.settle()
    return sheet


def _item(row: TomlTable) -> RoomItem:
    code = _text(row, "code")
    if code and (len(code) > 40 or not _CODE.fullmatch(code)):
        row.fail("code", f"it is {code[:40]!r}", 'use small letters, digits and -, as in code = "bed-frame"')
    return RoomItem(
        code=code,
        **{key: _text(row, key) for key in TEXTS},
        group=row.word("group", None, GROUPS),
        ring=int(_number(row, "ring", len(RINGS) - 1, int)),
        weight=_number(row, "weight", 1, int | float),
        tools=row.texts("tools"),
        source=_text(row, "source"),
        confidence=_confidence(row, "source", "confidence"),
        at=_kinds(row),
        ours=row.flag("ours", default=True),
    )


def _kinds(row: TomlTable) -> tuple[str, ...]:
    """Return the kinds of sleeping place that a row belongs to: by its group where it names none."""
    named = row.texts("at")
    for kind in named:
        if kind not in SLEEPING:
            row.fail("at", f"{kind[:40]!r} is no kind of sleeping place", f"use {', '.join(SLEEPING)}")
    usual = {"bed": ("bed",), "seating": ("sofa",), "near": SLEEPING, "check": SLEEPING}
    return named or usual.get(str(row.values.get("group")), ())


def _note(row: TomlTable) -> RoomNote:
    return RoomNote(_text(row, "text"), _text(row, "source"), _confidence(row, "source", "confidence"))


def _text(row: TomlTable, key: str) -> str:
    """Return a text that has to be there, fits on a page and states no dose."""
    text = row.text(key, None)
    if len(text) > LONGEST_TEXT:
        row.fail(key, f"it has {len(text)} characters, more than {LONGEST_TEXT}", "shorten it")
    if key in (*TEXTS, "text") and (found := _DOSE.search(text)):
        row.fail(key, f"{found[0]!r} reads as a dose", "write 'as the label says' instead")
    return text


def _number(row: TomlTable, key: str, most: float, kind: type | UnionType) -> float:
    """Return a number from 0 that has to be there."""
    value = row.take(key)
    if isinstance(value, kind) and not isinstance(value, bool) and 0 <= float(str(value)) <= most:
        return float(str(value))
    found = "it is missing" if value is None else f"it is {str(value)[:20]!r}"
    wanted = "a whole number" if kind is int else "a number"
    row.fail(key, f"{found}, expected {wanted} from 0 to {most:g}", "write it without quotes")
    return 0.0


def _confidence(row: TomlTable, source: str, key: str) -> str:
    """Return a confidence, which only common practice does without."""
    if row.values.get(source) == COMMON_PRACTICE and key not in row.values:
        row.asked.append(key)
        return ""
    return row.word(key, None, CONFIDENCES)


def _together(sheet: RoomItems, file: str) -> list[Problem]:
    """Return what is wrong with the rows together."""
    if not sheet.items:
        return []
    problems = []
    codes = [item.code for item in sheet.items]
    for code in sorted({code for code in codes if code and codes.count(code) > 1}):
        problems.append(Problem(file, "", f"code {code!r} is there twice", "give each row a code of its own"))
    total = math.fsum(item.weight for item in sheet.items)
    if abs(total - 1.0) > _SLACK:
        what = f"the weights of all rows sum to {total:.3f}, expected 1"
        problems.append(Problem(file, "field 'weight'", what, "raise or lower some of them"))
    for group in ("bed", "seating"):
        if not any(item.group == group and item.weight > 0 for item in sheet.items):
            what = f"no row of group {group!r} has a weight"
            problems.append(Problem(file, "field 'group'", what, "give the rows where people sleep a weight"))
    return problems

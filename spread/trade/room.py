"""The room sheet as data: where to look in a home, what counts, what is usually done, with what care.

The rows are in ``room.toml`` beside this module, each with its source or marked as common practice.
A firm puts a ``room.toml`` of its own into a building's folder; it then stands in place of ours.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType

from spread.errors import Problem, SettingsError
from spread.toml_file import parse_toml, read_toml
from spread.trade.sources import COMMON_PRACTICE, CONFIDENCES

ROOM_FILE = "room.toml"  #: Name of a firm's own sheet in a building's folder
LARGEST_FILE = 200_000  #: Bytes of a sheet; a longer file is something else
_FIX = "put texts in quotes; start a row with [[items]]"
LONGEST_TEXT = 400  #: Characters of one text of a row: it has to fit on a page

GROUPS = ("bed", "seating", "near", "home", "check")
"""What a row is part of; ``check`` rows are traps and covers, where nothing hides at first."""
SLEEPING = ("bed", "sofa")  #: Kinds of sleeping place
RINGS = ("place", "beside", "reach", "room", "home")
"""How far a row is from where people sleep: the place itself, beside it, within :data:`REACH`, farther."""
REACH = 2.1  #: Metres from the bed within which most bugs stay (common practice, no source)

_CODE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_SLACK = 0.005  # weights are written with two or three decimals
_DOSE = re.compile(
    r"\d[\d.,]*\s*(?:ml|millilit\w*|l|lit(?:er|re)s?|gal|gallons?|oz|fl|ounces?|g|kg|grams?|lbs?|pounds?|ppm"
    r"|teaspoons?|tablespoons?|cups?|%|percent|per cent)(?![\w°])",
    re.IGNORECASE,
)
TEXTS = ("name", "look", "evidence", "treat", "product", "caution")
"""Fields of a row that are read by people."""


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

        Where people sleep on a sofa the bed rows together get what the seating rows had, and the
        other way round; within each the shares stay as they are.
        """
        if sleeping == "bed" or item.group not in ("bed", "seating"):
            return item.weight
        total = {
            group: math.fsum(row.weight for row in self.items if row.group == group)
            for group in ("bed", "seating")
        }
        mine, other = total[item.group], total["seating" if item.group == "bed" else "bed"]
        return item.weight * other / mine if mine else 0.0

    def ring(self, item: RoomItem, sleeping: str = "bed") -> int:
        """Return how far a row is from a sleeping place of this kind, an index into :data:`RINGS`."""
        if sleeping == "bed" or item.group not in ("bed", "seating"):
            return item.ring
        return 0 if item.group == "seating" else 3


def load_room(folder: Path | None = None) -> RoomItems:
    """Return the sheet of a building's folder; ours where it has none of its own.

    Raises SettingsError with every problem of the folder's own sheet.
    """
    own = folder / ROOM_FILE if folder else None
    if own is not None and own.exists():
        return read_room(own)
    return parse_room(files("spread.trade").joinpath(ROOM_FILE).read_text(encoding="utf-8"))


def read_room(path: Path, *, shown_as: str | None = None) -> RoomItems:
    """Read a sheet from a file.

    Raises SettingsError with every problem of the file.
    """
    file = shown_as or path.name
    return _checked(
        read_toml(
            path, largest=LARGEST_FILE, too_large="give it the rows of one sheet", shown_as=file, fix=_FIX
        ),
        file,
    )


def parse_room(text: str, file: str = ROOM_FILE) -> RoomItems:
    """Turn the text of a sheet into one; see :func:`read_room`."""
    return _checked(parse_toml(text, file, fix=_FIX), file)


def _checked(table: Mapping[str, object], file: str) -> RoomItems:
    problems: list[Problem] = []
    top = _Row(file, "", table, problems)
    sheet = RoomItems(
        name=top.text("name"),
        language=top.text("language", "en"),
        items=tuple(_item(row) for row in top.rows("items")),
        notes=tuple(_note(row) for row in top.rows("notes", needed=False)),
        weights_source=top.text("weights_source"),
        weights_confidence=_confidence(top, "weights_source", "weights_confidence"),
        file=file,
    )
    top.finish()
    problems += _together(sheet, file)
    if problems:
        raise SettingsError(problems)
    return sheet


def _item(row: _Row) -> RoomItem:
    code = row.text("code")
    if code and (len(code) > 40 or not _CODE.fullmatch(code)):
        row.fail("code", f"it is {code[:40]!r}", 'use small letters, digits and -, as in code = "bed-frame"')
    texts = {key: row.text(key) for key in TEXTS}
    for key, text in texts.items():
        if found := _DOSE.search(text):
            row.fail(key, f"{found[0]!r} reads as a dose", "write 'as the label says' instead")
    item = RoomItem(
        code=code,
        group=row.word("group", GROUPS),
        ring=int(row.number("ring", 0, len(RINGS) - 1, whole=True)),
        weight=row.number("weight", 0, 1),
        tools=row.texts("tools"),
        source=row.text("source"),
        confidence=_confidence(row, "source", "confidence"),
        **texts,
    )
    row.finish()
    return item


def _note(row: _Row) -> RoomNote:
    note = RoomNote(row.text("text"), row.text("source"), _confidence(row, "source", "confidence"))
    if found := _DOSE.search(note.text):
        row.fail("text", f"{found[0]!r} reads as a dose", "write 'as the label says' instead")
    row.finish()
    return note


def _confidence(row: _Row, source: str, key: str) -> str:
    """Return a confidence, which only common practice does without."""
    is_practice = row.values.get(source) == COMMON_PRACTICE
    if is_practice and key not in row.values:
        row.asked.append(key)
        return ""
    return row.word(key, CONFIDENCES)


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


class _Row:
    """One table of the file: gives values, notes what is wrong, knows which keys were asked for."""

    def __init__(self, file: str, place: str, values: Mapping[str, object], problems: list[Problem]) -> None:
        self.file = file
        self.place = place
        self.values = values
        self.asked: list[str] = []
        self.problems = problems

    def fail(self, key: str, what: str, fix: str) -> None:
        where = f"{self.place}, field {key!r}" if self.place else f"field {key!r}"
        self.problems.append(Problem(self.file, where, what, fix))

    def finish(self) -> None:
        for key in self.values:
            if key not in self.asked:
                near = difflib.get_close_matches(key.lower(), self.asked, n=1, cutoff=0.7)
                fix = f"write {near[0]!r} if that is meant" if near else f"known are {', '.join(self.asked)}"
                self.fail(key, "it is not known", fix)

    def text(self, key: str, default: str | None = None) -> str:
        self.asked.append(key)
        value = self.values.get(key, default)
        if not isinstance(value, str) or not value.strip():
            found = "it is missing" if key not in self.values else "it is empty or no text"
            self.fail(key, found, f'write {key} = "..." with text in the quotes')
            return ""
        if len(value) > LONGEST_TEXT:
            self.fail(key, f"it has {len(value)} characters, more than {LONGEST_TEXT}", "shorten it")
        return " ".join(value.split())

    def word(self, key: str, known: Collection[str]) -> str:
        word = self.text(key)
        if word and word not in known:
            near = difflib.get_close_matches(word, known, n=1)
            fix = f"write {near[0]!r} if that is meant" if near else f"use one of {', '.join(known)}"
            self.fail(key, f"{word[:40]!r} is not known", fix)
        return word

    def number(self, key: str, least: float, most: float, *, whole: bool = False) -> float:
        self.asked.append(key)
        value = self.values.get(key)
        kind = "a whole number" if whole else "a number"
        fits = isinstance(value, int) or (isinstance(value, float) and not whole)
        if isinstance(value, bool) or not fits or not least <= float(str(value)) <= most:
            found = "it is missing" if value is None else f"it is {str(value)[:20]!r}"
            self.fail(key, f"{found}, expected {kind} from {least:g} to {most:g}", "write it without quotes")
            return 0.0
        return float(str(value))

    def texts(self, key: str) -> tuple[str, ...]:
        self.asked.append(key)
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, str) and one.strip() for one in value):
            self.fail(key, "it is no list of texts", f'write it as in {key} = ["light", "vacuum"]')
            return ()
        return tuple(" ".join(one.split()) for one in value)

    def rows(self, key: str, *, needed: bool = True) -> list[_Row]:
        self.asked.append(key)
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(row, Mapping) for row in value):
            self.fail(key, f"it is not tables [[{key}]]", f"start each row with a line [[{key}]]")
            return []
        if needed and not value:
            self.fail(key, "it has no rows", f"start each row with a line [[{key}]]")
        name = {"items": "item", "notes": "note"}[key]
        return [
            _Row(self.file, f"{name} {number}{_named(row)}", row, self.problems)
            for number, row in enumerate(value, start=1)
        ]


def _named(row: Mapping[str, object]) -> str:
    code = row.get("code")
    return f" ({code[:40]})" if isinstance(code, str) and code else ""

"""What a column may mean, and by which headings it is recognised. A suggestion: a person confirms it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType

LEAVE_OUT = "leave out"
"""What is never read: names, telephone numbers, and whatever nobody gave a meaning."""

NOTES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "day": ("date", "day", "when", "visit date", "service date", "inspected", "inspection date", "dt"),
        "unit": ("unit", "apt", "apartment", "apt #", "unit #", "flat", "room", "door", "suite", "unit no"),
        "words": (
            *("result", "finding", "findings", "status", "outcome", "what", "found", "action", "activity"),
            *("work done", "service", "treatment", "visit result", "comments", "description", "type"),
        ),
        "method": ("method", "how", "inspection type", "visit type", "inspected by method"),
        "level": ("level", "severity", "infestation", "infestation level", "how heavy", "degree"),
        "count": ("count", "bugs", "number of bugs", "bugs counted", "qty", "no of bugs"),
        "by": ("by", "tech", "technician", "inspector", "crew", "work code", "who"),
        "note": ("note", "notes", "remark", "remarks", "memo", "other"),
        "building": ("bldg", "building", "block", "tower"),
    }
)
"""Meanings of a column of notes. Only ``words``, ``method`` and ``level`` are read as what happened."""

ROLL: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "unit": ("unit", "apt", "apartment", "flat", "unit #", "apt #", "door", "suite", "unit no", "room"),
        "floor": ("floor", "flr", "fl", "level", "storey", "story"),
        "stack": ("stack", "line", "riser", "tier", "column"),
        "side": ("side", "exposure", "facing", "orientation"),
        "order": ("order", "position", "sequence"),
        "area m2": ("area m2", "m2", "sqm", "sq m", "square metres", "square meters", "area"),
        "area sq ft": ("sq ft", "sqft", "square feet", "sf", "sq. ft.", "sq feet", "size", "rsf"),
        "layout": ("layout", "type", "unit type", "bed bath", "br", "bedrooms", "floor plan", "beds"),
        "occupancy": ("occupancy", "status", "occupied", "vacant", "vacancy", "occ"),
        "moved in": ("moved in", "move in", "move-in", "move in date", "mi date"),
        "moved out": ("moved out", "move out", "move-out", "move out date", "mo date", "vacated"),
        "building": ("bldg", "building", "block", "tower"),
    }
)
"""Meanings of a column of a rent roll or another list of units. When a lease begins is none of them: it may
be long after its people moved in."""

_PEOPLE = re.compile(
    r"\b(name|tenant|resident|occupant|phone|tel|mobile|e-?mail|birth|dob|age|ssn|rent|balance|deposit|guarantor"
    r"|lease|household)\b"
)


def plain(heading: str) -> str:
    """Return a heading or a wording as it is compared: small letters, one space, no marks that say nothing.

    A question mark says something ("BB found?"), and so do + and -.
    """
    text = re.sub(r"[,;:.](?=\s|$)", " ", heading.casefold())
    return " ".join(re.sub(r"[\s_]+", " ", text).strip(" .:;*#!").split())


def is_of_people(heading: str) -> bool:
    """Say whether a heading speaks of people or money: such a column is proposed to be left out."""
    return bool(_PEOPLE.search(plain(heading)))


def suggested(heading: str, meanings: Mapping[str, Sequence[str]]) -> str:
    """Return what a heading may mean: a key of ``meanings``, or :data:`LEAVE_OUT`."""
    asked = plain(heading)
    if not asked:
        return LEAVE_OUT
    for meaning, words in meanings.items():
        if asked in map(plain, words):
            return meaning
    if is_of_people(heading):
        return LEAVE_OUT
    tokens = set(re.findall(r"[a-z0-9]+", asked))
    for meaning, words in meanings.items():
        for word in words:
            if set(re.findall(r"[a-z0-9]+", plain(word))) <= tokens and len(plain(word)) > 2:
                return meaning
    return LEAVE_OUT


def heading_row(rows: Sequence[tuple[int, Sequence[str]]], meanings: Mapping[str, Sequence[str]]) -> int:
    """Return the place in ``rows`` of the line of headings: below titles, above the first entries.

    The line of the first thirty with most headings that are recognised; of two alike the upper one. Where
    none is recognised it is the first line that is as wide as most.
    """
    scores = []
    for at, (_, cells) in enumerate(rows[:30]):
        named = {suggested(cell, meanings) for cell in cells if not re.fullmatch(r"[\d\s./-]*", cell)}
        filled = sum(bool(cell) for cell in cells)
        scores.append((len(named - {LEAVE_OUT}), min(filled, 3), -at))
    best = max(scores)
    if best[0] >= 2:
        return -best[2]
    widths = [sum(bool(cell) for cell in cells) for _, cells in rows]
    usual = max(set(widths), key=widths.count)
    return next(at for at, width in enumerate(widths) if width >= min(usual, 2))

"""What ``spread room`` prints: the room sheet as text, as data and as a page for paper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from spread.decisions.room.sheet import RoomSheet, SheetRow
from spread.facts import as_json
from spread.report.document import Document, Paragraph, Strong, Table, Text
from spread.report.lines import folded
from spread.trade.room import SLEEPING_ROWS
from spread.trade.sources import COMMON_PRACTICE
from spread.words import ENGLISH, Voice, say
from spread.words.room import (
    bed_words,
    item_in,
    origin,
    place_names,
    ring_words,
    share,
    source_words,
    tool_name,
)
from spread.words.voice import upper

NO_PRODUCT = "None."
"""What a row says where no product is for it; the page then leaves it out."""
SLEEPING_ITEMS = [item for items in SLEEPING_ROWS.values() for item in items]
"""Rows that a phone asks for one by one."""
_EXAMPLE = (
    "BUILDING --unit UNIT --kind inspection --method thorough-visual --found yes --items "
    '"headboard: live+stains, 12, nymphs, 0.4 m, photo photos/IMG_1.jpg, at bed 1; sofa: nothing"'
)


def room_text(sheet: RoomSheet, voice: Voice = ENGLISH) -> str:
    """Return a sheet as plain text."""
    return "\n".join(_lines(sheet, voice))


def _lines(sheet: RoomSheet, voice: Voice) -> Iterator[str]:
    yield _title(sheet, voice)
    yield _wrap(voice.text("People sleep in: {places}.", places=place_names(sheet.places, voice)), "")
    for sentence in known_words(sheet, voice):
        yield _wrap(sentence, "")
    for note in sheet.sheet.notes:
        yield _wrap(f"{voice.term('room', note.text)} [{origin(note.source, note.confidence, voice)}]")
    for number, row in enumerate(sheet.rows, start=1):
        yield ""
        yield f"{number}. {item_in(row.item, voice).name}: {share(row, voice)}; {ring_words(row.ring, voice)}"
        yield from _about(row, voice)
    for row in sheet.checks:
        yield ""
        yield voice.text("Check: {item}", item=item_in(row.item, voice).name)
        yield from _about(row, voice)
    yield ""
    yield _wrap(voice.text("Bring: {things}.", things=_tools(sheet, voice)), "")
    yield _wrap(voice.text("Where to look first: {source}.", source=_weights(sheet, voice)), "")
    yield _wrap(voice.text("Write findings down as: {command}", command=f"spread record {_EXAMPLE}"), "")


def _about(row: SheetRow, voice: Voice) -> Iterator[str]:
    item, text = item_in(row.item, voice), voice.text
    if row.places:
        yield _wrap(text("At: {places}", places=place_names(row.places, voice)))
    yield _wrap(text("Look: {words}", words=item.look))
    if row.near:
        yield _wrap(text("Here: {words}", words=say(row.near, voice)))
    yield _wrap(text("Counts: {words}.", words=item.evidence))
    yield _wrap(text("Treat: {words}", words=item.treat))
    yield _wrap(text("Product: {words}", words=item.product))
    yield _wrap(text("CAUTION: {words}", words=item.caution))
    if row.last:
        yield _wrap(text("Last seen: {words}", words=say(row.last, voice)))
    yield _wrap(f"[{item.code}; {origin(row.item.source, item.confidence, voice)}]")


def known_words(sheet: RoomSheet, voice: Voice) -> tuple[str, ...]:
    """Return what the log and the plan say that matters in this room, a sentence each."""
    return (*(say(fact, voice) for fact in sheet.known), *bed_words(sheet.bed, voice))


def _title(sheet: RoomSheet, voice: Voice) -> str:
    said = {"sheet": voice.term("room", sheet.sheet.name), "unit": sheet.unit, "building": sheet.building}
    if sheet.on is None:
        return voice.text("{sheet}: unit {unit}, {building}", **said)
    return voice.text("{sheet}: unit {unit}, {building}, {day}", **said, day=voice.day(sheet.on))


def _tools(sheet: RoomSheet, voice: Voice) -> str:
    return ", ".join(tool_name(tool, voice) for tool in sheet.tools)


def _weights(sheet: RoomSheet, voice: Voice) -> str:
    return origin(sheet.sheet.weights_source, sheet.sheet.weights_confidence, voice)


def _wrap(text: str, indent: str = "   ") -> str:
    return folded(text, indent, "   ")


def room_data(sheet: RoomSheet, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return a sheet ready for JSON; ``known``, ``last`` and ``near`` in words, and as ``facts``."""
    return {
        "building": sheet.building,
        "unit": sheet.unit,
        "on": sheet.on.isoformat() if sheet.on else None,
        "places": [asdict(place) for place in sheet.places],
        "known": list(known_words(sheet, voice)),
        "facts": as_json(sheet.known),
        "bed": sheet.bed,
        "rows": [_row_data(row, voice) for row in sheet.rows],
        "checks": [_row_data(row, voice) for row in sheet.checks],
        "tools": [tool_name(tool, voice) for tool in sheet.tools],
        "notes": [
            asdict(note) | {"text": voice.term("room", note.text), "source": source_words(note.source, voice)}
            for note in sheet.sheet.notes
        ],
        "weights": {
            "source": source_words(sheet.sheet.weights_source, voice),
            "confidence": sheet.sheet.weights_confidence,
        },
    }


def _row_data(row: SheetRow, voice: Voice) -> dict[str, Any]:
    item = item_in(row.item, voice)
    return {
        **asdict(item),
        "tools": list(item.tools),
        "weight": round(row.weight, 6),
        "share": share(row, voice) if row.item.group != "check" else "",
        "ring": row.ring,
        "sleeping": item.code in SLEEPING_ITEMS,
        "furniture": item.furniture,
        "ring_words": ring_words(row.ring, voice),
        "places": [place.name for place in row.places],
        "last": say(row.last, voice) if row.last else "",
        "near": say(row.near, voice) if row.near else "",
        "facts": as_json([fact for fact in (row.last, row.near) if fact]),
    }


def room_sheet_document(sheet: RoomSheet, made_on: dt.date | None = None, voice: Voice = ENGLISH) -> Document:
    """Return a sheet as one page for paper: a box to tick and room to write a row.

    ``sheet``: the sheet of a unit. ``made_on``: the day on the page; the sheet's own if None, and 1 January
    2000 for a sheet of no day. ``voice``: the language and measure of whoever reads it.
    """
    day, text = made_on or sheet.on or dt.date(2000, 1, 1), voice.text
    rows = (*sheet.rows, *sheet.checks)
    numbers: dict[str, int] = {}
    for row in rows:
        if row.item.source != COMMON_PRACTICE:
            numbers.setdefault(origin(row.item.source, row.item.confidence, voice), len(numbers) + 1)
    notes = " ".join(voice.term("room", note.text) for note in sheet.sheet.notes)
    known = " ".join(known_words(sheet, voice))
    said = dict.fromkeys(origin(note.source, note.confidence, voice) for note in sheet.sheet.notes)
    return Document(
        title=text("{sheet}: unit {unit}", sheet=voice.term("room", sheet.sheet.name), unit=sheet.unit),
        blocks=(
            Paragraph(
                (
                    Strong(text("Sleeping places: ")),
                    f"{place_names(sheet.places, voice)}. ",
                    *((known,) if known else ()),
                )
            ),
            Paragraph(notes, small=True),
            Table(
                (
                    text("Item"),
                    text("Where to look; what counts"),
                    text("Usual treatment; products"),
                    text("Caution"),
                    text("Seen, count"),
                ),
                tuple(_cells(row, numbers, len(sheet.places), voice) for row in rows),
                widths=(0.17, 0.30, 0.25, 0.20, 0.08),
                small=True,
                ticks=True,
            ),
            Paragraph((Strong(text("Bring: ")), f"{_tools(sheet, voice)}.")),
            Paragraph(
                text(
                    "A row without a number: {practice}. {sources}. Where to look first: {weights}. "
                    "Notes above: {notes}.",
                    practice=source_words(COMMON_PRACTICE, voice),
                    sources="; ".join(f"[{number}] {source}" for source, number in numbers.items()),
                    weights=_weights(sheet, voice),
                    notes="; ".join(said),
                ),
                small=True,
            ),
        ),
        made_on=day,
        language=voice.language,
        building=sheet.building,
        footer=text("Decision support, not a guarantee. The label is the law. One look clears no unit."),
        dense=True,
    )


def _cells(row: SheetRow, numbers: dict[str, int], places: int, voice: Voice) -> tuple[Text, ...]:
    item, text = item_in(row.item, voice), voice.text
    number = numbers.get(origin(row.item.source, item.confidence, voice))
    mark = f" [{number}]." if number else "."
    hidden = "" if item.group == "check" else f" {upper(share(row, voice))}."
    at = text("At {places}.", places=place_names(row.places, voice)) if 0 < len(row.places) < places else ""
    near = f" {say(row.near, voice)}" if row.near else ""
    last = text("Last seen: {words}.", words=say(row.last, voice)) if row.last else ""
    treat: Text = item.treat
    if row.item.product != NO_PRODUCT:
        treat = (f"{item.treat} ", Strong(text("Products: ")), item.product)
    return (
        (Strong(item.name), f"{mark}{hidden}{at and ' ' + at}"),
        (f"{item.look}{near} ", Strong(text("Signs: ")), f"{item.evidence}.{last and ' ' + last}"),
        treat,
        item.caution,
        "",
    )

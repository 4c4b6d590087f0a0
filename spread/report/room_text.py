"""What ``spread room`` prints: the room sheet as text, as data and as a page for paper."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from spread.decisions.room.sheet import RoomSheet, SheetRow
from spread.report.document import Document, Paragraph, Strong, Table, Text
from spread.trade.room import RINGS
from spread.trade.sources import COMMON_PRACTICE
from spread.weeks import speak_date

WIDTH = 100


def room_text(sheet: RoomSheet) -> str:
    """Return a sheet as plain text."""
    return "\n".join(_lines(sheet))


def _lines(sheet: RoomSheet) -> Iterator[str]:
    yield title_of(sheet)
    yield _wrap(f"People sleep in: {', '.join(place.name for place in sheet.places)}.", "")
    for sentence in sheet.known:
        yield _wrap(sentence, "")
    for note in sheet.sheet.notes:
        yield _wrap(f"{note.text} [{origin(note.source, note.confidence)}]")
    for number, row in enumerate(sheet.rows, start=1):
        yield ""
        yield f"{number}. {row.item.name}: {share(row)}; {RINGS[row.ring]}"
        yield from _about(row)
    for row in sheet.checks:
        yield ""
        yield f"Check: {row.item.name}"
        yield from _about(row)
    yield ""
    yield _wrap(f"Bring: {', '.join(sheet.tools)}.", "")
    weights = origin(sheet.sheet.weights_source, sheet.sheet.weights_confidence)
    yield _wrap(f"Where to look first: {weights}.", "")
    yield _wrap(f"Write findings down as: spread record {_EXAMPLE}", "")


_EXAMPLE = (
    "BUILDING --unit UNIT --kind inspection --method thorough-visual --found yes --items "
    '"headboard: live+stains, 12, nymphs, 0.4 m, photo photos/IMG_1.jpg, at bed 1; sofa: nothing"'
)


def _about(row: SheetRow) -> Iterator[str]:
    item = row.item
    if row.places:
        yield _wrap(f"At: {', '.join(row.places)}")
    yield _wrap(f"Look: {item.look}")
    if row.near:
        yield _wrap(f"Here: {row.near}")
    yield _wrap(f"Counts: {item.evidence}.")
    yield _wrap(f"Treat: {item.treat}")
    yield _wrap(f"Product: {item.product}")
    yield _wrap(f"CAUTION: {item.caution}")
    if row.last:
        yield _wrap(f"Last seen: {row.last}")
    yield _wrap(f"[{item.code}; {origin(item.source, item.confidence)}]")


def title_of(sheet: RoomSheet) -> str:
    """Return the title of a sheet."""
    day = f", {speak_date(sheet.on)}" if sheet.on else ""
    return f"{sheet.sheet.name}: unit {sheet.unit}, {sheet.building}{day}"


def share(row: SheetRow) -> str:
    """Return how likely a row is the place to look, in words that a hurried reader cannot misread."""
    percent = 100 * row.weight
    return (
        f"{percent:.0f} of 100 bugs" if percent >= 1.5 else ("1 of 100 bugs" if percent >= 0.5 else "rarely")
    )


def origin(source: str, confidence: str) -> str:
    """Return a source with its confidence, which common practice has none of."""
    return f"{source}; confidence {confidence}" if confidence else source


def _wrap(text: str, indent: str = "   ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=indent, subsequent_indent=indent or "   ")


def room_data(sheet: RoomSheet) -> dict[str, Any]:
    """Return a sheet ready for JSON."""
    return {
        "building": sheet.building,
        "unit": sheet.unit,
        "on": sheet.on.isoformat() if sheet.on else None,
        "places": [asdict(place) for place in sheet.places],
        "known": list(sheet.known),
        "bed": sheet.bed,
        "rows": [_row_data(row) for row in sheet.rows],
        "checks": [_row_data(row) for row in sheet.checks],
        "tools": list(sheet.tools),
        "notes": [asdict(note) for note in sheet.sheet.notes],
        "weights": {
            "source": sheet.sheet.weights_source,
            "confidence": sheet.sheet.weights_confidence,
        },
    }


def _row_data(row: SheetRow) -> dict[str, Any]:
    return {
        **asdict(row.item),
        "tools": list(row.item.tools),
        "weight": round(row.weight, 6),
        "ring": row.ring,
        "ring_words": RINGS[row.ring],
        "places": list(row.places),
        "last": row.last,
        "near": row.near,
    }


def room_sheet_document(sheet: RoomSheet, made_on: dt.date | None = None) -> Document:
    """Return a sheet as one page for paper: a box to tick and room to write a row.

    Parameters
    ----------
    sheet
        The sheet of a unit.
    made_on
        The day on the page; the sheet's own if None, and 1 January 2000 for a sheet of no day.
    """
    day = made_on or sheet.on or dt.date(2000, 1, 1)
    rows = (*sheet.rows, *sheet.checks)
    numbers: dict[str, int] = {}
    for row in rows:
        if row.item.source != COMMON_PRACTICE:
            numbers.setdefault(origin(row.item.source, row.item.confidence), len(numbers) + 1)
    notes = " ".join(note.text for note in sheet.sheet.notes)
    places = ", ".join(place.name for place in sheet.places)
    weights = origin(sheet.sheet.weights_source, sheet.sheet.weights_confidence)
    said = dict.fromkeys(origin(n.source, n.confidence) for n in sheet.sheet.notes)
    sources = "; ".join(f"[{number}] {source}" for source, number in numbers.items())
    return Document(
        title=f"{sheet.sheet.name}: unit {sheet.unit}",
        blocks=(
            Paragraph((Strong("Sleeping places: "), f"{places}. ", *_spaced(sheet.known))),
            Paragraph(notes, small=True),
            Table(
                ("Item", "Where to look; what counts", "Usual treatment; products", "Caution", "Seen, count"),
                tuple(_cells(row, numbers, len(sheet.places)) for row in rows),
                widths=(0.17, 0.31, 0.25, 0.19, 0.08),
                small=True,
                ticks=True,
            ),
            Paragraph((Strong("Bring: "), f"{', '.join(sheet.tools)}.")),
            Paragraph(
                f"A row without a number: {COMMON_PRACTICE}. {sources}. "
                f"Where to look first: {weights}. Notes above: {'; '.join(said)}.",
                small=True,
            ),
        ),
        made_on=day,
        building=sheet.building,
        footer=_FOOT,
        dense=True,
    )


_FOOT = "Decision support, not a guarantee. The label is the law. One look clears no unit."


def _spaced(sentences: tuple[str, ...]) -> tuple[str, ...]:
    return (" ".join(sentences),) if sentences else ()


def _cells(row: SheetRow, numbers: dict[str, int], places: int) -> tuple[Text, ...]:
    item = row.item
    number = numbers.get(origin(item.source, item.confidence))
    mark = f" [{number}]" if number else ""
    at = f" At {', '.join(row.places)}." if 0 < len(row.places) < places else ""
    last = f" Last seen: {row.last}." if row.last else ""
    near = f"{row.near} " if row.near else ""
    hidden = "" if item.group == "check" else f" {share(row).capitalize()}."
    return (
        (Strong(item.name), f"{mark}.{hidden}{at}"),
        (f"{item.look} {near}", Strong("Signs: "), f"{item.evidence}.{last}"),
        item.treat if item.product == _NO_PRODUCT else (f"{item.treat} ", Strong("Products: "), item.product),
        item.caution,
        "",
    )


_NO_PRODUCT = "None."

"""A document as a tagged PDF, set by typst (the extra ``pdf``), which needs nothing of the system."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import replace
from importlib.resources import files
from typing import Any

from spread.errors import SpreadError
from spread.report import document as doc
from spread.report.document import Block, Document, Paper, Text, printable, spans_of
from spread.words import Voice
from spread.words.paper import page_words

_PAPERS = {"a4": "a4", "letter": "us-letter"}
_FONT = "Libertinus Serif"
"""One of the fonts inside typst itself, so that a page looks the same on every machine."""
_FAMILY = re.compile(r'font-family="[^"]*"')
SHRINKS = ("1", "1.1", "0.9", "1.2", "0.8", "1.35", "0.7", "1.5", "0.55")
"""Factors on the width of pictures that are tried, where a document asks for few and full pages."""
LEAST_OF_LAST = 0.36  #: How far down its last page such a document ends, as a share of the paper's height
MISSING = "A PDF needs the Python package typst, which is not installed: run pip install 'spread[pdf]', or "
BY_BROWSER = "leave PDF out and print the page from a browser"


def check_typst(otherwise: str = BY_BROWSER) -> None:
    """Say in one sentence that typst is not installed, and what to do otherwise."""
    try:
        import typst  # noqa: F401, PLC0415 - an extra, and 80 MB of it
    except ImportError:
        raise SpreadError(f"{MISSING}{otherwise}.") from None


def write_pdf(document: Document, paper: Paper = "a4") -> bytes:
    """Write a document as a PDF.

    Text reaches typst as data and never as markup, so nothing in it can be a command. No file is
    written, no network is used, and only the fonts inside typst are used: letters that they lack (such as
    Chinese or Arabic ones) come out as empty boxes, and the HTML page shows them.

    ``paper``: the size of its pages. Returns a PDF with tags, a language and a title for screen readers. It
    says that it keeps to PDF/UA-1 (ISO 14289-1) where typst found that it does; no other validator was run.
    The same document gives the same bytes. Raises SpreadError when typst is not installed.
    """
    check_typst()
    import typst  # noqa: PLC0415

    made = dt.datetime.combine(document.made_on, dt.time(), tzinfo=dt.UTC)
    page = files("spread.report").joinpath("page.typ").read_bytes()
    given = _given(page, document, paper)

    def typeset(standards: list[Any]) -> bytes:
        return typst.compile(
            page,
            format="pdf",
            ignore_system_fonts=True,
            sys_inputs=given,
            pdf_standards=standards,
            timestamp=made,
        )

    try:
        return typeset(["ua-1"])
    except typst.TypstError:
        # The standard allows no letter that the fonts lack and no skipped level of headings.
        return typeset([])


def _given(page: bytes, document: Document, paper: Paper) -> dict[str, str]:
    """Return what the page is set from; dense letters only where usual ones do not fit on its pages."""
    given = {"document": json.dumps(_data(document, paper))}
    if not document.most_pages:
        return given
    if document.dense:
        roomy = {"document": json.dumps(_data(replace(document, dense=False), paper))}
        if shrink := _shrink(page, roomy, document.most_pages):
            return roomy | {"shrink": shrink}
    return given | {"shrink": _shrink(page, given, document.most_pages) or SHRINKS[-1]}


def _shrink(page: bytes, given: dict[str, str], most: int) -> str:
    """Return how far to shrink the pictures so that pages are few and the last one is not almost empty.

    Empty where no size does.
    """
    import typst  # noqa: PLC0415

    for shrink in SHRINKS:
        tried = {**given, "shrink": shrink}
        ends = typst.query(page, "<end>", field="value", one=True, ignore_system_fonts=True, sys_inputs=tried)
        last, down = json.loads(ends)
        if last <= most and down >= LEAST_OF_LAST:
            return shrink
    return ""


def _data(document: Document, paper: Paper) -> dict[str, Any]:
    """Return a document as plain data, as ``page.typ`` reads it."""
    day = document.made_on
    voice = Voice(document.language)
    words = page_words(voice)
    return {
        "title": printable(document.title),
        "subtitle": printable(document.subtitle),
        "building": printable(document.building),
        "footer": printable(document.footer),
        "large": document.large,
        "dense": document.dense,
        "most": document.most_pages,
        "language": document.language,
        "paper": _PAPERS[paper],
        "day": [day.year, day.month, day.day],
        "made": voice.long_day(day),
        "words": words,
        "blocks": [_block(block, words) for block in document.blocks],
    }


def _block(block: Block, words: dict[str, str]) -> dict[str, Any]:  # noqa: PLR0911 - one line a kind
    match block:
        case doc.Heading():
            return {"kind": "heading", "text": printable(block.text), "level": block.level}
        case doc.Paragraph():
            return {"kind": "paragraph", "text": spans_of(block.text), "small": block.small}
        case doc.Bullets():
            return {"kind": "bullets", "items": _all(block.items), "ticks": block.ticks}
        case doc.Numbered():
            return {"kind": "numbered", "items": _all(block.items)}
        case doc.Table():
            return _table(block)
        case doc.Facts():
            pairs = [[printable(label), spans_of(value)] for label, value in block.pairs]
            return {"kind": "facts", "pairs": pairs}
        case doc.Picture():
            return _picture(block)
        case doc.Caution():
            title = printable(block.title) or words["caution"]
            return {"kind": "caution", "title": title, "text": spans_of(block.text)}
        case doc.Fill():
            labels = [printable(label) for label in block.labels]
            return {"kind": "fill", "labels": labels, "lines": block.lines, "beside": block.side_by_side}
        case doc.PageBreak():
            return {"kind": "break"}
        case doc.Sources():
            return {"kind": "sources", "items": _all(block.items)}


def _all(texts: tuple[Text, ...]) -> list[tuple[tuple[str, bool], ...]]:
    return [spans_of(text) for text in texts]


def _table(table: doc.Table) -> dict[str, Any]:
    return {
        "kind": "table",
        "header": _all(table.header),
        "rows": [_all(row) for row in table.rows],
        "align": table.sides,
        "widths": table.widths or [0] * len(table.header),
        "caption": printable(table.caption),
        "small": table.small,
        "ticks": table.ticks,
        "whole": table.whole,
    }


def _picture(picture: doc.Picture) -> dict[str, Any]:
    # A drawing names the fonts of a screen; on paper there are only those inside typst.
    svg = _FAMILY.sub(f'font-family="{_FONT}"', printable(picture.svg))
    words = {"alt": printable(picture.alt), "caption": printable(picture.caption)}
    return {"kind": "picture", "svg": svg, "width": picture.width, **words}

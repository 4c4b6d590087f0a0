"""A printable thing as plain data: what it says, and not yet how it looks.

A :class:`Document` is a title and a row of blocks. :func:`spread.report.html.write_html` and
:func:`spread.report.pdf.write_pdf` turn the same one into a page for a browser and into a PDF. Text is
always text: neither writer ever reads markup in it, so a note or a name can hold any characters.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from spread.words.voice import Language

Paper = Literal["a4", "letter"]
Side = Literal["left", "right", "center"]

PAPERS: tuple[Paper, ...] = ("a4", "letter")

_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Strong:
    """A few words that stand out."""

    text: str


Text = str | Strong | tuple[str | Strong, ...]
"""A run of text; ``("Knock at ", Strong("304"), " first.")`` has strong words in it."""


def spans_of(text: Text) -> tuple[tuple[str, bool], ...]:
    """Return a text as pairs of printable words and whether they are strong."""
    parts = text if isinstance(text, tuple) else (text,)
    return tuple(
        (printable(part.text), True) if isinstance(part, Strong) else (printable(part), False)
        for part in parts
    )


def plain(text: Text) -> str:
    """Return a text without its marks."""
    return "".join(words for words, _ in spans_of(text))


def printable(text: str) -> str:
    """Return a text with what no page can show (control characters, halves of a pair) as U+FFFD."""
    return _UNPRINTABLE.sub("\ufffd", text.replace("\r\n", "\n").replace("\r", "\n"))


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside the document; level 1 is the highest under the title."""

    text: str
    level: int = 1

    def __post_init__(self) -> None:
        if self.level not in (1, 2, 3):
            raise ValueError(f"a heading has level 1, 2 or 3, not {self.level}")


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; ``small`` for a remark under something."""

    text: Text
    small: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of points; with ``ticks`` each has a box to tick on paper."""

    items: tuple[Text, ...]
    ticks: bool = False


@dataclass(frozen=True, slots=True)
class Numbered:
    """A list of steps in order."""

    items: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table whose head is repeated on every page it runs over.

    Parameters
    ----------
    header
        One cell a column.
    rows
        Cells, as many as the header has.
    align
        Side of each column; all left if empty.
    widths
        Shares of the width of each column; 0 is as wide as its text. All by their text if empty.
    caption
        A line above it; may be empty.
    small
        Smaller letters, for a wide one.
    ticks
        An empty box to tick ahead of every row.
    whole
        Kept on one page, with its caption; for one of few rows.
    """

    header: tuple[Text, ...]
    rows: tuple[tuple[Text, ...], ...]
    align: tuple[Side, ...] = ()
    widths: tuple[float, ...] = ()
    caption: str = ""
    small: bool = False
    ticks: bool = False
    whole: bool = False

    def __post_init__(self) -> None:
        columns = len(self.header)
        if any(len(row) != columns for row in self.rows):
            raise ValueError(f"every row of this table needs {columns} cells, as its header has")
        for name, given in (("align", self.align), ("widths", self.widths)):
            if given and len(given) != columns:
                raise ValueError(f"{name} needs {columns} entries, as the header has")

    @property
    def sides(self) -> tuple[Side, ...]:
        """The side of each column."""
        return self.align or tuple("left" for _ in self.header)


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a label and its value, under each other."""

    pairs: tuple[tuple[str, Text], ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing.

    ``svg``: one ``<svg>`` element that needs nothing from outside, with ``width`` and ``height`` or a
    ``viewBox``. ``alt``: what it shows, for those who cannot see it; never empty. ``caption``: a line under
    it; may be empty. ``width``: share of the width of the page, above 0 and up to 1.
    """

    svg: str
    alt: str
    caption: str = ""
    width: float = 1.0

    def __post_init__(self) -> None:
        if not self.svg.lstrip().startswith("<svg") or not self.alt.strip() or not 0 < self.width <= 1:
            raise ValueError(
                "a picture needs an <svg> element, words for who cannot see it, and 0 < width <= 1"
            )


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to be careful about, in a frame of its own."""

    text: Text
    title: str = ""


@dataclass(frozen=True, slots=True)
class Fill:
    """Blank lines to write on by hand.

    ``labels``: under each other or, with ``side_by_side``, beside each other: ``("Technician", "Date")``.
    ``lines``: empty lines after each label, for notes; 0 puts the line beside the label.
    """

    labels: tuple[str, ...]
    lines: int = 0
    side_by_side: bool = False


@dataclass(frozen=True, slots=True)
class PageBreak:
    """What follows begins on a new page."""


@dataclass(frozen=True, slots=True)
class Sources:
    """Where figures and rules come from, in small letters under a heading of its own."""

    items: tuple[Text, ...]


Block = (
    Heading | Paragraph | Bullets | Numbered | Table | Facts | Picture | Caution | Fill | PageBreak | Sources
)


@dataclass(frozen=True, slots=True)
class Document:
    """A printable thing.

    Parameters
    ----------
    title
        Its name, also of the PDF.
    blocks
        What it says, in order.
    made_on
        The day it was made for; a document made twice from the same is the same to the byte.
    subtitle
        A line under the title; may be empty.
    language
        The language of its text.
    building
        The building's name, at the head; may be empty.
    footer
        A line at the foot of every page, beside the page number; may be empty.
    large
        Larger letters, for a page that residents read.
    dense
        Small letters and narrow margins on paper, for a table that has to fit on one page; with
        ``most_pages`` a PDF has them only where it does not fit otherwise.
    most_pages
        How many pages a PDF may have; pictures are made smaller or larger for that, and so that the last page
        is not almost empty. 0 leaves everything at its size.

    Examples
    --------
    >>> import datetime as dt
    >>> sheet = Document(
    ...     "Room sheet, unit 304",
    ...     (
    ...         Facts((("Look from", "the bed outward"), ("Bring", "torch, crevice tool, mirror"))),
    ...         Heading("Bed"),
    ...         Table(("Item", "Look for"), (("Headboard", "spots on the wall behind it"),), ticks=True),
    ...         Caution(("Power off before a plate comes off. ", Strong("Never steam an outlet."))),
    ...         Fill(("Technician", "Date"), side_by_side=True),
    ...     ),
    ...     made_on=dt.date(2026, 11, 20),
    ...     building="Ostrel Court",
    ... )
    >>> texts_of(sheet)[:3]
    ('Room sheet, unit 304', 'Ostrel Court', 'Look from')
    """

    title: str
    blocks: tuple[Block, ...]
    made_on: dt.date
    subtitle: str = ""
    language: Language = "en"
    building: str = ""
    footer: str = ""
    large: bool = False
    dense: bool = False
    most_pages: int = 0


def texts_of(document: Document) -> tuple[str, ...]:
    """Return every text of a document that a reader sees, in order, without those inside pictures."""
    head = (document.title, document.subtitle, document.building)
    body = (text for block in document.blocks for text in _texts(block))
    return tuple(printable(text) for text in (*head, *body, document.footer) if text)


def _texts(block: Block) -> Iterator[str]:
    match block:
        case Heading(text=words):
            yield words
        case Paragraph(text=words):
            yield plain(words)
        case Bullets(items=items) | Numbered(items=items) | Sources(items=items):
            yield from map(plain, items)
        case Table():
            yield block.caption
            for row in (block.header, *block.rows):
                yield from map(plain, row)
        case Facts(pairs=pairs):
            for label, value in pairs:
                yield from (label, plain(value))
        case Picture():
            yield block.caption
        case Caution():
            yield from (block.title, plain(block.text))
        case Fill(labels=labels):
            yield from labels
        case PageBreak():
            return

"""A document as one page of HTML that needs nothing else and prints from any browser."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from html import escape
from importlib.resources import files

from spread.report import document as doc
from spread.report.document import Block, Document, Paper, Text, printable, spans_of
from spread.words import Voice
from spread.words.paper import page_words

_SIZES = {"a4": "A4", "letter": "letter"}
_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
"""The page itself forbids the browser to fetch anything or to run anything."""


def write_html(document: Document, paper: Paper = "a4") -> str:
    """Write a document as a page of HTML.

    ``paper``: the paper it is printed on. Returns a whole page. Style is inside, pictures are inside as
    images (so that nothing in a drawing can run), and a policy in its head forbids every request.
    """
    voice = Voice(document.language)
    words = page_words(voice)
    style = files("spread.report").joinpath("page.css").read_text(encoding="utf-8")
    numbers = f'"{words["page"]} " counter(page) " {words["of"]} " counter(pages)'
    head = [_tag("p", document.building, 'class="building"')] if document.building else []
    head.append(_tag("h1", document.title))
    if document.subtitle:
        head.append(_tag("p", document.subtitle, 'class="subtitle"'))
    day = voice.long_day(document.made_on)
    head.append(f'<p class="made"><time datetime="{document.made_on.isoformat()}">{day}</time></p>')
    foot = f"<footer>{_text(document.footer)}</footer>\n" if document.footer else ""
    body = "\n".join(_block(block, words) for block in document.blocks)
    top = "\n".join(head)
    airy = document.dense and document.most_pages > 0  # what a PDF sets in usual letters, where they fit
    looks = {"large": document.large, "dense": document.dense, "airy": airy}
    names = " ".join(name for name, has in looks.items() if has)
    body_tag = f'<body class="{names}">' if names else "<body>"
    margin = (
        "margin: 7mm 9mm 9mm; " if document.dense else "margin: 12mm 16mm 14mm; " if document.large else ""
    )
    return (
        f'<!doctype html>\n<html lang="{document.language}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(printable(document.title))}</title>\n<style>\n{style}"
        f"@page {{ size: {_SIZES[paper]}; {margin}@bottom-left {{ content: {_quoted(document.footer)}; }} "
        f"@bottom-right {{ content: {numbers}; }} }}\n"
        f"</style>\n</head>\n{body_tag}\n<header>\n{top}\n</header>\n"
        f"<main>\n{body}\n</main>\n{foot}</body>\n</html>\n"
    )


def _quoted(text: str) -> str:
    """Return a text as a string of CSS; what could end it or the style is written by its number."""
    safe = (
        letter if letter.isalnum() or letter in " .,-" else f"\\{ord(letter):x} "
        for letter in printable(text)
    )
    return f'"{"".join(safe)}"'


def _text(text: Text) -> str:
    parts = ((escape(words).replace("\n", "<br>"), strong) for words, strong in spans_of(text))
    return "".join(f"<strong>{words}</strong>" if strong else words for words, strong in parts)


def _tag(name: str, text: Text, more: str = "") -> str:
    return f"<{name}{' ' if more else ''}{more}>{_text(text)}</{name}>"


def _items(items: Iterable[Text]) -> str:
    return "".join(_tag("li", item) for item in items)


def _block(block: Block, words: dict[str, str]) -> str:  # noqa: PLR0911 - one line a kind
    match block:
        case doc.Heading():
            return _tag(f"h{block.level + 1}", block.text)
        case doc.Paragraph():
            return _tag("p", block.text, 'class="small"' if block.small else "")
        case doc.Bullets():
            kind = ' class="ticks"' if block.ticks else ""
            return f"<ul{kind}>{_items(block.items)}</ul>"
        case doc.Numbered():
            return f"<ol>{_items(block.items)}</ol>"
        case doc.Table():
            return _table(block, words)
        case doc.Facts():
            pairs = "".join(f"{_tag('dt', label)}{_tag('dd', value)}" for label, value in block.pairs)
            return f'<dl class="facts">{pairs}</dl>'
        case doc.Picture():
            return _picture(block)
        case doc.Caution():
            title = block.title or words["caution"]
            head = f"<p>{_tag('strong', title)}</p>"
            return f'<aside class="caution">{head}{_tag("p", block.text)}</aside>'
        case doc.Fill():
            return _fill(block)
        case doc.PageBreak():
            return '<div class="break"></div>'
        case doc.Sources():
            heading = _tag("h2", words["sources"])
            return f'<section class="sources">{heading}<ul>{_items(block.items)}</ul></section>'


def _table(table: doc.Table, words: dict[str, str]) -> str:
    tight = [w == 0 for w in table.widths] or [False] * len(table.header)
    sides = [f"{side} tight" if t else side for side, t in zip(table.sides, tight, strict=True)]
    total = sum(table.widths)
    columns = "".join(f'<col style="width:{100 * w / total:.1f}%">' if w else "<col>" for w in table.widths)
    box = f'<th scope="col" class="tick"><span class="unseen">{words["tick"]}</span></th>'
    head = (box if table.ticks else "") + "".join(
        _tag("th", cell, f'scope="col" class="{side}"')
        for cell, side in zip(table.header, sides, strict=True)
    )
    rows = "".join(
        "<tr>"
        + ('<td class="tick"><i class="box"></i></td>' if table.ticks else "")
        + "".join(_tag("td", cell, f'class="{side}"') for cell, side in zip(row, sides, strict=True))
        + "</tr>\n"
        for row in table.rows
    )
    caption = _tag("caption", table.caption) if table.caption else ""
    group = f"<colgroup>{'<col>' if table.ticks else ''}{columns}</colgroup>" if columns else ""
    names = " ".join(name for name in ("small", "whole") if getattr(table, name))
    kind = f' class="{names}"' if names else ""
    return f"<table{kind}>{caption}{group}<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody></table>"


def _picture(picture: doc.Picture) -> str:
    data = base64.b64encode(printable(picture.svg).encode("utf-8")).decode("ascii")
    caption = _tag("figcaption", picture.caption) if picture.caption else ""
    alt = escape(printable(picture.alt))
    return (
        f'<figure><img style="width:{100 * picture.width:.0f}%" alt="{alt}" '
        f'src="data:image/svg+xml;base64,{data}">{caption}</figure>'
    )


def _fill(fill: doc.Fill) -> str:
    rules = '<span class="rule"></span>' * max(fill.lines, 1)
    kind = ("fill beside" if fill.side_by_side else "fill") + (" tall" if fill.lines else "")
    labels = "".join(f"<p>{_tag('span', label)}{rules}</p>" for label in fill.labels)
    return f'<div class="{kind}">{labels}</div>'

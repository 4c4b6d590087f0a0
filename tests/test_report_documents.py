"""One document, two writers: what it says is on both, and no text in it is ever a command.

Text is read back by other programs: pypdf for the PDF (test dependency ``pypdf``), the html.parser
of the standard library for the page.
"""

import base64
import datetime as dt
import io
import re
import sys
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.errors import SpreadError
from spread.plan.drawing.reading import parse_unit_list
from spread.plan.svg import plan_svg
from spread.plan.unit_list import draw_plan
from spread.report.document import (
    Bullets,
    Caution,
    Document,
    Facts,
    Fill,
    Heading,
    Numbered,
    PageBreak,
    Paragraph,
    Picture,
    Sources,
    Strong,
    Table,
    plain,
    printable,
    texts_of,
)
from spread.report.html import write_html
from spread.report.pdf import write_pdf
from spread.words import Voice

DAY = dt.date(2026, 11, 20)
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 10" width="400" height="100" '
    'font-family="system-ui, sans-serif"><rect width="40" height="10" fill="#eee"/>'
    '<text x="2" y="6" font-size="4">Floor 3</text></svg>'
)
MARKUP = "#$*_`@<>[]{}\\/=+-~\"'&;:%|^!?()0123456789 abcXYZéñü¿¡—…\n"


class Page(HTMLParser):
    """The tags of a page, and its text outside of style and title."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.attributes, self.text, self._skip = [], [], "", False
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        self._skip = tag in ("style", "title")

    def handle_endtag(self, tag):
        self._skip = False

    def handle_data(self, data):
        if not self._skip:
            self.text += data


def of_pdf(pdf):
    pypdf = pytest.importorskip("pypdf")
    return "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def bare(text):
    return re.sub(r"\s+", "", text)


def everything(word="word", language="en"):
    """Return a document with every block, each text of its own so that none hides another."""

    def t(place):
        return f"{word} {place}"

    return Document(
        t("title"),
        (
            Heading(t("heading 1")),
            Heading(t("heading 2"), 2),
            Paragraph((t("paragraph "), Strong(t("strong")), t(" after"))),
            Paragraph(t("remark"), small=True),
            Bullets((t("bullet"),)),
            Bullets((t("tick"),), ticks=True),
            Numbered((t("step"),)),
            Table(((t("head")), Strong(t("head b"))), ((t("cell"), t("cell b")),), caption=t("caption")),
            Table((t("th"),), ((t("td"),),), align=("right",), widths=(1,), small=True, ticks=True),
            Facts(((t("label"), t("value")),)),
            Picture(SVG, t("alt"), t("figcaption"), width=0.5),
            Caution(t("caution"), t("caution title")),
            Fill((t("who"), t("when")), side_by_side=True),
            Fill((t("notes"),), lines=2),
            PageBreak(),
            Sources((t("source"),)),
        ),
        made_on=DAY,
        subtitle=t("subtitle"),
        language=language,
        building=t("building"),
        footer=t("footer"),
    )


@pytest.mark.parametrize("language", ["en", "es"])
def test_everything_a_document_says_is_in_both_outputs(language):
    document = everything(language=language)
    page, pdf = bare(Page(write_html(document)).text), bare(of_pdf(write_pdf(document)))
    said = texts_of(document)
    assert len(said) > 25
    for text in said:
        assert bare(text) in page, text
        assert bare(text) in pdf, text
    for words in (bare(Voice(language).long_day(DAY)), "Fuentes" if language == "es" else "Sources"):
        assert words in page
        assert words in pdf


@settings(max_examples=30, deadline=None)
@given(word=st.text(MARKUP, min_size=1, max_size=30))
def test_no_text_is_read_as_markup_by_the_page(word):
    page = Page(write_html(everything(word)))
    assert [tag for tag in page.tags if tag != "br"] == Page(write_html(everything())).tags
    for text in texts_of(everything(word)):
        assert bare(text) in bare(page.text)


@settings(max_examples=12, deadline=None)
@given(word=st.text(MARKUP, min_size=1, max_size=30))
def test_no_text_is_read_as_markup_by_the_pdf(word):
    text = of_pdf(write_pdf(everything(word)))
    for said in texts_of(everything(word)):
        assert bare(said) in bare(text)


@pytest.mark.parametrize(
    "nasty",
    [
        '#read("/etc/passwd")',
        '#import "@preview/tablex:0.0.8": *',
        "#panic()",
        "#set page(width: 1cm)",
        "] #pagebreak() [",
        '"; panic("',
        "$ sum_(i=1) $ `raw` /* no */ // comment",
        "<script>alert(1)</script>",
        '" onload="alert(1)',
        "]]> --> &lt;b&gt; &amp; </style></title>",
        "\\u{41} \\ \\# = heading\n= heading\n- list\n+ list",
    ],
)
def test_commands_in_a_text_stay_text(nasty):
    document = everything(nasty)
    assert bare(nasty) in bare(of_pdf(write_pdf(document)))
    page = Page(write_html(document))
    assert bare(nasty) in bare(page.text)
    assert "script" not in page.tags
    assert not [name for name, _ in page.attributes if name.startswith("on")]


@settings(max_examples=12, deadline=None)
@given(word=st.text(max_size=20))
def test_any_text_at_all_can_be_written(word):
    """Also control characters, halves of a pair, right-to-left marks and letters that no font has."""
    document = everything("x" + word)
    assert write_pdf(document).startswith(b"%PDF-")
    write_html(document).encode("utf-8")


def test_letters_that_the_fonts_lack_leave_the_rest_readable():
    assert "unit" in of_pdf(write_pdf(Document("床 unit", (Paragraph("臭虫"),), made_on=DAY)))


def test_what_no_page_can_show_is_shown_as_missing():
    assert printable("a\x00b\ud800c\x1bd\r\ne") == "a\ufffdb\ufffdc\ufffdd\ne"
    assert plain(("a", Strong("b"), "c")) == "abc"


def test_a_page_asks_for_nothing_from_outside():
    page = Page(write_html(everything()))
    links = [value for name, value in page.attributes if name in ("src", "href", "data", "srcset")]
    assert links
    assert all(link.startswith("data:image/svg+xml;base64,") for link in links)
    assert ("content", "default-src 'none'; img-src data:; style-src 'unsafe-inline'") in page.attributes
    assert not {"script", "link", "iframe", "object", "form"} & set(page.tags)
    assert "url(" not in write_html(everything())


def test_a_page_says_its_language_its_pictures_and_its_paper():
    page = write_html(everything(language="es"), paper="letter")
    parsed = Page(page)
    assert ("lang", "es") in parsed.attributes
    assert ("alt", "word alt") in parsed.attributes
    assert "size: letter" in page
    assert "Página" in page
    svg = next(value for name, value in parsed.attributes if name == "src").split(",")[1]
    assert ElementTree.fromstring(base64.b64decode(svg)).tag.endswith("svg")


def test_a_pdf_is_tagged_and_says_its_title_language_and_alternative_texts():
    """What PDF/UA-1 (ISO 14289-1) asks first: MarkInfo, Lang, a title shown, Alt of figures."""
    pypdf = pytest.importorskip("pypdf")
    pdf = write_pdf(everything(language="es"), paper="letter")
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "es"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata.title == "word title"
    assert [float(x) for x in reader.pages[0].mediabox] == [0, 0, 612, 792], "US letter is 8.5 by 11 in"
    assert "word alt" in _alts(root["/StructTreeRoot"])


def _alts(node):
    node = node.get_object()
    if isinstance(node, list):
        return [alt for kid in node for alt in _alts(kid)]
    if not isinstance(node, dict):
        return []
    found = [str(node["/Alt"])] if "/Alt" in node else []
    return found + (_alts(node["/K"]) if "/K" in node else [])


def test_a_pdf_carries_its_fonts_and_is_the_same_twice():
    pypdf = pytest.importorskip("pypdf")
    pdf = write_pdf(everything())
    assert pdf == write_pdf(everything())
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for font in page["/Resources"]["/Font"].get_object().values():
            below = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            assert {"/FontFile2", "/FontFile3"} & set(below)


def test_a_long_table_repeats_its_head_on_every_page():
    pypdf = pytest.importorskip("pypdf")
    rows = tuple((f"row {i}", "x") for i in range(120))
    document = Document("Long", (Table(("HeadOne", "HeadTwo"), rows),), made_on=DAY)
    pages = pypdf.PdfReader(io.BytesIO(write_pdf(document))).pages
    assert len(pages) > 2
    assert all("HeadOne" in page.extract_text() for page in pages)


def test_the_drawing_of_a_floor_is_drawn_with_its_words_in_the_pdf():
    units = parse_unit_list("unit,floor\n101,1\n102,1\n103,1\n104,1\n")
    plan = draw_plan(units, None, floors=("1",), name="Test House", storey_height=2.8)
    document = Document("Plan", (Picture(plan_svg(plan, "1"), "floor 1"),), made_on=DAY)
    text = of_pdf(write_pdf(document))
    assert {"101", "102", "103", "104"} <= set(text.split())


def test_a_missing_typst_is_said_in_one_sentence(monkeypatch):
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(SpreadError, match=r"pip install 'spread\[pdf\]'"):
        write_pdf(everything())


def test_no_file_is_left_or_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    write_pdf(everything())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("day", "language", "words"),
    [
        # Real Academia Española, Ortografía 2010: days and months in small letters, "de" between.
        (dt.date(2026, 11, 30), "es", "lunes 30 de noviembre de 2026"),
        (dt.date(2026, 12, 2), "es", "miércoles 2 de diciembre de 2026"),
        (dt.date(2026, 11, 30), "en", "Monday 30 November 2026"),
    ],
)
def test_days_are_written_as_people_write_them(day, language, words):
    assert Voice(language).long_day(day) == words


@pytest.mark.parametrize(
    "make",
    [
        lambda: Heading("x", 4),
        lambda: Table(("a", "b"), (("1",),)),
        lambda: Table(("a",), (("1",),), align=("left", "left")),
        lambda: Picture("<p>", "alt"),
        lambda: Picture(SVG, " "),
        lambda: Picture(SVG, "alt", width=0),
    ],
)
def test_a_block_that_no_writer_could_set_is_refused_when_made(make):
    with pytest.raises(ValueError, match=r"a |every|align"):
        make()

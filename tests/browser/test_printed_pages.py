"""What Chromium prints from our pages: as many sheets as the PDF has, and no row torn in two.

Pages are printed by Chromium and read by pdfium; the PDF of the same document is set by typst.
"""

import datetime as dt
import functools
import re
import shutil
from dataclasses import replace

import pytest
from conftest import DEMO
from small import BRIEF
from test_month import heavy_month

from spread.building import load_building
from spread.decisions.room.sheet import SleepingPlace, room_sheet
from spread.programmes.beside import beside
from spread.programmes.choice import choice_of
from spread.programmes.drivers import set_to_ends
from spread.programmes.fees import Fees
from spread.programmes.flips import flips
from spread.programmes.money import Prices
from spread.programmes.offer import Terms
from spread.programmes.reading import find_programme
from spread.programmes.results import summarise
from spread.programmes.run import RunSettings, simulate
from spread.report.document import PageBreak, Table, plain
from spread.report.html import write_html
from spread.report.month import month_document, month_view
from spread.report.notices import KINDS, PURPOSES, Visit, notices_for
from spread.report.own_words import Firm
from spread.report.pdf import write_pdf
from spread.report.proposal import proposal
from spread.report.proposal_programmes import Offer
from spread.report.room_text import room_sheet_document
from spread.report.sheets import door_sheets, next_units
from spread.report.week import week_document, week_view
from spread.session import Session
from spread.trade.room import load_room
from spread.trade.rules import load_rules
from spread.words import Voice

pdfium = pytest.importorskip("pypdfium2")
ON = dt.date(2026, 11, 20)
DEMOS = ("ostrel-court", "tolliwick-gardens", "verrin-tower")
PAPERS = {"a4": (595, 842), "letter": (612, 792)}
"""Sizes in points: ISO 216, and 8.5 by 11 in."""
ALL = [
    pytest.param(demo, paper, marks=pytest.mark.slow if paper == "letter" and demo != DEMO.name else ())
    for demo in DEMOS
    for paper in PAPERS
]
"""Every building on one size of paper, and one of them on the other; the rest in the slow run."""
WIDE = "<style>@media print { body { font-family: 'DejaVu Sans' !important; } }</style>"
"""Letters about an eighth wider than those asked for, as on a system that has none of them."""
OWN = """
firm = "Harrow Lane Pest Control (invented)"
manager = "The building office on the ground floor"
phone = "555 0100"
email = "office@example.org"
office_hours = "9:00 to 17:00"
entry_law = "The lease lets us come in after this notice."
"""


@functools.cache
def opened(demo):
    return Session.open(DEMO.parent / demo, on=ON, settings=BRIEF)


def read(data):
    """Return the size and the text of every page; pdfium takes a twentieth of the time of pypdf."""
    return [
        (tuple(round(x) for x in page.get_size()), " ".join(page.get_textpage().get_text_range().split()))
        for page in pdfium.PdfDocument(data)
    ]


@pytest.fixture(scope="module")
def chromium(browser):
    page = browser.new_context().new_page()

    def run(document, paper, more=""):
        page.set_content(write_html(document, paper) + more)
        return read(page.pdf(prefer_css_page_size=True))

    return run


@pytest.mark.parametrize(("demo", "paper"), ALL)
def test_a_door_sheet_is_one_page_that_says_which_building_and_day(chromium, demo, paper):
    session = opened(demo)
    units = next_units(session, 8)
    assert len(units) >= 8
    document = door_sheets(session, units)
    assert sum(isinstance(block, PageBreak) for block in document.blocks) == len(units) - 1
    for pages in (
        chromium(document, paper),
        chromium(document, paper, WIDE),
        read(write_pdf(document, paper)),
    ):
        assert len(pages) == len(units)
        assert pages[0][0] == PAPERS[paper]
        for unit, (_, text) in zip(units, pages, strict=True):
            for words in (f"Unit {unit}", session.plan.name, "Friday 20 November 2026", "Time in", "Caution"):
                assert words in text, (unit, words)
            assert "A low chance clears no unit." in text, "the foot is on every page"


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("own", ["", OWN], ids=["blanks", "own words"])
def test_every_notice_is_one_page(chromium, tmp_path, language, paper, own):
    folder = tmp_path / DEMO.name
    shutil.copytree(DEMO, folder)
    (folder / "notices.toml").write_text(own, encoding="utf-8")
    building = load_building(folder)
    found = next(row.unit for row in building.log.current if row.is_look and row.found == "yes")
    seen = {}
    for kind in KINDS:
        for purpose in PURPOSES:
            visit = Visit(kind, ON + dt.timedelta(days=0 if kind == "result" else 7), ON, purpose, (540, 720))
            made = notices_for(building, load_rules(), found, visit, language=language, neighbours=True)
            seen |= {notice.name: notice.document for notice in made}
    assert len(seen) >= 6
    for name, document in seen.items():
        assert len(read(write_pdf(document, paper))) == 1, name
        assert len(chromium(document, paper)) == 1, name


@pytest.mark.parametrize(("demo", "paper"), ALL)
@pytest.mark.parametrize("places", [(), (SleepingPlace("sofa", "sofa"),)], ids=["beds", "a sofa"])
def test_the_room_sheet_is_one_page(chromium, demo, paper, places):
    building = opened(demo).building
    unit = next(row.unit for row in building.log.current if row.is_look and row.found == "yes")
    sheet = room_sheet(
        unit, building.plan, load_room(building.folder), places=places, log=building.log, on=ON
    )
    document = room_sheet_document(sheet)
    assert len(chromium(document, paper)) == len(read(write_pdf(document, paper))) == 1


@pytest.mark.parametrize(("demo", "paper"), ALL)
def test_no_row_of_the_week_is_torn_and_it_takes_no_more_pages_than_the_pdf(chromium, demo, paper):
    session = opened(demo)
    document = week_document(week_view(session), session)
    printed, pdf = chromium(document, paper), read(write_pdf(document, paper))
    assert len(printed) <= len(pdf)
    bare = [text.replace(" ", "") for _, text in printed]
    rows = [row for block in document.blocks if isinstance(block, Table) for row in block.rows]
    assert len(rows) > 10
    for row in rows:
        cells = [re.sub(r"\s", "", plain(cell)) for cell in row]
        assert any(all(cell in page for cell in cells) for page in bare), row


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_month_is_one_page_of_letters_that_can_be_read_however_much_there_is(new_page, tmp_path, language):
    heavy, page = heavy_month(tmp_path), new_page()
    for session in (opened(DEMO.name), heavy):
        document = month_document(session, month_view(session), Voice(language))
        for paper in PAPERS:
            page.set_content(write_html(document, paper))
            assert len(read(page.pdf(prefer_css_page_size=True))) == 1, (session.plan.name, paper)
        page.emulate_media(media="print")
        letters = "cells => cells.map(cell => parseFloat(getComputedStyle(cell).fontSize) * 0.75)"
        assert min(page.locator("td").evaluate_all(letters)) >= 7.3, "points"


PROGRAMMES = ("complaint", "complaint-ranked", "complaint-ring", "survey-twice-a-year")


@functools.cache
def offered(demo, many):
    session = opened(demo)
    programmes = tuple(find_programme(key, session.building.folder) for key in PROGRAMMES[:many])
    settings = RunSettings(weeks=104, runs=40, seed=session.view.posterior.seed)
    done = simulate(session.view, programmes, settings, pace=session.building.settings.pace)
    firm = Firm(name="Hart & Daughters (invented)", contact="R. Hart", phone="555 0100")
    choice = choice_of(done, Prices(), now="complaint", by_week=104, proposed="complaint-ranked")
    return proposal(session, Offer(summarise(done, Prices()), programmes, choice, firm))


@pytest.mark.parametrize(("demo", "paper"), ALL)
@pytest.mark.parametrize("many", [2, 3, 4])
def test_a_proposal_has_four_pages_or_fewer_none_of_them_with_a_stray_line(chromium, demo, many, paper):
    document = offered(demo, many)
    for pages in (chromium(document, paper), read(write_pdf(document, paper))):
        assert 3 <= len(pages) <= 4
        texts = [text for _, text in pages]
        assert all(len(text) > 600 for text in texts), [len(text) for text in texts]
        for words in ("In short", "Price", "What would make this wrong", "For the owner"):
            assert words in texts[0], words
        assert "The building today" in " ".join(texts[:2]), "it follows the signatures, where there is room"
        for words in ("Limits and cautions", "Caution", "Sources"):
            assert words in texts[-1], words
        for head, last in (
            ("simulation error (where", "infested at the end"),
            ("Work by month", "Crew-days"),
        ):
            on = next(text for text in texts if head in text)
            assert last in on[on.index(head) :], "a table is not parted"


MARGINS = {"top": 15.0, "bottom": 17.0}
"""Of a proposal's page, in millimetres."""
FEES = Terms(
    fees=Fees(
        set_up=600.0, unit_month=6.5, treatment=240.0, retreatment=120.0, term_months=12, retreats=True
    ),
    year=2026,
)


@functools.cache
def compared(demo):
    session = opened(demo)
    programmes = tuple(find_programme(key, session.building.folder) for key in PROGRAMMES)
    settings = RunSettings(weeks=104, runs=40, seed=session.view.posterior.seed)
    pace = session.building.settings.pace
    done = simulate(session.view, programmes, settings, pace=pace)
    ends = set_to_ends(session.view, programmes, replace(settings, runs=10), pace=pace)
    return session, programmes, done, ends


def copies(demo):
    """Every copy of the proposal of a building: with and without a price, for a board or not, by language."""
    session, programmes, done, ends = compared(demo)
    firm = Firm(name="Hart & Daughters (invented)", contact="R. Hart", phone="555 0100")
    for terms in (Terms(), FEES):
        fees = terms.schedule
        asked = functools.partial(choice_of, done, Prices(), now="complaint", by_week=104, fees=fees)
        pace = session.building.settings.pace
        held = asked(beside=beside(session.view, done, asked().proposed, pace=pace))
        turns = flips(ends, chosen=held.proposed, now="complaint", prices=Prices(), fees=fees)
        comparison = summarise(done, Prices(), fees=fees)
        for board in (False, True):
            offer = Offer(comparison, programmes, held, firm, terms, turns, board)
            for language in ("en", "es"):
                yield language, proposal(session, offer, Voice(language))


def filled(page):
    """How far down between its margins a page holds ink, as a share."""
    high = page.get_size()[1]
    top, foot = (MARGINS[end] / 25.4 * 72.0 for end in ("top", "bottom"))
    grey = page.render(scale=1, grayscale=True).to_numpy()
    inked = (grey.reshape(len(grey), -1)[: int(high - foot)] < 200).any(axis=1).nonzero()[0]
    return (inked.max() - top) / (high - foot - top)


@pytest.mark.parametrize(("demo", "paper"), ALL)
def test_every_copy_of_a_proposal_fills_its_pages_and_is_signed_on_the_first(demo, paper):
    """Two thirds of a page or more, the last a third; nothing in it is for whoever wrote the program."""
    for language, document in copies(demo):
        data = write_pdf(document, paper)
        pages = pdfium.PdfDocument(data)
        shares = [filled(page) for page in pages]
        assert len(shares) <= 4, shares
        assert min(shares[:-1]) > 2 / 3, shares
        assert shares[-1] > 1 / 3, shares
        texts = [" ".join(page.get_textpage().get_text_range().split()) for page in pages]
        for sentence in SIGNED[language]:
            assert sentence in texts[0], sentence
        whole = " ".join(texts)
        assert not re.search(r"\w\.(toml|csv|jsonl?|pdf|html|py|md)\b|[Ff]rom memory|[Dd]e memoria", whole)
        assert not [words for words in ENGLISH_ONLY if language == "es" and words in whole]
        assert b"<pdfuaid:part>1</pdfuaid:part>" in data, "what typst could not tag is not said to be"


SIGNED = {
    "en": ("In short", "What would make this wrong", "'s pace", "For the owner", "For the firm"),
    "es": ("En breve", "ritmo del edificio", "Por el propietario", "Por la empresa"),
}
ENGLISH_ONLY = ("Check your local", "Good practice", "Floor", "below 6", "and above")

"""A morning at the desk in Chromium: a complaint, what is owed, notices, the way to clear, a correction."""

import re

import pytest
from small import LIVED_IN, small_session

from spread.decisions.week.entry import notices_on_record

pytestmark = [pytest.mark.browser, pytest.mark.notices]
PAGES = {"Cases": "/cases", "Revisits": "/revisits", "Duties": "/duties", "Records": "/records"}
FRIDAY = "2026-11-27"


def fits(page, axe):
    """The page is accessible, and nothing of it is cut at any width; it ends at the widest."""
    assert axe(page) == []
    for width in (390, 1024, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        wide, height = page.evaluate(
            "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
        )
        assert wide <= width, (page.url, width)
    assert height < 2500


def test_a_morning_at_the_desk(new_page, serve_session, tmp_path, axe):
    session = small_session(tmp_path / "house", rows=LIVED_IN)
    page = new_page()
    root = serve_session(session)
    page.goto(f"{root}/week")
    for name, path in PAGES.items():
        page.get_by_role("navigation", name="Desk").get_by_role("link", name=name).press("Enter")
        page.wait_for_url(f"**{path}")
        fits(page, axe)

    complain(page, root, session)
    clear(page, root)
    announce(page, root, session)
    correct(page, root, session)
    fits(page, axe)
    pdfium = pytest.importorskip("pypdfium2")
    for path in PAGES.values():
        page.goto(f"{root}{path}")
        assert len(pdfium.PdfDocument(page.pdf(prefer_css_page_size=True))) <= 2


def complain(page, root, session):
    # A complaint of this morning, by keyboard alone: a unit, and Enter.
    page.goto(f"{root}/cases")
    page.get_by_label("Unit", exact=True).press_sequentially("105")
    page.get_by_label("Unit", exact=True).press("Enter")
    page.get_by_role("status").get_by_text("105").wait_for()
    page.wait_for_load_state()  # what is pressed before the page's script is there is lost
    assert [row.kind for row in session.building.log.of("105")] == ["report"]
    page.get_by_label("Find a unit").fill("105")
    shown = page.locator("[data-row]:visible")
    assert shown.evaluate_all("rows => rows.map(row => row.dataset.words.split(' ')[0])") == ["105"]


def clear(page, root):
    # What 201 lacks, and from when at the earliest.
    page.goto(f"{root}/revisits")
    row = page.locator('[data-words="201"]')
    assert "trap reading" in row.inner_text()
    assert re.search(r"\w+ \d+ \w+ 2027", row.inner_text())
    row.locator("summary").press("Enter")
    row.get_by_text("set traps").first.wait_for()

    # Its address for a calendar program, shown once.
    page.locator(".desk-feed > summary").press("Enter")
    page.get_by_role("button", name="Make an address").press("Enter")
    page.locator("#feed-address").wait_for()
    address = page.locator("#feed-address").input_value()
    assert "BEGIN:VCALENDAR" in page.request.get(address).text()
    assert page.request.get(f"{address}x").status == 404


def announce(page, root, session):
    # All notices of Friday in one press, with hours; a day that is too soon is refused with why.
    page.goto(f"{root}/duties?day={FRIDAY}")
    notices = page.locator(".desk-notices")
    notices.get_by_label("From").fill("09:00")
    notices.get_by_label("To").fill("12:00")
    notices.get_by_role("button", name="Choose all").press("Enter")
    chosen = notices.locator("[name=units]:checked").evaluate_all("boxes => boxes.map(box => box.value)")
    assert chosen
    with page.expect_popup() as opened:
        notices.get_by_role("button", name="Print them").press("Enter")
    paper = opened.value
    paper.wait_for_load_state()
    assert all(unit in paper.content() for unit in chosen)
    paper.close()
    notices.get_by_role("button", name="Record them as given").press("Enter")
    page.get_by_role("heading", name="On record").wait_for()
    page.wait_for_load_state()
    day = session.on.replace(day=27)
    assert set(notices_on_record(session.view, day)) == set(chosen)
    back = page.get_by_role("button", name="Take back the notices")
    back.press("Enter")
    back.get_by_text("press again").wait_for()
    back.press("Enter")
    page.get_by_role("heading", name="On record").wait_for(state="detached")
    assert notices_on_record(session.view, day) == {}


def correct(page, root, session):
    # A row corrected: it stays, struck out, and the new one stands in its place.
    page.goto(f"{root}/records?unit=104&kind=inspection")
    page.get_by_role("link", name="Correct 104").press("Enter")
    page.wait_for_url("**row=*")
    form = page.locator("#correct")
    form.get_by_label("How heavy").select_option("heavy")
    form.get_by_role("button", name="Record the correction").press("Enter")
    page.get_by_role("status").get_by_text("104").wait_for()
    page.wait_for_load_state()
    (row,) = [row for row in session.building.log.of("104") if row.is_look]
    assert (row.level, bool(row.supersedes)) == ("heavy", True)

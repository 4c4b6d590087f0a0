"""The month in Chromium, one walk: the answer first, another period asked for, both copies there."""

import io

import pytest

pytestmark = pytest.mark.browser


def test_a_month_is_read_printed_asked_for_anew_and_copied_for_a_board(new_page, building, axe):
    page = new_page()
    page.goto(f"{building.url}/month")
    page.locator("#month-units .scatterlayer").wait_for(timeout=20000)
    the_answer_stands_first_and_everything_fits(page, axe)
    board = page.locator(".month-links a", has_text="board").get_attribute("href")
    another_period_by_keyboard_alone_and_a_day_that_is_none(page, building.url)
    the_copy_for_a_board_names_no_unit(page, building, board)


def the_answer_stands_first_and_everything_fits(page, axe):
    pypdf = pytest.importorskip("pypdf")
    pages = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages
    assert len(pages) == 1
    assert "not counted" in pages[0].extract_text(), "with its caution"
    for width in (1440, 1024, 390):
        page.set_viewport_size({"width": width, "height": 900})
        page.wait_for_function("width => innerWidth === width", arg=width)
        # The figures are drawn anew a moment after the page is narrower.
        page.wait_for_function("width => document.documentElement.scrollWidth <= width", arg=width)
        answer = page.locator("#month-answer")
        assert answer.bounding_box()["y"] < 450
        assert answer.text_content().startswith(("Better", "Worse", "No change", "It cannot be told"))
        assert not [one for one in axe(page) if one[2] in ("serious", "critical")], width
        for table in page.locator(".figure-table:visible").all():
            assert table.evaluate("box => box.scrollHeight <= box.clientHeight + 1"), "nothing is cut off"


def another_period_by_keyboard_alone_and_a_day_that_is_none(page, url):
    page.locator(".month-period summary").press("Enter")
    for field, day in (("since", "2026-09-01"), ("until", "2026-09-30")):
        page.locator(f"#month-{field}").fill(day)
    page.locator("#month-until").press("Enter")
    page.wait_for_url(f"{url}/month/2026-09-01/2026-09-30")
    page.locator(".headline", has_text="From Tue 1 Sep 2026 to Wed 30 Sep 2026").wait_for()
    page.goto(f"{url}/month/2026-09-01/soon")
    page.locator("[role=alert]", has_text="'soon' is not a day").wait_for()


def the_copy_for_a_board_names_no_unit(page, building, board):
    units = set(building.session.plan.units)
    assert "board=1" in board
    page.goto(f"{building.url}/month/document?board=1")
    words = set(page.locator("body").inner_text().replace(",", " ").split())
    assert not words & units
    page.goto(f"{building.url}/month/document")
    assert page.locator("h1").text_content() == "How it stands"

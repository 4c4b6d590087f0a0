"""Many buildings in Chromium: read at every width, a unit found, a building fitted and opened, back again."""

from __future__ import annotations

import threading

import pytest
from small import LIVED_IN, ON, QUICK, small_session
from test_portfolio import write_many
from waitress import create_server

from dashboard.office.folders import Folders
from spread.records.summaries import file_of
from spread.session import Session

pytestmark = pytest.mark.browser


@pytest.fixture
def served(tmp_path):
    folder = tmp_path / "many"
    write_many(folder, 4, 40)
    small_session(folder / "made", rows=LIVED_IN)
    assert not (folder / "made" / file_of("records.csv")).exists()
    many = Folders(folder, lambda path: Session.open(path, on=ON, settings=QUICK))
    server = create_server(many, host="127.0.0.1", port=0, threads=4)
    at_work = threading.Thread(target=server.run, daemon=True)
    at_work.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()


def test_the_start_page_fits_and_reads_at_every_width(new_page, served, axe):
    page = new_page()
    page.goto(f"{served}/?unit=105")
    assert page.locator(".many tbody tr").count() == 5
    for width in (1440, 1024, 390):
        assert axe(page, width) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        box = page.locator(".team-scroll")
        assert box.evaluate("box => box.scrollWidth <= box.clientWidth + 1"), "no column is cut"


def test_a_manager_finds_a_unit_fits_a_building_and_comes_back(new_page, served):
    page = new_page()
    page.goto(served)
    page.get_by_label("Find a unit").fill("105")
    page.get_by_label("Find a unit").press("Enter")
    link = page.locator(".many-found a", has_text="105 in House 0")
    assert link.get_attribute("href") == "/at/house-000/?unit=105"
    page.get_by_role("button", name="Fit Made House now").click()
    page.locator("#b-made td[data-head^='Infested']", has_text="of 11").wait_for(timeout=60000)
    assert page.locator("#b-made button").count() == 0
    page.get_by_role("link", name="Week, Made House").click()
    page.locator("h1").wait_for()
    page.locator(".pages-bar a", has_text="Buildings").click()
    page.wait_for_url(f"{served}/")
    assert page.locator(".many tbody tr").count() == 5


def test_a_building_with_an_empty_log_alarms_nobody_on_the_start_page(new_page, tmp_path):
    bare = small_session(tmp_path / "many" / "bare")
    assert bare.keep_summary()
    many = Folders(tmp_path / "many", lambda path: Session.open(path, on=ON, settings=QUICK))
    server = create_server(many, host="127.0.0.1", port=0, threads=4)
    threading.Thread(target=server.run, daemon=True).start()
    page = new_page()
    page.goto(f"http://127.0.0.1:{server.effective_port}/")
    row = page.locator("#b-bare")
    assert row.locator(".many-late").count() == 0
    text = row.inner_text()
    assert "nothing is on record" in text
    assert "worse" not in text
    server.close()

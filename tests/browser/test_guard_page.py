"""An open page says within seconds what the log's file has lost, and what others have recorded."""

import pytest

from spread.records import Record, append_record

pytestmark = pytest.mark.browser
SOON = 4000
"""Milliseconds: a second and a half between two questions, and a loaded machine."""


@pytest.fixture(params=["/", "/week"])
def page(request, new_page, building):
    page = new_page()
    page.goto(f"{building.url}{request.param}")
    page.wait_for_function("document.readyState === 'complete'")
    page.wait_for_timeout(500)
    return page


def test_an_older_copy_is_told_and_put_back_from_the_page(page, building):
    path = building.records
    whole = path.read_text()
    assert page.locator("#guard-lost").count() == 0
    path.write_text("".join(whole.splitlines(keepends=True)[:-2]))
    bar = page.locator("#guard-lost")
    bar.wait_for(timeout=SOON)
    assert "lacks 2 rows that were known" in bar.text_content()
    assert "Work goes on with them" in bar.text_content()
    assert bar.get_attribute("role") == "alert"
    bar.get_by_role("button", name="Put the rows back").click()
    page.wait_for_selector("#guard-lost", state="detached", timeout=SOON)
    assert path.read_text() == whole
    assert building.session.building.store.trouble is None


def test_letting_rows_go_is_asked_for_twice(page, building):
    path = building.records
    whole = path.read_text()
    path.write_text("".join(whole.splitlines(keepends=True)[:-2]))
    bar = page.locator("#guard-lost")
    bar.wait_for(timeout=SOON)
    rows = len(building.session.building.log.rows)
    button = bar.get_by_role("button").nth(1)
    button.click()
    assert "Press again" in button.text_content()
    assert len(building.session.building.log.rows) == rows
    button.click()
    page.wait_for_selector("#guard-lost", state="detached", timeout=SOON)
    assert len(building.session.building.log.rows) == rows - 2
    assert len(building.session.view.log.rows) == rows - 2, "the chances no longer rest on them"


def test_what_another_program_records_shows_on_an_open_page(new_page, building):
    page = new_page()
    page.goto(building.url)
    page.wait_for_selector("#plan .unit")
    session = building.session
    unit = next(row.unit for row in session.doors() if row.status == "look" and row.chance < 0.05)
    seen = {"found": "yes", "level": "heavy", "evidence": frozenset({"live"})}
    row = Record("elsewhere", session.on, unit, "inspection", "brief-visual", **seen)
    append_record(building.records, row, session.plan.units)
    page.wait_for_timeout(2000)
    assert row in session.view.log.rows
    session.wait()
    floor = next(iter(session.plan.units[unit].parts))
    page.locator(f'#floors [data-floor="{floor}"]').click()
    page.wait_for_function(
        "unit => /9\\d|>99/.test(document.querySelector(`#plan [data-unit='${unit}']`).textContent)",
        arg=unit,
        timeout=2 * SOON,
    )

"""An open page says within seconds what the log's file has lost, and what others have recorded."""

import time

import pytest

from spread.records import Record, append_record

pytestmark = pytest.mark.browser


def opened(new_page, address):
    """Open a page that has asked once, so that it knows what there was before the test changes it."""
    page = new_page()
    with page.expect_response("**/guard/now"):
        page.goto(address)
    return page


@pytest.fixture(params=["/", "/week"])
def page(request, new_page, building):
    return opened(new_page, f"{building.url}{request.param}")


def test_an_older_copy_is_told_and_put_back_from_the_page(page, building):
    path = building.records
    whole = path.read_text()
    assert page.locator("#guard-lost").count() == 0
    path.write_text("".join(whole.splitlines(keepends=True)[:-2]))
    bar = page.locator("#guard-lost")
    bar.wait_for()
    assert "lacks 2 rows that were known" in bar.text_content()
    assert "Work goes on with them" in bar.text_content()
    assert bar.get_attribute("role") == "alert"
    bar.get_by_role("button", name="Put the rows back").click()
    page.wait_for_selector("#guard-lost", state="detached")
    assert path.read_text() == whole
    assert building.session.building.store.trouble is None


def test_letting_rows_go_is_asked_for_twice(page, building):
    path = building.records
    whole = path.read_text()
    path.write_text("".join(whole.splitlines(keepends=True)[:-2]))
    bar = page.locator("#guard-lost")
    bar.wait_for()
    rows = len(building.session.building.log.rows)
    button = bar.get_by_role("button").nth(1)
    button.click()
    assert "Press again" in button.text_content()
    assert len(building.session.building.log.rows) == rows
    button.click()
    page.wait_for_selector("#guard-lost", state="detached")
    assert len(building.session.building.log.rows) == rows - 2
    assert len(building.session.view.log.rows) == rows - 2, "the chances no longer rest on them"


def test_what_another_program_records_shows_on_an_open_page(new_page, building):
    page = opened(new_page, building.url)
    page.wait_for_selector("#plan .unit")
    session = building.session
    unit = next(row.unit for row in session.doors() if row.status == "look" and row.chance < 0.05)
    seen = {"found": "yes", "level": "heavy", "evidence": frozenset({"live"})}
    row = Record("elsewhere", session.on, unit, "inspection", "brief-visual", **seen)
    append_record(building.records, row, session.plan.units)
    deadline = time.monotonic() + 20
    while row not in session.view.log.rows:
        assert time.monotonic() < deadline, "the page never asked"
        page.wait_for_timeout(100)
    session.wait()
    floor = next(iter(session.plan.units[unit].parts))
    page.locator(f'#floors [data-floor="{floor}"]').click()
    page.wait_for_function(
        "unit => /9\\d|>99/.test(document.querySelector(`#plan [data-unit='${unit}']`)?.textContent)",
        arg=unit,
    )


def test_what_came_in_before_the_page_first_asked_is_news_too(new_page, building):
    """Recorded between the drawing of the page and its first question."""
    held = []
    page = new_page()
    page.route("**/guard/now", lambda route: held.append(route) if not held else route.continue_())
    page.goto(f"{building.url}/week")
    until = time.monotonic() + 20
    while not held:
        assert time.monotonic() < until
        page.wait_for_timeout(30)
    unit = next(iter(building.session.plan.units))
    building.session.record({"unit": unit, "kind": "note", "note": "from elsewhere"})
    held[0].continue_()
    page.locator("#guard-news").wait_for()


def test_news_before_the_page_is_laid_out_waits_for_it(new_page, building):
    """Dash knows nothing called "wake" before its layout came: the news is told afterwards, without error."""
    page = new_page()
    held = []
    page.route("**/_dash-layout", lambda route: held.append(route))  # noqa: PLW0108 - playwright wants a function of Python
    page.goto(building.url)
    page.wait_for_function("() => window.dash_clientside && window.dash_clientside.set_props")
    assert page.locator("#plan").count() == 0
    news = 'new CustomEvent("spread-news", { cancelable: true })'
    told = page.evaluate(f"document.dispatchEvent({news})")
    assert told is False, "the plan's page asks its data anew itself"
    page.wait_for_timeout(300)
    while not held:
        page.wait_for_timeout(50)
    asked = lambda ask: "_dash-update-component" in ask.url and '"wake.data"' in (ask.post_data or "")  # noqa: E731
    with page.expect_request(asked):
        held.pop().continue_()

"""The planned week in Chromium: notices made and ticked, doors moved, paper and phone the same; 140 units."""

import json
import re

import pytest
from small import QUICKER, made_plan, small_session

from dashboard.round.doors import DoorList
from spread.decisions.week.entry import notices_on_record

pytestmark = [pytest.mark.browser, pytest.mark.notices]
CODES = list(made_plan(7, 10).units)
LATE = CODES[::2][:51]
ROWS = [
    *(
        row
        for unit in LATE
        for row in (
            (unit, 100, "inspection", "thorough-visual", "yes"),
            (unit, 60, "treatment", "spray", ""),
        )
    ),
    (CODES[1], 1, "report", "", ""),
]
FRIDAY, MONDAY = "2026-11-27", "2026-11-30"


@pytest.fixture(scope="module")
def tower(tmp_path_factory):
    return small_session(tmp_path_factory.mktemp("week") / "tower", 7, 10, rows=ROWS, settings=QUICKER)


@pytest.fixture
def house(tmp_path):
    return small_session(tmp_path / "house", rows=[("101", 20, "inspection", "thorough-visual", "no")])


def on_day(page, day):
    return page.locator(f'[data-day="{day}"] [data-unit]')


def units_on(page, day):
    return on_day(page, day).evaluate_all("doors => doors.map(door => door.dataset.unit)")


def test_a_week_of_140_units_with_51_late_ones_is_short_and_accessible(new_page, serve_session, tower, axe):
    page = new_page(390, 900)
    page.goto(f"{serve_session(tower)}/week")
    assert high_and_fits(page, axe, 390) < 4800, "one day is open, the others are a line each"
    folded = page.locator(".week-column:has(details:not([open]))")
    days = folded.evaluate_all("all => all.map(one => one.dataset.day)")
    assert days == [MONDAY, "2026-12-01"], "open are those up to the first with a door"
    folded.last.locator("summary").click()
    assert page.locator(".week-column").last.locator("[data-unit]").first.is_visible()
    page.set_viewport_size({"width": 1024, "height": 900})
    page.wait_for_function("!document.querySelector('.week-column details:not([open])')")
    high_and_fits(page, axe, 1024)
    assert high_and_fits(page, axe, 1440) < 2500
    text = page.locator("main").inner_text()
    assert text.count("notice of entry has not run") == 1, "said once, not fifty times"
    assert not re.search(r"confidence [ABC]|good-practice|\.toml|\[\[", text)
    assert units_on(page, "2026-11-25") == []
    assert units_on(page, FRIDAY), "48 hours from Wednesday"


def high_and_fits(page, axe, width):
    """How high the page is at a width where nothing of it is cut or shut to anybody."""
    assert axe(page, width) == []
    height, wide = page.evaluate(
        "[document.documentElement.scrollHeight, document.documentElement.scrollWidth]"
    )
    assert wide <= width, "nothing is cut"
    return height


def test_the_week_is_one_printed_page(new_page, serve_session, tower):
    pdfium = pytest.importorskip("pypdfium2")
    page = new_page()
    page.goto(f"{serve_session(tower)}/week")
    planned = units_on(page, FRIDAY)
    sheets = pdfium.PdfDocument(page.pdf(prefer_css_page_size=True))
    assert len(sheets) == 1
    text = sheets[0].get_textpage().get_text_range()
    assert all(unit in text for unit in planned)


def test_all_notices_of_a_day_are_made_and_ticked_in_one_press_and_taken_back(new_page, serve_session, house):
    page = new_page()
    page.goto(f"{serve_session(house)}/week")
    planned = units_on(page, FRIDAY)
    assert planned
    form = page.locator(f'[data-day="{FRIDAY}"] .week-notices')
    half = page.request.get(f"{page.url}/notices/{FRIDAY}?from=13:00")
    assert (half.status, "no hours" in half.text()) == (400, True), "half of the hours is no window"
    form.locator('[name="from"]').fill("13:00")
    form.locator('[name="to"]').fill("16:30")
    other = page.locator('.week-notices [name="to"]').last
    assert other.input_value() == "16:30", "the other days take the hours of the first"
    with page.expect_navigation():
        form.get_by_role("button", name="Print").click()
    made = page.locator("body").inner_text()
    assert all(re.search(rf"\b{unit}\b", made) for unit in planned)
    assert made.count("1:00 pm") == made.count("4:30 pm") == len(planned)
    page.go_back()
    form.locator('[name="from"]').fill("13:00")
    form.locator('[name="to"]').fill("16:30")
    with page.expect_navigation():
        page.locator(f'[data-day="{FRIDAY}"] .week-give').press("Enter")
    page.locator(f'[data-day="{FRIDAY}"] .week-kept').wait_for()
    assert page.evaluate("document.activeElement.closest('.week-column').dataset.day") == FRIDAY
    day = house.on.replace(day=27)
    kept = notices_on_record(house.view, day)
    assert set(kept) == set(planned)
    assert {house.building.log.by_id[row].job.window for row in kept.values()} == {"13:00-16:30"}
    assert page.locator(f'[data-day="{FRIDAY}"] .week-give').count() == 0
    with page.expect_navigation():
        page.locator(f'[data-day="{FRIDAY}"] .week-back').click()
    page.locator(f'[data-day="{FRIDAY}"] .week-give').wait_for()
    assert notices_on_record(house.view, day) == {}
    house.wait()


def test_a_door_is_moved_by_mouse_and_by_keyboard_and_no_further_than_is_lawful(
    new_page, serve_session, house
):
    page = new_page()
    page.goto(f"{serve_session(house)}/week")
    first, second = units_on(page, FRIDAY)[:2]
    with page.expect_navigation():
        page.locator(f'[data-unit="{first}"] .week-clock').drag_to(page.locator(f'[data-day="{MONDAY}"] h3'))
    page.locator(f'[data-day="{MONDAY}"] [data-unit="{first}"]').wait_for()
    choice = page.locator(f'[data-unit="{second}"] .week-move')
    choice.focus()
    with page.expect_navigation():
        choice.select_option(MONDAY)
    page.locator(f'[data-day="{MONDAY}"] [data-unit="{second}"]').wait_for()
    assert {first, second} <= set(house.moved)
    assert small_session(house.building.folder).moved == house.moved, "kept with the building"
    page.locator(f'[data-unit="{second}"] .week-move').select_option("2026-11-26")
    said = page.locator("#week-said")
    said.wait_for()
    assert "may not be entered on Thu 26 Nov 2026" in said.text_content()
    assert page.locator(f'[data-unit="{second}"] .week-move').input_value() == MONDAY, "it stays where it was"
    assert second in units_on(page, MONDAY)
    with page.expect_navigation():
        page.locator(f'[data-unit="{second}"] .week-move').select_option("")
    page.locator(f'[data-day="{FRIDAY}"] [data-unit="{second}"]').wait_for()


def test_by_keyboard_a_day_is_one_stop_and_arrows_go_from_door_to_door(new_page, serve_session, tower):
    page = new_page()
    page.goto(f"{serve_session(tower)}/week")
    stops = ".week-days :is(a, select, button, input:not([type=hidden]), summary)"
    asked = page.locator(stops).evaluate_all("all => all.filter(one => one.tabIndex >= 0).length")
    assert page.locator(".week-stops li").count() > 30
    days = page.locator(".week-column:has(.week-stops)").all()
    assert asked < 15 * len(days), "no stop for every door"
    doors = days[0].locator(".week-unit")
    codes = doors.all_inner_texts()

    def at():
        return page.evaluate("document.activeElement.closest('[data-unit]')?.dataset.unit")

    days[0].locator(".week-give").focus()
    page.keyboard.press("Tab")
    told = [at()]
    for key in ("ArrowDown", "ArrowDown", "ArrowUp", "End", "ArrowDown"):
        page.keyboard.press(key)
        told.append(at())
    assert told == [codes[0], codes[1], codes[2], codes[1], codes[-1], codes[-1]]
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "week-move", "the day of the door is next"
    assert at() == codes[-1]
    page.keyboard.press("Tab")
    assert at() is None, "and then the next day"
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Shift+Tab")
    assert at() == codes[-1], "the hand comes back to the door that it left"
    page.keyboard.press("ArrowRight")
    beside = days[1].locator(".week-unit").all_inner_texts()
    assert at() == beside[0]
    page.keyboard.press("ArrowLeft")
    assert at() == codes[-1]
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/?unit={codes[-1]}")


def test_the_phone_keeps_to_the_notices_and_says_what_doors_wait_for(house):
    doors = DoorList(house).next({})
    assert doors["doors"] == []
    assert {unit for unit, _ in doors["shut"]} == set(house.plan.units)
    assert all("notice of entry" in why for _, why in doors["shut"])
    assert "may be entered today" in doors["words"]
    json.dumps(doors)
    for unit in ("101", "102"):
        house.record({"unit": unit, "kind": "note", "method": "entry-notice", "when": "2026-11-23"})
    again = DoorList(house).next({})
    assert {door["unit"] for door in again["doors"]} == {"101", "102"}
    house.wait()

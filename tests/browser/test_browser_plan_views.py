"""The plan page's tools in a real Chromium: shapes, views, filters, search, zoom, time, entries, measures.

Expected figures come from the session's own posterior and log, not from the page.
"""

from __future__ import annotations

import datetime as dt
import io

import pytest
from test_browser_plan_page import first_look, floor_of, listed, opened, until

from dashboard.plan.facts import ONLY, kept_by
from dashboard.plan.looks import VIEWS
from dashboard.words import chance_name
from spread.words.doors import reason_text
from spread.words.voice import ENGLISH, Voice

pytestmark = pytest.mark.browser

ROOMS = """() => { const box = document.querySelector('.plan-box').getBoundingClientRect();
    const nodes = document.querySelectorAll('#plan .unit .room');
    const rooms = Array.from(nodes, node => node.getBoundingClientRect());
    return [box, ...rooms].map(one => [one.left, one.top, one.right, one.bottom]); }"""

PHONE = "document.documentElement.dataset.measure"
SCALE = "import('/files/plan/zoom.js').then(the => the.zoom.scale())"


def all_inside(page):
    """Whether every unit is wholly inside the plan's box."""
    (left, top, right, bottom), *rooms = page.evaluate(ROOMS)
    return all(a >= left - 1 and b >= top - 1 and c <= right + 1 and d <= bottom + 1 for a, b, c, d in rooms)


def some_seen(page):
    """Whether at least one unit can be seen in the plan's box."""
    (left, top, right, bottom), *rooms = page.evaluate(ROOMS)
    return any(a < right and c > left and b < bottom and d > top for a, b, c, d in rooms)


PINCH = """() => {
    const box = document.querySelector('.plan-box'), at = box.getBoundingClientRect();
    const touch = (id, dx) => new Touch({
        identifier: id, target: box, clientX: at.left + at.width / 2 + dx, clientY: at.top + 80 });
    const send = (name, apart) => box.dispatchEvent(new TouchEvent(name, {
        cancelable: true, bubbles: true, touches: [touch(1, -apart), touch(2, apart)] }));
    send('touchstart', 40); send('touchmove', 60); send('touchmove', 80); }"""


def shape(page, name):
    page.locator(f'[data-shape="{name}"]').click()
    page.wait_for_selector(f"#plan.{name}")


def test_all_floors_and_the_section_draw_every_unit_and_a_click_goes_to_it(reading):
    page, building = reading
    plan = building.session.plan
    codes = "units => units.map(unit => unit.dataset.unit)"
    shape(page, "all")
    assert set(page.locator("#plan .unit").evaluate_all(codes)) == set(plan.units)
    assert page.locator("#plan figcaption").count() == len(plan.floors)
    assert not page.locator("#floors").is_visible()
    shape(page, "section")
    assert sorted(page.locator("#plan .unit").evaluate_all(codes)) == sorted(plan.units)
    assert page.locator("#plan .riser").count() >= len(plan.risers)
    assert page.locator("#plan-title").text_content() == "Section"
    tops = page.locator("#plan .unit").evaluate_all(
        "units => units.map(unit => [unit.dataset.unit, Math.round(unit.getBoundingClientRect().top)])"
    )
    rows = {}
    for unit, top in tops:
        rows.setdefault(floor_of(building, unit), set()).add(top)
    assert all(len(row) == 1 for row in rows.values()), "a floor is one row"
    assert [min(rows[floor]) for floor in plan.floors] == sorted(
        (min(r) for r in rows.values()), reverse=True
    )
    unit = first_look(building).unit
    page.locator(f'#plan [data-unit="{unit}"]').click()
    page.wait_for_selector("#panel-first .reasons")
    assert page.locator("#panel-title").text_content() == f"Unit {unit}"
    shape(page, "one")
    assert page.locator('#floors [aria-pressed="true"]').get_attribute("data-floor") == floor_of(
        building, unit
    )


def test_each_view_says_in_words_what_its_colours_tell_and_each_unit_says_it_too(reading):
    page, building = reading
    unit = first_look(building).unit
    for key, look in VIEWS.items():
        page.locator("#view").select_option(key)
        page.wait_for_selector(f'#legend [data-legend="{key}"]:visible')
        assert page.locator("#legend [data-legend]:visible").count() == 1
        assert page.locator(f'#legend [data-legend="{key}"] li').count() == len(look.steps)
        told = page.locator(f'#plan [data-unit="{unit}"]').get_attribute("aria-label")
        assert told.startswith(f"Unit {unit}, {look.say} ")
        assert page.locator(f'#plan [data-unit="{unit}"] .chance').text_content()


def test_a_filter_pales_the_other_units_shortens_the_list_and_says_how_many(reading):
    page, building = reading
    kept = kept_by(building.session, "revisit")
    page.locator("#only").select_option("revisit")
    until(page, "document.getElementById('only-words').textContent.length > 0")
    words = page.locator("#only-words").text_content()
    assert words.startswith(ONLY["revisit"])
    assert f"{len(kept)} of {len(building.session.plan.units)}" in words if kept else "no unit" in words
    shape(page, "section")
    bright = page.locator("#plan .unit:not(.dim)").evaluate_all("all => all.map(one => one.dataset.unit)")
    assert set(bright) == set(kept)
    until(page, "!document.querySelector('#doors .main-list')")
    page.locator("#only").select_option("long-ago")
    wanted = kept_by(building.session, "long-ago")
    until(page, "document.querySelectorAll('#doors .main-list .row').length > 0")
    assert set(listed(page)) <= wanted
    page.locator("#only").select_option("")
    until(page, "document.querySelectorAll('#plan .dim').length === 0")
    assert page.locator("#only-words").text_content() == ""


def test_a_unit_is_found_by_its_code_and_a_code_that_is_not_there_is_said(reading):
    page, building = reading
    start = page.locator('#floors [aria-pressed="true"]').get_attribute("data-floor")
    other = next(u for u in building.session.plan.units if floor_of(building, u) != start)
    page.locator("#find").fill("no such")
    page.locator("#find").press("Enter")
    until(page, "document.getElementById('find-told').textContent.includes('No unit no such')")
    assert page.locator("#find").input_value() == "no such"
    page.locator("#find").fill(other.lower())
    page.locator("#find").press("Enter")
    page.wait_for_selector(f'#plan [data-unit="{other}"][aria-pressed="true"]')
    page.wait_for_selector("#panel-first .reasons")
    assert page.locator("#find-told").text_content() == ""


def test_zoom_and_pan_have_bounds_and_the_whole_plan_is_one_press_away(reading):
    page, _ = reading
    box = page.locator(".plan-box").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    start = page.evaluate(SCALE)
    for _ in range(14):
        page.evaluate("document.getElementById('zoom-in').click()")
    assert page.locator("#zoom-in").get_attribute("aria-disabled") == "true"
    largest = page.evaluate(SCALE)
    assert start < largest < 200
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 4000, y - 4000, steps=4)
    page.mouse.up()
    assert some_seen(page)
    assert page.locator("#panel").is_hidden(), "a drag opens no unit"
    page.locator("#zoom-whole").click()
    assert all_inside(page)
    whole = page.evaluate(SCALE)
    page.mouse.move(x, y)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -240)
    page.keyboard.up("Control")
    until(page, "async whole => (await import('/files/plan/zoom.js')).zoom.scale() > whole * 1.2", whole)
    page.locator('#plan .unit[tabindex="0"]').focus()
    page.keyboard.press("0")
    assert page.evaluate(SCALE) == pytest.approx(whole, rel=0.02)
    page.keyboard.press("+")
    page.keyboard.press("+")
    assert page.evaluate(SCALE) == pytest.approx(whole * 1.69, rel=0.03)
    page.keyboard.press("-")
    for name in ("all", "section"):
        shape(page, name)
        page.locator("#zoom-whole").click()
        assert all_inside(page), name


def test_two_fingers_make_the_plan_larger_about_the_place_between_them(new_page, building):
    page = opened(new_page, building, width=390, height=844, phone=True)
    page.locator(".plan-box").scroll_into_view_if_needed()
    before = page.evaluate(SCALE)
    page.evaluate(PINCH)
    assert page.evaluate(SCALE) == pytest.approx(2 * before, rel=0.05)


def test_looking_back_shows_the_weekly_chances_and_apart_from_them_what_was_on_record(new_page, building):
    page = opened(new_page, building, reduced_motion="reduce")
    posterior = building.session.view.posterior
    page.locator("#look-back").click()
    page.wait_for_selector("#week")
    shape(page, "section")
    week = 60
    page.locator("#week").evaluate(
        "(node, week) => { node.value = week; node.dispatchEvent(new Event('input', {bubbles: true})); }",
        week,
    )
    shown = dict(
        page.locator("#plan .unit").evaluate_all(
            "all => all.map(one => [one.dataset.unit, one.querySelector('.chance').textContent])"
        )
    )
    painted = dict(
        page.locator("#plan .unit").evaluate_all(
            "all => all.map(one => [one.dataset.unit, one.getAttribute('aria-label')])"
        )
    )
    for unit, chances in zip(posterior.units, posterior.weekly, strict=True):
        whole = round(100 * float(chances[week]))
        assert shown[unit] == ("<1%" if whole == 0 else ">99%" if whole == 100 else f"{whole}%")
        assert painted[unit].endswith(chance_name(float(chances[week]), ENGLISH)), "the plan's own classes"
    assert "not what the figures were" in page.locator("#time-says").text_content()
    assert "Infested units: about" in page.locator("#time-chart svg").get_attribute("aria-label")
    page.locator('input[name="then"][value="known"]').check()
    end = dt.date.fromisoformat(
        page.evaluate("import('/files/plan/state.js').then(the => the.state.weeks.weeks[60])")
    ) + dt.timedelta(days=7)
    log = building.session.view.log
    for unit in building.session.plan.units:
        word = page.locator(f'#plan [data-unit="{unit}"] .chance').text_content()
        looked = any(row.is_look and row.when < end for row in log.of(unit))
        assert word != "–" or not looked
        assert word != "looked" or looked
    page.evaluate("document.getElementById('play').click()")
    until(page, "Number(document.getElementById('week').value) > 60")
    page.locator("#play").click()
    page.locator("#today").click()
    unit = first_look(building).unit
    now = ENGLISH.percent(building.session.chances()[unit])
    assert page.locator(f'#plan [data-unit="{unit}"] .chance').text_content() == now
    assert page.locator("#time-bar").is_hidden()


def test_treatment_report_turnover_refusal_and_note_are_recorded_with_their_day(new_page, building):
    page = opened(new_page, building)
    unit = first_look(building).unit
    page.locator(f'#doors [data-unit="{unit}"]').first.click()
    day = (building.session.on - dt.timedelta(days=1)).isoformat()
    entries = [
        ("treatment", "#entry-treatment", "whole-room-heat"),
        ("report", "#entry-report", "bitten"),
        ("turnover", "#entry-turnover", "moved-in"),
        ("refused", None, None),
        ("note", None, None),
    ]
    for number, (answer, field, value) in enumerate(entries, start=1):
        page.wait_for_selector("#answer-note")
        page.locator("#entries summary").click()
        page.locator("#answer-day").fill(day)
        page.locator("#answer-note").fill(f"number {number}")
        if field:
            page.locator(field).select_option(value)
        page.locator(f'[data-answer="{answer}"]').click()
        page.wait_for_selector("#form .kept")
        page.locator("#another").click()
    rows = building.new_rows()
    assert [(row["kind"], row["method"], row["found"], row["evidence"]) for row in rows] == [
        ("treatment", "whole-room-heat", "", ""),
        ("report", "", "unsure", "bites"),
        ("turnover", "moved-in", "", ""),
        ("no-access", "refused", "", ""),
        ("note", "", "", ""),
    ]
    assert {row["when"] for row in rows} == {day}
    assert [row["note"] for row in rows] == [f"number {number}" for number in range(1, 6)]
    last = rows[-1]["id"]
    back = page.locator(f'#panel-history [data-undoes="{last}"]')
    # Press and look in one go: a fit that ends in between draws the history anew.
    armed = (
        "id => { const at = document.querySelector(`#panel-history [data-undoes='${id}']`);"
        " at.click(); return at.textContent; }"
    )
    back.wait_for()
    assert "press again" in page.evaluate(armed, last)
    assert len(building.new_rows()) == len(rows), "one press takes nothing back"
    # A fit that ends between two presses draws the history anew, and the first press is forgotten.
    gone = "id => !document.querySelector(`#panel-history [data-undoes='${id}']`)"
    for _ in range(8):
        page.evaluate("id => document.querySelector(`#panel-history [data-undoes='${id}']`)?.click()", last)
        page.wait_for_timeout(1500)
        if page.evaluate(gone, last):
            break
    until(page, gone, last)
    assert building.new_rows()[-1]["supersedes"] == last


def test_an_empty_note_is_refused_and_the_form_stays(reading):
    page, building = reading
    page.locator("#doors .row").first.click()
    page.locator("#entries summary").click()
    usual = page.locator("#entry-treatment").input_value()
    assert usual != "spray"
    page.locator("#entry-treatment").select_option("spray")
    page.locator('[data-answer="note"]').click()
    until(page, "document.getElementById('form-error').textContent.includes('Write the note first')")
    assert page.locator("#entry-treatment").input_value() == "spray"
    assert building.new_rows() == []
    page.locator("#entry-treatment").select_option(usual)


def test_without_a_mouse_the_plan_is_reached_moved_over_and_opened_on_every_shape(reading):
    page, building = reading
    page.locator('[data-shape="section"]').focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#plan.section")
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.classList.contains('unit')"):
            break
    assert page.evaluate("document.activeElement.classList.contains('unit')")
    page.keyboard.press("End")
    page.keyboard.press("PageDown")
    there = page.evaluate("document.activeElement.dataset.unit")
    page.keyboard.press("Enter")
    page.wait_for_selector(f'#plan [data-unit="{there}"][aria-pressed="true"]')
    until(page, "document.activeElement.id === 'panel-title'")
    page.keyboard.press("Escape")
    until(page, "unit => document.activeElement.dataset.unit === unit", there)
    shape(page, "one")
    page.locator('#plan .unit[tabindex="0"]').focus()
    floors = building.session.plan.floors
    floor = page.locator('#floors [aria-pressed="true"]').get_attribute("data-floor")
    up = floors.index(floor) + 1 < len(floors)
    page.keyboard.press("PageUp" if up else "PageDown")
    next_floor = floors[floors.index(floor) + (1 if up else -1)]
    page.wait_for_selector(f'#floors [data-floor="{next_floor}"][aria-pressed="true"]')
    until(page, "document.activeElement.classList.contains('unit')")


@pytest.mark.parametrize(("language", "first"), [("en-US", "15 ft"), ("en-GB", "5 m")])
def test_a_new_reader_has_the_measures_of_the_region_and_desk_and_phone_agree(
    new_page, building, language, first
):
    page = opened(new_page, building, locale=language, metres=False)
    shown = "document.querySelector('.scale-bar text').textContent"
    assert page.evaluate(shown) == first
    page.goto(f"{building.url}/round")
    page.wait_for_selector("#unit", state="visible")
    assert page.evaluate(PHONE) == ("feet" if first.endswith("ft") else "metres")
    page.goto(building.url)
    page.wait_for_selector("#plan .unit")
    page.locator(f'[data-measures="{"metres" if first.endswith("ft") else "feet"}"]').click()
    page.goto(f"{building.url}/round")
    page.wait_for_selector("#unit", state="visible")
    assert page.evaluate(PHONE) == ("metres" if first.endswith("ft") else "feet")


def test_lists_and_panel_are_said_in_feet_at_once_and_what_is_typed_stays(new_page, building):
    page = opened(new_page, building, locale="de-DE")
    assert page.locator("#as-of-day").text_content() == ENGLISH.day(building.session.on)
    shown = "document.querySelector('.scale-bar text').textContent"
    assert page.evaluate(shown) == "5 m"
    row = next(row for row in building.session.doors()[:8] if " m " in reason_text(row.reasons, ENGLISH))
    page.locator(f'#doors [data-unit="{row.unit}"]').first.click()
    page.wait_for_selector("#panel-first .reasons")
    page.locator("#answer-note").fill("typed before")
    page.locator('[data-measures="feet"]').click()
    until(page, f"{shown} === '15 ft'")
    feet = reason_text(row.reasons, Voice("en", "feet"))
    assert " ft " in feet
    until(
        page,
        "([unit, feet]) => "
        "document.querySelector(`#doors [data-unit='${unit}'] .row-why`).textContent === feet",
        [row.unit, feet],
    )
    until(page, "!/[0-9] m of/.test(document.getElementById('panel-first').textContent)")
    assert page.locator("#answer-note").input_value() == "typed before"
    page.reload()
    page.wait_for_selector("#plan .unit")
    assert page.evaluate(shown) == "15 ft"
    page.wait_for_selector(f'#doors [data-unit="{row.unit}"]')
    assert page.locator(f'#doors [data-unit="{row.unit}"] .row-why').first.text_content() == feet


@pytest.mark.parametrize("width", [1440, 1024])
def test_the_section_and_all_floors_begin_whole_on_a_desk(reading, width):
    page, _ = reading
    page.set_viewport_size({"width": width, "height": 900})
    for name in ("section", "all"):
        shape(page, name)
        until(page, """() => {
            const box = document.querySelector(".plan-box");
            return box.scrollWidth <= box.clientWidth + 1 && box.scrollHeight <= box.clientHeight + 1;
        }""")  # fmt: skip
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    shape(page, "one")
    assert page.evaluate(SCALE) > 0
    page.set_viewport_size({"width": 1440, "height": 900})


def test_the_plan_is_reached_in_three_stops_of_the_tab_key(new_page, building):
    page = opened(new_page, building)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the floor plan"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('#plan .unit') !== null")
    by_keyboard_the_doors_are_one_stop_with_arrows_inside(page)


def by_keyboard_the_doors_are_one_stop_with_arrows_inside(page):
    doors = page.locator("#doors .row").evaluate_all("rows => rows.map(row => row.dataset.unit)")
    assert len(doors) > 10
    page.locator("#doors .row").first.focus()
    told = []
    for key in ("ArrowDown", "ArrowDown", "ArrowUp", "End", "ArrowDown", "Home", "ArrowUp", "ArrowDown"):
        page.keyboard.press(key)
        told.append(page.evaluate("document.activeElement.dataset.unit"))
    first, second, third, *_, last = doors
    assert told == [second, third, second, last, last, first, first, second]
    stops = []
    while not stops or stops[-1] != "find":
        assert len(stops) < 8, stops
        page.keyboard.press("Tab")
        stops.append(page.evaluate("document.activeElement.id"))
    for _ in stops:
        page.keyboard.press("Shift+Tab")
    assert page.evaluate("document.activeElement.dataset.unit") == second, "the hand comes back"
    page.keyboard.press("Enter")
    page.wait_for_selector(f'#doors [data-unit="{second}"][aria-pressed="true"]')


@pytest.mark.parametrize("name", ["one", "all", "section"])
def test_the_wall_print_is_one_page_with_the_legend(reading, name):
    pypdf = pytest.importorskip("pypdf")
    page, building = reading
    shape(page, name)
    page.evaluate("window.print = () => { window.printed = document.body.className; }")
    page.locator("#wall").click()
    assert "wall" in page.evaluate("window.printed")
    pages = pypdf.PdfReader(io.BytesIO(page.pdf(print_background=True, prefer_css_page_size=True))).pages
    assert len(pages) == 1
    text = pages[0].extract_text()
    assert "very high" in text
    assert building.session.plan.name in text
    assert "Next doors" not in text


def test_a_link_may_name_a_unit_whose_plan_and_panel_print_on_one_page_with_the_legend(new_page, building):
    pypdf = pytest.importorskip("pypdf")
    page = new_page()
    treated = next(one.unit for one in building.session.doors() if one.status == "revisit")
    page.goto(f"{building.url}/?unit={treated}")
    page.wait_for_selector("#panel-history li")
    assert page.locator("#panel-title").text_content() == f"Unit {treated}"
    for width in (1440, 390):
        page.set_viewport_size({"width": width, "height": 900})
        pages = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages
        assert len(pages) == 1
        text = pages[0].extract_text()
        for words in (
            f"Unit {treated}",
            "Next step",
            "How heavy",
            "very high",
            "never closed",
            "not a guarantee",
        ):
            assert words in text, (width, words)
        assert "Next doors" not in text
    swatch = "getComputedStyle(document.querySelector('.scale .swatch')).printColorAdjust"
    page.emulate_media(media="print")
    assert page.evaluate(swatch) == "exact"


def test_a_floor_says_how_many_and_where(reading):
    page, building = reading
    chances = building.session.chances()
    for floor in building.session.plan.floors:
        on = [unit.id for unit in building.session.plan.on_floor(floor)]
        top = max(on, key=lambda unit: chances[unit])
        number = round(sum(chances[unit] for unit in on))
        button = page.locator(f'.floor-button[data-floor="{floor}"]')
        assert button.locator(".floor-class").text_content().startswith(f"{top} ")
        words = f"about {number} infested" if number else "under 1 infested"
        assert button.locator(".floor-due").text_content().startswith(words)


def test_what_is_being_worked_out_stays_in_view(reading):
    page, _ = reading
    page.evaluate("""() => {
        document.getElementById("busy").textContent = "Refining the figures…";
        document.querySelector("#page").style.paddingBottom = "2000px";
        window.scrollTo(0, 900);
    }""")
    box = page.locator("#busy").bounding_box()
    assert 0 <= box["y"] < 100
    assert box["x"] + box["width"] <= 1440
    page.evaluate("""() => {
        document.getElementById("busy").textContent = "";
        document.querySelector("#page").style.paddingBottom = "";
    }""")

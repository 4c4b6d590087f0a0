"""The plan page driven in a real Chromium: what a person does, seen on the page and on disk."""

from __future__ import annotations

import re
import time

import pytest

from spread.words import say
from spread.words.doors import reason_text
from spread.words.learned import learned_words, past_words
from spread.words.voice import ENGLISH

pytestmark = pytest.mark.browser


def until(page, script, given=None, seconds=20.0):
    """Wait until a script is true. Playwright's own wait needs eval in the page, which our policy forbids."""
    deadline = time.monotonic() + seconds
    while not page.evaluate(script, given):
        assert time.monotonic() < deadline, f"never true: {script}"
        page.wait_for_timeout(30)


def opened(new_page, building, **size):
    page = new_page(**size)
    page.goto(building.url)
    page.wait_for_selector("#plan .unit")
    page.wait_for_selector("#doors .row")
    return page


def chance_on_plan(page, unit):
    return page.locator(f'#plan [data-unit="{unit}"] .chance').text_content()


def listed(page):
    return page.locator("#doors .main-list .row").evaluate_all("rows => rows.map(row => row.dataset.unit)")


def first_look(building):
    return next(row for row in building.session.doors() if row.status == "look")


def floor_of(building, unit):
    return next(iter(building.session.plan.units[unit].parts))


def test_the_page_opens_with_the_plan_beside_the_ranked_doors_and_their_reasons(reading):
    page, building = reading
    first = first_look(building)
    assert page.locator("h1").text_content() == building.session.plan.name
    assert page.locator("html").get_attribute("lang") == "en"
    assert "As of" in page.locator(".as-of").text_content()
    row = page.locator("#doors .row").first
    assert row.get_attribute("data-unit") == first.unit
    assert reason_text(first.reasons, ENGLISH) in row.text_content()
    here = building.session.plan.on_floor(floor_of(building, first.unit))
    assert page.locator("#plan .unit").count() == len(here)
    assert "%" in chance_on_plan(page, first.unit)


def test_another_floor_is_one_button_away_and_the_title_says_which(reading):
    page, building = reading
    last = building.session.plan.floors[-1]
    page.locator(f'#floors [data-floor="{last}"]').click()
    page.wait_for_selector(f'#floors [data-floor="{last}"][aria-pressed="true"]')
    shown = page.locator("#plan .unit").evaluate_all("units => units.map(unit => unit.dataset.unit)")
    assert set(shown) == {unit.id for unit in building.session.plan.on_floor(last)}
    assert page.title().startswith(building.session.plan.name)
    assert last in page.title()


def test_a_click_on_a_unit_selects_it_on_the_plan_and_in_the_list_and_says_why(reading):
    page, building = reading
    unit = first_look(building).unit
    page.locator(f'#plan [data-unit="{unit}"]').click()
    page.wait_for_selector("#panel-first .reasons")
    assert page.locator("#panel-title").text_content() == f"Unit {unit}"
    assert page.locator(f'#plan [data-unit="{unit}"]').get_attribute("aria-pressed") == "true"
    assert page.locator(f'#doors [data-unit="{unit}"]').get_attribute("aria-pressed") == "true"
    for reason in building.session.why(unit).reasons:
        assert say(reason, ENGLISH) in page.locator("#panel-first").text_content()


def test_a_click_on_a_row_of_another_floor_brings_that_floor_to_the_plan(reading):
    page, building = reading
    start = page.locator('#floors [aria-pressed="true"]').get_attribute("data-floor")
    other = next(unit for unit in listed(page) if floor_of(building, unit) != start)
    page.locator(f'#doors [data-unit="{other}"]').click()
    page.wait_for_selector(f'#plan [data-unit="{other}"][aria-pressed="true"]')


def sourced(building, *, here):
    """A unit with a likely source on its own floor (or on another one), and that source."""
    for row in building.session.doors():
        why = building.session.why(row.unit)
        if why.sources_kind != "came-from":
            continue
        named = [source for source in why.sources if source.unit and source.share >= 0.05][:3]
        same = [s for s in named if floor_of(building, s.unit) == floor_of(building, row.unit)]
        other = [s for s in named if s not in same]
        if (here and same) or (not here and other):
            return row.unit, same, other
    raise AssertionError("the demo building has no such unit any more")


def select(page, building, unit):
    page.locator(f'#floors [data-floor="{floor_of(building, unit)}"]').click()
    page.locator(f'#plan [data-unit="{unit}"]').click()
    page.wait_for_selector("#panel-first .reasons")
    until(
        page, "async unit => ((await import('/files/plan/state.js')).state.arrows || {}).unit === unit", unit
    )


def test_likely_sources_of_the_selected_unit_are_arrows_as_wide_as_their_share(reading):
    page, building = reading
    assert page.locator("#plan .arrow").count() == 0
    unit, same, other = sourced(building, here=True)
    select(page, building, unit)
    drawn = page.locator("#plan .arrow").evaluate_all("all => all.map(one => Number(one.dataset.share))")
    assert drawn[: len(same)] == [round(source.share, 3) for source in same]
    assert len(drawn) <= len(same) + 2, "sources above share one arrow, and so do those below"
    assert page.locator("#plan .above").get_attribute("aria-hidden") == "true"
    listed_words = page.locator("#panel-rest").text_content()
    for source in (*same, *other):
        assert say(source, ENGLISH) in listed_words, "what an arrow shows stands in the panel in words"
    page.keyboard.press("Escape")
    page.wait_for_selector("#panel", state="hidden")
    assert page.locator("#plan .arrow").count() == 0


def test_a_source_on_another_floor_is_a_stub_with_its_code_and_up_or_down(reading):
    page, building = reading
    unit, _, other = sourced(building, here=False)
    select(page, building, unit)
    words = set(page.locator("#plan .arrow-words").all_text_contents())
    floors = building.session.plan.floors
    for source in other:
        up = floors.index(floor_of(building, source.unit)) > floors.index(floor_of(building, unit))
        assert {source.unit, "up" if up else "down"} <= words


def test_what_the_building_taught_opens_below_the_plan_with_its_curve_in_words(reading):
    page, building = reading
    page.wait_for_selector("#taught li", state="attached")
    assert not page.locator("#past-chart").is_visible()
    page.locator("#taught-part summary").click()
    told = page.locator("#taught").text_content()
    past, learned = building.session.past(), building.session.learned()
    for sentence in (*past_words(past, ENGLISH), *learned_words(learned, ENGLISH)):
        assert sentence in told
    assert "Infested units: about" in page.locator("#past-chart svg").get_attribute("aria-label")
    assert page.locator("#past-chart .band-90").is_visible()


def test_records_that_do_not_go_together_stand_in_the_panel(new_page, building):
    page = opened(new_page, building)
    unit = first_look(building).unit
    when = building.session.on.isoformat()
    look = {"unit": unit, "when": when, "kind": "inspection", "method": "brief-visual"}
    building.session.record(look | {"found": "no", "id": "odd-0001"})
    building.session.record(look | {"found": "yes", "level": "heavy", "id": "odd-0002"})
    page.locator(f'#doors [data-unit="{unit}"]').first.click()
    page.wait_for_selector("#panel-rest .doubts")
    told = page.locator("#panel-rest .doubts").text_content()
    assert "One clear look and a heavy find within a week" in told
    assert "odd-0001" in told
    assert "odd-0002" in told


def test_every_unit_is_clicked_where_it_is_drawn_even_close_to_its_corner(reading):
    page, _ = reading
    box = page.locator("#plan .unit .room").nth(2).bounding_box()
    unit = page.locator("#plan .unit").nth(2).get_attribute("data-unit")
    page.mouse.click(box["x"] + 4, box["y"] + 4)
    page.wait_for_selector(f'#plan [data-unit="{unit}"][aria-pressed="true"]')


def test_arrows_move_over_the_plan_enter_opens_and_escape_gives_the_focus_back(reading):
    page, building = reading
    assert page.locator('#plan .unit[tabindex="0"]').count() == 1
    page.locator('#plan .unit[tabindex="0"]').focus()
    page.keyboard.press("Home")
    first = page.evaluate("document.activeElement.dataset.unit")
    page.keyboard.press("ArrowRight")
    until(page, "first => document.activeElement.dataset.unit !== first", first)
    page.keyboard.press("ArrowRight")
    there = page.evaluate("document.activeElement.dataset.unit")
    assert there in building.session.plan.units
    assert page.locator('#plan .unit[tabindex="0"]').get_attribute("data-unit") == there
    page.keyboard.press("Enter")
    page.wait_for_selector(f'#plan [data-unit="{there}"][aria-pressed="true"]')
    until(page, "document.activeElement.id === 'panel-title'")
    page.keyboard.press("Escape")
    page.wait_for_selector("#panel", state="hidden")
    until(page, "unit => document.activeElement.dataset.unit === unit", there)


def test_a_find_changes_the_plan_and_the_list_in_place_and_is_one_row_on_disk(new_page, building):
    page = opened(new_page, building)
    page.evaluate("window.sameDocument = true")
    unit = first_look(building).unit
    before_list, before_chance = listed(page), chance_on_plan(page, unit)
    page.locator(f'#doors [data-unit="{unit}"]').click()
    page.locator('[data-answer="open-found"]').click()
    page.locator('#form input[value="low"]').check()
    page.locator('#form input[value="live"]').check()
    page.locator('#form input[value="skins"]').check()
    page.locator("#answer-note").fill("headboard, left side")
    page.locator('[data-answer="found"]').click()
    page.locator("#said", has_text=unit).wait_for()
    page.wait_for_selector(f'#plan [data-unit="{unit}"].m-t')
    assert page.locator("#said").get_attribute("role") == "status"
    page.locator(f'#plan [data-unit="{unit}"] .chance:not(:text-is("{before_chance}"))').wait_for()
    until(page, "unit => !document.querySelector(`#doors .main-list [data-unit='${unit}']`)", unit)
    assert listed(page) != before_list
    assert page.locator(f'#doors .apart [data-unit="{unit}"]').count() == 1
    page.wait_for_selector("#panel-history .history li")
    rows = building.new_rows()
    assert len(rows) == 1
    row = rows[0]
    assert (row["unit"], row["kind"], row["found"], row["level"]) == (unit, "inspection", "yes", "low")
    assert set(row["evidence"].split("+")) == {"live", "skins"}
    assert row["when"] == building.session.on.isoformat()
    assert row["method"] == building.session.method
    assert row["note"] == "headboard, left side"
    assert page.evaluate("window.sameDocument") is True


def test_a_double_click_is_one_record_and_nobody_home_is_kept_as_no_access(new_page, building):
    page = opened(new_page, building)
    told = []
    for pause in (0, 400):
        unit = first_look(building).unit
        page.locator(f'#doors [data-unit="{unit}"]').click()
        page.locator("#panel-title", has_text=f"Unit {unit}").wait_for()
        page.wait_for_selector("#panel-first .reasons")
        box = page.locator('[data-answer="clear"]').bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.click(x, y)
        page.wait_for_timeout(pause)
        page.mouse.click(x, y)
        page.wait_for_selector("#form .kept")
        page.wait_for_timeout(500)
        told.append((unit, "no"))
        assert [(row["unit"], row["found"]) for row in building.new_rows()] == told
    unit = first_look(building).unit
    page.locator(f'#doors [data-unit="{unit}"]').click()
    page.locator("#panel-title", has_text=f"Unit {unit}").wait_for()
    page.locator('[data-answer="nobody"]').click()
    page.wait_for_selector("#form .kept")
    *_, row = building.new_rows()
    assert (row["unit"], row["kind"], row["method"], row["found"]) == (unit, "no-access", "nobody-home", "")


def test_an_answer_can_be_taken_back_by_a_row_that_supersedes_it(new_page, building):
    page = opened(new_page, building)
    page.locator(f'#doors [data-unit="{first_look(building).unit}"]').click()
    page.locator('[data-answer="clear"]').click()
    page.wait_for_selector("#undo:visible")
    page.locator("#undo").click()
    page.wait_for_selector("#undo", state="hidden")
    until(page, "() => !document.getElementById('undo').dataset.undoes")
    first, second = building.new_rows()
    assert (second["kind"], second["supersedes"]) == ("note", first["id"])


def test_a_refused_answer_keeps_what_was_typed_and_markup_stays_text(new_page, made):
    building = made()
    page = opened(new_page, building)
    page.locator(f'#doors [data-unit="{first_look(building).unit}"]').click()
    long = "they said " + "x" * 500
    # The field takes no more than the server does from a keyboard; a script may set more.
    page.locator("#answer-note").evaluate("(field, text) => { field.value = text; }", long)
    page.locator('[data-answer="clear"]').click()
    until(page, "document.getElementById('form-error').textContent.length > 0")
    said = page.locator("#form-error").text_content()
    assert "note" in said
    assert "510" in said
    assert page.locator("#answer-note").input_value() == long
    assert building.new_rows() == []
    markup = "<img src=x onerror=window.bad=1>"
    page.locator("#answer-note").fill(markup)
    page.locator('[data-answer="clear"]').click()
    page.wait_for_selector("#form .kept")
    assert len(building.new_rows()) == 1
    page.wait_for_selector("#panel-history .note")
    assert page.locator("#panel-history .note").text_content() == markup, "it stays text"
    assert page.evaluate("window.bad === undefined")


def lose_the_request(route):
    route.abort()


def lose_the_reply(route):
    """The server keeps the answer, but the page never hears of it."""
    route.fetch()
    route.abort()


def test_when_the_line_is_gone_what_was_typed_stays_and_the_second_try_counts_once(new_page, building):
    page = opened(new_page, building)
    for many, lose in enumerate((lose_the_request, lose_the_reply)):
        unit, note = first_look(building).unit, f"by the bed, {many}"
        page.locator(f'#doors [data-unit="{unit}"]').click()
        page.locator("#panel-title", has_text=f"Unit {unit}").wait_for()
        page.wait_for_selector("#panel-first .reasons")
        page.locator("#answer-note").fill(note)
        page.evaluate("import('/files/plan/state.js').then(the => { the.state.patience = 600; })")
        page.route("**/_dash-update-component*", lose)
        page.locator('[data-answer="clear"]').click()
        until(page, "document.getElementById('form-error').textContent.includes('No reply')")
        assert len(building.new_rows()) == many + (lose is lose_the_reply)
        assert page.locator("#answer-note").input_value() == note
        page.unroute("**/_dash-update-component*")
        page.evaluate("import('/files/plan/state.js').then(the => { the.state.patience = 10000; })")
        page.locator('[data-answer="clear"]').click()
        page.wait_for_selector("#form .kept")
        assert [row["note"] for row in building.new_rows()][many:] == [note]
    # the browser itself tells of the lost line; that is the one error allowed here
    new_page.errors[:] = [
        line for line in new_page.errors if "ERR_FAILED" not in line and "did not respond" not in line
    ]


def test_while_a_refit_runs_the_page_says_so_and_asks_only_until_it_is_done(new_page, made):
    building = made(refit_seconds=2.0)
    page = opened(new_page, building)
    asked = []
    page.on("request", lambda ask: asked.append(ask.url) if "_dash-update-component" in ask.url else None)
    page.locator(f'#doors [data-unit="{first_look(building).unit}"]').click()
    page.locator('[data-answer="clear"]').click()
    page.wait_for_selector("#form .kept")
    until(page, "document.getElementById('busy').textContent.includes('Refining')")
    until(page, "document.getElementById('busy').textContent === ''")
    deadline = time.monotonic() + 20
    quiet = -1
    while quiet != len(asked):  # the last answers may still be on their way to a slow page
        assert time.monotonic() < deadline, "the page never stopped asking"
        quiet = len(asked)
        page.wait_for_timeout(1800)


def test_ranking_by_another_method_and_by_one_floor_redraws_the_list(reading):
    page, building = reading
    usual = page.locator("#method").input_value()
    before = page.locator("#doors .row .row-foot").first.text_content()
    page.locator("#method").select_option("interview")
    until(page, "before => document.querySelector('#doors .row .row-foot').textContent !== before", before)
    page.locator("#only-here").check()
    floor = page.locator('#floors [aria-pressed="true"]').get_attribute("data-floor")
    until(page, "document.querySelector('#doors .main-list .soft').textContent.includes('on this floor')")
    assert {floor_of(building, unit) for unit in listed(page)} == {floor}
    page.locator("#only-here").uncheck()
    page.locator("#method").select_option(usual)
    until(page, "before => document.querySelector('#doors .row .row-foot').textContent === before", before)


def test_on_a_phone_the_list_comes_first_the_plan_scrolls_alone_and_targets_are_big(new_page, building):
    page = opened(new_page, building, width=390, height=844, phone=True)
    assert page.locator("#doors .row").first.bounding_box()["y"] < page.locator("#plan").bounding_box()["y"]
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.locator("#doors .row").first.tap()
    page.wait_for_selector("#panel-first .reasons")
    small = page.evaluate(
        """() => ["#panel button", "#panel select", "#panel .choice", "#doors button", "#doors-tools select",
                  "#floors button", "#plan .unit .room"]
            .flatMap(part => Array.from(document.querySelectorAll(part)))
            .map(node => [node.getAttribute("class") || node.id, node.getBoundingClientRect()])
            .filter(([name, box]) => box.width > 0 && (box.width < 43.5 || box.height < 43.5))
            .map(([name, box]) => `${name} ${box.width} x ${box.height}`)"""
    )
    assert small == []
    box = page.locator('[data-answer="clear"]').bounding_box()
    assert box["height"] >= 60
    page.locator('[data-answer="clear"]').tap()
    page.wait_for_selector("#form .kept")
    page.locator("#said").wait_for()
    page.locator("#next-door").tap()
    until(page, "() => document.getElementById('form').querySelector('[data-answer]')")
    assert len(building.new_rows()) == 1


def test_at_320_px_and_200_percent_zoom_only_the_plan_box_scrolls_sideways(new_page, building):
    page, widths = opened(new_page, building, width=320, height=700), (640, 512, 320)
    for width in widths:
        page.set_viewport_size({"width": width, "height": 700})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.locator("#doors .row").first.click()
    page.wait_for_selector("#panel-first .reasons")
    page.locator('[data-answer="open-found"]').click()
    for width in widths:
        page.set_viewport_size({"width": width, "height": 700})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate("document.getElementById('panel').scrollWidth") <= width


def test_axe_finds_nothing_serious(new_page, building, axe):
    page = opened(new_page, building, reduced_motion="reduce")
    found = axe(page, 390, 1440)
    page.locator("#doors .row").first.click()
    page.wait_for_selector("#panel-first .reasons")
    page.locator('[data-answer="open-found"]').click()
    assert found + axe(page, 1440, 390) == []


def test_printing_leaves_the_doors_and_the_plan_and_drops_the_buttons(reading):
    page, _ = reading
    page.emulate_media(media="print")
    assert page.locator("#doors .row").first.is_visible()
    assert page.locator("#plan svg.floor").is_visible()
    assert not page.locator("#doors-tools").is_visible()
    assert not page.locator("#floors").is_visible()


def test_a_thousand_units_open_and_repaint_in_a_few_times_the_time_of_a_small_plan(new_page, made):
    """Ratios in one run, because other work slows both; seconds are in DEVELOPERS.md."""
    units, ready, repainted = _drawn_and_repainted(new_page, made(2, 8))
    more, later, longer = _drawn_and_repainted(new_page, made(10, 50))
    assert more >= 25 * units
    assert later < 6 * ready
    # A frame is the least that a repaint can take.
    assert longer < 25 * max(repainted, 16.0)


def _drawn_and_repainted(new_page, building):
    """Return units, and milliseconds until the plan is drawn and of the longest repaint after an answer."""
    page = opened(new_page, building)
    ready = page.evaluate("performance.getEntriesByName('plan-drawn')[0].startTime")
    unit = first_look(building).unit
    page.locator(f'#doors [data-unit="{unit}"]').click()
    page.locator('[data-answer="clear"]').click()
    page.wait_for_selector("#form .kept")
    until(page, "document.querySelectorAll('#panel-history .history li').length === 1")
    spent = page.evaluate("performance.getEntriesByName('repaint').map(one => one.duration)")
    assert re.search(r"\d", page.locator("#said").text_content())
    page.close()
    return len(building.session.plan.units), ready, max(spent)

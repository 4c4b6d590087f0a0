"""The reach of a bed on the plan, in a real Chromium; expected figures come from ``bed_reach``."""

from __future__ import annotations

from dataclasses import replace

import pytest
from test_browser_plan_page import opened, until

from spread.contacts.bed import BedPlace, bed_reach, bed_words, place_beds

pytestmark = pytest.mark.browser


def test_a_unit_with_a_known_bed_shows_its_reach_and_one_without_says_how_to_place_it(new_page, building):
    session = building.session
    unit, bare = list(session.plan.units)[:2]
    floor, outline = next(iter(session.plan.units[unit].parts.items()))
    east = outline.bounds[2] - 0.9  # near its east wall
    place = BedPlace(unit, floor, x=east, y=outline.centroid.y)
    session.building = replace(session.building, plan=place_beds(session.plan, [place]))
    plan = session.plan
    reach = bed_reach(plan, unit)
    page = opened(new_page, building)
    page.goto(f"{building.url}/?unit={unit}")
    page.wait_for_selector("#bed-words")
    until(page, "document.querySelectorAll('#plan .reach').length > 0")
    assert page.locator("#plan .reach").count() == len(reach["beds"])
    assert float(page.locator("#plan .reach-circle").first.get_attribute("r")) == reach["radius_m"]
    risers = sum(len(bed["risers"]) for bed in reach["beds"])
    assert page.locator("#plan .reach-riser").count() == risers
    assert page.locator("#bed-words p").all_text_contents() == list(bed_words(reach))
    assert page.locator("#legend .m-n").count() == 1
    walls = [wall for bed in reach["beds"] for wall in bed["walls"] if wall["to"] != "outside"]
    assert page.locator("#plan .reach-wall").count() == bool(walls)
    page.goto(f"{building.url}/?unit={bare}")
    page.wait_for_selector("#bed-words")
    assert "[[beds]]" in page.locator("#bed-words").text_content()
    assert page.locator("#plan .reach").count() == 0


def test_on_a_phone_the_panel_steps_aside_for_the_plan_and_comes_back(new_page, building):
    session = building.session
    unit, other = list(session.plan.units)[:2]
    floor, outline = next(iter(session.plan.units[unit].parts.items()))
    place = BedPlace(unit, floor, x=outline.centroid.x, y=outline.centroid.y)
    session.building = replace(session.building, plan=place_beds(session.plan, [place]))
    page = new_page(390, 844, phone=True)
    page.goto(f"{building.url}/?unit={unit}")
    page.wait_for_selector("#bed-words")
    until(page, "document.querySelectorAll('#plan .reach').length > 0")
    page.locator("#peek").tap()
    assert not page.locator("#panel").is_visible()
    box = page.locator("#plan .reach-circle").first.bounding_box()
    assert box["width"] > 44
    assert box["x"] > 0
    assert box["x"] + box["width"] < 390
    assert 0 < box["y"] < page.locator("#peek-back").bounding_box()["y"]
    page.locator("#peek-back").tap()
    assert page.locator("#panel-title").inner_text() == f"Unit {unit}"
    assert page.evaluate("document.activeElement.id") == "peek"
    page.locator("#peek").tap()
    page.locator(f'#plan [data-unit="{other}"]').first.tap()
    until(page, f"document.querySelector('#panel-title').textContent === 'Unit {other}'")
    assert page.locator("#panel").is_visible()

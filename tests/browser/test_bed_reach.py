"""The reach of a bed on the plan, in a real Chromium; expected figures come from ``bed_reach``."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import Point
from test_browser_plan_page import opened, until

from spread.contacts.bed import BedPlace, bed_reach, place_beds
from spread.plan.model import Outlet
from spread.session import Session
from spread.words import ENGLISH
from spread.words.room import bed_words

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
    assert page.locator("#bed-words p").all_text_contents() == list(bed_words(reach, ENGLISH))
    assert page.locator("#legend .m-n").count() == 1
    walls = [wall for bed in reach["beds"] for wall in bed["walls"] if wall["to"] != "outside"]
    assert page.locator("#plan .reach-wall").count() == bool(walls)
    page.goto(f"{building.url}/?unit={bare}")
    page.wait_for_selector("#bed-words")
    assert "where the plan is changed" in page.locator("#bed-words").text_content()
    assert page.locator("#plan .reach").count() == 0


@pytest.mark.parametrize("phone", [False, True])
def test_outlets_are_on_the_plan_and_those_within_reach_are_ringed_and_said(
    new_page, building, serve_session, phone
):
    """Two outlets on the south wall, 1 m and 4 m from a bed that stands 1 m from that wall."""
    session = building.session
    unit = next(iter(session.plan.units.values()))
    floor, outline = next(iter(unit.parts.items()))
    west, south, _, _ = outline.bounds
    placed = place_beds(session.plan, [BedPlace(unit.id, floor, x=west + 1, y=south + 1)])
    spots = {"near": Point(west + 1, south), "far": Point(west + 5, south)}
    outlets = tuple(Outlet(name, unit.id, floor, at) for name, at in spots.items())
    wired = replace(session.building, plan=replace(placed, outlets=outlets))
    session = Session(wired, session.view.posterior, session.fit_settings)  # a session draws its plan once
    page = new_page(390, 844, phone=True, metres=True) if phone else new_page()
    page.goto(f"{serve_session(session)}/?unit={unit.id}")
    page.wait_for_selector("#bed-words")
    until(page, "document.querySelectorAll('#plan .reach').length > 0")
    if phone:
        page.locator("#peek").tap()
    ring = page.locator("#plan .reach-outlet")
    assert ring.count() == 1
    assert [float(ring.get_attribute(name)) for name in ("cx", "cy")] == pytest.approx(
        [west + 1, -south], abs=1e-3
    )
    drawn = page.locator("#plan .over .outlet")
    assert drawn.count() == 1, "all outlets of a floor are one path"
    assert drawn.get_attribute("d").count("M") == 3 * len(outlets), "a disc and two slots each"
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        fill = page.locator("#plan .reach .outlet").evaluate("node => getComputedStyle(node).fill")
        assert fill != "none", "the one within reach stays visible over the banded wall"
    words = page.locator("#bed-words").text_content()
    assert "outlet near (1 m away, on the outside wall)" in words.replace("1.0 m", "1 m")
    assert "outlet far" not in words
    assert page.locator("#legend .m-u").count() == 1


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
    page.locator("#panel").wait_for(state="hidden")
    box = page.locator("#plan .reach-circle").first.bounding_box()
    assert box["width"] > 44
    assert box["x"] > 0
    assert box["x"] + box["width"] < 390
    assert 0 < box["y"] < page.locator("#peek-back").bounding_box()["y"]
    page.locator("#peek-back").tap()
    page.locator("#peek:focus").wait_for()
    assert page.locator("#panel-title").inner_text() == f"Unit {unit}"
    page.locator("#peek").tap()
    page.locator(f'#plan [data-unit="{other}"]').first.tap()
    until(page, f"document.querySelector('#panel-title').textContent === 'Unit {other}'")
    page.locator("#panel").wait_for()

"""A building model dropped on the set-up page of a server without a building: asked, drawn, created."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from spread.building import load_building

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("read_here")]
MODEL = Path(__file__).parents[1] / "data" / "models" / "duplex.ifc"
SLOW = 120_000
"""Milliseconds that reading a model may take where many tests run at once."""


def test_a_model_is_dropped_confirmed_in_one_press_drawn_and_made_into_a_building(new_page, building):
    page = new_page()
    page.goto(f"{building.url}/setup")
    page.locator("#file").set_input_files(MODEL)
    expect(page.locator("#asked-title")).to_have_text("Questions (14)", timeout=SLOW)
    roof = page.locator('.question[data-key="Roof"] select')
    expect(roof).to_have_value("leave out")
    expect(page.locator(".question-alone")).to_have_count(0)
    page.locator("#answered").click()
    expect(page.locator("#problems")).to_contain_text("14 of 14 questions are open")
    page.locator(".together").click()
    page.locator("#answered").click()
    expect(page.locator("#drawn")).to_contain_text("2 units on 2 floors.", timeout=SLOW)
    expect(page.locator("#drawn")).to_contain_text("no rooms are kept on T/FDN, Roof")
    page.locator('.grip[aria-label="Wall between A and B"]').press("Enter")
    page.locator("#metres").fill("0.3")
    page.locator("#to-b").click()
    expect(page.locator("#undo")).to_be_visible(timeout=SLOW)
    expect(page.locator("#drawn")).to_contain_text("no rooms are kept on T/FDN, Roof")
    page.locator("#name").fill("Two Homes")
    page.locator("#create").click()
    expect(page.locator("#created")).to_contain_text("Created. Open it with", timeout=SLOW)
    plan = load_building(building.records.parent.parent / "two-homes").plan
    assert {unit.id: tuple(unit.parts) for unit in plan.units.values()} == {"A": ("1", "2"), "B": ("1", "2")}
    assert plan.units["A"].area > plan.units["B"].area, "the wall was moved"


def test_a_list_after_a_model_is_a_list_again(new_page, building):
    page = new_page(390, 844)
    page.goto(f"{building.url}/setup")
    page.locator("#file").set_input_files(MODEL)
    expect(page.locator("#asked-title")).to_have_text("Questions (14)", timeout=SLOW)
    page.locator(".together").click()
    page.locator("#answered").click()
    expect(page.locator("#drawn")).to_contain_text("2 units on 2 floors.", timeout=SLOW)
    page.locator("#from-form").click()
    expect(page.locator("#drawn")).to_contain_text("24 units on 3 floors.", timeout=SLOW)
    expect(page.locator("#drawn")).not_to_contain_text("T/FDN")

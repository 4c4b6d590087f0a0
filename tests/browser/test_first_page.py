"""From no building at all to its plan, in Chromium."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser


def drawn(page, empty):
    """Open the first page and draw what its form asks for."""
    page.goto(empty)
    assert page.url == f"{empty}/setup"
    assert "No building is open yet" in page.locator("main").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    page.locator("#from-form").click()
    page.wait_for_selector("#drawing svg")


def is_open(page, empty, name):
    page.wait_for_url(f"{empty}/", timeout=60_000)
    page.wait_for_selector("#plan .unit")
    assert name in page.title()
    page.goto(f"{empty}/round")
    page.wait_for_selector("#unit")


def test_a_first_building_is_made_on_a_phone_and_its_plan_opens(new_page, empty, tmp_path):
    page = new_page(width=390, phone=True)
    drawn(page, empty)
    page.locator("#name").fill("Birch House")
    page.locator("#create").click()
    is_open(page, empty, "Birch House")
    assert (tmp_path / "birch-house" / "building.toml").is_file()


def test_a_refused_name_keeps_what_was_typed_and_the_button(new_page, empty, tmp_path):
    page = new_page()
    drawn(page, empty)
    page.locator("#name").fill("Ash House")
    page.locator("#slug").fill("Not A Name")
    page.locator("#create").click()
    page.wait_for_selector("#problems .form-error")
    assert page.locator("#slug").input_value() == "Not A Name"
    assert page.locator("#created").inner_text() == ""
    assert list(tmp_path.iterdir()) == []
    page.locator("#slug").fill("a-name")
    page.locator("#create").click()
    is_open(page, empty, "Ash House")
    assert (tmp_path / "a-name" / "building.toml").is_file()


def test_axe_finds_nothing_on_the_first_page(new_page, empty, axe):
    page = new_page(bypass_csp=True)
    page.goto(empty)
    assert axe(page) == []

"""From no building at all to its plan, in Chromium."""

from __future__ import annotations

import logging
import threading

import pytest

from dashboard import create_app
from dashboard.first import Switch, create_first_app
from spread.session import Session

pytestmark = pytest.mark.browser


@pytest.fixture
def empty(tmp_path):
    """A server without a building, as ``spread serve`` starts it; its address."""
    from werkzeug.serving import make_server

    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    switch = Switch()
    switch.show(create_first_app(tmp_path, lambda made: switch.show(create_app(Session.open(made)).server)))
    server = make_server("127.0.0.1", 0, switch, threaded=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join(5)
    server.server_close()


@pytest.fixture
def page_of(empty, new_page):
    """Pages are closed before the server stops."""
    return new_page


@pytest.mark.parametrize("size", [{"width": 1440}, {"width": 390, "phone": True}], ids=["desk", "phone"])
def test_a_first_building_is_made_and_its_plan_opens(page_of, empty, size, tmp_path):
    page = page_of(**size)
    page.goto(empty)
    assert page.url == f"{empty}/setup"
    assert "No building is open yet" in page.locator("main").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    page.locator("#from-form").click()
    page.wait_for_selector("#drawing svg")
    page.locator("#name").fill("Birch House")
    page.locator("#create").click()
    page.wait_for_url(f"{empty}/", timeout=60_000)
    page.wait_for_selector("#plan .unit")
    assert "Birch House" in page.title()
    assert (tmp_path / "birch-house" / "building.toml").is_file()
    page.goto(f"{empty}/round")
    page.wait_for_selector("#unit")


def test_a_refused_name_keeps_what_was_typed_and_the_button(page_of, empty, tmp_path):
    page = page_of()
    page.goto(empty)
    page.locator("#from-form").click()
    page.wait_for_selector("#drawing svg")
    page.locator("#slug").fill("Not A Name")
    page.locator("#create").click()
    page.wait_for_selector("#problems .form-error")
    assert page.locator("#slug").input_value() == "Not A Name"
    assert page.locator("#created").inner_text() == ""
    assert list(tmp_path.iterdir()) == []
    page.locator("#slug").fill("a-name")
    page.locator("#create").click()
    page.wait_for_url(f"{empty}/", timeout=60_000)
    page.wait_for_selector("#plan .unit")


def test_axe_finds_nothing_on_the_first_page(page_of, empty, axe):
    page = page_of(bypass_csp=True)
    page.goto(empty)
    assert axe(page) == []

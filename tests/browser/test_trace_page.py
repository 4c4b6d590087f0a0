"""The tracer in Chromium: from a photograph and a table of notes to the first doors.

``SPREAD_PICTURES=FOLDER`` keeps a picture of each step.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from drawn import Sheet, as_jpeg
from playwright.sync_api import expect
from small import made_plan

from spread.building import load_building

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("read_here")]
LONG = pytest.param(1440, marks=(pytest.mark.slow, pytest.mark.own_process))
PICTURES = os.environ.get("SPREAD_PICTURES")
SLOW = 300_000
"""Milliseconds that tracing and the first fit may take where many tests run at once."""


class Hand:
    """Clicks on the picture in its own pixels, and counts the clicks."""

    def __init__(self, page):
        self.page, self.clicks = page, 0

    def press(self, selector):
        self.page.locator(selector).click()
        self.clicks += 1

    def at(self, x, y):
        spot = self.page.evaluate(
            """([x, y]) => {
              const svg = document.querySelector("#drawing svg");
              svg.scrollIntoView({ block: "center" });
              const at = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM());
              return [at.x, at.y];
            }""",
            [x, y],
        )
        self.page.mouse.click(*spot)
        self.clicks += 1

    def size(self):
        box = self.page.locator("#drawing svg").get_attribute("viewBox").split()
        return float(box[2]), float(box[3])


def trace_photograph(page, sheet):
    """Do what a manager does, from the file to the regions; return how many clicks it took."""
    picture, corners = sheet.photograph()
    hand = Hand(page)
    file = {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": as_jpeg(picture)}
    page.locator("#file").set_input_files(file)
    expect(page.locator("#drawing image")).to_have_count(1, timeout=SLOW)
    first = page.locator("#drawing image").get_attribute("href")
    k = hand.size()[0] / picture.width
    hand.press("#tool-corners")
    for x, y in corners:
        hand.at(x * k, y * k)
    expect(page.locator("#drawing image")).not_to_have_attribute("href", first, timeout=SLOW)
    seeds = sheet.seeds(straightened=hand.size())
    for x, y in seeds["outline"]:
        hand.at(x, y)
    hand.press("#tool-length")
    hand.at(*seeds["length"]["from"])
    hand.at(*seeds["length"]["to"])
    page.locator("#length").fill(str(seeds["length"]["metres"]))
    for kind in ("hallway", "common", "stair", "unit"):
        hand.press(f"#tool-{kind}")
        for click in (one for one in seeds["clicks"] if one["kind"] == kind):
            if kind == "unit" and page.locator("#code").input_value() != click["code"]:
                page.locator("#code").fill(click["code"])
            hand.at(*click["at"])
    count = len(sheet.units)
    expect(page.locator("#tool-unit")).to_have_text(f"Units ({count})")
    expect(page.locator("#said")).to_contain_text(f"{count} units traced", timeout=SLOW)
    expect(page.locator("#drawing .region.unit")).to_have_count(count)
    return hand.clicks


def take_notes_in(page, address, units):
    """Take three notes of a spreadsheet into the log, each wording confirmed once."""
    told = ("BB found heavy", "no bugs seen", "tenant refused")
    rows = [
        f"{unit},11/{day}/2026,{note}" for unit, day, note in zip(units, (13, 16, 17), told, strict=False)
    ]
    notes = "\n".join(["Apt #,Date,Result", *rows])
    page.goto(f"{address}/import")
    file = {"name": "notes.csv", "mimeType": "text/csv", "buffer": notes.encode()}
    page.locator("#file").set_input_files(file)
    for title in ("What the columns mean", "Questions ("):
        expect(page.locator("#asked-title")).to_contain_text(title)
        keep(page, "questions")
        together = page.locator("#questions .together")
        if together.count():
            together.click()
        for button in page.locator("#questions .question button").all():
            if button.get_attribute("aria-pressed") != "true":
                button.click()
        page.locator("#on").click()
    expect(page.locator("#counts")).to_contain_text("3 rows will be taken in")
    keep(page, "will-be-read-as")
    page.locator("#take").click()
    expect(page.locator("#done-words")).to_contain_text("3 rows are in the log", timeout=SLOW)


def keep(page, name):
    """Keep a picture of a step where somebody asked for it."""
    if PICTURES:
        width = page.viewport_size["width"]
        page.screenshot(path=Path(PICTURES) / f"trace-{width}-{name}.png", full_page=True)


@pytest.mark.parametrize("width", [LONG, 1024])
def test_a_photograph_becomes_a_building_with_its_first_doors(new_page, empty, tmp_path, axe, width):
    plan = made_plan(1, 12 if width == 1440 else 3)
    page = new_page(width=width, height=900)
    page.goto(f"{empty}/trace")
    clicks = trace_photograph(page, Sheet(plan, "1", scale=34 if width == 1440 else 24))
    assert clicks < 4 + 10 + 2 + 30 + 10, "a click a home, and a few more"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert axe(page) == []
    keep(page, "traced")
    page.reload()
    expect(page.locator("#said")).to_contain_text("units traced", timeout=SLOW)
    expect(page.locator("#tool-unit")).to_have_text(f"Units ({len(plan.units)})")
    page.locator("#name").fill("Birch House")
    assert list(tmp_path.iterdir()) == [], "nothing is written before the press"
    page.locator("#create").click()
    page.wait_for_url(f"{empty}/", timeout=SLOW)
    page.wait_for_selector("#plan .unit", timeout=SLOW)
    assert set(load_building(tmp_path / "birch-house").plan.units) == set(plan.units)
    units = sorted(plan.units)
    take_notes_in(page, empty, units)
    page.goto(f"{empty}/")
    expect(page.locator("#doors .row").first).to_be_visible(timeout=SLOW)
    known = page.locator("#doors").inner_text()
    assert units[0] in known, "what the notes say was found stands on the list"
    log = load_building(tmp_path / "birch-house").log
    assert [(row.unit, row.kind, row.found) for row in log.rows] == [
        (units[0], "inspection", "yes"), (units[1], "inspection", "no"), (units[2], "no-access", "")
    ]  # fmt: skip
    keep(page, "doors")


def test_keys_alone_can_click_and_take_back(new_page, empty):
    page = new_page(width=1024, height=768)
    page.goto(f"{empty}/trace")
    sheet = Sheet(made_plan(1, 2), "1")
    file = {"name": "plan.jpg", "mimeType": "image/jpeg", "buffer": as_jpeg(sheet.picture())}
    page.locator("#file").set_input_files(file)
    expect(page.locator("#drawing image")).to_have_count(1, timeout=SLOW)
    page.locator("#drawing").focus()
    for key in ("ArrowLeft", "ArrowUp", "Enter"):
        page.keyboard.press(key)
    expect(page.locator("#tool-outline")).to_have_text("Outline (1)")
    page.locator("#undo").press("Enter")
    expect(page.locator("#tool-outline")).to_have_text("Outline")
    page.locator("#file").set_input_files({"name": "no.png", "mimeType": "image/png", "buffer": b"hello"})
    expect(page.locator("#problems")).to_contain_text("no picture, PDF or DXF", timeout=SLOW)
    expect(page.locator("#drawing image")).to_have_count(1)

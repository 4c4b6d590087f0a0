"""From a rent roll and a year of notes to the first list of doors, in Chromium, counting decisions.

``SPREAD_PICTURES=FOLDER`` keeps a picture of each step.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from playwright.sync_api import expect

from spread.building import load_building
from spread.tables.answers import Answers

pytestmark = pytest.mark.browser
TABLES = Path(__file__).parent.parent / "data" / "tables"
PICTURES = os.environ.get("SPREAD_PICTURES")
WIDTHS = (1024, 1440)


class Person:
    """Somebody who knows what the tables mean; counts every press that says something."""

    def __init__(self, page, axe):
        self.page, self.axe, self.decisions, self.seen, self.step = page, axe, 0, [], 0

    def look(self, name, *, axe=False):
        """Look at what stands there now, narrow and wide, and keep pictures of it."""
        self.step += 1
        for width in WIDTHS:
            self.page.set_viewport_size({"width": width, "height": 900})
            self.page.wait_for_function("width => innerWidth === width", arg=width)
            assert self.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
            assert not axe or self.axe(self.page) == []
            if PICTURES:
                path = Path(PICTURES) / f"{width}-{self.step:02d}-{name}.png"
                self.page.screenshot(path=path, full_page=True)

    def answer(self, file, go_on):
        """Answer every question that stands there, as the truth of the file has it."""
        known = Answers(json.loads((TABLES / f"{file}.truth.json").read_text())["answers"])
        rows = self.page.locator("#questions .question")
        together = self.page.locator("#questions .together")
        quiet = together.count() > 0
        for row in rows.all():
            key, select = row.get_attribute("data-key"), row.locator("select")
            self.seen.append((file, key))
            meant = next(
                said
                for topic in ("columns", "roll", "words", "occupancy", "list", "days", "units", "building")
                if (said := known.get(topic, key)) is not None
                and said in select.locator("option").evaluate_all("all => all.map((one) => one.value)")
            )
            if select.input_value() != meant:
                select.select_option(meant)
                self.decisions += 1
                expect(row.locator("button")).to_have_attribute("aria-pressed", "true")
        if quiet:
            together.click()
            self.decisions += 1
        for row in rows.all():
            button = row.locator("button")
            if button.get_attribute("aria-pressed") != "true":
                button.click()
                self.decisions += 1
        go_on.click()


def a_plan_from_the_roll(page, empty, person):
    page.goto(f"{empty}/setup")
    page.locator("#file").set_input_files(TABLES / "roll-140.xlsx")
    title, go_on = page.locator("#asked-title"), page.locator("#answered")
    expect(title).to_have_text("What the columns mean")
    go_on.click()
    expect(page.locator("#problems")).to_contain_text("questions are open")
    person.look("columns-of-the-roll")
    person.answer("roll-140.xlsx", go_on)
    expect(title).to_contain_text("Questions (")
    person.look("questions-of-the-roll", axe=True)
    person.answer("roll-140.xlsx", go_on)
    expect(page.locator("#drawn")).to_contain_text("140 units on 7 floors")
    expect(page.locator("#moves-said")).to_have_text("Who moved in or out: 140 first records")
    page.locator("#moves-said").click()
    expect(page.locator("#roll-said")).to_contain_text("(a total)")
    person.look("plan", axe=True)
    page.locator("#name").fill("Sample Court")
    page.locator("#create").click()
    page.wait_for_url(f"{empty}/", timeout=120_000)
    page.wait_for_selector("#plan .unit")
    expect(page.locator("#doors .row").first).to_be_visible(timeout=120_000)


def a_log_from_the_notes(page, empty, person, rows):
    page.goto(f"{empty}/import")
    page.locator("#file").set_input_files(TABLES / "notes-204.xlsx")
    title, go_on = page.locator("#asked-title"), page.locator("#on")
    expect(title).to_have_text("2. What the columns mean")
    person.look("columns-of-the-notes")
    person.answer("notes-204.xlsx", go_on)
    expect(title).to_contain_text("2. Questions (")
    person.look("wordings", axe=True)
    person.answer("notes-204.xlsx", go_on)
    expect(page.locator("#counts")).to_contain_text(f"{rows} rows will be taken in")
    person.look("will-be-read-as")
    page.locator("#take").click()
    expect(page.locator("#done-words")).to_contain_text(f"{rows} rows are in the log", timeout=120_000)
    person.look("taken-in")


@pytest.mark.slow  # in short: test_setup, test_take_in_page
def test_a_rent_roll_and_a_year_of_notes_become_the_first_list_of_doors(new_page, empty, tmp_path, axe):
    page = new_page(bypass_csp=True)
    person = Person(page, axe)
    a_plan_from_the_roll(page, empty, person)
    made = load_building(tmp_path / "sample-court")
    assert len(made.plan.units) == len(made.log.rows) == 140
    records = json.loads((TABLES / "notes-204.xlsx.truth.json").read_text())["records"]
    a_log_from_the_notes(page, empty, person, len(records))
    assert len(load_building(tmp_path / "sample-court").log.rows) == 140 + len(records)

    assert person.decisions <= 25
    assert len(person.seen) == len(set(person.seen)), "nothing is asked twice"
    page.goto(f"{empty}/import")
    page.locator("#file").set_input_files(TABLES / "notes-next.csv")
    expect(page.locator("#counts")).to_contain_text("38 rows will be taken in")
    expect(page.locator("#asked")).to_be_hidden()

    page.goto(f"{empty}/")
    expect(page.locator("#doors .row").first).to_be_visible(timeout=120_000)
    person.look("doors")

"""The import page in Chromium: from a workbook of notes to rows in the log and back, by keyboard alone."""

import io

import openpyxl
import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("read_here")]
LONG = pytest.param(1440, marks=(pytest.mark.slow, pytest.mark.own_process))


def notes_of(units):
    book = openpyxl.Workbook()
    for row in (
        ("Pest log 2026",),
        ("Apt #", "Date", "Tenant", "Result"),
        (units[0], "3/14/2026", "(left out)", "BB found, heavy"),
        (units[1], "3/15/2026", "(left out)", "zero activity"),
        (units[2], "3/16/2026", "(left out)", "called office"),
    ):
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return {"name": "notes.xlsx", "mimeType": "application/octet-stream", "buffer": stream.getvalue()}


def say_yes(page):
    for button in page.locator("#questions .question button").all():
        button.press("Enter")
        expect(button).to_have_attribute("aria-pressed", "true")
    page.locator("#on").press("Enter")


@pytest.mark.parametrize("width", [LONG, 390])
def test_a_workbook_of_notes_goes_into_the_log_and_out_again(new_page, building, axe, width):
    page = new_page(width=width, height=900)
    page.goto(f"{building.url}/import")
    log = building.session.building
    page.locator("#file").set_input_files(notes_of(list(log.plan.units)))
    title = page.locator("#asked-title")
    expect(title).to_have_text("2. What the columns mean")
    page.locator("#on").press("Enter")
    expect(page.locator("#problems")).to_contain_text("4 of 4 questions are open")
    assert axe(page, 1440, 390) == []
    say_yes(page)
    expect(title).to_contain_text("2. Questions (")
    assert axe(page, 1440, 390) == []
    before = {row.id for row in log.log.current}
    say_yes(page)
    expect(page.locator("#counts")).to_contain_text("2 rows will be taken in")
    for wide in (1440, 390):
        assert axe(page, wide) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert {row.id for row in log.log.current} == before, "nothing is written before the press"
    page.locator("#take").press("Enter")
    expect(page.locator("#done-words")).to_contain_text("2 rows are in the log")
    new = [row for row in log.log.current if row.id not in before]
    assert sorted((row.kind, row.found, row.level) for row in new) == [
        ("inspection", "no", ""), ("inspection", "yes", "heavy"),
    ]  # fmt: skip
    page.locator("#back").press("Enter")
    expect(page.locator("#done-words")).to_contain_text("2 rows are taken back")
    assert not {row.id for row in new} & {row.id for row in log.log.current}


def test_a_sheet_is_chosen_and_cells_are_pasted(new_page, building):
    page = new_page()
    page.goto(f"{building.url}/import")
    units = list(building.session.building.plan.units)
    book = openpyxl.load_workbook(io.BytesIO(notes_of(units)["buffer"]))
    other = book.create_sheet("Last year")
    for row in (("Apt", "When", "Outcome"), (units[0], "3/14/2025", "BB found")):
        other.append(row)
    stream = io.BytesIO()
    book.save(stream)
    page.locator("#file").set_input_files(
        {"name": "two.xlsx", "mimeType": "application/octet-stream", "buffer": stream.getvalue()}
    )
    expect(page.locator("#questions .question label")).to_have_text(["Apt #", "Date", "Tenant", "Result"])
    page.get_by_label("Sheet").select_option("Last year")
    expect(page.locator("#questions .question label")).to_have_text(["Apt", "When", "Outcome"])
    page.locator("#pasted").fill(f"Door\tVisited\tFound\n{units[0]}\t3/14/2025\tBB found\n")
    page.locator("#read").press("Enter")
    expect(page.locator("#questions .question label")).to_have_text(["Door", "Visited", "Found"])
    expect(page.locator("#sheet")).to_be_hidden()
    page.locator("#questions .together").press("Enter")
    page.locator("#on").press("Enter")
    expect(page.locator("#asked-title")).to_have_text("2. Questions (1)")
    expect(page.locator("#questions .together")).to_have_count(0)

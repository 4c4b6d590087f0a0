"""The set-up page in Chromium: from a fresh list to a corrected plan in a folder, and to its first week."""

import json
from dataclasses import replace
from html import escape
from urllib import error, request

import openpyxl
import pytest
from buildings import SHORT
from playwright.sync_api import expect
from shapely import Point

from dashboard.setup.drawing import floor_drawing, numbered_checks
from spread.building import load_building
from spread.plan.drawing.reading import parse_unit_list
from spread.plan.unit_list import draw_plan
from spread.session import Session

pytestmark = pytest.mark.browser
LIST = "unit,floor\n" + "".join(f"{floor}{n:02d},{floor}\n" for floor in (1, 2, 3) for n in range(1, 7))


def opened(new_page, building, **size):
    page = new_page(**size)
    page.goto(f"{building.url}/setup")
    return page


def dropped(page, text=LIST, name="units.csv"):
    """Drop a file on the page, as a mouse would."""
    page.evaluate(
        """([text, name]) => {
            const carried = new DataTransfer();
            carried.items.add(new File([text], name));
            document.getElementById("drop").dispatchEvent(new DragEvent("drop", { dataTransfer: carried, bubbles: true, cancelable: true }));
        }""",  # noqa: E501
        [text, name],
    )


def test_a_manager_goes_from_a_fresh_list_to_a_printed_week(new_page, building, serve_session):
    page = opened(new_page, building)
    dropped(page)
    page.wait_for_selector("#drawing svg")
    assert "18 units on 3 floors" in page.locator("#drawn").text_content()
    page.locator('.grip[aria-label="Wall between 103 and 105"]').press("Enter")
    page.locator("#metres").fill("0.6")
    page.locator("#to-b").click()
    page.wait_for_selector("#undo:not([hidden])")
    page.locator('.grip[aria-label="Door of 103"]').press("Enter")
    page.locator("#on").click()
    page.wait_for_selector("#tool[hidden]", state="attached")
    page.locator('.grip[data-step="riser"]').first.press("Enter")
    page.locator("#riser-name").fill("kitchen 1")
    page.locator("#rename").click()
    page.wait_for_selector('.grip[data-riser="kitchen 1"]')
    page.locator("#name").fill("Birch House")
    assert page.locator("#slug").input_value() == "birch-house"
    page.locator("#rules").select_option("new-york-city")
    page.locator("#hour").fill("62")
    page.locator("#add-record").click()
    page.locator(".rec-unit").fill("203")
    page.locator(".rec-when").fill("2026-11-24")
    page.locator(".rec-what").select_option("found")
    folder = building.records.parent.parent / "birch-house"
    assert not folder.exists(), "nothing is written before the press"
    page.locator("#create").click()
    page.locator("#created", has_text="Created. Open it with: spread serve").wait_for()

    made = load_building(folder)
    assert (made.name, made.settings.rules, len(made.plan.units)) == ("Birch House", "new-york-city", 18)
    assert made.plan.units["103"].area - made.plan.units["104"].area > 3.0
    assert "kitchen 1" in {riser.id for riser in made.plan.risers}
    assert [(row.unit, row.found) for row in made.log.rows] == [("203", "yes")]
    assert "hour = 62" in (folder / "prices.toml").read_text()

    session = Session.open(folder, on=made.log.rows[0].when, settings=SHORT)
    week = new_page()
    week.goto(f"{serve_session(session)}/week")
    assert week.locator("h1").text_content() == "This week"
    assert week.locator(".week-unit", has_text="203").count() >= 1
    assert week.pdf()[:5] == b"%PDF-"


def test_a_workbook_is_dropped_and_only_what_a_list_needs_is_taken_from_it(new_page, building, tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["Unit", "Floor", "Tenant"])
    for unit in ("0101", "0102", "0201", "0202"):
        book.active.append([unit, unit[1], "somebody"])
    book.save(tmp_path / "list.xlsx")
    page = opened(new_page, building)
    page.locator("#file").set_input_files(tmp_path / "list.xlsx")
    page.wait_for_selector("#drawing svg")
    assert page.locator("#list").input_value() == "unit,floor\n0101,1\n0102,1\n0201,2\n0202,2\n"


def test_what_is_wrong_is_said_and_what_was_typed_stays(new_page, building):
    page = opened(new_page, building)
    dropped(page)
    page.wait_for_selector("#drawing svg")
    page.locator("#name").fill("Birch House")
    page.evaluate("document.getElementById('list-part').open = true")
    page.locator("#list").fill(LIST + "101,1\n")
    page.locator("#draw").click()
    page.locator("#problems", has_text="the unit '101' is listed 2 times").wait_for()
    assert page.locator("#list").input_value().endswith("101,1\n")
    assert page.locator("#name").input_value() == "Birch House"
    assert page.locator("#drawing svg").count() == 1, "the last good drawing stays"
    page.locator("#slug").fill("../elsewhere")
    page.locator("#create").click()
    page.locator("#problems p").first.wait_for()
    assert not (building.records.parent.parent.parent / "elsewhere").exists()


def test_numbers_of_the_form_make_a_list_and_a_refused_correction_is_told(new_page, building):
    page = opened(new_page, building, width=390, height=844, phone=True)
    page.locator("#form-floors").fill("2")
    page.locator("#from-form").click()
    page.wait_for_selector("#drawing svg")
    assert page.locator("#list").input_value().startswith("unit,floor\n101,1\n102,1\n")
    page.locator('.grip[data-step="wall"]').first.press("Enter")
    page.locator("#metres").fill("9")
    page.locator("#to-b").click()
    page.locator("#problems .form-error").first.wait_for()
    assert page.locator("#undo").is_hidden()
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_every_check_of_the_plan_stands_on_the_drawing_where_it_is():
    plan = draw_plan(parse_unit_list("unit,floor\n101,1\n102,1\n201,2\n202,2\n"), name="Crossed")
    units, doors = dict(plan.units), list(plan.doors)
    units["102"] = replace(units["102"], parts=units["101"].parts)
    doors[-1] = replace(doors[-1], at=Point(-40.0, -40.0))
    plan = replace(plan, units=units, doors=tuple(doors))
    checks = numbered_checks(plan)
    drawn = {floor: floor_drawing(plan, floor, checks) for floor in plan.floors}
    words = " ".join(check.words for check in checks if check.stops)
    assert "it overlaps unit '102'" in words
    assert "away from its unit '202'" in words
    for check in checks:
        assert check.place is not None
        assert f">{check.number}</text></g>" in drawn[check.place.floor]
        assert escape(check.words) in drawn[check.place.floor]
    at = next(check.place for check in checks if "away from its unit '202'" in check.words)
    assert (at.floor, at.x, at.y) == ("2", -40.0, -40.0)


def there(folder):
    """Return every path below a folder, but what the guard notes of a log beside it."""
    return sorted(path for path in folder.rglob("*") if not path.name.startswith("records.csv."))


@pytest.mark.parametrize(
    "slug", ["../x", "a/b", "a\\b", "", ".", "..", "CON", "con", "-a", "a" * 41, "/tmp/x", "é"]
)
def test_no_name_of_a_folder_leads_out_of_the_folder_of_buildings(building, slug):
    parent = building.records.parent.parent
    before = there(parent.parent)
    reply = posted(building, "create", {"list": LIST, "slug": slug, "rules": "good-practice"})
    assert "is no name for a folder" in reply["problems"][0]
    assert there(parent.parent) == before


def test_a_building_that_is_there_is_never_written_over(building):
    before = {path: path.read_bytes() for path in building.records.parent.iterdir()}
    sent = {"list": LIST, "slug": building.records.parent.name, "rules": "good-practice"}
    assert "nothing is ever written over" in posted(building, "create", sent)["problems"][0]
    assert {path: path.read_bytes() for path in building.records.parent.iterdir()} == before


def test_every_problem_of_a_new_building_is_said_at_once_and_nothing_is_left(building):
    sent = {
        "list": LIST,
        "slug": "oak",
        "rules": "nowhere",
        "hour": "-3",
        "records": [{"unit": "999", "when": "2026-11-01", "kind": "report"}],
    }
    words = " ".join(posted(building, "create", sent)["problems"])
    assert "there is no rule set 'nowhere'" in words
    assert "an hour was to cost -3" in words
    assert "unit '999' is not in the plan" in words
    assert not (building.records.parent.parent / "oak").exists()


@pytest.mark.parametrize(
    "sent", [[], {"list": 5}, {"file": "%%%"}, {"list": LIST, "edits": [1]}, {"form": {}}]
)
def test_a_message_that_no_page_sends_is_refused_in_words(building, sent):
    assert posted(building, "draw", sent)["problems"]


def posted(building, what, sent):
    ask = request.Request(
        f"{building.url}/setup/{what}", json.dumps(sent).encode(), {"Content-Type": "application/json"}
    )
    try:
        with request.urlopen(ask, timeout=20) as reply:
            return json.load(reply)
    except error.HTTPError as refused:  # 400, where what came is no message at all
        if refused.code != 400:
            raise
        return json.load(refused)


def test_axe_finds_nothing_on_the_set_up_page(new_page, building, axe):
    page = opened(new_page, building)
    dropped(page)
    page.wait_for_selector("#drawing svg")
    page.locator('.grip[data-step="wall"]').first.press("Enter")
    page.locator("#add-record").click()
    assert axe(page) == []


def test_a_file_is_named_when_it_is_read_or_refused(new_page, building):
    page = opened(new_page, building)
    dropped(page)
    page.wait_for_selector("#drawing svg")
    assert page.locator("#file-said").text_content() == "Read: units.csv"
    dropped(page, "", "nothing.csv")
    page.wait_for_selector(".form-error")
    assert page.locator(".form-error").text_content().startswith("nothing.csv: it is empty;")
    dropped(page, "name,rent\nA,1\n", "rents.csv")
    page.locator("#file-said", has_text="Not read: rents.csv").wait_for()
    assert page.locator("#drawing svg").count() == 1, "what was drawn before stays"


def test_a_wall_is_moved_by_feet_where_feet_are_chosen(new_page, building):
    page = opened(new_page, building)
    page.locator('[data-measures="feet"]').click()
    dropped(page)
    page.wait_for_selector("#drawing svg")
    assert "16.4 ft" in page.locator("#drawing").text_content()
    page.locator('.grip[aria-label="Wall between 103 and 105"]').press("Enter")
    assert page.locator("label:has(#metres)").text_content() == "Feet"
    page.locator("#metres").fill("400")
    page.locator("#to-b").click()
    assert "no length to move it by" in page.locator(".form-error").text_content()
    assert page.locator("#metres").input_value() == "400", "what was typed is kept"
    page.locator("#metres").fill("2")
    with page.expect_request("**/setup/draw") as sent:
        page.locator("#to-b").click()
    assert sent.value.post_data_json["edits"][0]["metres"] == pytest.approx(0.6096), "2 ft of 0.3048 m"
    page.wait_for_selector("#undo:not([hidden])")


def test_cells_of_a_rent_roll_are_pasted_asked_about_and_drawn(new_page, building):
    page = opened(new_page, building)
    cells = "Apt\tStatus\n" + "".join(f"{code}\tOccupied\n" for code in ("101", "102", "201", "202"))
    page.locator("#list-part summary").click()
    page.locator("#list").fill(cells)
    page.locator("#draw").click()
    expect(page.locator("#asked-title")).to_have_text("What the columns mean")
    page.locator("#create").click()
    expect(page.locator("#problems")).to_contain_text("Questions about the list are open")
    page.locator("#questions .together").click()
    page.locator("#answered").click()
    expect(page.locator("#asked-title")).to_have_text("Questions (2)")
    for button in page.locator("#questions .question button").all():
        button.click()
    page.locator("#answered").click()
    page.wait_for_selector("#drawing svg")
    expect(page.locator("#asked")).to_be_hidden()
    assert page.locator("#list").input_value().startswith("unit,floor,")
    expect(page.locator("#drawn")).to_contain_text("4 units on 2 floors")

"""The editor of the plan in Chromium: by mouse, by keyboard and by touch, tried, kept and taken back."""

import threading

import pytest
from playwright.sync_api import expect
from werkzeug.serving import make_server

from dashboard.first import Switch, show_session
from spread.building import load_building
from spread.plan.changes import CHANGES_FILE
from tests.small import LIVED_IN, small_session

pytestmark = pytest.mark.browser
SLOW = 120_000


@pytest.fixture
def house(tmp_path):
    """The address and folder of a building on a server that shows it anew once its plan has been changed."""
    folder = tmp_path / "house"
    switch = Switch()
    show_session(switch, small_session(folder, 2, 3, rows=LIVED_IN))
    server = make_server("127.0.0.1", 0, switch, threaded=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}", folder
    server.shutdown()


def opened(page, url):
    page.goto(f"{url}/change")
    page.wait_for_selector("html[data-ready]")


def centre(page, kind, name, value):
    box = page.locator(f'#drawing .grip-{kind}[data-{name}="{value}"]').bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def pull(page, unit):
    """Pull the wall of a unit with the one before it to the right."""
    x, y = centre(page, "wall", "b", unit)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 12, y, steps=3)
    page.mouse.up()


@pytest.mark.parametrize("width", [pytest.param(1440, marks=pytest.mark.slow), 1024])
def test_a_unit_is_parted_by_a_drawn_line_tried_kept_and_taken_back(new_page, house, axe, width):
    url, folder = house
    page = new_page(width=width, height=900)
    page.goto(url)
    page.get_by_role("link", name="Change the plan").click()
    page.wait_for_selector("html[data-ready]")
    assert axe(page, 1440, 1024) == []
    before = (folder / "plan.geojson").read_bytes(), (folder / "records.csv").read_bytes()
    page.mouse.click(*centre(page, "unit", "unit", "104"))
    expect(page.locator("#tool h3")).to_have_text("Unit 104")
    page.get_by_text("Part it in two").click()
    page.get_by_role("button", name="Draw the line").click()
    expect(page.locator("#said")).to_contain_text("Part 104: set both ends of the line.")
    box = page.locator('#drawing .grip-unit[data-unit="104"]').bounding_box()
    for x in (box["x"] + 4, box["x"] + box["width"] - 4):
        page.mouse.click(x, box["y"] + box["height"] / 2)
    expect(page.locator("#open li")).to_have_text(
        ["104 is parted into 104A and 104B from Wed 25 Nov 2026 on"]
    )
    expect(page.locator("#says")).to_contain_text("New in the plan: 104A, 104B.")
    expect(page.locator("#says")).to_contain_text("they clear nothing")
    assert not (folder / CHANGES_FILE).exists(), "nothing is written before it is kept"
    page.get_by_role("button", name="Show what chances change").click()
    expect(page.locator("#moves li").first).to_contain_text("104A: ", timeout=SLOW)
    for wide in (1440, 1024):
        assert axe(page, wide) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator("#kept li")).to_contain_text(["104 is parted into 104A and 104B"], timeout=SLOW)
    expect(page.locator("#open-said")).to_have_text("Nothing is changed.")
    assert ((folder / "plan.geojson").read_bytes(), (folder / "records.csv").read_bytes()) == before
    assert {"104A", "104B"} <= load_building(folder).plan.units.keys()
    page.goto(f"{url}/")
    expect(page.locator("#doors")).to_contain_text("104B", timeout=SLOW)
    opened(page, url)
    page.get_by_role("button", name="Take back").click()
    expect(page.locator("#kept li")).to_have_text(["No change is kept yet."], timeout=SLOW)
    assert "104" in load_building(folder).plan.units
    assert (folder / CHANGES_FILE).read_text(encoding="utf-8") == ""


def test_a_wall_is_pulled_and_changes_are_undone_and_made_again(new_page, house):
    url, _ = house
    page = new_page(width=1440, height=900)
    opened(page, url)
    pull(page, "103")  # a riser stands in it that goes on to the next floor
    expect(page.locator("#problems")).to_contain_text("riser 'riser-1' stands in this wall")
    expect(page.locator("#open li")).to_have_count(0)
    pull(page, "104")
    expect(page.locator("#open li")).to_contain_text(["the wall of 102 and 104 moved by"])
    expect(page.locator("#tool")).to_be_hidden()
    page.locator("#unit").select_option("102")
    page.get_by_text("Another code").click()
    page.locator("#new-code").fill("102X")
    page.get_by_role("button", name="Rename").click()
    expect(page.locator("#open li").last).to_have_text("102 is called 102X from Wed 25 Nov 2026 on")
    many = page.locator("#open li").count()
    page.locator("#undo").click()
    expect(page.locator("#open li")).to_have_count(many - 1)
    expect(page.locator('#drawing .grip-unit[data-unit="102"]')).to_have_count(1)
    page.locator("#redo").click()
    expect(page.locator("#open li")).to_have_count(many)
    page.reload()
    page.wait_for_selector("html[data-ready]")
    expect(page.locator("#open li")).to_have_count(many)
    expect(page.locator('#drawing .grip-unit[data-unit="102X"]')).to_have_count(1)


def test_all_of_it_is_done_by_the_keyboard_alone(new_page, house):
    url, _ = house
    page = new_page(width=1440, height=900)
    opened(page, url)

    def press(name, exact=False):
        page.get_by_role("button", name=name, exact=exact).press("Enter")

    def unfold(words):
        page.locator("#tool summary, #add > summary").filter(has_text=words).press("Enter")

    page.locator("#unit").select_option("201")
    unfold("Join it with another")
    page.locator("#mate").select_option("203")
    page.locator("#whole").fill("2013")
    press("Join", exact=True)
    expect(page.locator("#open li").last).to_contain_text("201 and 203 are joined as 2013")
    page.locator("#unit").select_option("204")
    unfold("Doors, beds, outlets")
    press("Add a bed")
    expect(page.locator("#said")).to_contain_text("Set the bed of 204.")
    expect(page.locator("#drawing")).to_be_focused()
    page.keyboard.press(
        "Enter"
    )  # the mark begins in the middle of the drawing: in the hallway, which is no place
    expect(page.locator("#problems")).to_contain_text("the place lies outside unit '204'")
    page.locator("#unit").select_option("204")
    unfold("Doors, beds, outlets")
    press("Add a bed")
    for key in ("ArrowUp", "ArrowLeft"):
        for _ in range(10):
            page.keyboard.press(key)
    page.keyboard.press("Enter")
    expect(page.locator("#open li").last).to_contain_text("bed 1 added in 204")
    page.locator("#other").select_option("stair stair-1")
    press("It is a lift")
    expect(page.locator("#open li").last).to_contain_text("stair-1 is a lift")
    page.locator("#other").select_option("room laundry")
    page.locator("#room-name").fill("lounge")
    press("Mark it as this room")
    expect(page.locator("#open li").last).to_contain_text("laundry on floor 1 is the room lounge")
    page.locator("#unit").select_option("205")
    unfold("Link it with another unit")
    page.locator("#tied").select_option("101")
    press("Link", exact=True)
    expect(page.locator("#open li").last).to_contain_text("205 shares a laundry day with 101")
    expect(page.locator("#says")).to_contain_text("Contacts gained")


def test_fingers_do_it_too_and_a_change_that_does_not_fit_is_a_sentence(new_page, house):
    url, _ = house
    page = new_page(width=1024, height=768, phone=True, metres=True)
    opened(page, url)
    page.locator('#drawing .grip-unit[data-unit="102"]').tap(position={"x": 20, "y": 40})
    expect(page.locator("#tool h3")).to_have_text("Unit 102")
    page.get_by_text("Another code").tap()
    page.locator("#new-code").fill("101")
    page.get_by_role("button", name="Rename").tap()
    expect(page.locator("#problems")).to_contain_text("there is a unit of that code; give another code")
    expect(page.locator("#open li")).to_have_count(0)


def test_a_new_drawing_is_laid_under_the_changes(new_page, house, tmp_path):
    from spread.plan.geojson import write_plan
    from tests.small import made_plan

    url, folder = house
    page = new_page(width=1440, height=900)
    opened(page, url)
    write_plan(made_plan(2, 3, front=8.0), tmp_path / "new.geojson")
    page.locator("summary", has_text="Lay a new drawing under it").click()
    page.locator("#file").set_input_files(tmp_path / "new.geojson")
    expect(page.locator("#open-said")).to_contain_text("new.geojson is laid under the changes. Not kept yet.")
    old = (folder / "plan.geojson").read_bytes()
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator("#open-said")).to_have_text("Nothing is changed.", timeout=SLOW)
    assert (folder / "plan.geojson").read_bytes() == (tmp_path / "new.geojson").read_bytes()
    assert [path.read_bytes() for path in folder.glob("plan.before-*.geojson")] == [old]

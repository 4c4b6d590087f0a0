"""A job on the phone, in a real Chromium: steps ticked, a photograph, a visit ended without a connection."""

from __future__ import annotations

import struct
import zlib

import pytest
from conftest import WORKER
from test_room_page import PHONE, all_sent, fold, forgive, judge, picture, until, visit

pytestmark = pytest.mark.browser


def png(width=1600, height=1200):
    """A plain picture, larger than what a phone keeps of it (PNG, ISO 15948)."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    lines = b"".join(b"\0" + bytes((y % 256, 90, 60)) * width for y in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(lines, 1))
        + chunk(b"IEND", b"")
    )


@pytest.fixture
def unit(building):
    log = building.session.view.log
    return next(
        row.unit for row in building.session.doors() if all(r.kind == "note" for r in log.of(row.unit))
    )


def look_with_a_photograph(page):
    fold(page, "look")
    page.locator('[data-item="headboard"]').tap()
    page.locator('#item-headboard [data-sign="live"]').tap()
    file = {"name": "a.png", "mimeType": "image/png", "buffer": png()}
    page.locator('[data-camera="headboard"]').set_input_files(file)
    page.locator('[data-photo="headboard"]').wait_for()
    picture(page, "job-1-photograph")
    judge(page)
    page.locator('[data-level="low"]').tap()


def sign(page):
    """Draw on the pad with a finger; a touch alone is no signature."""
    pad = page.locator("#job-pad")
    pad.scroll_into_view_if_needed()
    pad.tap()
    page.locator("#job-sign-keep").tap()
    assert "Draw the signature first" in page.locator("#tell").inner_text()
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    page.mouse.move(box["x"] + 30, box["y"] + 40)
    page.mouse.down()
    for i in range(12):
        page.mouse.move(box["x"] + 30 + 20 * i, box["y"] + 40 + 15 * (i % 3))
    page.mouse.up()
    page.locator("#job-sign-keep").tap()
    page.locator("#job-signature", has_text="Signature kept").wait_for()


def treat(page):
    """Tick two steps and say the rest; returns how many steps the plan has."""
    fold(page, "treat")
    page.locator("[data-step]").first.wait_for()
    number = page.locator("[data-step]").count()
    assert number > 2
    assert page.locator('#treat [aria-pressed="true"]').count() == 0, "nothing is ticked or chosen beforehand"
    for i in range(2):
        page.locator("[data-step]").nth(i).tap()
    page.locator('[data-job="opened"][data-value="resident"]').tap()
    page.locator('[data-job="prepared"][data-value="partly"]').tap()
    sign(page)
    page.locator("#job-warmth").fill("19,5")
    page.locator("#job-window").fill("09:00-12:00")
    page.locator("#job-product-0").fill("Plain Dust")
    page.locator("#job-number-0").fill("1234-56")
    page.locator("#job-product-1").wait_for()
    assert f"2 of {number}" in page.locator("#treated").inner_text()
    picture(page, "job-2-treat")
    return number


def connect(page, *, on):
    page.context.set_offline(not on)
    if on:
        page.evaluate("() => window.dispatchEvent(new Event('online'))")
        all_sent(page)


def test_a_job_is_ticked_photographed_and_ended_without_a_connection(new_page, building, unit):
    page = new_page(**PHONE, **WORKER)
    visit(page, f"{building.url}/room/{unit}", "look")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()  # from here on the worker opens the page
    page.wait_for_selector("#state .chance")
    connect(page, on=False)
    look_with_a_photograph(page)
    connect(page, on=True)  # the plan comes with the connection
    number = treat(page)
    connect(page, on=False)
    page.reload()  # a phone that was put away: what was ticked is still there
    page.wait_for_selector("#state .chance")
    fold(page, "end")
    assert f"2 of {number} steps" in page.locator("#end").inner_text()
    page.locator("#end-told").tap()
    picture(page, "job-3-end")
    page.locator("#end-visit").tap()
    until(page, lambda: "waiting" in page.locator("#line").text_content())
    assert [row["kind"] for row in building.new_rows()] == ["inspection"]
    connect(page, on=True)

    look, treated, told = building.new_rows()
    assert look["items"].startswith("headboard: live, photo photos/")
    assert treated["job"].startswith("done: ")
    assert "prepared: partly" in treated["job"]
    parts = dict(part.split(": ", 1) for part in treated["job"].split("; "))
    assert (parts["product"], parts["room"]) == ("Plain Dust, reg 1234-56", "19.5 C")
    drawn = building.records.parent / parts["signature"]
    until(page, drawn.is_file)
    assert drawn.read_bytes().startswith(b"\xff\xd8\xff")
    assert (told["kind"], told["method"]) == ("note", "result-notice")
    kept = building.records.parent / look["items"].split("photo ")[1].split(",")[0]
    until(page, kept.is_file)
    assert kept.read_bytes().startswith(b"\xff\xd8\xff")
    assert kept.stat().st_size < 400_000
    the_papers_of_the_visit(new_page, building, unit, number)
    forgive(new_page)


def the_papers_of_the_visit(new_page, building, unit, number):
    paper = new_page(width=900, height=1200)
    paper.goto(f"{building.url}/round/visit/{unit}")
    text = paper.locator("body").inner_text()
    for part in (f"2 of {number} steps", "Plain Dust (registration number 1234-56)", "left undone"):
        assert part in text
    assert "clears no unit" in text
    assert paper.evaluate("() => [...document.images].every(one => one.complete && one.naturalWidth > 0)")
    picture(paper, "job-4-record")
    paper.goto(f"{building.url}/round/notice/{unit}")
    assert unit in paper.locator("body").inner_text()
    picture(paper, "job-5-notice")


def test_axe_finds_nothing_serious_and_nothing_scrolls_sideways(new_page, building, axe, unit):
    page = new_page(**PHONE)
    visit(page, f"{building.url}/room/{unit}", "look")
    look_with_a_photograph(page)
    all_sent(page)
    treat(page)
    page.locator("#part-end > summary").tap()
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    assert axe(page) == []

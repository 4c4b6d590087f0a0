"""A heat job on the phone, in a real Chromium: probes read offline, and when the heat may end."""

from __future__ import annotations

import pytest
from conftest import WORKER
from playwright.sync_api import expect
from probe_logs import job
from test_room_page import PHONE, fold, forgive, picture, try_now, until, visit

pytestmark = pytest.mark.browser


@pytest.fixture
def unit(building):
    log = building.session.view.log
    return next(
        row.unit for row in building.session.doors() if all(r.kind == "note" for r in log.of(row.unit))
    )


def add(page, place):
    page.locator("#heat-place").fill(place)
    page.locator("#heat-add").tap()
    page.locator(f'[data-probe="{place}"]').wait_for()


def paste(page, place, readings, scale=lambda celsius: celsius):
    fold_in = page.locator(f'[data-probe="{place}"] summary')
    fold_in.tap()
    lines = "\n".join(f"{minute:g} {scale(celsius):.2f}" for minute, celsius in readings)
    page.locator(f'[data-lines="{place}"]').fill(lines)
    page.locator(f'[data-paste="{place}"]').tap()


def put_away(page):
    """The phone was put away; nothing is lost, and no server is there."""
    page.reload()
    page.wait_for_selector("#state .chance")
    fold(page, "heat")


def test_a_heat_job_is_read_offline_and_ends_only_when_it_may(new_page, building, unit):
    page = new_page(**PHONE, **WORKER)
    visit(page, f"{building.url}/room/{unit}", "look")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    page.wait_for_selector("#state .chance")
    page.context.set_offline(True)
    fold(page, "heat")
    verdict = page.locator("#heat-verdict")
    expect(verdict).to_contain_text("Keep the heat on")
    logs = job(53.0)
    add(page, "mattress")
    add(page, "sofa")
    page.locator('[data-degrees="mattress"]').fill("OPEN")
    page.locator('[data-keep="mattress"]').tap()
    expect(page.locator("#tell")).to_contain_text("nothing was kept")
    paste(page, "mattress", logs["mattress"])
    expect(page.locator('[data-probe="mattress"] .probe-now')).to_contain_text("It has held long enough")
    expect(verdict).to_contain_text("Not long enough yet: sofa")
    half = [reading for reading in logs["sofa"] if reading[0] <= 60]
    paste(page, "sofa", half)
    expect(page.locator("#heat-coldest")).to_contain_text("Coldest now: sofa")
    expect(page.locator('[data-doubt="few-probes"]')).to_contain_text("2 probes lay where bugs hide")
    picture(page, "heat-1-running")

    put_away(page)
    page.locator('[data-scale="F"]').tap()
    paste(page, "sofa", logs["sofa"][len(half) :], lambda celsius: celsius * 9 / 5 + 32)
    add(page, "baseboard")
    expect(verdict).to_contain_text("Keep the heat on")
    paste(page, "baseboard", logs["baseboard"], lambda celsius: celsius * 9 / 5 + 32)
    expect(verdict).to_contain_text("The heat may be ended: every probe held long enough")
    expect(verdict).to_contain_text("never clears a unit")
    page.locator("#heat-rooms").fill("2")
    page.locator("#heat-rooms").blur()
    expect(verdict).to_contain_text("Keep the heat on")
    page.locator("#heat-rooms").fill("1")
    page.locator("#heat-rooms").blur()
    expect(verdict).to_contain_text("may be ended")
    picture(page, "heat-2-may-end")
    it_goes_with_the_treatment(page, new_page, building, unit)
    forgive(new_page)


def it_goes_with_the_treatment(page, new_page, building, unit):
    fold(page, "treat")
    page.locator("#treat-method").select_option("whole-room-heat")
    expect(page.locator("#heat-goes")).to_contain_text("go with this record")
    page.locator("#treated").tap()
    until(page, lambda: "waiting" in page.locator("#line").text_content())
    fold(page, "heat")
    expect(page.locator("[data-probe]")).to_have_count(0)
    page.context.set_offline(False)
    try_now(page)
    until(page, lambda: page.locator("#line").text_content() == "all sent")
    (row,) = building.new_rows()
    assert (row["kind"], row["method"]) == ("treatment", "whole-room-heat")
    assert [part.split(",")[0] for part in row["job"].split("; ")] == [
        "rooms: 1", "heat: mattress", "heat: sofa", "heat: baseboard",
    ]  # fmt: skip
    paper = new_page()
    paper.goto(f"{building.url}/round/visit/{unit}?on={row['when']}")
    text = paper.locator("body").inner_text()
    assert "Every probe: Credited" in text
    assert "3 probes in 1 room; the coldest" in text
    assert "never clears a unit" in text

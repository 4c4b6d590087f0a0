"""Two phones at one building, in a real Chromium: doors taken, answers of others, conflicts, and mending."""

from __future__ import annotations

import re
import time

import pytest

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 760, "phone": True}
SOON = 15_000
"""Milliseconds: three seconds between two questions, and a loaded machine."""


def opened(new_page, building):
    page = new_page(**PHONE)
    page.goto(f"{building.url}/round")
    page.wait_for_selector("#unit", timeout=SOON)
    return page


def unit_of(page):
    return page.locator("#unit").evaluate("node => node.lastChild.textContent")


def doors_of(page):
    """The next doors as the phone lists them."""
    if not page.locator("#more").get_attribute("open"):
        page.locator("#more").evaluate("node => { node.open = true; }")
    page.wait_for_selector("#more-body .next button")
    return page.locator("#more-body .next b").all_text_contents()


def held_by(page):
    """The doors that the phone keeps as its own."""
    kept = "Object.entries(localStorage).find(([key]) => key.startsWith('spread.holds.'))[1]"
    return page.evaluate(f"() => JSON.parse({kept})")


def to(page, unit):
    """Bring a door up by its code."""
    page.locator("#more").evaluate("node => { node.open = true; }")
    page.locator("#code").fill(unit)
    page.locator("#code").press("Enter")
    page.wait_for_function("unit => document.getElementById('unit').lastChild.textContent === unit", arg=unit)


def press(page, answer):
    """Answer the door that is shown; a press right after it changed is taken for a bounce: press again."""
    unit, deadline = unit_of(page), time.monotonic() + 15
    while unit not in (page.locator("#last-words").text_content() or ""):
        page.wait_for_function("() => !document.querySelector('.still')")
        page.locator(f'[data-answer="{answer}"]').tap()
        page.wait_for_timeout(50)
        if answer == "found" and page.locator("#found").is_visible():
            page.locator('[data-level="low"]').tap()
        assert time.monotonic() < deadline, "never taken"
    page.wait_for_function("() => document.getElementById('line').textContent === 'all sent'", timeout=SOON)
    return unit


def test_two_phones_are_not_sent_to_one_door_and_a_door_goes_back(new_page, building):
    first = opened(new_page, building)
    mine = doors_of(first)
    first.get_by_role("button", name=re.compile("^Take the .* planned doors?$")).tap()
    first.get_by_role("button", name=re.compile("^Give .* doors? back$")).wait_for(timeout=SOON)
    first.wait_for_function("() => document.querySelectorAll('#door .tag').length > 0")
    assert "taken by you" in first.locator("#door .tags").inner_text()
    held = held_by(first)
    assert set(held) <= set(mine)
    second = opened(new_page, building)
    second.wait_for_function(
        "held => !held.includes(document.getElementById('unit').lastChild.textContent)",
        arg=held, timeout=SOON,
    )  # fmt: skip
    assert not set(doors_of(second)) & set(held)
    told = second.locator("#taken").inner_text()
    assert all(f"{unit} (taken by another phone)" in told for unit in held)
    to(second, held[0])
    assert "taken by another phone" in second.locator("#door .tags").inner_text()
    assert second.locator("#take").count() == 0, "it is not this phone's to take"
    first.get_by_role("button", name=re.compile("^Give .* doors? back$")).tap()
    second.locator("#take").wait_for(timeout=SOON)
    second.locator("#take").tap()
    second.wait_for_function(
        "() => /taken by you/.test(document.getElementById('door').textContent)", timeout=SOON
    )
    first.wait_for_function(
        "unit => !document.querySelector(`[data-go='${unit}']`)", arg=held[0], timeout=SOON
    )


def test_a_phone_without_a_connection_keeps_the_doors_that_it_has_taken(new_page, building):
    page = opened(new_page, building)
    mine = doors_of(page)[3]
    to(page, mine)
    page.locator("#take").tap()
    page.wait_for_function(
        "() => /taken by you/.test(document.getElementById('door').textContent)", timeout=SOON
    )
    other = opened(new_page, building)
    other.wait_for_function("unit => !document.querySelector(`[data-go='${unit}']`)", arg=mine)
    assert mine not in doors_of(other)
    page.context.set_offline(True)
    assert doors_of(page)[0] == mine, "its own door comes first"
    page.context.set_offline(False)
    new_page.errors[:] = [text for text in new_page.errors if "net::ERR_" not in text]


def test_each_sees_the_others_answer_and_a_conflict_is_named_on_both_phones_and_on_the_desk(
    new_page, building
):
    first, second, desk = opened(new_page, building), opened(new_page, building), new_page()
    desk.goto(f"{building.url}/week")
    unit = doors_of(first)[0]
    to(first, unit)
    to(second, unit)
    press(second, "clear")
    note = first.locator("#door .notice")
    note.wait_for(timeout=SOON)
    assert "Answered today." in note.inner_text()
    assert "nothing found" in note.inner_text()
    assert unit_of(first) == unit, "whoever comes out of a room must not answer for another one"
    press(first, "found")
    rows = [(row["unit"], row["found"]) for row in building.new_rows()]
    assert sorted(rows) == [(unit, "no"), (unit, "yes")], "both are kept"
    for page in (first, second):
        told = page.locator("#notices .differ")
        told.wait_for(timeout=SOON)
        assert f"{unit} has different answers" in told.inner_text()
    desk.locator("#guard-twice").wait_for(timeout=SOON)
    assert f"{unit} has different answers" in desk.locator("#guard-twice").inner_text()
    assert desk.locator("#guard-twice").get_attribute("role") == "status"
    first.get_by_role("button", name="Seen").tap()
    first.locator("#notices .differ").wait_for(state="detached")
    assert second.locator("#notices .differ").count() == 1, "each reads it alone"
    first.locator("#undo").tap()
    second.locator("#notices .differ").wait_for(state="detached", timeout=SOON)
    desk.locator("#guard-twice").wait_for(state="detached", timeout=SOON)


def test_a_refused_answer_is_looked_at_mended_and_sent_while_others_went_on(new_page, building):
    page = opened(new_page, building)
    good, other = doors_of(page)[:2]
    day = building.session.on.isoformat()
    give = """([bad, good, day]) => import('/files/round/queue.js').then(({ Q }) => {
      Q.add({ unit: bad, answer: 'clear', method: 'brief-visual', when: day }, `${bad}: nothing found`);
      Q.add({ unit: good, answer: 'clear', method: 'brief-visual', when: day }, `${good}: nothing found`);
      return Q.send();
    })"""
    page.evaluate(give, [f"{other}x", good, day])
    page.wait_for_function("() => document.getElementById('line').textContent === '1 refused'", timeout=SOON)
    assert [row["unit"] for row in building.new_rows()] == [good], "the other went on"
    page.locator("#line").tap()
    sheet = page.locator("#sheet")
    assert f"'{other}x'" in sheet.locator(".wrong-words").inner_text(), "with its reason"
    sheet.locator("summary").tap()
    sheet.locator("input[type=text]").fill(other)
    sheet.get_by_role("button", name="Mend and send").tap()
    page.wait_for_function("() => document.getElementById('line').textContent === 'all sent'", timeout=SOON)
    assert [row["unit"] for row in building.new_rows()] == [good, other]

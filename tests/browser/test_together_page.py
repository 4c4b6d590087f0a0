"""Two phones at one building, in a real Chromium: doors taken, answers of others, conflicts, and mending."""

from __future__ import annotations

import re
import time
from itertools import pairwise

import pytest
from conftest import WORKER

from spread.contacts.distances import distances_of
from spread.decisions.round.making import INFESTED

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 760, "phone": True}
ALL_SENT = "() => document.getElementById('line').textContent === 'all sent'"
SOON = 15_000
"""Milliseconds: three seconds between two questions, and a loaded machine."""


def opened(new_page, building, **more):
    page = new_page(**PHONE, **more)
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
    page.wait_for_function(ALL_SENT, timeout=SOON)
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


def walks(building, path):
    """Metres from the usual start along doors."""
    away = distances_of(building.session.plan)
    start = away.from_start(away.usual_start)[away.units.index(path[0])]
    return float(start) + sum(away.between(a, b) for a, b in pairwise(path))


def part_of(page, team):
    page.locator("#more").evaluate("node => { node.open = true; }")
    page.get_by_label("Time for the round").select_option("480")
    page.get_by_label("How many go on this round").select_option(str(team))
    page.get_by_role("button", name=f"Take my part of {team}").tap()
    page.wait_for_function(
        "() => /Your part is/.test(document.getElementById('tell').textContent)", timeout=SOON
    )
    return held_by(page)


def answered_last(page):
    """The last answer that the phone keeps: its id, and of which door it is."""
    kept = "Object.entries(localStorage).find(([key]) => key.startsWith('spread.round.'))[1]"
    return page.evaluate(
        f"() => {{ const {{ last }} = JSON.parse({kept}); return last && [last.id, last.unit]; }}"
    )


def knock(page):
    """Nobody answers at a door; returns which, for the plan may still change the door on the screen."""
    before, deadline = answered_last(page), time.monotonic() + 15
    while answered_last(page) == before:
        page.wait_for_function("() => !document.querySelector('.still')")
        page.locator('[data-answer="nobody"]').tap()
        page.wait_for_timeout(50)
        assert time.monotonic() < deadline, "never taken"
    return answered_last(page)[1]


@pytest.mark.slow  # the tests above, at length
def test_a_team_of_two_does_a_round_of_twenty_doors_one_offline_and_no_door_twice(new_page, building):
    first, second = (opened(new_page, building, **WORKER) for _ in range(2))
    parts = [part_of(first, 2), part_of(second, 2)]
    assert not set(parts[0]) & set(parts[1])
    assert len(parts[0]) + len(parts[1]) >= 20
    assert min(map(len, parts)) >= 6, "both have work"
    ranked = [row.unit for row in building.session.doors() if row.unit in {*parts[0], *parts[1]}]
    turns = [ranked[0::2], ranked[1::2]]
    split = sum(walks(building, part) for part in parts)
    assert split < sum(walks(building, part) for part in turns), "both walk less than by turns down the list"
    # Doors taken for infested come last, to limit carry-over; of the others the likeliest come early.
    finds = {row.unit: row.finds for row in building.session.doors() if row.chance <= INFESTED}
    for part in parts:
        open_ = [finds[unit] for unit in part if unit in finds]
        assert sum(k * find for k, find in enumerate(open_)) < sum(k * f for k, f in enumerate(open_[::-1]))
    knocked = {0: [], 1: []}
    second.evaluate("navigator.serviceWorker.ready.then(() => true)")
    second.context.set_offline(True)
    for page, number in ((first, 0), (second, 1)) * 4:
        knocked[number].append(knock(page))
    second.reload()  # put away in a basement
    second.wait_for_selector("#unit", timeout=SOON)
    for page, number in ((second, 1),) * 3 + ((first, 0),) * 2:
        knocked[number].append(knock(page))
    second.context.set_offline(False)
    second.evaluate("() => window.dispatchEvent(new Event('online'))")
    second.wait_for_function(ALL_SENT, timeout=SOON)
    for page, number in ((first, 0), (second, 1)):
        while len(knocked[number]) < len(parts[number]):
            knocked[number].append(knock(page))
            page.wait_for_function(ALL_SENT, timeout=SOON)
    everything = [*knocked[0], *knocked[1]]
    assert len(set(everything)) == len(everything), "no door was knocked at twice"
    assert [set(knocked[0]), set(knocked[1])] == [set(parts[0]), set(parts[1])]
    assert sorted(row["unit"] for row in building.new_rows()) == sorted(everything)
    assert first.locator("#notices .differ").count() == second.locator("#notices .differ").count() == 0
    new_page.errors[:] = [text for text in new_page.errors if "net::ERR_" not in text]

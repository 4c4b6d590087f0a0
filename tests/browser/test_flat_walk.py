"""A flat of two bedrooms and a sofa on a phone, from the first look to clearance, offline inside.

Taps are asserted: a change that makes a visit longer has to say so here. Seconds are printed, for they are
the machine's. What a screen reader is told is read from the accessibility tree through a whole round.
"""

from __future__ import annotations

import datetime as dt
import re
import time

import pytest
from conftest import WORKER
from test_job_page import connect, sign
from test_room_page import BEGIN, PHONE, UNIT, fold, forgive, house, judge, mark, picture, until, visit

pytestmark = pytest.mark.browser
__all__ = ["house"]

PLACES = ("bed 1", "bed 2", "sofa")
COUNTER = """
addEventListener('click', (event) => {
  if (event.isTrusted) localStorage.setItem('taps', Number(localStorage.getItem('taps') || 0) + 1);
}, true);
addEventListener('change', (event) => {
  const typed = event.target.matches('input:not([type=checkbox]), textarea');
  if (event.isTrusted && typed) localStorage.setItem('typed', Number(localStorage.getItem('typed') || 0) + 1);
}, true);
"""
SLEPT = ("mattress", "box-spring", "bed-frame", "sofa")
FIRST = (27, 6)
"""Taps beside the steps of the plan (16 in this flat), and fields written in, at the first visit."""
REVISIT = (13, 1)
NAMED = ("button", "link", "textbox", "combobox", "checkbox", "radio", "img", "dialog", "heading", "option")


def enter(new_page, building, part):
    """Open the room with a connection in the hallway, and go in without one."""
    page = new_page(**PHONE, **WORKER)
    page.add_init_script(COUNTER)
    visit(page, f"{building.url}/room/{UNIT}", part)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()  # from here on the worker opens the page
    page.wait_for_selector("#state .chance")
    fold(page, part)
    page.evaluate("() => { localStorage.removeItem('taps'); localStorage.removeItem('typed'); }")
    connect(page, on=False)
    return page


def counted(page):
    """Taps, and fields that were written in, since the room was entered."""
    taps, typed = page.evaluate(
        "() => ['taps', 'typed'].map((name) => Number(localStorage.getItem(name) || 0))"
    )
    return taps, typed


def told_nothing_is_left(page, level):
    page.locator("#rest-nothing").tap()
    page.locator(f'#judge [data-level="{level}"]').tap()
    page.locator("#judge").wait_for(state="hidden")


def first_visit(new_page, building):
    page = enter(new_page, building, "look")
    page.locator('[data-more="bed"]').tap()
    page.locator('[data-more="sofa"]').tap()
    assert [name.removesuffix(" ×") for name in page.locator("[data-place]").all_inner_texts()] == [*PLACES]
    page.locator('[data-item="mattress"]').tap()
    place = page.locator('#item-mattress [data-place-of="bed 1"]')
    place.locator('[data-sign="live"]').tap()
    place.locator('[data-count="mattress"]').fill("5")
    place.locator('[data-count="mattress"]').blur()
    page.locator('#item-mattress [data-place-of="bed 2"] [data-sign="stains"]').tap()
    mark(page, "sofa", "live", count=2)
    for item in ("box-spring", "bed-frame"):
        page.locator(f'[data-nothing="{item}"]').tap()
    assert page.evaluate(
        "() => { const m = document.getElementById('main'); return m.scrollWidth <= m.clientWidth; }"
    )
    picture(page, "flat-1-look")
    judge(page)
    told_nothing_is_left(page, "low")
    assert [row["kind"] for row in building.new_rows()] == ["report"], "nothing was sent: no connection"
    connect(page, on=True)  # in the hallway: the plan comes
    fold(page, "treat")
    page.locator("[data-step]").first.wait_for()
    connect(page, on=False)
    steps = page.locator("[data-step]")
    for i in range(steps.count()):
        steps.nth(i).tap()
    page.locator('[data-job="opened"][data-value="resident"]').tap()
    sign(page)
    page.locator('[data-job="prepared"][data-value="yes"]').tap()
    page.locator('[data-job="pets"][data-value="none"]').tap()
    page.locator("#job-warmth").fill("21")
    page.locator("#job-warmth").blur()
    picture(page, "flat-2-treat")
    page.locator("#treated").tap()
    fold(page, "traps")
    for place in PLACES:
        field = page.locator(f'[id="legs-{place}"]')
        field.fill("4")
        field.blur()
    page.locator("#traps-set").tap()
    fold(page, "end")
    page.locator("#end-told").tap()
    picture(page, "flat-3-end")
    page.locator("#end-visit").tap()
    done = (*counted(page), steps.count())
    connect(page, on=True)
    return done


def revisit(new_page, building, period):
    page = enter(new_page, building, "look")
    assert [name.removesuffix(" ×") for name in page.locator("[data-place]").all_inner_texts()] == [*PLACES]
    for item in SLEPT:
        page.locator(f'[data-nothing="{item}"]').tap()
    judge(page)
    told_nothing_is_left(page, "nothing")
    fold(page, "traps")
    page.locator("#trap-caught").fill("0")
    page.locator("#trap-caught").blur()
    for place in PLACES[:2]:
        page.locator(f'[data-code="encasement"][data-at="{place}"][data-trap-state="intact"]').tap()
    picture(page, f"flat-{period + 3}-traps")
    page.locator("#traps-save").tap()
    fold(page, "end")
    page.locator("#end-visit").tap()
    done = counted(page)
    connect(page, on=True)
    expected = f"clearing ({period} of 3)" if period < 3 else "cleared, watch until"
    until(page, lambda: expected in page.locator(".stand").first.inner_text(), 60.0)
    return page, done


@pytest.mark.slow  # one bedroom: test_room_page
def test_a_flat_of_two_bedrooms_and_a_sofa_from_the_first_look_to_clearance(new_page, house):
    building, seconds = house(BEGIN), []
    began = time.monotonic()
    taps, typed, steps = first_visit(new_page, building)
    seconds.append(time.monotonic() - began)
    rows = {row["kind"]: row for row in building.new_rows() if row["kind"] != "note"}
    assert rows["inspection"]["items"].count("at bed 2") >= 3, "each bed by itself"
    assert "sofa: live, 2, at sofa" in rows["inspection"]["items"]
    assert rows["treatment"]["job"].count(" + ") == steps - 1, "every step was ticked"
    notes = [row["method"] for row in building.new_rows() if row["kind"] == "note"]
    assert sorted(notes) == ["result-notice", "traps-set"]
    visits = []
    for period in (1, 2, 3):
        began = time.monotonic()
        building = house(BEGIN + dt.timedelta(days=14 * period))
        page, done = revisit(new_page, building, period)
        seconds.append(time.monotonic() - began)
        visits.append(done)
    fold(page, "follow")
    assert page.locator("[data-lack]").count() == 0
    assert "Cleared by the rule of the house" in page.locator("#follow").inner_text()
    picture(page, "flat-7-cleared")
    print(f"taps {taps}, written {typed}, steps {steps}; revisits {visits}; seconds {seconds}")
    assert (taps - steps, typed) == FIRST, "taps beside those on the steps of the plan, and fields"
    assert visits == [REVISIT] * 3
    forgive(new_page)


def nameless(page):
    """Parts of the accessibility tree that a screen reader would announce without a name."""
    tree = page.locator("body").aria_snapshot()
    assert tree.count("\n") > 5, tree
    return [
        line.strip()
        for line in tree.splitlines()
        if re.match(rf"\s*- '?({'|'.join(NAMED)})( \[[^\]]*\])*'?:?$", line)
    ]


def test_a_screen_reader_is_told_of_everything_through_a_whole_round(new_page, building):
    page = new_page(**PHONE)
    page.goto(f"{building.url}/round")
    page.wait_for_selector("#unit")
    unit = page.locator("#unit").evaluate("node => node.lastChild.textContent")
    tree = page.locator("body").aria_snapshot()
    for part in (
        f'heading "Unit {unit}"',
        'button "Nothing found"',
        'button "Nobody home"',
        'link "Room sheet"',
    ):
        assert part in tree, part
    found = nameless(page)
    page.locator("#more > summary").tap()
    page.wait_for_selector("#more-body .next button")
    found += nameless(page)
    page.locator("#more > summary").tap()
    page.wait_for_function("() => !document.querySelector('.still')")
    page.locator('[data-answer="found"]').tap()
    page.locator("#found").wait_for()
    assert page.evaluate("() => document.activeElement.id") == "found-title", (
        "the dialog is read from its title"
    )
    found += nameless(page)
    page.locator("#found-close").tap()
    page.get_by_role("link", name="Room sheet").tap()
    page.wait_for_selector("#state .chance")
    for part in ("look", "treat", "heat", "traps", "follow", "end"):
        fold(page, part)
        page.locator(f"#part-{part}").evaluate(
            "node => node.querySelectorAll('details').forEach(n => n.open = 1)"
        )
        found += [f"{part}: {line}" for line in nameless(page)]
    fold(page, "look")
    mark(page, "mattress", "live", count=3)
    page.locator("#save").tap()
    assert page.evaluate("() => document.activeElement.id") == "judge-title"
    found += nameless(page)
    page.locator('#judge [data-level="low"]').tap()
    page.wait_for_function("() => document.getElementById('heard').textContent.startsWith('Kept.')")
    page.get_by_role("link", name="Next door").tap()
    page.wait_for_selector("#unit")
    said = page.locator("#heard")
    page.wait_for_function("() => !document.querySelector('.still')")
    page.locator('[data-answer="clear"]').tap()
    page.wait_for_function("() => document.getElementById('heard').textContent.includes('%')")
    assert said.get_attribute("role") == "status", "the next door is spoken"
    assert said.inner_text().strip()
    found += nameless(page)
    assert found == []

"""Every page of the bar in a real Chromium: reachable, marked, readable and fitting."""

from __future__ import annotations

import pytest

from dashboard.pages import pages

pytestmark = pytest.mark.browser

SERIOUS = ("serious", "critical")
IN_BAR = [page for page in pages() if page.in_bar]


MACHINE_DATES = r"""() => {
    // What a reader meets, folded or not. A field takes a date as machines write it, and its hint says so.
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), found = [];
    while (walk.nextNode()) {
        const text = walk.currentNode;
        if (!text.parentElement.closest("script, style, template, textarea, option")) found.push(text.data);
    }
    for (const name of ["title", "aria-label", "alt"])
        for (const one of document.querySelectorAll(`[${name}]`)) found.push(one.getAttribute(name));
    return found.filter((text) => /\b\d{4}-\d\d-\d\d\b/.test(text)).map((text) => text.trim().slice(0, 120));
}"""
"""Texts of a page with a date as in 2026-11-25: pages say Wed 25 Nov 2026."""


ELSEWHERE = ("/week", "/past")
"""Looked at by axe in the same way, at the same widths, by tests of their own."""


def test_the_bar_leads_over_pages_that_fit_say_days_in_words_and_are_open_to_all(new_page, building, axe):
    """One walk along the bar of a narrow page; each page is looked at wide too. The plan's states: beside."""
    page = new_page(width=390, height=844, reduced_motion="reduce")
    asked, told, found = [], [], []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(building.url)
    page.wait_for_selector("#plan .unit")
    assert not [url for url in asked if "plotly" in url], "only the page that draws charts loads the library"
    own = {url.split("/files/")[1].split("?")[0] for url in asked if "/files/" in url}
    assert {"web/spread.css", "plan/page.js"} <= own
    assert {name.split("/")[0] for name in own} == {"plan", "web"}
    assert {one.path for one in IN_BAR} > set(ELSEWHERE)
    for wanted in IN_BAR:
        page.locator(f'nav.pages-bar a[href="{wanted.path}"]:visible').click()
        page.wait_for_url(f"{building.url}{wanted.path}")
        page.wait_for_selector("h1")
        current = page.locator('nav.pages-bar [aria-current="page"]:visible')
        current.get_by_text(wanted.name, exact=True).wait_for()
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, wanted.path
        sized(page, 1440)
        if wanted.path == "/":
            page.wait_for_selector("#plan .unit")
            page.locator("#look-back").click()
            page.wait_for_selector("#week")
            page.locator('[data-shape="section"]').click()
            page.wait_for_selector("#plan.section")
        told += [(wanted.path, text) for text in page.evaluate(MACHINE_DATES)]
        for width in (1440, 390):
            sized(page, width)
            if wanted.path not in ELSEWHERE:
                found += [(wanted.path, width, *one) for one in axe(page) if one[2] in SERIOUS]
    assert told == []
    assert found == []


def sized(page, width):
    page.set_viewport_size({"width": width, "height": 900})
    page.wait_for_function("width => innerWidth === width", arg=width)


def test_no_paper_and_no_panel_says_a_day_as_machines_write_it(new_page, building):
    unit = next(row.unit for row in building.session.doors() if row.status == "revisit")
    page = new_page()
    told = []
    for path in ("/week/document", "/week/sheets", "/room/" + unit, f"/?unit={unit}"):
        page.goto(f"{building.url}{path}")
        page.wait_for_selector("h1")
        if path.startswith("/?"):
            page.wait_for_selector("#panel-history .when")
            page.locator("#look-back").click()
            page.wait_for_selector("#week")
        told += [(path, text) for text in page.evaluate(MACHINE_DATES)]
    assert told == []
    page.locator("#as-of-day").evaluate("one => one.append(' 2026-11-25')")
    assert page.evaluate(MACHINE_DATES), "the test sees one"

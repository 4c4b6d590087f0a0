"""Letters twice as large on the narrowest phone (WCAG 2.2, 1.4.4, 1.4.10): nothing is clipped or covered."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

SMALL = {"width": 320, "height": 640, "phone": True}
TWICE = "html { font-size: 200% !important; }"
CLIPPED = """() => [...document.querySelectorAll("button, a.act, summary, label.act")]
  .filter(one => one.offsetParent !== null && one.textContent.trim())
  .filter(one => one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1)
  .filter(one => getComputedStyle(one).display !== "inline")
  .map(one => one.textContent.trim())"""
COVERED = """() => {
  const all = [...document.querySelectorAll("#answers button, .seen button, .levels button")]
    .filter(one => one.offsetParent !== null)
    .map(one => [one.textContent.trim(), one.getBoundingClientRect(), one.parentNode]);
  const beside = (a, b) => a.right < b.left + 1 || b.right < a.left + 1;
  const above = (a, b) => a.bottom < b.top + 1 || b.bottom < a.top + 1;
  const meet = (a, b) => !beside(a, b) && !above(a, b);
  return all.flatMap(([word, a, group], i) => all.slice(i + 1)
    .filter(([, b, other]) => group === other && meet(a, b)).map(([other]) => [word, other]));
}"""


def opened(new_page, address, language):
    cookie = {"name": "spread-language", "value": language, "domain": "127.0.0.1", "path": "/"}
    page = new_page(**SMALL)
    page.context.add_cookies([cookie])
    page.goto(address)
    page.add_style_tag(content=TWICE)
    return page


def is_whole(page):
    assert page.evaluate(CLIPPED) == []
    assert page.evaluate(COVERED) == []
    assert page.evaluate("() => document.documentElement.scrollWidth") <= SMALL["width"]


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_round_is_whole_in_letters_twice_as_large(new_page, building, language):
    page = opened(new_page, f"{building.url}/round", language)
    page.locator("#answers button").first.wait_for()
    is_whole(page)
    page.locator('[data-answer="found"]').tap()
    page.locator("#levels button").first.wait_for()
    is_whole(page)


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_room_is_whole_in_letters_twice_as_large(new_page, building, language):
    unit = next(row.unit for row in building.session.doors() if row.status == "revisit")
    page = opened(new_page, f"{building.url}/room/{unit}", language)
    page.locator("#state .chance").wait_for()
    for part in ("look", "treat", "heat", "traps", "follow", "end"):
        if page.locator(f"#part-{part}").get_attribute("open") is None:
            page.locator(f"#part-{part} > summary").tap()
    page.locator("[data-item]").first.tap()
    is_whole(page)

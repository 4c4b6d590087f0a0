"""A Spanish-speaking technician's day on a phone, page by page and state by state: nothing in English.

Every translation is put between marks while the pages are served. What a page shows outside of the marks has
not come through a catalogue, and what has no mark had no Spanish.
"""

from __future__ import annotations

import datetime as dt
import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from spread.plan.access import AccessRule
from spread.report.html import write_html
from spread.report.notices import Visit, notices_for
from spread.report.room_text import room_sheet_document
from spread.report.treat_text import treat_document
from spread.words import Voice
from spread.words.catalogue import catalogue

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844, "phone": True}
SPANISH = {"name": "spread-language", "value": "es", "domain": "127.0.0.1", "path": "/"}
PICTURES = os.environ.get("SPREAD_PICTURES")
OPEN, SHUT = "⟦", "⟧"
NOT_OURS = {"English", "Español"}
"""The switch names every language in itself."""
SHOWN = """() => {
  const parts = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const owner = walk.currentNode.parentElement;
    if (owner.closest("script, style, noscript, template")) continue;
    if (owner.closest("option") || owner.checkVisibility()) parts.push(walk.currentNode.textContent);
  }
  for (const node of document.querySelectorAll("[aria-label], [title], [placeholder], [alt]"))
    if (node.checkVisibility())
      for (const name of ["aria-label", "title", "placeholder", "alt"]) parts.push(node.getAttribute(name) || "");
  return [document.title, ...parts];
}"""


@pytest.fixture
def marked():
    """Put every Spanish text between marks."""
    told = catalogue("es")._catalog
    kept = dict(told)
    for key, words in kept.items():
        if key:
            told[key] = f"{OPEN}{words}{SHUT}"
    yield
    told.clear()
    told.update(kept)


def outside(text: str) -> str:
    """Return what stands outside of all marks."""
    deep, left = 0, []
    for letter in text:
        deep += (letter == OPEN) - (letter == SHUT)
        left.append(" " if deep or letter in (OPEN, SHUT) else letter)
    return "".join(left)


class Walk:
    """What was shown outside of the marks, by the step on which it was."""

    def __init__(self, page, names):
        self.page, self.names, self.english = page, names, {}

    def seen(self, step: str) -> None:
        if PICTURES:
            self.page.wait_for_timeout(200)
            self.page.screenshot(path=Path(PICTURES) / f"es-{step}.png", full_page=True)
        self.judge(step, self.page.evaluate(SHOWN))

    def judge(self, step: str, texts) -> None:
        wrong = set()
        for text in texts:
            left = outside(text)
            for name in self.names:
                left = left.replace(name, " ")
            left = re.sub(r"(lun|mar|mié|jue|vie|sáb|dom) \d+ \w{3,4} \d{4}|\d+ \w{3,4}(?= |$)", " ", left)
            wrong |= {word for word in re.findall(r"[^\W\d_]{3,}", left)} - NOT_OURS
        if wrong:
            self.english[step] = sorted(wrong)


def test_the_phone_speaks_spanish_from_the_list_to_the_door_sheet(new_page, building, marked):
    session = building.session
    page = new_page(**PHONE, locale="es-MX")
    page.context.add_cookies([SPANISH])
    page.set_default_timeout(60000)
    walk = Walk(page, {session.plan.name})

    page.goto(f"{building.url}/round")
    page.wait_for_selector("#unit")
    page.wait_for_function("() => document.querySelector('.chance')")
    walk.seen("list")
    assert walk.english == {}

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
from catalogues import parts
from playwright.sync_api import expect

from spread.decisions.case.materials import Home
from spread.decisions.case.treatment import plan_of
from spread.decisions.room.sheet import room_sheet
from spread.errors import RecordError, told
from spread.report.document import Sources
from spread.report.html import write_html
from spread.report.notices import Visit, notices_for
from spread.report.room_text import room_sheet_document
from spread.report.treat_text import treat_document
from spread.trade.holds import HEAT
from spread.trade.room import load_room
from spread.trade.rules import load_rules
from spread.words import Voice
from spread.words.catalogue import catalogue

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844, "phone": True}
SPANISH = {"name": "spread-language", "value": "es", "domain": "127.0.0.1", "path": "/"}
PICTURES = os.environ.get("SPREAD_PICTURES")
OPEN, SHUT = "⟦", "⟧"
NOT_OURS = {"Français", "Tiếng", "Việt", "English", "Español", "nowhere", "photos", "IMG", "jpg"}
"""The switch names every language in itself; a code that is no unit's, and a file's name."""
SHOWN = """() => {
  const spoken = ["aria-label", "title", "placeholder", "alt"], parts = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const owner = walk.currentNode.parentElement;
    if (owner.closest("script, style, noscript, template")) continue;
    if (owner.closest("option") || owner.checkVisibility()) parts.push(walk.currentNode.textContent);
  }
  for (const node of document.querySelectorAll(spoken.map((name) => `[${name}]`).join()))
    if (node.checkVisibility()) parts.push(...spoken.map((name) => node.getAttribute(name) || ""));
  return [document.title, ...parts];
}"""


@pytest.fixture
def marked():
    """Put every Spanish text between marks, and leave what is filled in outside of them."""
    told = catalogue("es")._catalog
    kept = dict(told)
    for key, words in kept.items():
        if key:
            told[key] = OPEN + re.sub(r"(\{\w+\})", rf"{SHUT}\1{OPEN}", words) + SHUT
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
            for name in sorted(self.names, key=len, reverse=True):
                left = left.replace(name, " ")
            left = re.sub(r"[a-zé]+ \d+ de [a-z]+ de \d{4}", " ", left)
            left = re.sub(r"(lun|mar|mié|jue|vie|sáb|dom) \d+ \w{3,4} \d{4}|\d+ \w{3,4}(?= |$)", " ", left)
            wrong |= set(re.findall(r"[^\W\d_]{3,}", left)) - NOT_OURS
        if wrong:
            self.english[step] = sorted(wrong)


@pytest.fixture
def walk(new_page, building, marked):
    page = new_page(**PHONE, locale="es-MX")
    page.context.add_cookies([SPANISH])
    page.set_default_timeout(90000)
    cited = {one.text for _, said in parts() for one in said if one.context == "source"}
    cited |= {row.source for row in HEAT}  # as every source: in the words that it was published in
    plan = building.session.plan
    return Walk(page, {plan.name, *cited, *(one.id for one in (*plan.shafts, *plan.commons))})


def untouched(session):
    """Return a unit that has no row yet."""
    log = session.view.log
    return next(row.unit for row in session.doors() if all(r.kind == "note" for r in log.of(row.unit)))


def found_in(session):
    """Record a find with its items; return its unit."""
    unit = untouched(session)
    look = {"kind": "inspection", "method": "thorough-visual", "found": "yes", "level": "moderate"}
    items = "mattress: live+stains, 9, mixed, 0.4 m, at bed 1; encasement: torn; sofa: nothing"
    session.record(look | {"unit": unit, "items": items})
    return unit


def unit_with(session, status):
    return next(one.unit for one in session.view.followups.values() if one.status == status)


def traps_read_in(session):
    """Record a find, a treatment and two monitor periods, one that does not count; return the unit."""
    unit = untouched(session)
    rows = (
        (-60, {"kind": "inspection", "method": "thorough-visual", "found": "yes", "level": "heavy"}),
        (-50, {"kind": "treatment", "method": "combined", "items": "encasement: torn, at bed 1"}),
        (-30, {"kind": "monitor", "method": "interceptors", "found": "no", "days": "14"}),
        (-20, {"kind": "monitor", "method": "monitors-few", "found": "no", "days": "7"}),
        (-10, {"kind": "inspection", "method": "dog", "found": "unsure", "evidence": "alert"}),
    )
    for days, row in rows:
        day = session.on + dt.timedelta(days=days)
        session.record(row | {"unit": unit, "when": day.isoformat()})
    return unit


def test_the_round_speaks_spanish_in_every_state(walk, building, new_page, monkeypatch):
    page = walk.page
    page.goto(f"{building.url}/round")
    page.wait_for_selector("#door .chance")
    page.locator("#more > summary").tap()
    walk.seen("list")
    page.locator('[data-answer="found"]').tap()
    expect(page.locator("#found")).to_be_visible()
    walk.seen("found")
    page.locator("#found-close").tap()
    page.locator("#more input[type=text]").first.fill("nowhere")
    page.locator("#more button[type=submit]").first.tap()
    walk.seen("no-such-unit")
    monkeypatch.setattr(building.session, "record", failing)
    page.locator('[data-answer="nobody"]').tap()
    expect(page.locator("#last-words")).to_be_visible()
    expect(page.locator("#line")).to_contain_text("rechazada")
    page.locator("#line").tap()
    expect(page.locator("#sheet")).to_be_visible()
    walk.seen("refused")
    page.locator("#sheet-close").tap()
    page.context.set_offline(True)
    page.locator('[data-answer="clear"]').tap()
    expect(page.locator("#line")).to_contain_text("sin conexión")
    page.locator("#line").tap()
    expect(page.locator("#sheet")).to_be_visible()
    walk.seen("offline")
    page.close()  # it goes on trying
    new_page.errors[:] = [text for text in new_page.errors if "net::ERR_" not in text]
    assert walk.english == {}


def failing(_fields, **_more):
    raise RecordError(told("Choose how it was treated."))


def test_the_room_speaks_spanish_from_the_sheet_to_the_plan_and_the_clearance(walk, building, new_page):
    page, session = walk.page, building.session
    units = {status: unit_with(session, status) for status in ("look", "revisit")}
    units["treat"] = found_in(session)
    units["traps"] = traps_read_in(session)
    for name, unit in units.items():
        page.goto(f"{building.url}/room/{unit}")
        page.wait_for_selector("#state .chance")
        page.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true; })")
        walk.seen(f"room-{name}")
    for item in ("mattress", "encasement", "outlets"):
        page.locator(f'[data-item="{item}"]').tap()
    page.locator('#item-mattress [data-sign="live"]').tap()
    page.locator('#item-mattress [data-sign="stains"]').tap()
    walk.seen("item")
    page.locator('[data-nothing="sofa"]').tap()
    page.locator('[data-more="sofa"]').tap()
    page.locator("#save").tap()
    expect(page.locator("#proposal")).not_to_contain_text("Preguntando")
    walk.seen("judge")
    page.locator('[data-level="proposed"]').tap()
    expect(page.locator("#last-words")).to_be_visible()
    expect(page.locator("#line")).to_contain_text("todo enviado")
    walk.seen("saved")
    page.goto(f"{building.url}/room/nowhere")
    page.wait_for_selector("#tell:not([hidden]), #wait:not([hidden])")
    walk.seen("no-such-room")
    new_page.errors[:] = [text for text in new_page.errors if "404" not in text]
    assert walk.english == {}


def test_sheets_plans_and_notices_are_spanish_on_paper(walk, building):
    page, session, voice = walk.page, building.session, Voice("es")
    page.goto(f"{building.url}/week/sheets?minutes=400")
    walk.seen("door-sheets")
    treat, sheet = found_in(session), load_room(None)
    log, on, plan = session.view.log, session.on, session.plan
    planned = plan_of(log.of(treat), treat, on, sheet, Home(places=2))
    shown = {
        "room-sheet": room_sheet_document(room_sheet(treat, plan, sheet, log=log, on=on), voice=voice),
        "treatment-plan": treat_document(plan.name, planned, voice),
    }
    for name, document in shown.items():
        walk.names |= {line for one in document.blocks if isinstance(one, Sources) for line in one.items}
        page.set_content(write_html(document))
        walk.seen(name)
    assert walk.english == {}


def test_notices_have_no_english_word_in_them(walk, building):
    """Their Spanish is a text of its own (``es.toml``) and no catalogue."""
    page, session = walk.page, building.session
    rules = load_rules(session.building.settings.rules, session.building.folder)
    treat = found_in(session)
    for kind in ("entry", "prepare", "result"):
        for purpose in ("inspection", "treatment"):
            visit = Visit(kind, dt.date(2026, 11, 30), session.on, purpose, (540, 720))
            for made in notices_for(
                session.building, rules, treat, visit, language="es", neighbours=kind != "prepare"
            ):
                page.set_content(write_html(made.document))
                told = page.locator("body").inner_text().lower()
                english = {"the", "and", "you", "your", "with", "will", "of", "is", "not", "we", "bugs"}
                assert set(re.findall(r"[a-z]+", told)) & english == set(), (made.name, told)

"""The five jobs of a manager's Monday in Chromium, by mouse and by keyboard alone: steps and seconds counted.

Run it from the top folder::

    python -m proofs.five_jobs --pictures build/five_jobs

Fresh copies of two demos are served as ``spread serve FOLDER`` serves a folder of buildings, both opened
beforehand. A step is a press (of the mouse, or of a key that is not Tab) or a field that is typed or chosen;
Tab presses are counted apart. Seconds are those of a hand that never thinks: the pages' own. After each job
the page is looked at with axe-core at three widths, and printed.
"""

from __future__ import annotations

import argparse
import datetime as dt
import io
import os
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from demo_buildings.pictures import ROOT

ON = dt.date(2026, 12, 7)
"""A Monday after the notices of the demos have lapsed, so that a week needs notices."""
FIRST, NEXT = "ostrel-court", "tolliwick-gardens"
WIDTHS = (1440, 1024, 390)
MOST_TABS = 400
FLAGS = ("--no-sandbox", "--disable-gpu")


@dataclass
class Hand:
    """Somebody at the desk: what it pressed and typed is counted."""

    page: Any
    mouse: bool
    presses: int = 0
    fields: int = 0
    tabs: int = 0

    def press(self, where: Any) -> None:
        """Press a button or a link."""
        self.presses += 1
        if self.mouse:
            where.click()
        else:
            self._reach(where)
            self.page.keyboard.press("Enter")

    def key(self, name: str) -> None:
        """Press a key where the hand is."""
        self.presses += 1
        self.page.keyboard.press(name)

    def fill(self, where: Any, text: str) -> None:
        """Type into a field, or choose of a list."""
        self.fields += 1
        if not self.mouse:
            self._reach(where)
        if where.evaluate("one => one.tagName") == "SELECT":
            where.select_option(text)
        else:
            where.fill(text)

    def back(self) -> None:
        """Press what goes back to the page before."""
        self.presses += 1
        self.page.go_back()

    def _reach(self, where: Any) -> None:
        """Tab on from where the hand is until a part has the focus."""
        where.wait_for()
        for _ in range(MOST_TABS):
            if where.evaluate("one => one === document.activeElement"):
                return
            self.tabs += 1
            self.page.keyboard.press("Tab")
        raise RuntimeError(f"no way to {where} by Tab")


@dataclass(frozen=True)
class Job:
    """One job: where it begins, what a hand does, and how it is seen to be done."""

    name: str
    begins: str
    do: Callable[[Hand], str]


def complaint(hand: Hand) -> str:
    """Record what a resident said this morning."""
    page = hand.page
    hand.fill(page.get_by_label("Find a unit"), "101")
    hand.key("Enter")
    page.locator("#panel-title", has_text="Unit 101").wait_for()
    hand.press(page.locator("#entries summary"))
    hand.fill(page.locator("#entry-report"), "bitten")
    hand.press(page.locator('[data-answer="report"]'))
    page.locator("#form .kept").wait_for()
    page.locator("#panel-history .h-report").first.wait_for()
    return str(page.locator(".next-step").inner_text())


def week(hand: Hand) -> str:
    """Plan the week for two technicians, and make and mark every notice that it needs."""
    page = hand.page
    hand.press(page.locator(".pages-bar").get_by_role("link", name="Week", exact=True))
    hand.fill(page.get_by_label("Technicians", exact=True), "2")
    hand.press(page.get_by_role("button", name="Plan again"))
    page.wait_for_url("**technicians=2**")
    hours, notices = False, 0
    for _ in range(14):
        form = page.locator(".week-notices").first
        if not form.count():
            break
        if not hours:
            hand.fill(form.locator('[name="from"]'), "09:00")
            hand.fill(form.locator('[name="to"]'), "13:00")
            hours = True
        asked = form.locator(".week-give").get_attribute("data-units").split()
        day = page.locator(".week-column:has(.week-notices)").first.get_attribute("data-day")
        hand.press(form.get_by_role("button", name="Print"))
        page.wait_for_url("**/notices/**")
        hand.back()
        page.locator(".week-days").wait_for()
        with page.expect_navigation():
            hand.press(page.locator(f'[data-day="{day}"] .week-give'))
        page.locator(f'[data-day="{day}"] .week-kept').wait_for()
        notices += len(asked)
    assert not page.locator(".week-notices").count(), "every notice of the week is on record"
    days = page.locator(".week-column:has(.week-stops)").count()
    doors = page.locator(".week-stops li").count()
    return f"{doors} doors on {days} days, {notices} notices given"


def month(hand: Hand) -> str:
    """Say whether it is better or worse than last month."""
    hand.press(hand.page.locator(".pages-bar").get_by_role("link", name="Month", exact=True))
    hand.page.locator("#month-answer").wait_for()
    return str(hand.page.locator("#month-answer").inner_text())


def clear(hand: Hand) -> str:
    """Say what may be called clear, and from when on."""
    page = hand.page
    hand.press(page.locator(".pages-bar").get_by_role("link", name="Week", exact=True))
    hand.press(page.locator(".desk-bar").get_by_role("link", name="Revisits"))
    page.locator("h1", has_text="Revisits").wait_for()
    return str(page.locator(".headline").inner_text()).replace("\n", " ")


def next_building(hand: Hand) -> str:
    """Move on to the week of the next building."""
    page = hand.page
    hand.press(page.locator(".pages-bar").get_by_role("link", name="Buildings"))
    page.locator("h1", has_text="Buildings").wait_for()
    hand.press(page.locator(f"#b-{NEXT}").get_by_role("link", name="Week"))
    page.locator(".week-days").wait_for()
    return str(page.locator(".headline").inner_text()).replace("\n", " ")


HOME = f"/at/{FIRST}/"
JOBS = (
    Job("A complaint this morning", HOME, complaint),
    Job("The week for two, with lawful notices", HOME, week),
    Job("Better or worse since last month", HOME, month),
    Job("What may be called clear", HOME, clear),
    Job("On to the next building", HOME, next_building),
)


@dataclass
class Told:
    """What one job came to."""

    job: Job
    steps: dict[str, tuple[int, int, int, float]] = field(default_factory=dict)
    answer: str = ""
    axe: list[str] = field(default_factory=list)
    cut: list[int] = field(default_factory=list)
    sheets: int = 0


def run_jobs(address: str, chromium: str, hands: Sequence[str], pictures: Path | None) -> list[Told]:
    """Do every job with each hand; what the first did is looked at."""
    from axe_playwright_python.sync_playwright import Axe
    from playwright.sync_api import sync_playwright

    told = [Told(job) for job in JOBS]
    with sync_playwright() as api:
        browser = api.chromium.launch(executable_path=chromium, headless=True, args=list(FLAGS))
        for by in hands:
            for number, one in enumerate(told, 1):
                page = browser.new_page(viewport={"width": WIDTHS[0], "height": 900})
                page.set_default_timeout(120_000)
                page.goto(f"{address}{one.job.begins}")
                page.locator("#plan .unit").first.wait_for()
                hand, began = Hand(page, mouse=by == "mouse"), time.monotonic()
                answer = one.job.do(hand)
                seconds = time.monotonic() - began
                one.steps[by] = hand.presses, hand.fields, hand.tabs, seconds
                print(f"{one.job.name}, {by}: {one.steps[by]}", file=sys.stderr, flush=True)
                if not one.answer:
                    one.answer = answer
                    _look(page, one, Axe(), pictures and pictures / f"{number}")
                page.close()
        browser.close()
    return told


def _look(page: Any, one: Told, axe: Any, picture: Path | None) -> None:
    """Look at the page at every width, and print it."""
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        page.wait_for_function("width => innerWidth === width", arg=width)
        one.axe += [f"{width}: {rule['id']}" for rule in axe.run(page).response["violations"]]
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            one.cut.append(width)
        if picture is not None:
            page.screenshot(path=f"{picture}-{width}.png", full_page=True)
    page.set_viewport_size({"width": WIDTHS[0], "height": 900})
    from pypdf import PdfReader

    one.sheets = len(PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages)


def table(told: Sequence[Told]) -> str:
    """Return what was counted as a table for the documents."""
    heads = (
        "Job",
        "Presses",
        "Fields",
        "Seconds",
        "By keyboard: keys",
        "of them Tab",
        "Seconds",
        "Sheets",
        "axe",
    )
    lines = ["| " + " | ".join(heads) + " |", "|---" * len(heads) + "|"]
    for one in told:
        presses, fields, _, seconds = one.steps.get("mouse", (0, 0, 0, 0.0))
        keys, typed, tabs, slow = one.steps.get("keyboard", (0, 0, 0, 0.0))
        found = ", ".join(one.axe) or "clean"
        if one.cut:
            found += f"; cut at {', '.join(map(str, one.cut))}"
        by_mouse = (presses, fields, f"{seconds:.1f}")
        by_keyboard = (keys + typed + tabs, tabs, f"{slow:.1f}")
        cells = (one.job.name, *by_mouse, *by_keyboard, one.sheets, found)
        lines.append("| " + " | ".join(map(str, cells)) + " |")
    return "\n".join([*lines, "", *(f"- {one.job.name}: {one.answer}" for one in told)])


def main(argv: Sequence[str] | None = None) -> int:
    """Run the jobs and print the table; exit code 1 where axe finds something or a page is cut."""
    parser = argparse.ArgumentParser(prog="python -m proofs.five_jobs", description=__doc__)
    parser.add_argument("--pictures", type=Path, help="folder for pictures of where each job ends")
    parser.add_argument("--hands", nargs="+", default=["mouse", "keyboard"], choices=["mouse", "keyboard"])
    args = parser.parse_args(argv)
    chromium = (
        os.environ.get("CHROMIUM") or shutil.which("chromium-headless-shell") or shutil.which("chromium")
    )
    if not chromium:
        print("no Chromium here: install it (apt-get install chromium)", file=sys.stderr)
        return 2
    if args.pictures is not None:
        args.pictures.mkdir(parents=True, exist_ok=True)
    told: list[Told] = []
    for by in args.hands:  # each hand has fresh copies: what the first recorded is not there for the second
        with tempfile.TemporaryDirectory() as room:
            done = _served(
                Path(room), lambda address, by=by: run_jobs(address, chromium, [by], args.pictures)
            )
        for one, more in zip(told or done, done, strict=True):
            one.steps |= more.steps
        told = told or done
    print(table(told))
    return int(any(one.axe or one.cut for one in told))


def _served(room: Path, work: Callable[[str], list[Told]]) -> list[Told]:
    """Serve fresh copies of both demos while something works with them."""
    from waitress import create_server

    from dashboard.office.folders import Folders
    from spread.session import Session

    for name in (FIRST, NEXT):
        shutil.copytree(ROOT / "demo_buildings" / name, room / name)
    many = Folders(room, lambda folder: Session.open(folder, on=ON))
    for name in (FIRST, NEXT):
        many.openings.wait(name)
    server = create_server(many, host="127.0.0.1", port=0, threads=8)
    at_work = threading.Thread(target=server.run, daemon=True)
    at_work.start()
    try:
        return work(f"http://127.0.0.1:{server.effective_port}")
    finally:
        server.close()


if __name__ == "__main__":
    sys.exit(main())

"""The pictures of the README: the plan on a desk and the round on a phone, of a demo building.

From the top folder, with Chromium and what the tests want installed::

    python -m demo_buildings.pictures

Serves the building from a free port of this machine and writes ``docs/pictures/plan.png`` and ``phone.png``.
"""

from __future__ import annotations

import argparse
import datetime as dt
import logging
import os
import shutil
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BUILDING, ON = "ostrel-court", dt.date(2026, 11, 20)
MOST_BYTES = 250_000
FLAGS = ("--no-sandbox", "--disable-gpu", "--hide-scrollbars")


@contextmanager
def served(folder: Path, on: dt.date) -> Iterator[str]:
    """Serve a building from a thread; give its address."""
    from werkzeug.serving import make_server

    from dashboard import create_app
    from spread.session import Session

    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    session = Session.open(folder, on=on)
    server = make_server("127.0.0.1", 0, create_app(session).server, threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join(5)
        server.server_close()


def take(address: str, out: Path, chromium: str) -> list[Path]:
    """Take both pictures; return their files."""
    from playwright.sync_api import sync_playwright

    plan, phone = out / "plan.png", out / "phone.png"
    with sync_playwright() as api:
        browser = api.chromium.launch(executable_path=chromium, headless=True, args=list(FLAGS))
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(address)
        page.wait_for_load_state("networkidle")
        page.wait_for_selector("svg")
        page.wait_for_timeout(500)
        page.screenshot(path=plan)
        page = browser.new_page(viewport={"width": 390, "height": 800}, is_mobile=True, has_touch=True)
        # In the morning, whenever the picture is taken.
        page.clock.set_fixed_time(dt.datetime.combine(ON, dt.time(9)))
        page.goto(f"{address}/round")
        page.wait_for_load_state("networkidle")
        page.wait_for_timeout(500)
        page.screenshot(path=phone)
        browser.close()
    return [plan, phone]


def main(argv: Sequence[str] | None = None) -> int:
    """Write the pictures; exit code 1 where one is too large for a page that opens with it."""
    parser = argparse.ArgumentParser(prog="python -m demo_buildings.pictures", description=__doc__)
    parser.add_argument("--out", type=Path, default=ROOT / "docs" / "pictures")
    out: Path = parser.parse_args(argv).out
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
    if not chromium:
        print("no Chromium here: install it (apt-get install chromium)", file=sys.stderr)
        return 2
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as room:
        folder = Path(shutil.copytree(ROOT / "demo_buildings" / BUILDING, Path(room) / BUILDING))
        with served(folder, ON) as address:
            files = take(address, out, chromium)
    for file in files:
        print(f"{file}: {file.stat().st_size} bytes")
    return int(any(file.stat().st_size > MOST_BYTES for file in files))


if __name__ == "__main__":
    sys.exit(main())

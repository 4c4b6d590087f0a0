"""How fast the screens are, each beside a plain reference in the same run.

From the root of the repository::

    python -m benchmarks.screen_speed

1. A plan of 1,000 units repainted: our drawing, one floor and all floors, against one plotly trace a unit, in
   one Chromium. After an answer one unit in ten changes its colour and figure; at worst all of them do. Three
   figures: work of the page's own thread (script, style, layout, paint; Chromium's count, less that of
   waiting for frames alone), from the call to the second frame after it (never under two frames of 17 ms,
   however little there is to do), and in the script alone.
2. The bytes of each page over the wire, everything it loads included, in a browser that has nothing yet.
3. Answers at a building of 225 units from ten people at once, through the server: how long until the reply.
"""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import plotly
from werkzeug.serving import make_server

from dashboard import create_app
from dashboard.pages import pages
from dashboard.round.addresses import building_key
from spread.session import Session
from tests.conftest import CHROMIUM, FLAGS
from tests.small import QUICKER, small_session

REPEATS = 15
TOWER = Path("demo_buildings/verrin-tower")
DAY = dt.date(2026, 11, 20)
PEOPLE, ANSWERS_EACH = 10, 10

OURS = """async () => {
  const { state } = await import("/files/plan/state.js"), { paintPlan } = await import("/files/plan/plan.js");
  const frames = () => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)));
  const units = Object.keys(state.paint.units), took = [];
  for (let k = 0; k < %d; k++) {
    const before = state.paint.units, turned = {};
    units.forEach((id, i) => { turned[id] = before[i %% EVERY ? id : units[(i + 37) %% units.length]]; });
    state.paint = Object.assign({}, state.paint, { units: turned });
    await frames();
    const from = performance.now();
    paintPlan();
    const script = performance.now() - from;
    await frames();
    took.push([performance.now() - from, script]);
  }
  return took;
}"""
DRAWN = """async (shapes) => {
  const traces = shapes.map(s => ({ x: s.x, y: s.y, fill: "toself", mode: "lines", name: s.id,
    fillcolor: "#fdf3dc", line: { color: "#333", width: 1 }, hoveron: "fills", showlegend: false }));
  await Plotly.newPlot(document.getElementById("plot"), traces, { width: 1400, height: 900 });
}"""
PLAIN = """async (shapes) => {
  const frames = () => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)));
  const colour = k => ["#fdf3dc", "#f0d49b", "#e0a364", "#c4705a", "#8a3a59", "#40153d"][k %% 6];
  const traces = turn => shapes.map((s, i) => ({ x: s.x, y: s.y, fill: "toself", mode: "lines", name: s.id,
    fillcolor: colour(i %% EVERY ? i : i + turn), line: { color: "#333", width: 1 }, hoveron: "fills",
    showlegend: false }));
  const place = document.getElementById("plot"), took = [];
  for (let k = 1; k <= %d; k++) {
    await frames();
    const from = performance.now();
    await Plotly.react(place, traces(k), { width: 1400, height: 900 });
    const script = performance.now() - from;
    await frames();
    took.push([performance.now() - from, script]);
  }
  return took;
}"""


def served(app: Any) -> tuple[str, Callable[[], None]]:
    """Serve an app on a free port; return its address and what stops it."""
    server = make_server("127.0.0.1", 0, app.server, threaded=True)
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
    return f"http://127.0.0.1:{server.server_port}", server.shutdown


WAITING = """async () => {
  const frames = () => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)));
  for (let k = 0; k < %d; k++) { await frames(); await frames(); }
}"""


def worked(page: Any, code: str, *given: Any) -> list[list[float]]:
    """Return what a script of repaints gives, with the work of the page's thread for one put before it."""
    tools = page.context.new_cdp_session(page)
    tools.send("Performance.enable")

    def busy() -> float:
        metrics = {one["name"]: one["value"] for one in tools.send("Performance.getMetrics")["metrics"]}
        return 1000.0 * float(metrics["TaskDuration"])

    begun = busy()
    page.evaluate(WAITING % REPEATS)
    idle, begun = busy() - begun, busy()
    took = page.evaluate(code, *given)
    work = (busy() - begun - idle) / REPEATS
    return [[work, *row] for row in took]


def repaint(every: int) -> tuple[dict[str, list[list[float]]], int]:
    """Return milliseconds of work, to the second frame and in the script, by drawing; and how many units.

    Parameters
    ----------
    every
        One unit in so many changes.
    """
    from playwright.sync_api import sync_playwright

    found = {}
    with tempfile.TemporaryDirectory() as place, sync_playwright() as api:
        session = small_session(Path(place), 10, 50, settings=QUICKER)
        plan = session.plan
        address, stop = served(create_app(session))
        browser = api.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(address)
        page.wait_for_selector("#plan svg")
        ours, plain = ((text % REPEATS).replace("EVERY", str(every)) for text in (OURS, PLAIN))
        page.wait_for_timeout(1500)
        found["one floor"] = worked(page, ours)
        page.get_by_role("button", name="All floors").click()
        page.wait_for_timeout(1500)
        found["all floors"] = worked(page, ours)
        shapes = []
        for level, floor in enumerate(plan.floors):
            for unit in plan.on_floor(floor):
                x, y = unit.parts[floor].exterior.coords.xy
                shapes.append({"id": unit.id, "x": list(x), "y": [v + 25 * level for v in y]})
        library = Path(plotly.__file__).parent / "package_data" / "plotly.min.js"
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.set_content('<div id="plot"></div>')
        page.add_script_tag(path=library)
        page.evaluate(DRAWN, shapes)
        page.wait_for_timeout(1500)
        found["one trace a unit"] = worked(page, plain, shapes)
        browser.close()
        stop()
    return found, len(plan.units)


def page_bytes() -> dict[str, tuple[int, int]]:
    """Return kilobytes over the wire, and how many files, by address of a page of the demo."""
    from playwright.sync_api import sync_playwright

    found = {}
    with tempfile.TemporaryDirectory() as place, sync_playwright() as api:
        folder = Path(place) / "tower"
        shutil.copytree(TOWER, folder)
        session = Session.open(folder, on=DAY)
        address, stop = served(create_app(session))
        browser = api.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        for path in [page.path for page in pages() if page.in_bar]:
            context = browser.new_context(viewport={"width": 1440, "height": 900})
            page, sizes = context.new_page(), []
            tools = context.new_cdp_session(page)
            tools.send("Network.enable")
            tools.on(
                "Network.loadingFinished", lambda told, sizes=sizes: sizes.append(told["encodedDataLength"])
            )
            page.goto(address + path)
            page.wait_for_timeout(4000)
            found[path] = (round(sum(sizes) / 1000), len(sizes))
            context.close()
        browser.close()
        stop()
        session.wait()
    return found


def id_of(person: int, answer: int) -> str:
    """Return the id of an answer, as a phone makes them."""
    return f"00000000-0000-4000-8000-{person:04d}{answer:08d}"


def ten_people() -> list[float]:
    """Return seconds from an answer to its reply, ten people answering at once."""
    import json
    from urllib.request import Request, urlopen

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "tower"
        shutil.copytree(TOWER, folder)
        session = Session.open(folder, on=DAY)
        address, stop = served(create_app(session))
        key = building_key(session)
        units = [unit for unit in session.plan.units if session.view.standings[unit].status == "look"]

        def person(number: int) -> list[float]:
            took = []
            for k in range(ANSWERS_EACH):
                unit = units[(number * ANSWERS_EACH + k) % len(units)]
                answer = {"id": id_of(number, k), "unit": unit, "answer": "clear", "method": "brief-visual"}
                body = json.dumps({"building": key, "answers": [answer], "want": {}}).encode()
                asked = Request(f"{address}/round/answers", body, {"Content-Type": "application/json"})
                began = time.perf_counter()
                with urlopen(asked, timeout=120) as reply:
                    kept = json.load(reply)
                took.append(time.perf_counter() - began)
                assert reply.status == 200, kept
                time.sleep(1.0)
            return took

        with ThreadPoolExecutor(PEOPLE) as pool:
            took = [each for some in pool.map(person, range(PEOPLE)) for each in some]
        rows = (folder / "records.csv").read_text(encoding="utf-8")
        assert all(id_of(n, k) in rows for n in range(PEOPLE) for k in range(ANSWERS_EACH)), (
            "an answer was lost"
        )
        stop()
    return took


def main() -> None:
    """Measure and print."""
    for every, words in ((10, "one in ten changed"), (1, "all changed")):
        found, units = repaint(every)
        middle = {way: np.median(np.array(rows), axis=0) for way, rows in found.items()}
        plain = middle.pop("one trace a unit")
        for way, mine in middle.items():
            told = [
                f"{ours:.1f} against {theirs:.0f} ms {what}, {theirs / ours:.1f} times"
                for ours, theirs, what in zip(
                    mine, plain, ("of work", "to the second frame", "in the script"), strict=True
                )
            ]
            print(f"{units} units, {words}, {way}, beside one trace a unit: {'; '.join(told)}", flush=True)
    for path, (kilobytes, files) in page_bytes().items():
        print(f"{path}: {kilobytes:,} kB over the wire in {files} files", flush=True)
    took = np.array(ten_people())
    print(
        f"an answer at 225 units, {PEOPLE} people at once: median {np.median(took):.2f} s, "
        f"95th percentile {np.quantile(took, 0.95):.2f} s, worst {took.max():.2f} s ({len(took)} answers)"
    )


if __name__ == "__main__":
    main()

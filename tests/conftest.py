"""Fixtures for commands and for pages in a real browser; and ``tests/`` on the path, for its helpers."""

from __future__ import annotations

import csv
import datetime as dt
import functools
import gc
import json
import logging
import os
import pickle
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

# Before anything brings numpy in; workers inherit it. Where the threads of one worker's products fight with
# those of the next, small matrices take ten times longer (172 s of processor time for 7).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# A worker holds thousands of tests and every module. To go through them all again and again for garbage was
# two fifths of gathering the tests and a tenth of running them; what is there then is there to stay.
gc.disable()
# Bytecode is kept beside the sources, as compiled functions are, whatever the shell says: else each
# worker, and each command in a process of its own, makes all of it again.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
# How long one example takes is no property: other work beside it would make it fail.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")

KINDS = ("chromium-headless-shell", "chromium", "google-chrome")
"""The engine without a window comes first: a page costs it a third less."""
CHROMIUM = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, KINDS)), None)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--js-flags=--single-threaded",  # helpers of the scripts' engine only take from the other workers
]
METRES = {"name": "spread-measures", "value": "metres", "domain": "127.0.0.1", "path": "/"}
"""As a reader who chose metres on a desk page: Chromium here speaks the English of a country of feet."""
WORKER = {"service_workers": "allow"}
"""Of a page that is to open without a connection, as a phone opens it."""
INSIDE = ("http://127.0.0.1", "data:", "blob:", "about:")


def _missing(reason: str) -> None:
    """A bare machine may lack a browser; the project's own checks may not."""
    if os.environ.get("CI"):
        pytest.fail(f"{reason}, and CI is set")
    pytest.skip(reason)


HERE = Path(__file__).parent
COMPILED = (
    "from conftest import keep_fitted; keep_fitted()",
    "from buildings import view_of; from spread.programmes.reading import preset;"
    "from spread.programmes.run import RunSettings, simulate;"
    "simulate(view_of(), [preset('complaint-ranked')], RunSettings(4, 4));",
)
"""What compiles the sampler, and what compiles the programmes."""
GATHER = "from conftest import gather; gather()"
"""What the second does after it, on a tree where nothing is kept: its share of compiling is the shorter."""
SHARED = "SPREAD_TESTS_SHARED"
"""Names the folder of a run where its workers find what was made once for all of them."""


def pytest_configure(config: pytest.Config) -> None:
    """Compile in two processes before there are workers: each of them would compile all of it."""
    if not getattr(config.option, "numprocesses", None):  # one process, or a worker itself
        return
    shared = tempfile.TemporaryDirectory(prefix="spread-tests-")
    config.add_cleanup(shared.cleanup)
    os.environ[SHARED] = shared.name
    places = os.pathsep.join((str(HERE), str(HERE.parent)))
    environment = os.environ | {"PYTHONPATH": places}
    sampler, programmes = COMPILED
    if not any((HERE.parent / "spread" / "programmes" / "__pycache__").glob("*.nbi")):
        programmes += GATHER
    running = [
        subprocess.Popen([sys.executable, "-c", code, *config.args], env=environment)
        for code in (sampler, programmes)
    ]
    codes = [one.wait() for one in running]
    assert not any(codes), "the compiled parts do not run"


def gather() -> None:
    """Rewrite the tests of this run to bytecode once: half of what it costs each worker to gather them."""
    with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):  # noqa: PTH123
        pytest.main(["--collect-only", "-q", "-p", "no:cacheprovider", *sys.argv[1:]])


def keep_fitted() -> None:
    """Keep the demo's fit for the workers."""
    (Path(os.environ[SHARED]) / "fitted").write_bytes(pickle.dumps(_fit()))


DAILY = 3


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Try properties on a third of their examples in the daily run of all files, and on all among the slow.

    A run in one process tries all of them: somebody works on that file, or a mutant does.
    """
    tested = {one: one.obj for one in items if getattr(getattr(one, "obj", None), "hypothesis", None)}
    if config.option.markexpr == "slow":
        for item in tested:
            item.add_marker("slow")
    if config.option.markexpr != "not slow" or not hasattr(config, "workerinput"):
        return
    for test in set(tested.values()):
        own = test._hypothesis_internal_use_settings
        few = settings(own, max_examples=min(own.max_examples, max(10, own.max_examples // DAILY)))
        test._hypothesis_internal_use_settings = few


def pytest_collection_finish() -> None:
    gc.freeze()
    gc.enable()
    gc.set_threshold(50_000, 20, 20)


def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are cores: each waits for its browser or its children much of the time."""
    return (os.cpu_count() or 1) + 1


@pytest.fixture(autouse=True)
def announced(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Take rounds of other tests where they like, as under a rule set that asks for no notice of entry.

    Tests of notices are marked ``notices``, and have the rule set as it is.
    """
    if "notices" in request.keywords:
        return
    from spread.decisions.week.entry import entries_of

    monkeypatch.setattr(
        "spread.session.entries_of", lambda view, rules: entries_of(view, replace(rules, notices=()))
    )


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[Any, str, str]]:
    """Run a command in this process; return its exit code, output and complaints."""
    from spread import cli

    def run(*argv: object) -> tuple[Any, str, str]:
        try:
            code: Any = cli.main([str(part) for part in argv])
        except SystemExit as stop:  # argparse, on an option it cannot read
            code = stop.code
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


WORKERS = (
    "spread.tables.grid",
    "spread.plan.spreadsheet",
    "spread.drawings.opening",
    "spread.drawings.tracer",
    "spread.outlines.opening",
)
"""Modules that read in a process of its own."""


@pytest.fixture
def read_here(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Read what is sent in this process, for tests of what is read: each worker costs half a second.

    Tests of the worker itself, its time and its memory, bear the mark ``own_process``. What only the worker
    survives goes there, and so says there what it is.
    """
    if request.node.get_closest_marker("own_process"):
        return
    from spread.errors import SpreadError
    from spread.worker import in_worker

    def here(reader: str, data: bytes, *words: str, **limits: Any) -> object:
        module, _, function = reader.partition(":")
        try:
            return json.loads(json.dumps(getattr(import_module(module), function)(data, *words)))
        except SpreadError:
            raise
        except Exception:
            return in_worker(reader, data, *words, **limits)

    for name in WORKERS:
        monkeypatch.setattr(f"{name}.in_worker", here)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    if not CHROMIUM:
        _missing("no Chromium here (apt-get install chromium-headless-shell)")
    try:
        from playwright.sync_api import expect, sync_playwright
    except ImportError:
        _missing("playwright is not installed (pip install -e '.[test]')")
    expect.set_options(timeout=20_000)
    with sync_playwright() as api:
        running = api.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        yield running
        running.close()


@pytest.fixture
def new_page(browser: Any, serve_session: Any) -> Iterator[Callable[..., Any]]:
    """Open pages of any size; at the end none may have met an error or asked anything elsewhere.

    Servers are asked for only so that they stop after the pages are closed: a page that still asks for
    news of a refit would meet a refused connection, which is an error of the test and not of the page.
    """
    with opening(browser) as make:
        yield make


@contextmanager
def opening(browser: Any) -> Iterator[Callable[..., Any]]:
    """Open pages as :func:`new_page` does.

    No worker is put on a phone but where a test asks for it (``WORKER``): it costs more than the page.
    """
    contexts, errors, outside = [], [], []

    def make(
        width: int = 1440, height: int = 900, *, phone: bool = False, metres: bool | None = None, **more: Any
    ) -> Any:
        metres = not phone if metres is None else metres
        more.setdefault("service_workers", "block")
        context = browser.new_context(
            viewport={"width": width, "height": height}, is_mobile=phone, has_touch=phone, **more
        )
        contexts.append(context)
        if metres:
            context.add_cookies([METRES])
        page = context.new_page()
        page.set_default_timeout(20000)
        page.on("pageerror", lambda error: errors.append(f"{page.url}: {error.stack or error}"))
        page.on("console", lambda line: errors.append(line.text) if line.type == "error" else None)
        page.on("request", lambda ask: None if ask.url.startswith(INSIDE) else outside.append(ask.url))
        return page

    make.errors = errors  # type: ignore[attr-defined]
    yield make
    for context in contexts:
        context.close()
    assert not errors, errors
    assert not outside, outside


@pytest.fixture(scope="session")
def axe() -> Callable[..., list[tuple[str, str, str, list[str]]]]:
    """What axe-core, as bundled with axe-playwright-python, finds on a page in light and in dark colours.

    Scheme, rule, impact, and the first parts that break it, at these widths or as the page is. Our pages
    change their colours by style alone, so that one opened in light and turned to dark is the page opened in
    dark: only rules of colours are asked again.
    """
    engine = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()

    def found(page: Any, *widths: int) -> list[tuple[str, str, str, list[str]]]:
        if widths:
            told = []
            for width in widths:
                page.set_viewport_size({"width": width, "height": page.viewport_size["height"]})
                page.wait_for_function("width => innerWidth === width", arg=width)
                told += found(page)
            return told
        told = []
        if not page.evaluate("'axe' in window"):
            page.evaluate(engine.axe_script)
        colours = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
        for scheme, rules in (("light", {}), ("dark", colours)):
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            # Style sheets are fetched again for a rule that is off, and films for one: there are none here.
            options = {"resultTypes": ["violations"], "preload": False, **rules}
            for one in page.evaluate("options => axe.run(options)", options)["violations"]:
                parts = [node["html"][:160] for node in one["nodes"]][:4]
                told.append((scheme, one["id"], one["impact"], parts))
        return told

    return found


@dataclass
class Open:
    """A building served on a free port: its session, address and records file."""

    session: Any
    url: str
    records: Path
    earlier: int = 0

    def new_rows(self) -> list[dict[str, str]]:
        """The rows on disk that were not there when the building was opened."""
        return _rows(self.records)[self.earlier :]


def _rows(path: Path) -> list[dict[str, str]]:
    if not path.exists():
        return []
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def serve_app() -> Iterator[Callable[[Any], str]]:
    """Serve a WSGI application from a thread; return the address."""
    with serving() as start:
        yield start


@contextmanager
def serving() -> Iterator[Callable[[Any], str]]:
    """Serve as :func:`serve_app` does."""
    from werkzeug.serving import make_server

    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    running = []

    def start(app: Any) -> str:
        server = make_server("127.0.0.1", 0, app, threaded=True)
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        thread.start()
        running.append((server, thread))
        return f"http://127.0.0.1:{server.server_port}"

    yield start
    for server, thread in running:
        server.shutdown()
        thread.join(5)
        server.server_close()


@pytest.fixture
def serve_session(serve_app: Callable[[Any], str]) -> Callable[[Any], str]:
    """Serve a session; return the address."""
    from dashboard import create_app

    return lambda session: serve_app(create_app(session).server)


@pytest.fixture
def empty(tmp_path: Path, serve_app: Callable[[Any], str]) -> str:
    """Serve a folder without a building, as ``spread serve`` starts: what is made there has a short fit."""
    from buildings import SHORT

    from dashboard import create_app
    from dashboard.first import Switch, create_first_app
    from spread.session import Session

    switch = Switch()
    switch.show(
        create_first_app(
            tmp_path, lambda made: switch.show(create_app(Session.open(made, settings=SHORT)).server)
        )
    )
    return serve_app(switch)


@pytest.fixture
def made(
    tmp_path: Path, serve_session: Callable[[Any], str], monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[..., Open]]:
    """Serve a small session of ``small.py``, for what needs a certain size, or a refit of so many seconds."""
    from small import LIVED_IN, QUICK, QUICKER, small_session

    import spread.session

    opened, fit = [], spread.session.fit

    def start(floors: int = 3, a_side: int = 6, refit_seconds: float = 0.0) -> Open:
        def slow(*known: Any, **more: Any) -> Any:
            time.sleep(refit_seconds)
            return fit(*known, **more)

        monkeypatch.setattr(spread.session, "fit", slow)
        settings = QUICKER if floors * a_side > 200 else QUICK
        folder = tmp_path / str(len(opened)) if opened else tmp_path
        session = small_session(
            folder, floors, a_side, rows=LIVED_IN, worn=refit_seconds > 0, settings=settings
        )
        opened.append(session)
        records = session.building.folder / "records.csv"
        return Open(session, serve_session(session), records, len(_rows(records)))

    yield start
    for session in opened:
        session.wait()


DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
ON = dt.date(2026, 11, 25)


@functools.cache
def _read() -> Any:
    from spread.building import load_building

    return load_building(DEMO)


def _fit() -> Any:
    from spread.session import Session

    return Session.open(DEMO, on=ON).view.posterior


@functools.cache
def _fitted() -> tuple[Any, Any]:
    """Fit the demo's log once for all tests; each works on its own copy of the folder and fits briefly."""
    from small import BRIEF

    kept = Path(os.environ.get(SHARED, "")) / "fitted"
    return pickle.loads(kept.read_bytes()) if kept.is_file() else _fit(), BRIEF


@pytest.fixture
def building(tmp_path: Path, serve_session: Callable[[Any], str]) -> Iterator[Open]:
    """A demo building with the real session: the ONE place to switch what the page is tested on."""
    opened = _demo(tmp_path / DEMO.name, serve_session)
    yield opened
    opened.session.wait()


def _demo(folder: Path, serve: Callable[[Any], str]) -> Open:
    from spread.records.store import FolderStore
    from spread.session import Session

    shutil.copytree(DEMO, folder)
    records = folder / "records.csv"
    # As in small.py: the plan and its contacts are read once, and the log of each folder is its own.
    first = _read()
    codes = set(first.codes)
    own = replace(first, folder=folder, codes=codes, store=FolderStore(records, codes))
    session = Session(own, *_fitted())
    return Open(session, serve(session), records, len(_rows(records)))


@pytest.fixture(scope="module")
def plan_read(browser: Any, tmp_path_factory: Any) -> Iterator[tuple[Any, Open]]:
    """The demo building's plan page at 1440 px for tests that write nothing: opened once for a file."""
    from dashboard import create_app

    with serving() as serve, opening(browser) as make:
        building = _demo(
            tmp_path_factory.mktemp("read") / DEMO.name, lambda session: serve(create_app(session).server)
        )
        page = make()
        page.goto(building.url)
        page.wait_for_selector("#plan .unit")
        page.wait_for_selector("#doors .row")
        page.floor = page.locator('#floors [aria-pressed="true"]').get_attribute("data-floor")
        yield page, building
        assert building.new_rows() == [], "a test that writes has a building of its own"


@pytest.fixture
def reading(plan_read: tuple[Any, Open]) -> tuple[Any, Open]:
    """The page of :func:`plan_read` with all that a reader may have chosen put back."""
    page, building = plan_read
    page.emulate_media(media="null")
    for shown, way_back in (("#panel", "Escape"), ("#time-bar", "#today")):
        if page.locator(shown).is_visible():
            if way_back.startswith("#"):
                page.locator(way_back).click()
            else:
                page.keyboard.press(way_back)
            page.wait_for_selector(shown, state="hidden")
    # All are asked in one go and touched only where they stand otherwise: a touch costs as much as a test.
    floor = f'#floors [data-floor="{page.floor}"]'
    shape, level, view, only, find = page.evaluate(
        """floor => [
            document.querySelector("#plan.one") !== null,
            document.querySelector(`${floor}[aria-pressed="true"]`) !== null,
            document.querySelector("#view").selectedIndex === 0,
            document.querySelector("#only").value === "",
            document.querySelector("#find").value === "",
        ]""",
        floor,
    )
    if not shape:
        page.locator('[data-shape="one"]').click()
        page.wait_for_selector("#plan.one")
    if not level:
        page.locator(floor).click()
        page.wait_for_selector(f'{floor}[aria-pressed="true"]')
    if not view:
        page.locator("#view").select_option(index=0)
    if not only:
        page.locator("#only").select_option("")
    if not find:
        page.locator("#find").fill("")
    page.locator("#zoom-whole").click()
    page.evaluate("""() => {
        document.querySelectorAll("details[open]").forEach((one) => { one.open = false; });
        window.scrollTo(0, 0);
        document.activeElement.blur();
    }""")
    return page, building

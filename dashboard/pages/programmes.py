"""Programmes side by side: runs in a thread of the server, curves as they build, money at once."""

from __future__ import annotations

import logging
import threading
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np
from flask import Blueprint, Flask, Response, jsonify, render_template, request

from dashboard.pages import Page
from dashboard.pages.bar import bar_html
from dashboard.pages.programmes_figures import shown
from spread.errors import SpreadError
from spread.programmes.begin import begin_of, rings_of
from spread.programmes.columns import PROTOCOL
from spread.programmes.kernel import new_kept, run_block
from spread.programmes.money import PRICES_FILE, Prices, parse_prices, read_prices
from spread.programmes.programme import Programme
from spread.programmes.reading import presets
from spread.programmes.results import summarise
from spread.programmes.rules import encode
from spread.programmes.run import Runs, RunSettings, Simulated
from spread.programmes.tables import tables_of
from spread.session import Session

RUNS, WEEKS = (40, 100, 400, 1000), (26, 52, 104)
CHOSEN = ("complaint", "complaint-ranked")
PIECE = 20
"""Runs between two looks at the stop."""
PRICES = (
    ("hour", "A technician's hour"),
    ("survey", "Survey, a unit"),
    ("treatment", "Material of a treatment visit"),
    ("loss", "Owner's loss, an infested unit-week"),
)


class Work:
    """The one simulation of a session: started, watched and stopped from any thread."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.simulations = 0
        self.error = ""
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._stop = threading.Event()
        self._done: Simulated | None = None

    @property
    def running(self) -> bool:
        """Whether it is at work."""
        return self._thread is not None and self._thread.is_alive()

    @property
    def done(self) -> Simulated | None:
        """What is done so far."""
        return self._done

    def start(self, chosen: list[Programme], settings: RunSettings) -> bool:
        """Start; False when one is at work already."""
        with self._lock:
            if self.running:
                return False
            self._stop = threading.Event()
            self._done, self.error = None, ""
            self.simulations += 1
            self._thread = threading.Thread(
                target=self._run, args=(chosen, settings, self._stop), daemon=True
            )
            self._thread.start()
            return True

    def stop(self) -> None:
        """Stop after the piece at work; what is done is kept."""
        self._stop.set()

    def _run(self, chosen: list[Programme], settings: RunSettings, stop: threading.Event) -> None:
        try:
            self._pieces(chosen, settings, stop)
        except SpreadError as error:
            self.error = str(error)
        except Exception:
            logging.getLogger(__name__).exception("the simulation failed")
            self.error = "The simulation failed; the server's log says why."

    def _pieces(self, chosen: list[Programme], settings: RunSettings, stop: threading.Event) -> None:
        """As :func:`spread.programmes.run.simulate`, with what is done shown after every piece."""
        view, pace = self.session.view, self.session.building.settings.pace
        begin = begin_of(view, runs=settings.runs, seed=settings.seed, pace=pace)
        tables, shots = tables_of(view.dynamics), np.zeros(0, np.int64)
        units = begin.levels.shape[1]
        kept = [new_kept(settings.runs, settings.weeks, units) for _ in chosen]
        jobs: list[tuple[Any, ...]] = [(*encode(p, pace), rings_of(view, p.ring)) for p in chosen]
        done = 0
        with ThreadPoolExecutor(settings.workers) as pool:
            while done < settings.runs and not stop.is_set():
                last = min(done + settings.chunk, settings.runs)
                same: tuple[Any, ...] = (done, last, settings.seed, settings.weeks, begin, tables)
                pieces = [
                    pool.submit(run_block, *(*same, *job, shots, k))
                    for job, k in zip(jobs, kept, strict=True)
                ]
                for piece in pieces:
                    piece.result()
                done = last
                runs = tuple(Runs(p, k.first(done)) for p, k in zip(chosen, kept, strict=True))
                self._done = Simulated(runs, settings, units, done)


def prices_of(session: Session, sent: Mapping[str, Any]) -> Prices:
    """Return the building's prices with those of the page instead; SettingsError for what is no price."""
    pace = session.building.settings.pace
    own = session.building.folder / PRICES_FILE
    usual = read_prices(own, pace=pace) if own.is_file() else Prices().with_pace(pace)
    table: dict[str, object] = {}
    for key, _ in PRICES:
        text = str(sent.get(key, "")).strip().replace(",", ".")
        if text:
            try:
                table[key] = float(text)
            except ValueError:
                table[key] = text
    material = table.pop("treatment", None)
    if material is not None:
        table["material"] = dict.fromkeys(usual.material, material)
    asked = parse_prices(table, "Prices", pace=pace)
    changed = {key: getattr(asked, key) for key in table}
    return replace(usual, **changed)


def add_programmes(server: Flask, session: Session) -> None:
    """Put the page and its addresses on a server."""
    pages = Blueprint("programmes", __name__, template_folder="templates")
    work = Work(session)
    server.extensions["programmes"] = work

    @pages.get("/programmes")
    def programmes_page() -> str:
        usual = prices_of(session, {})
        filled = {"hour": usual.hour, "survey": usual.of_look(PROTOCOL), "loss": usual.loss}
        return render_template(
            "programmes.html",
            bar=bar_html("/programmes"),
            building=session.plan.name,
            programmes=presets(),
            chosen=CHOSEN,
            runs=RUNS,
            weeks=WEEKS,
            prices=[(k, w, f"{filled[k]:g}" if k in filled else "as listed") for k, w in PRICES],
            currency=usual.currency,
        )

    @pages.post("/programmes/start")
    def start() -> Response:
        sent = _sent()
        keys = sent.get("programmes")
        chosen = [p for p in presets() if isinstance(keys, list) and p.key in keys]
        if not 2 <= len(chosen) <= 4:
            return jsonify(ok=False, problem="Choose two to four programmes.")
        if sent.get("runs") not in RUNS or sent.get("weeks") not in WEEKS:
            return jsonify(ok=False, problem="Choose runs and weeks from the lists.")
        settings = RunSettings(weeks=sent["weeks"], runs=sent["runs"], chunk=PIECE)
        if not work.start(chosen, settings):
            return jsonify(ok=False, problem="A comparison is running already; stop it first.")
        return jsonify(ok=True)

    @pages.post("/programmes/stop")
    def stop() -> Response:
        work.stop()
        return jsonify(ok=True)

    @pages.post("/programmes/now")
    def now() -> Response:
        running, done = work.running, work.done  # in this order: what ends in between is seen next time
        answer: dict[str, Any] = {
            "ok": not work.error,
            "problem": work.error,
            "running": running,
            "simulations": work.simulations,
            "done": done.done if done else 0,
            "asked": done.settings.runs if done else 0,
        }
        if done is not None:
            try:
                answer["shown"] = shown(summarise(done, prices_of(session, _sent())))
            except SpreadError as error:
                answer |= {"ok": False, "problem": str(error)}
        return jsonify(answer)

    server.register_blueprint(pages)


def _sent() -> Mapping[str, Any]:
    sent = request.get_json(silent=True)
    return sent if isinstance(sent, dict) else {}


PAGE = Page("/programmes", "Programmes", "Programmes side by side", routes=add_programmes)

"""Small buildings for tests: a folder on disk through ``spread start``, and a view of made chances.

Maple Row is invented: two floors of six units along a hallway, odd codes on one side and even codes
on the other, so that 101, 103 and 105 stand side by side with 201, 203 and 205 above them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path

import networkx as nx
import numpy as np

from spread.contacts.graph import build_contacts
from spread.contacts.links import Link
from spread.decisions.view import View
from spread.plan.drawing.reading import parse_unit_list
from spread.plan.model import Plan
from spread.plan.unit_list import draw_plan
from spread.posterior.diagnostics import Diagnostics
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.kinds import Record
from spread.records.log import Log
from spread.session import Session
from spread.start import draw_building
from spread.weeks import week_of

ON = dt.date(2024, 5, 15)
"""A Wednesday; every test counts its days from here, so that none depends on the clock."""
SHORT = FitSettings(weeks=26, sweeps=100, most_sweeps=100, warmup=30, chains=2)
CODES = tuple(f"{floor}{number:02d}" for floor in (1, 2) for number in range(1, 7))
TOML = 'name = "Maple Row"\nfloors = ["1", "2"]\n\n[model]\nhistory_weeks = 26\n'


def day(ago: int) -> dt.date:
    """Return the day some days before :data:`ON` (after it if negative)."""
    return ON - dt.timedelta(days=ago)


def row(unit: str, ago: int, kind: str = "inspection", method: str = "", found: str = "", **more) -> Record:
    """Make a record some days before :data:`ON`; its id counts up where none is given."""
    if kind == "inspection" and not method:
        method = "brief-visual"
    more["evidence"] = frozenset(filter(None, more.get("evidence", "").split("+")))
    words = (kind, method, found, more.get("level", ""), "+".join(sorted(more["evidence"])))
    more.setdefault("id", f"t-{unit}-{ago + 5000}-{'-'.join(filter(None, words)).replace('+', '.')}")
    return Record(when=day(ago), unit=unit, kind=kind, method=method, found=found, **more)


def find(unit: str, ago: int, level: str = "low", **more) -> Record:
    return row(unit, ago, "inspection", more.pop("method", "brief-visual"), "yes", level=level, **more)


def clear(unit: str, ago: int, method: str = "brief-visual", **more) -> Record:
    return row(unit, ago, "inspection", method, "no", **more)


def treatment(unit: str, ago: int, method: str = "combined", **more) -> Record:
    return row(unit, ago, "treatment", method, **more)


def report(unit: str, ago: int, **more) -> Record:
    return row(unit, ago, "report", **more)


def make_building(
    folder: Path, rows: Iterable[Record] = (), *, codes: Iterable[str] = CODES, toml: str = TOML
) -> Path:
    """Write a building's folder through :func:`spread.start.draw_building`; return it."""
    folder.mkdir(parents=True)
    (folder / "building.toml").write_text(toml, encoding="utf-8")
    units = folder.parent / f"{folder.name}-list.csv"
    units.write_text("unit,floor\n" + "".join(f"{code},{code[0]}\n" for code in codes), encoding="utf-8")
    draw_building(units, folder, layout="double-loaded")
    rows = list(rows)
    if rows:
        lines = "".join(to_line(to_fields(record)) for record in rows)
        (folder / "records.csv").write_text(HEADER + lines, encoding="utf-8")
    return folder


def open_building(folder: Path, on: dt.date = ON, **more) -> Session:
    """Open a folder with a fit just long enough to move in the right direction."""
    return Session.open(folder, on=on, settings=more.pop("settings", SHORT), **more)


@cache
def maple_row() -> Plan:
    """The same building as a plan, drawn once."""
    units = parse_unit_list("unit,floor\n" + "".join(f"{code},{code[0]}\n" for code in CODES))
    return draw_plan(units, "double-loaded", floors=("1", "2"), name="Maple Row")


@cache
def maple_contacts(links: tuple[Link, ...] = ()) -> nx.MultiGraph:
    return build_contacts(maple_row(), links=links)


def view_of(
    rows: Iterable[Record] = (),
    chances: Mapping[str, float] | None = None,
    *,
    graph: nx.MultiGraph | None = None,
    on: dt.date = ON,
    level: int = 2,
    otherwise: float = 0.02,
    good: bool = True,
    **more,
) -> View:
    """A view whose chances are given and not inferred: all of a unit's chance lies on one level."""
    graph = maple_contacts() if graph is None else graph
    network, dynamics = network_of(graph), central_dynamics()
    chance = np.array([(chances or {}).get(unit, otherwise) for unit in network.units])
    levels = np.zeros((network.size, 5))
    levels[:, 0], levels[:, level] = 1.0 - chance, chance
    rhat = 1.0 if good else 1.2
    posterior = Posterior(
        units=network.units,
        on=on,
        first_week=week_of(on) - 25,
        levels=levels,
        weekly=np.repeat(chance[:, None], 26, axis=1),
        shedding=np.repeat((levels @ dynamics.shedding)[:, None], 26, axis=1),
        draws=np.zeros((10, network.size), dtype=np.int8),
        log_weights=np.zeros(10),
        diagnostics=Diagnostics(2, 500, 10, 0.1, rhat, rhat, 900.0, 900.0, 50.0),
        seed=1,
    )
    return View(graph, network, dynamics, Log(tuple(rows)), posterior, **more)

"""A simulated firm: buildings that lived under hidden rates around a centre of the firm's own."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np

from spread.building import LOG_FILE, SETTINGS_FILE, UNITS_FILE
from spread.contacts.graph import build_contacts
from spread.errors import SpreadError
from spread.files import write_whole
from spread.plan.drawing.reading import parse_unit_list
from spread.plan.model import Plan
from spread.plan.unit_list import draw_plan
from spread.posterior.dynamics import Dynamics, Floats, central_dynamics, network_of
from spread.records.folder import as_file
from spread.trade.routes import ROUTES
from spread.weeks import monday_of, week_of
from spread.worlds.practice import usual_practice

WEEKS = 78
BETWEEN = 0.3
"""Standard deviation between buildings, of the logarithm of each rate."""
OFF = 2.5
"""How far the firm's own centre is off: bugs come in so much more rarely, and spread so much faster."""


def make_firm(folder: Path, number: int, seed: int, on: dt.date | None = None) -> dt.date:
    """Write buildings' folders: a unit list, settings and the log that the usual practice wrote.

    ``number``: of buildings; ``on``: a day of the week after their logs, today if None; a seed gives the same
    firm again. Returns the last day of the logs. Raises SpreadError where the folder is not empty.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise SpreadError.at(folder.name, "", "it is there and not empty", "name a new folder")
    folder.mkdir(parents=True, exist_ok=True)
    last = week_of(on or dt.date.today()) - 1
    for k in range(number):
        rng = np.random.default_rng([seed, k])
        floors, doors = int(rng.integers(3, 6)), int(rng.integers(8, 13))
        home = folder / f"house-{k + 1:0{len(str(number))}d}"
        make_building(home, f"House {k + 1}", rng, floors, doors, WEEKS, last)
    return monday_of(last) + dt.timedelta(days=6)


def make_building(
    home: Path, name: str, rng: np.random.Generator, floors: int, doors: int, weeks: int, last: int
) -> None:
    """Write one building's folder; ``last``: number of the last week of its log of so many ``weeks``.

    The log is written last, so that a folder which has one is whole.
    """
    plan, listed = drawn(floors, doors, name)
    graph = build_contacts(plan)
    records, _ = usual_practice(
        network_of(graph),
        graph,
        dynamics_around(rng, OFF, BETWEEN),
        weeks=weeks,
        rng=rng,
        start_date=monday_of(last - weeks + 1),
    )
    home.mkdir(parents=True, exist_ok=True)
    named = ", ".join(f'"{floor}"' for floor in plan.floors)
    settings = f'name = "{name}"\nfloors = [{named}]\n\n[plan]\nlayout = "double-loaded"\n'
    write_whole(home / SETTINGS_FILE, settings)
    write_whole(home / UNITS_FILE, listed)
    write_whole(home / LOG_FILE, as_file(records))


def drawn(floors: int, doors: int, name: str) -> tuple[Plan, str]:
    """Return a building with doors on both sides of a hallway, and its unit list."""
    lines = [f"{f}{k:02d},{f},{k:02d}" for f in range(1, floors + 1) for k in range(1, doors + 1)]
    listed = "\n".join(["unit,floor,stack", *lines]) + "\n"
    return draw_plan(parse_unit_list(listed), "double-loaded", name=name), listed


def factors_of(off: float) -> Floats:
    """Return the factor of each rate in a firm where bugs spread so much faster and come in so much rarer."""
    return np.array([1.0 / off, 1.0, *[off] * len(ROUTES), 1.0])


def dynamics_around(rng: np.random.Generator, off: float | Floats, between: float) -> Dynamics:
    """Return the rates of one building of a firm.

    ``off``: how far its centre is from the literature's, as for :func:`factors_of`, or each rate's factor.
    """
    usual = central_dynamics()
    centre = factors_of(off) if isinstance(off, float) else off
    own = centre * np.exp(between * rng.standard_normal(len(usual.theta)))
    return replace(
        usual,
        brought_in=usual.brought_in * own[0],
        mixing=usual.mixing * own[1],
        rates=usual.rates * own[2:-1],
        move_in=usual.move_in * own[-1],
    )

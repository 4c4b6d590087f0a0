"""Small real sessions for tests of pages and servers: a made plan, a log as asked for, and a short fit.

The session and its model are the product's own; only the plan is made, and the fit is short. A building is
fitted once a process, and each session works on its own folder.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from shapely import Point, Polygon, box

from spread.building import LOG_FILE, Building, load_building
from spread.firm.fitting import Asked, fit_one
from spread.firm.places import places_at
from spread.firm.simulated import make_firm
from spread.plan import Bed, Door, Plan, Shaft, Space, Unit, write_plan
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import network_of
from spread.posterior.fit import FitSettings, fit
from spread.records.kinds import FIELDS
from spread.records.store import FolderStore
from spread.session import Session, dynamics_of, history_weeks

ON = dt.date(2026, 11, 25)
"""The day of a session that is not asked for another one."""
QUICK = FitSettings(weeks=53, chains=2, warmup=10, sweeps=50, most_sweeps=50, workers=1)
"""Too short for figures that anybody acts on, long enough to be a posterior."""
QUICKER = replace(QUICK, warmup=3, sweeps=10, most_sweeps=10)
"""For a thousand units, where their number matters and not their chances."""
BRIEF = FitSettings(chains=2, warmup=30, sweeps=100, most_sweeps=100)
"""Of a demo, where a test is about what people do and not about chances: its refits run to the end."""
Row = tuple[str, int, str, str, str]
"""Unit, days before the session's day, kind, method, found."""
LIVED_IN: tuple[Row, ...] = (
    ("101", 400, "inspection", "thorough-visual", "no"),
    ("201", 90, "inspection", "thorough-visual", "yes"),
    ("201", 60, "treatment", "spray", ""),
    ("104", 12, "inspection", "thorough-visual", "yes"),
)
"""One unit to treat (104), one treated and to look at again (201), and a past of more than a year."""
_fits: dict[tuple[int, int, tuple[Row, ...], dt.date, FitSettings], tuple[Building, Posterior]] = {}


def made_plan(floors: int = 3, a_side: int = 6, *, front: float = 7.0, name: str = "Made House") -> Plan:
    """A double-loaded building; the first unit of each floor is an L around the stair."""
    units: dict[str, Unit] = {}
    hallways, doors, beds, commons = [], [], [], []
    names = tuple(str(number + 1) for number in range(floors))
    depth, hall, wall = 8.0, 1.8, 0.2
    length = a_side * front
    for level, floor in enumerate(names):
        hallways.append(Space(f"hall-{floor}", "hallway", floor, box(0, depth, length, depth + hall)))
        for place in range(a_side):
            for side in (0, 1):
                code = f"{level + 1}{place * 2 + side + 1:02d}"
                left, right = place * front + wall / 2, (place + 1) * front - wall / 2
                low, high = (0, depth) if side == 0 else (depth + hall, 2 * depth + hall)
                shape = box(left, low, right, high)
                if place == 0 and side == 0:
                    shape = Polygon([(left, 0), (right, 0), (right, depth), (3, depth), (3, 4), (left, 4)])
                if level == 0 and place == a_side - 1 and side == 1:
                    commons.append(Space("laundry", "common", floor, shape))
                    continue
                units[code] = Unit(code, {floor: shape}, stack=code[-2:])
                at_y = depth if side == 0 else depth + hall
                doors.append(Door(f"door-{code}", code, floor, Point(right - 1.2, at_y)))
                beds.append(
                    Bed(f"bed-{code}", code, floor, Point(left + 1.6, low + 1.4 if side == 0 else high - 1.4))
                )
    risers = tuple(
        Shaft(f"riser-{place}", "riser", names, box(place * front - 0.35, 2.0, place * front + 0.35, 2.7))
        for place in range(1, a_side, 2)
    )
    stair = Shaft("stair-1", "stair", names, box(0.1, 4.2, 2.8, 8.0))
    return Plan(
        name=name, floors=names, units=units, hallways=tuple(hallways), commons=tuple(commons),
        doors=tuple(doors), shafts=(*risers, stair), beds=tuple(beds),
    )  # fmt: skip


def small_session(
    folder: Path,
    floors: int = 2,
    a_side: int = 3,
    *,
    rows: Iterable[Row] = (),
    on: dt.date = ON,
    live: bool = False,
    worn: bool = False,
    settings: FitSettings = QUICK,
) -> Session:
    """Open a small building in a folder, which is made where there is none yet.

    ``floors``, ``a_side``: size, as in :func:`made_plan`. ``rows``: its log. ``on``: the day of the answers.
    ``live``: whether rows are for today. ``worn``: whether the draws are worn out, so that the next row
    starts a refit. ``settings``: length of the fit.
    """
    rows = tuple(rows)
    lay_out(folder, floors, a_side, rows, on)
    key = (floors, a_side, rows, on, settings)
    if key not in _fits:
        building = load_building(folder)
        known = network_of(building.contacts), building.log.current, dynamics_of(building)
        weeks = history_weeks(building.log, on, settings.weeks)
        _fits[key] = building, fit(*known, on=on, settings=replace(settings, weeks=weeks))
    first, posterior = _fits[key]
    # Plan and contacts never change, and are dear to read; the log of each folder is its own.
    codes = set(first.plan.units)
    store = FolderStore(folder / LOG_FILE, codes)
    building = replace(first, folder=folder, codes=codes, store=store)
    return Session(building, replace(posterior, late=worn), settings, live=live)


def lay_out(folder: Path, floors: int, a_side: int, rows: tuple[Row, ...], on: dt.date) -> None:
    """Write a small building's folder as of :func:`small_session`, where there is none yet."""
    if (folder / "building.toml").exists():
        return
    folder.mkdir(parents=True, exist_ok=True)
    plan = made_plan(floors, a_side)
    named = ", ".join(f'"{floor}"' for floor in plan.floors)
    (folder / "building.toml").write_text(f'name = "{plan.name}"\nfloors = [{named}]\n', encoding="utf-8")
    write_plan(plan, folder / "plan.geojson")
    if rows:
        with (folder / LOG_FILE).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, FIELDS)
            writer.writeheader()
            for number, (unit, ago, kind, method, found) in enumerate(rows, 1):
                day = (on - dt.timedelta(days=ago)).isoformat()
                writer.writerow(
                    {"id": f"made-{number:04d}", "when": day, "unit": unit, "kind": kind, "method": method,
                     "found": found, "level": "low" if found == "yes" else ""}
                )  # fmt: skip


def fitted_firm(folder: Path, number: int, seed: int, asked: Asked) -> Asked:
    """Simulated buildings in a folder, fitted in this process; return what their fits were asked for."""
    asked = replace(asked, on=make_firm(folder, number, seed, ON))
    for key in places_at(str(folder)).keys():  # noqa: SIM118 - no mapping
        assert fit_one(str(folder), key, asked).state == "fitted"
    return asked

"""What a stranger calls from Python: open a building, invent one, rank its doors."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from importlib.metadata import version
from pathlib import Path
from typing import Any, Protocol

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from spread.building import LOG_FILE, PLAN_FILE, SETTINGS_FILE, load_building
from spread.contacts.graph import build_contacts
from spread.decisions.doors.ranking import rank_doors
from spread.decisions.doors.why import Why
from spread.decisions.view import View
from spread.errors import SettingsError, SpreadError
from spread.files import write_whole
from spread.firm.simulated import drawn
from spread.plan.geojson import write_plan
from spread.plan.model import Plan
from spread.posterior.dynamics import Dynamics, central_dynamics, network_of
from spread.posterior.fit import FitSettings
from spread.records.folder import as_file
from spread.records.kinds import LOOKS, Record
from spread.report.exchange.draws import Draws, draws_of
from spread.report.exchange.graph import known_contacts
from spread.report.exchange.tables import units_table
from spread.session import Session
from spread.weeks import monday_of, week_of
from spread.worlds.practice import usual_practice

__version__ = version("spread")
METHOD = LOOKS[0]


class Building:
    """A building opened for reading on a day; :func:`open_building` makes one.

    Attributes
    ----------
    session
        The open building as the program itself uses it.
    """

    def __init__(self, session: Session) -> None:
        self.session = session

    def __repr__(self) -> str:
        units, floors, rows = len(self.plan.units), len(self.plan.floors), len(self.session.view.log.rows)
        what = ", ".join((_count(units, "unit"), _count(floors, "floor"), _count(rows, "record")))
        return f"<Building {self.plan.name}: {what}, on {self.on.isoformat()}>"

    @property
    def name(self) -> str:
        """What the building is called."""
        return self.plan.name

    @property
    def on(self) -> dt.date:
        """The day the answers are for."""
        return self.session.on

    @property
    def plan(self) -> Plan:
        """The plan in metres: units, hallways, doors, risers, stairs."""
        return self.session.plan

    @property
    def view(self) -> View:
        """Everything that decisions look at."""
        return self.session.view

    @cached_property
    def contacts(self) -> nx.MultiGraph:
        """The contact graph: a node a unit, an edge a route, with ``pos``, ``chance`` and ``hazard``.

        See :func:`spread.report.exchange.graph.known_contacts` for what each of them means.
        """
        return known_contacts(self.session)

    @cached_property
    def posterior(self) -> Draws:
        """The draws of the fit as arrays labelled by chain, draw and unit."""
        return draws_of(self.session)

    def doors(self) -> list[dict[str, Any]]:
        """Return a record for each unit, next door first; ``pandas.DataFrame`` takes the list as it is.

        The columns are those of the file ``units.csv``, with what a visit is worth beside them.
        """
        heads, *rows = units_table(self.session)
        known = {row[0]: dict(zip(map(str, heads), row, strict=True)) for row in rows}
        effort = ("opens", "worth_of_find", "worth", "minutes", "per_hour")
        return [
            {**known[door.unit], **{name: getattr(door, name) for name in effort}}
            for door in self.session.doors()
        ]

    def why(self, unit: str) -> Why:
        """Explain one unit: evidence, likely sources, what to do next.

        Raises
        ------
        SpreadError
            If the building has no such unit.
        """
        return self.session.why(unit)


def open_building(
    folder: str | Path,
    *,
    on: dt.date | str | None = None,
    seed: int | None = None,
    settings: FitSettings | None = None,
) -> Building:
    """Open a building's folder for reading: read it and fit its log.

    Parameters
    ----------
    folder
        The building's folder.
    on
        The day the answers are for, as a date or ISO text; today if None.
    seed
        Seed of the sampler; the building's own if None.
    settings
        Length of the fit.

    Raises
    ------
    SpreadError
        With every problem of the first file that has any.
    """
    return Building(Session.open(folder, on=_day(on), seed=seed, settings=settings))


class Seen(Protocol):
    """What a policy is given: a :class:`Building`, or what the open benchmark shows."""

    @property
    def view(self) -> View:
        """Everything known on the day."""


def rank(view: Seen, *, order: str | None = None, method: str | None = None) -> list[str]:
    """Return the units to look at, best first: the product's own policy.

    It is a policy of the open benchmark too: ``--policy spread:rank``.

    Parameters
    ----------
    view
        A :class:`Building`, or what a policy of the benchmark is given.
    order
        ``find`` or ``benefit``; the building's own if None, and else ``find``.
    method
        How the technician will look; the building's own if None, and else a brief look.
    """
    if isinstance(view, Building):
        return [door.unit for door in view.session.doors(method, order) if door.status == "look"]
    # The benchmark tries every unit that is not known infested, those of the watch after clearance too.
    rows, seen = rank_doors(view.view, method or METHOD, order=order or "find"), view.view.standings
    return [door.unit for door in rows if seen[door.unit].status == "look"]


@dataclass(frozen=True, repr=False)
class Simulation:
    """An invented building whose truth is known.

    Parameters
    ----------
    plan
        Its plan.
    contacts
        Its contact graph.
    records
        The log that the usual practice wrote.
    truth
        Shape (units, weeks): hidden level of every unit, 0 clear to 4 heavy, at the end of every week.
    first_monday
        Of the first week of the log.
    """

    plan: Plan
    contacts: nx.MultiGraph
    records: tuple[Record, ...]
    truth: NDArray[np.int8]
    first_monday: dt.date

    @property
    def on(self) -> dt.date:
        """The last day of the log: the Sunday of its last week."""
        return self.first_monday + dt.timedelta(weeks=self.truth.shape[1], days=-1)

    @property
    def infested(self) -> tuple[str, ...]:
        """Units that are infested at the end, whether anybody knows or not."""
        return tuple(
            unit for unit, level in zip(self.plan.units, self.truth[:, -1], strict=True) if level > 0
        )

    def __repr__(self) -> str:
        counts = (len(self.plan.units), "unit"), (self.truth.shape[1], "week"), (len(self.records), "record")
        what = ", ".join(_count(number, word) for number, word in counts)
        infested = f"{len(self.infested)} infested on {self.on.isoformat()}"
        return f"<Simulation of {self.plan.name}: {what}, {infested}>"

    def save(self, folder: str | Path) -> Path:
        """Write a building's folder that :func:`open_building` reads: plan, settings and log, not the truth.

        Raises
        ------
        SpreadError
            If the folder is there and not empty.
        """
        folder = Path(folder)
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise SpreadError.at(str(folder), "", "it is there and not empty", "name a new folder")
        folder.mkdir(parents=True, exist_ok=True)
        write_plan(self.plan, folder / PLAN_FILE)
        floors = ", ".join(f'"{floor}"' for floor in self.plan.floors)
        height = self.plan.storey_height
        settings = f'name = "{self.plan.name}"\nfloors = [{floors}]\n\n[plan]\nstorey_height_m = {height}\n'
        write_whole(folder / SETTINGS_FILE, settings)
        write_whole(folder / LOG_FILE, as_file(self.records))
        return folder


def simulate(
    folder: str | Path | None = None,
    *,
    floors: int = 3,
    doors: int = 8,
    weeks: int = 52,
    on: dt.date | str = "2026-11-20",
    seed: int = 1,
    dynamics: Dynamics | None = None,
) -> Simulation:
    """Invent a building's life: what was hidden, and the log that the usual practice wrote of it.

    Parameters
    ----------
    folder
        A building whose plan is used; its own log is not read into the simulation. None draws a hallway with
        doors on both sides.
    floors, doors
        Of the drawn building: floors, and doors on each.
    weeks
        Length of the log.
    on
        A day of its last week.
    seed
        The same seed gives the same life.
    dynamics
        The hidden rates; the package's central ones if None.

    Raises
    ------
    SettingsError
        For numbers out of range.
    """
    for name, value, most in (("floors", floors, 60), ("doors", doors, 98), ("weeks", weeks, 520)):
        if not 1 <= value <= most:
            what = f"{name} is {value}, expected 1 to {most}"
            raise SettingsError.at("simulate", name, what, "give a number in that range")
    if folder is None:
        plan = _drawn(floors, doors)
        contacts = build_contacts(plan)
    else:
        building = load_building(folder)
        plan, contacts = building.plan, building.contacts
    last = week_of(_day(on) or dt.date.today())
    first = monday_of(last - weeks + 1)
    records, truth = usual_practice(
        network_of(contacts),
        contacts,
        dynamics or central_dynamics(),
        weeks=weeks,
        rng=np.random.default_rng(seed),
        start_date=first,
    )
    return Simulation(plan, contacts, records, truth, first)


def _drawn(floors: int, doors: int) -> Plan:
    return drawn(floors, doors, f"simulated, {floors} floors of {doors} doors")[0]


def _day(on: dt.date | str | None) -> dt.date | None:
    if not isinstance(on, str):
        return on
    try:
        return dt.date.fromisoformat(on)
    except ValueError:
        fix = "write it as in 2026-11-25"
        raise SettingsError.at("day", "on", f"{on[:40]!r} is not a day", fix) from None


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"

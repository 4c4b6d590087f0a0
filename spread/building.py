"""A building's folder, read whole: settings, plan with its dated changes, contacts and log."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import networkx as nx

from spread.contacts.bed import place_beds
from spread.contacts.graph import build_contacts
from spread.errors import PlanError, Problem, SettingsError, SpreadError
from spread.plan.access import unknown_units
from spread.plan.amending import amend
from spread.plan.changes import CHANGES_FILE, Change, read_changes
from spread.plan.checks import check_plan
from spread.plan.geojson import plan_of, read_plan
from spread.plan.model import Plan
from spread.plan.unit_list import draw_plan, read_unit_list
from spread.records.disk import read_bytes
from spread.records.following import Homes
from spread.records.log import Log
from spread.records.store import FolderStore, Store
from spread.settings import BuildingSettings, read_settings
from spread.settled import settled
from spread.trade.experience import POOLED_FILE, Experience, experience_beside, experience_of
from spread.trade.rules import load_rules

SETTINGS_FILE = "building.toml"
PLAN_FILE = "plan.geojson"
UNITS_FILE = "units.csv"
LOG_FILE = "records.csv"


@dataclass(frozen=True, slots=True)
class Building:
    """A building as its folder describes it.

    ``name``: what it is called. ``folder``: where it was read from. ``plan``, ``contacts``, ``settings``: its
    parts, as they are today. ``store``: where its log is kept as it was recorded, and what is the matter
    there. ``warnings``: what the plan leaves out, and what is lost by it. ``changes``: of the drawing, as
    they are kept; ``homes``: what codes became by them; ``codes``: what the store takes, shared with it.
    ``redrawn``: a drawing that is not kept yet, and the name of its file. ``experience``: what the firm's
    buildings taught one another; None where nobody pooled them.
    """

    name: str
    folder: Path
    plan: Plan
    contacts: nx.MultiGraph
    store: Store
    settings: BuildingSettings
    warnings: tuple[Problem, ...] = field(default=())
    changes: tuple[Change, ...] = ()
    homes: Homes = field(default_factory=lambda: Homes((), ()), compare=False)
    codes: set[str] = field(default_factory=set, compare=False)
    redrawn: tuple[bytes, str] | None = None
    experience: Experience | None = None

    @property
    def log(self) -> Log:
        """Everything recorded, as last looked at, each row at the unit of today that it is about."""
        return self.homes.follow(self.store.log)

    def __repr__(self) -> str:
        return (
            f"Building({self.name!r}: {len(self.plan.units)} units, "
            f"{self.contacts.number_of_edges()} contacts, {len(self.log.rows)} records)"
        )


def load_building(folder: str | Path) -> Building:
    """Read a building's folder.

    ``plan.geojson`` is used where it exists, and otherwise a plan is drawn from ``units.csv``;
    ``records.csv`` may be missing or empty.

    ``folder``: holds ``building.toml`` and one of the plan files; or a building of an office, as
    ``office.db#elm`` or ``postgresql+psycopg://user@host/office#elm``, whose files are then laid out in a
    folder that lives as long as the program. Raises SpreadError with every problem of the first step that has
    any: settings, then plan, then the units that the settings name, then log, because floors are needed to
    read a plan and units for the rest.
    """
    office, _, key = str(folder).rpartition("#")
    if office and not Path(folder).exists():
        return _from_office(office, key)
    folder = Path(folder)
    building = _read(folder, lambda codes: FolderStore(folder / LOG_FILE, codes))
    return replace(building, experience=experience_beside(folder))


def _from_office(url: str, key: str) -> Building:
    from spread.office.buildings import firm_file_in, lay_out  # noqa: PLC0415 - most people have no office
    from spread.office.connecting import open_office  # noqa: PLC0415
    from spread.office.rows import OfficeStore  # noqa: PLC0415

    engine = open_office(url)
    building = _read(lay_out(engine, key), lambda codes: OfficeStore(engine, key, codes))
    return replace(building, experience=experience_of(firm_file_in(engine, POOLED_FILE), key))


def _read(folder: Path, store_of: Callable[[set[str]], Store]) -> Building:
    """Read the files of a folder, and the log from where it is kept."""
    _check_folder(folder)
    changes = read_changes(read_bytes(folder / CHANGES_FILE, CHANGES_FILE))
    codes: set[str] = set()
    return _with(folder, changes, codes, lambda homes: store_of(_more(codes, homes)))


def with_changes(building: Building, changes: Sequence[Change]) -> Building:
    """Return a building as it would be with other changes of its drawing; nothing is kept.

    Raises SpreadError as :func:`load_building` does.
    """
    made = _with(
        building.folder, tuple(changes), building.codes, lambda _homes: building.store, building.redrawn
    )
    return replace(made, experience=building.experience)


def with_drawing(building: Building, data: bytes, file: str = PLAN_FILE) -> Building:
    """Return a building as it would be with another drawing and the changes that it has; nothing is kept.

    ``data``: the new drawing, as :func:`spread.plan.geojson.parse_plan` takes it; ``file``: as sentences name
    it. Raises SpreadError as :func:`load_building` does.
    """
    made = _with(
        building.folder, building.changes, building.codes, lambda _homes: building.store, (data, file)
    )
    return replace(made, experience=building.experience)


def _more(codes: set[str], homes: Homes) -> set[str]:
    codes |= homes.codes
    return codes


def _with(
    folder: Path,
    changes: tuple[Change, ...],
    codes: set[str],
    store_of: Callable[[Homes], Store],
    redrawn: tuple[bytes, str] | None = None,
) -> Building:
    settings = read_settings(folder / SETTINGS_FILE)
    height = settings.storey_height
    drawing = (
        load_plan(folder, settings)
        if redrawn is None
        else plan_of(redrawn[0], settings.floors, name=settings.name, storey_height=height, file=redrawn[1])
    )
    amended = amend(drawing, changes)
    errors, warnings = check_plan(amended.plan)
    if errors:
        raise PlanError(errors)
    homes = Homes(changes, amended.plan.units.keys())
    settings = settled(settings, changes, homes, amended.plan)
    plan = place_beds(amended.plan, settings.beds)
    contacts = _contacts(plan, settings, folder)
    found = (*amended.unfit, *warnings)
    store = store_of(homes)
    return Building(
        settings.name, folder, plan, contacts, store, settings, found, changes, homes, codes, redrawn
    )


def load_plan(folder: Path, settings: BuildingSettings) -> Plan:
    """Read the drawing of a folder, or draw its unit list; the plan is not checked yet."""
    drawing = folder / PLAN_FILE
    if drawing.exists():
        return read_plan(drawing, settings.floors, name=settings.name, storey_height=settings.storey_height)
    return _draw(folder / UNITS_FILE, settings)


def _contacts(plan: Plan, settings: BuildingSettings, folder: Path) -> nx.MultiGraph:
    """Build the contacts; raise one error for every unit or rule set of the settings that is not there."""
    contacts = nx.MultiGraph()
    problems: list[Problem] = []
    try:
        contacts = build_contacts(plan, links=settings.links)
    except SettingsError as error:
        problems += error.problems
    problems += unknown_units(settings.access, plan.units, file=SETTINGS_FILE)
    try:
        load_rules(settings.rules, folder, settings.holidays)
    except SettingsError as error:
        problems += [
            replace(p, file=SETTINGS_FILE, where="[rules], setting 'set'") if p.file == "rules" else p
            for p in error.problems
        ]
    if problems:
        raise SettingsError(problems)
    return contacts


def _check_folder(folder: Path) -> None:
    """Raise one error for everything that is missing."""
    shown = folder.name or str(folder)
    if not folder.is_dir():
        if folder.exists():
            fix = f"name the folder that holds {SETTINGS_FILE} and not a file in it"
            raise SpreadError.at(shown, "", "it is a file, expected a building's folder", fix)
        raise SpreadError.at(shown, "", "there is no such folder", "check its name and where you are working")
    problems = []
    if not (folder / SETTINGS_FILE).exists():
        fix = 'write one with at least name = "Elm Court" and floors = ["1", "2"]'
        problems.append(Problem(shown, "", f"it has no {SETTINGS_FILE}", fix))
    if not (folder / PLAN_FILE).exists() and not (folder / UNITS_FILE).exists():
        fix = f"add a drawing, or a list of units with the columns unit and floor as {UNITS_FILE}"
        problems.append(Problem(shown, "", f"it has neither {PLAN_FILE} nor {UNITS_FILE}", fix))
    if problems:
        raise SpreadError(problems)


def _draw(path: Path, settings: BuildingSettings) -> Plan:
    return draw_plan(
        read_unit_list(path),
        settings.layout or None,
        floors=settings.floors,
        name=settings.name,
        storey_height=settings.storey_height,
    )

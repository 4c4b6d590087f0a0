"""A new building's folder from a unit list: drawn, checked and written, or nothing at all."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import math
import re
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path

from spread.building import LOG_FILE, PLAN_FILE, SETTINGS_FILE, UNITS_FILE
from spread.errors import PlanError, Problem, RecordError, SpreadError
from spread.files import write_whole
from spread.plan.checks import check_plan
from spread.plan.geojson import write_plan
from spread.plan.listing import clean_list
from spread.plan.model import Plan
from spread.plan.unit_list import UnitList, choose_layout, draw_plan, read_unit_list
from spread.records import Record, new_id, record_from_fields
from spread.records.folder import as_file
from spread.settings import read_settings
from spread.trade.rules import DEFAULT as DEFAULT_RULES
from spread.trade.rules import rule_ids

PRICES_FILE = "prices.toml"
MOST_AN_HOUR = 10_000
_SLUG = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?")
_DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
"""Names that Windows keeps for itself."""


def draw_building(
    units: Path | UnitList,
    folder: Path,
    *,
    layout: str | None = None,
    name: str | None = None,
    replace: bool = False,
    log: Sequence[Record] = (),
) -> tuple[Plan, str]:
    """Draw a unit list and write it as a building's folder.

    Returns what was drawn, and one sentence on the layout. Raises SpreadError with every problem of the list;
    nothing is written then.

    ``units``: the unit list, a text file or a workbook. Of it only what is read is kept in the folder, as
    CSV. ``folder``: made if it is missing. A ``building.toml`` that is there already is read and kept.
    ``layout``: how the building is laid out; chosen from the list if None. ``name``: what it is called; the
    folder's name if None. ``replace``: whether a ``plan.geojson`` that is there may be drawn over.
    ``log``: rows that a log which is not there yet begins with.
    """
    if folder.exists() and not folder.is_dir():
        raise SpreadError.at(str(folder), "", "it is a file, expected a folder", "name another folder")
    if (folder / PLAN_FILE).exists() and not replace:
        fix = "draw into another folder, or add --replace to draw over it"
        raise SpreadError.at(
            str(folder / PLAN_FILE), "", "it is there already and may be corrected by hand", fix
        )
    rows = read_unit_list(units) if isinstance(units, Path) else units
    settings = read_settings(folder / SETTINGS_FILE) if (folder / SETTINGS_FILE).exists() else None
    chosen, why = choose_layout(rows)
    if layout := layout or (settings.layout if settings else ""):
        chosen, why = layout, f"Drawn as {layout}, as asked."
    called = (name or "").strip() or (settings.name if settings else _name_of(folder))
    plan = draw_plan(
        rows, chosen, floors=settings.floors if settings else None, name=called, source=PLAN_FILE
    )
    errors, _ = check_plan(plan)
    if errors:
        raise PlanError(errors)
    files = {UNITS_FILE: clean_list(rows)}
    if settings is None:
        files[SETTINGS_FILE] = _settings_text(plan, chosen)
    if log:
        files[LOG_FILE] = as_file(log).decode("utf-8")
    _write(plan, folder, {name: text for name, text in files.items() if not (folder / name).exists()})
    return plan, why


def _name_of(folder: Path) -> str:
    """Return a building's name from its folder's: ``elm-court`` is ``Elm court``."""
    words = folder.resolve().name.replace("-", " ").replace("_", " ").strip() or "Building"
    return words[0].upper() + words[1:]


def _write(plan: Plan, folder: Path, files: Mapping[str, str]) -> None:
    """Write the folder's files, the plan last; what was new is taken away again if one cannot be written."""
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    new: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            new.append(folder / name)
            write_whole(folder / name, text)
        write_plan(plan, folder / PLAN_FILE)
    except (OSError, SpreadError) as error:
        with contextlib.suppress(OSError):
            for path in new:
                path.unlink(missing_ok=True)
            for path in made:
                path.rmdir()
        if isinstance(error, SpreadError):
            raise
        reason = (error.strerror or "unknown reason").lower()
        raise SpreadError.at(
            str(folder), "", f"it cannot be written ({reason})", "name a folder you may write to"
        ) from None


def create_building(
    parent: Path,
    slug: str,
    plan: Plan,
    units: str = "",
    layout: str = "",
    *,
    rules: str = DEFAULT_RULES,
    hour: float | None = None,
    records: Sequence[Mapping[str, str]] = (),
    moves: Sequence[Record] = (),
    more: Mapping[str, str] | None = None,
) -> Path:
    """Write a new building's folder beside others, whole or not at all.

    Returns the new folder. Raises SpreadError with every problem; nothing is written then, and nothing that
    is there is touched.

    ``parent``: the folder of buildings; nothing is written anywhere else. ``slug``: name of the new folder:
    small letters, digits and hyphens. ``plan``, ``units``, ``layout``: the plan as it was corrected, and the
    unit list and layout that it was drawn from; empty if it was traced. ``rules``: Id of a rule set.
    ``hour``: what a technician's hour costs; the package's own figure if None. ``records``: First rows of the
    log, by field. ``moves``: rows that were read already. ``more``: other files of the folder, by name.
    """
    problems = list(check_plan(plan)[0])
    if not _SLUG.fullmatch(slug) or slug in _DEVICES:
        what = f"{slug[:40]!r} is no name for a folder"
        fix = "use 1 to 40 small letters, digits and hyphens, such as elm-court"
        problems.append(Problem("The new building", "folder", what, fix))
    elif (parent / slug).exists() or (parent / slug).is_symlink():
        what = f"there is a {slug!r} already, and nothing is ever written over"
        problems.append(Problem("The new building", "folder", what, "choose another name"))
    if rules not in rule_ids():
        what = f"there is no rule set {rules[:40]!r}"
        problems.append(Problem("The new building", "rules", what, "choose one of the list"))
    if hour is not None and not (math.isfinite(hour) and 0 < hour <= MOST_AN_HOUR):
        what = f"an hour was to cost {hour:g}, expected more than 0 and at most {MOST_AN_HOUR}"
        problems.append(Problem("The new building", "price of an hour", what, "give the price of one hour"))
    rows = [*moves]
    for number, fields in enumerate(records, start=1):
        try:
            row = {"id": new_id(), **{name: value for name, value in fields.items() if value}}
            rows.append(
                record_from_fields(
                    row, plan.units, file="First records", where=f"row {number}", today=dt.date.today()
                )
            )
        except RecordError as error:
            problems += error.problems
    if problems:
        raise SpreadError(problems)
    settings = _settings_text(plan, layout) + f"\n[rules]\nset = {json.dumps(rules)}\n"
    files = {**(more or {}), SETTINGS_FILE: settings, **({UNITS_FILE: units} if units else {})}
    if hour is not None:
        files[PRICES_FILE] = f"hour = {hour:g}  # a technician's hour\n"
    if rows:
        files[LOG_FILE] = as_file(rows).decode("utf-8")
    return _write_new(parent / slug, plan, files)


def _write_new(folder: Path, plan: Plan, files: Mapping[str, str]) -> Path:
    """Write a folder that must not be there yet; on failure take away what was written."""
    try:
        folder.mkdir()  # fails, and writes nothing, if somebody made it meanwhile
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        fix = "choose another name"
        raise SpreadError.at("The new building", "folder", f"it cannot be made ({reason})", fix) from None
    try:
        for name, text in files.items():
            write_whole(folder / name, text)
        write_plan(plan, folder / PLAN_FILE)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return folder


def _settings_text(plan: Plan, layout: str) -> str:
    """Return a first ``building.toml``. A JSON string is a TOML string too, so JSON does the quoting."""
    floors = json.dumps(list(plan.floors), ensure_ascii=False)
    text = f"name = {json.dumps(plan.name, ensure_ascii=False)}\nfloors = {floors}  # lowest first\n"
    return text + (f"\n[plan]\nlayout = {json.dumps(layout)}\n" if layout else "")

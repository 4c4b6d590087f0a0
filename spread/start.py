"""A new building's folder from a unit list: drawn, checked and written, or nothing at all."""

from __future__ import annotations

import contextlib
import json
import shutil
from pathlib import Path

from spread.building import PLAN_FILE, SETTINGS_FILE, UNITS_FILE
from spread.errors import PlanError, Problem, SpreadError
from spread.files import write_whole
from spread.plan.checks import check_plan
from spread.plan.geojson import write_plan
from spread.plan.model import Plan
from spread.plan.unit_list import choose_layout, draw_plan, read_unit_list
from spread.settings import read_settings


def draw_building(
    units: Path, folder: Path, *, layout: str | None = None, name: str | None = None, replace: bool = False
) -> tuple[Plan, str]:
    """Draw a unit list and write it as a building's folder.

    Parameters
    ----------
    units
        The unit list.
    folder
        Made if it is missing. A ``building.toml`` that is there already is read and kept.
    layout
        How the building is laid out; chosen from the list if None.
    name
        What it is called; the folder's name if None.
    replace
        Whether a ``plan.geojson`` that is there may be drawn over.

    Returns
    -------
    plan, why
        What was drawn, and one sentence on the layout.

    Raises
    ------
    SpreadError
        With every problem of the list; nothing is written then.
    """
    if folder.exists() and not folder.is_dir():
        raise SpreadError(Problem(str(folder), "", "it is a file, expected a folder", "name another folder"))
    if (folder / PLAN_FILE).exists() and not replace:
        fix = "draw into another folder, or add --replace to draw over it"
        raise SpreadError(
            Problem(str(folder / PLAN_FILE), "", "it is there already and may be corrected by hand", fix)
        )
    rows = read_unit_list(units)
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
    _write(plan, units, folder, "" if settings else _settings_text(plan, chosen))
    return plan, why


def _name_of(folder: Path) -> str:
    """Return a building's name from its folder's: ``elm-court`` is ``Elm court``."""
    words = folder.resolve().name.replace("-", " ").replace("_", " ").strip() or "Building"
    return words[0].upper() + words[1:]


def _write(plan: Plan, units: Path, folder: Path, settings: str) -> None:
    """Write the folder's files, the plan last; what was new is taken away again if one cannot be written."""
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    new: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if settings:
            new.append(folder / SETTINGS_FILE)
            write_whole(folder / SETTINGS_FILE, settings)
        if not (folder / UNITS_FILE).exists():
            new.append(folder / UNITS_FILE)
            shutil.copyfile(units, folder / UNITS_FILE)
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
        raise SpreadError(
            Problem(str(folder), "", f"it cannot be written ({reason})", "name a folder you may write to")
        ) from None


def _settings_text(plan: Plan, layout: str) -> str:
    """Return a first ``building.toml``. A JSON string is a TOML string too, so JSON does the quoting."""
    floors = json.dumps(list(plan.floors), ensure_ascii=False)
    return (
        f"name = {json.dumps(plan.name, ensure_ascii=False)}\n"
        f"floors = {floors}  # lowest first\n\n[plan]\nlayout = {json.dumps(layout)}\n"
    )

"""Programmes from TOML: those that come with the package, and one's own."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import fields
from importlib.resources import files
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.programmes.columns import METHODS, PROTOCOL, TREATMENTS
from spread.programmes.programme import (
    Clearance,
    Complaint,
    Programme,
    Ranked,
    Ring,
    Survey,
    Treatment,
    Vacant,
    Watch,
)
from spread.toml_file import read_toml
from spread.toml_table import TomlTable
from spread.trade.clearance import BOUNDS, ClearanceRule
from spread.trade.registry import UNCONFIRMED
from spread.trade.rules import rule_ids

LARGEST_FILE = 100_000  #: Bytes of a programme; a longer file is something else
CONFIRMING = tuple(method for method in METHODS if method not in UNCONFIRMED and method != PROTOCOL)
PRESETS = (
    "complaint", "complaint-ring", "complaint-ranked", "survey-brief", "survey-interceptors", "survey-dog",
    "sweep-then-ranked", "survey-twice-a-year",
)  # fmt: skip
"""Keys of the programmes that come with the package, in the order in which they are listed."""
_SIDES = "LRUD"


def presets() -> tuple[Programme, ...]:
    """Return the programmes that come with the package."""
    return tuple(preset(key) for key in PRESETS)


def preset(key: str) -> Programme:
    """Return one of :data:`PRESETS`; raises SettingsError for an unknown key."""
    if key not in PRESETS:
        fix = f"choose from {', '.join(PRESETS)}, or name a TOML file of your own"
        raise SettingsError(Problem("programmes", "", f"there is no programme {key[:40]!r}", fix))
    text = (files("spread.programmes") / "presets" / f"{key}.toml").read_text(encoding="utf-8")
    return parse_programme(tomllib.loads(text), f"{key}.toml", key=key)


def find_programme(name: str, folder: Path | None = None) -> Programme:
    """Return a programme by its key, or from a TOML file in the building's folder or anywhere.

    ``name``: a key of :data:`PRESETS`, or a path that ends in ``.toml``; ``folder``: the building's folder; a
    relative path is looked for there first.
    """
    if not name.endswith(".toml"):
        return preset(name)
    path = folder / name if folder is not None and (folder / name).is_file() else Path(name)
    return read_programme(path)


def read_programme(path: Path) -> Programme:
    """Read a programme of one's own; raises SettingsError with every problem of the file."""
    what = "name a small TOML file"
    fix = 'write at least name = "..."'
    table = read_toml(path, largest=LARGEST_FILE, too_large=what, missing=fix)
    return parse_programme(table, path.name, key=path.stem)


def parse_programme(table: Mapping[str, object], file: str, *, key: str) -> Programme:
    """Turn a parsed TOML table into a programme; see :func:`read_programme`."""
    top = TomlTable(file, "", table)
    programme = Programme(
        key=key,
        name=top.text("name", None),
        words=top.text("words", ""),
        complaint=_complaint(top.part("complaint")),
        ring=_ring(top.part("ring")),
        ranked=_ranked(top.part("ranked")),
        survey=_survey(top.part("survey")),
        vacant=_vacant(top.part("vacant")),
        watch=_watch(top.part("watch")),
        confirm=top.word("confirm", Programme("", "").confirm, CONFIRMING),
        treatment=_treatment(top.part("treatment")),
        clearance=_clearance(top.part("clearance")),
        notice=top.flag("notice", True),
    )
    if not any((programme.complaint, programme.ranked, programme.survey, programme.vacant)):
        top.fail("complaint", "nothing makes anybody look", "add [complaint], [ranked], [survey] or [vacant]")
    top.settle()
    return programme


def _complaint(row: TomlTable | None) -> Complaint | None:
    usual = Complaint()
    if row is None:
        return None
    return Complaint(
        row.word("method", usual.method, METHODS),
        row.whole("within_weeks", usual.within_weeks, 0, 8),
        row.whole("tries", usual.tries, 1, 20),
    )


def _ring(row: TomlTable | None) -> Ring | None:
    usual = Ring()
    if row is None:
        return None
    rules = row.text("rules", usual.rules)
    letters = rules.upper()
    if rules != "building" and rules not in rule_ids() and not (rules and set(letters) <= set(_SIDES)):
        known = ", ".join(rule_ids())
        row.fail(
            "rules",
            f"{rules[:40]!r} is no ring",
            f"write 'building', letters of {_SIDES} or a rule set of {known}",
        )
    return Ring(
        rules,
        row.flag("across", usual.across),
        row.word("method", usual.method, METHODS),
        row.whole("within_weeks", usual.within_weeks, 1, 26),
        row.whole("tries", usual.tries, 1, 20),
    )


def _ranked(row: TomlTable | None) -> Ranked | None:
    usual = Ranked()
    if row is None:
        return None
    minutes = row.number("minutes", 0.0, 0.0, 100_000.0)
    both = "doors" in row.values and "minutes" in row.values
    if both:
        row.fail("minutes", "doors and minutes are both there", "keep one of them")
    return Ranked(
        row.whole("doors", 0 if minutes else usual.doors, 0 if minutes else 1, 10_000),
        minutes,
        row.whole("every_weeks", usual.every_weeks, 1, 104),
        row.whole("from_week", usual.from_week, 0, 520),
        row.word("method", usual.method, METHODS),
        row.whole("tries", usual.tries, 1, 20),
    )


def _survey(row: TomlTable | None) -> Survey | None:
    usual = Survey()
    if row is None:
        return None
    return Survey(
        row.whole("every_weeks", usual.every_weeks, 1, 520),
        row.whole("times", usual.times, 0, 1000),
        row.whole("from_week", usual.from_week, 0, 520),
        row.whole("over_weeks", usual.over_weeks, 1, 52),
        row.word("method", usual.method, METHODS),
        row.whole("tries", usual.tries, 1, 20),
    )


def _vacant(row: TomlTable | None) -> Vacant | None:
    return None if row is None else Vacant(row.word("method", Vacant().method, CONFIRMING))


def _watch(row: TomlTable | None) -> Watch | None:
    usual = Watch()
    if row is None:
        return None
    return Watch(
        row.word("method", usual.method, METHODS),
        row.whole("every_weeks", usual.every_weeks, 1, 104),
        row.whole("weeks", usual.weeks, 1, 156),
        row.whole("tries", usual.tries, 1, 20),
    )


def _treatment(row: TomlTable | None) -> Treatment:
    usual = Treatment()
    if row is None:
        return usual
    return Treatment(
        row.word("method", usual.method, TREATMENTS),
        row.whole("within_weeks", usual.within_weeks, 0, 26),
        row.whole("every_weeks", usual.every_weeks, 1, 26),
        row.whole("heat_after", usual.heat_after, 0, 50),
        row.flag("encase", usual.encase),
    )


def _clearance(row: TomlTable | None) -> Clearance:
    if row is None:
        return Clearance()
    usual = ClearanceRule()

    def whole(key: str) -> int | None:
        least, most = BOUNDS[key]
        known = row.whole(key, getattr(usual, key), int(least), int(most))
        return known if key in row.values else None

    chance = row.number("chance", usual.chance, *BOUNDS["chance"])
    clearance = Clearance(
        periods=whole("periods"),
        heavy_periods=whole("heavy_periods"),
        period_days=whole("period_days"),
        looks=whole("looks"),
        chance=chance if "chance" in row.values else None,
        monitors=row.flag("monitors", True),
    )
    if "clean" in row.values:
        row.fail("clean", "clearance goes by the rule of the building", "write periods = 3 to change it here")
        row.asked.append("clean")
    return clearance


def triggers(programme: Programme) -> tuple[str, ...]:
    """Return the names of the triggers that a programme has."""
    names = ("complaint", "ring", "ranked", "survey", "vacant", "watch")
    return tuple(f.name for f in fields(programme) if f.name in names and getattr(programme, f.name))

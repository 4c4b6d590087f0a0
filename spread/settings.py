"""``building.toml``: what a building is called, its floors, and what its managers chose."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from spread.contacts.bed import HALLWAY, OUTSIDE, BedPlace
from spread.contacts.links import Link
from spread.plain import unseen
from spread.plan.access import DAYS, MIDNIGHT, AccessRule, minute_of
from spread.plan.unit_list import LAYOUTS
from spread.records.kinds import LEVELS
from spread.toml_file import read_toml
from spread.toml_table import TomlTable
from spread.trade.clearance import BOUNDS, COUNTING_MONITORS, ClearanceRule
from spread.trade.crew import HOURS, WORK_DAYS, Technician
from spread.trade.pace import Households, Pace
from spread.trade.prices import WEEK_COSTS
from spread.trade.registry import LOOKING
from spread.trade.routes import BY_HAND
from spread.trade.rules import DEFAULT as DEFAULT_RULES

LARGEST_FILE = 1_000_000
"""Bytes of a ``building.toml``; a longer file is something else."""
ORDERS = ("find", "benefit")
"""What doors are ranked by: finds a knock, or weeks averted a minute."""
MOST_CODE = 12  #: Longest work code of a technician
SIDES = "LRUD"
"""Letters of a ring rule: left, right, up and down."""

_EXAMPLE = 'name = "Elm Court"'


@dataclass(frozen=True, slots=True)
class BuildingSettings:
    """The settings of a building, each with its default.

    Parameters
    ----------
    name
        What the building is called.
    floors
        Floor names, lowest first.
    storey_height
        Metres from floor to floor (``[plan] storey_height_m``).
    layout
        How to draw a unit list (``[plan] layout``); empty to have it chosen from the list.
    prevalence
        Share of units infested at the start of the history (``[model] prevalence``).
    history_weeks
        Length of the history window in weeks.
    seed
        Seed of the sampler.
    method
        What a technician does at a door unless told otherwise (``[doors] method``).
    ring
        Which neighbours of a known infested unit are always on the list: letters of LRUD, or empty.
    across
        Whether the unit across the hallway is one of them.
    top
        How many doors are listed.
    order
        What lists and rounds maximise, a word of :data:`ORDERS` (``[doors] order``).
    week_costs
        What an infested week costs at each level, trace to heavy, against a light one (``[weeks]``).
    links
        Ties given by hand (``[[links]]``).
    pace
        Minutes of a visit, walking speed and the prior of a shut door (``[minutes]``), and the households of
        runs ahead (``[households]``).
    access
        Time windows and do-not-enter marks (``[[access]]``).
    rules
        Rule set of the duties: an id, or a TOML file in the building's folder (``[rules] set``).
    holidays
        Days that are no business days, whatever the rule set says (``[rules] holidays``).
    clearance
        What has to hold before a unit is called cleared, and the warmth of the rooms (``[clearance]``).
    technicians
        Who goes, with hours a day and days, by work codes (``[[technicians]]``).
    beds
        Sleeping places given by hand (``[[beds]]``); a unit's own replace those that its drawing shows.
    budget
        Money set aside a month, in the currency of its prices (``[month] budget``); 0 where nobody said.
    """

    name: str
    floors: tuple[str, ...]
    storey_height: float = 2.8
    layout: str = ""
    prevalence: float = 0.05
    history_weeks: int = 104
    seed: int = 1
    method: str = "brief-visual"
    ring: str = SIDES
    across: bool = False
    top: int = 15
    order: str = "find"
    week_costs: tuple[float, ...] = WEEK_COSTS
    links: tuple[Link, ...] = ()
    pace: Pace = field(default_factory=Pace)
    access: tuple[AccessRule, ...] = ()
    rules: str = DEFAULT_RULES
    holidays: tuple[dt.date, ...] = ()
    clearance: ClearanceRule = field(default_factory=ClearanceRule)
    beds: tuple[BedPlace, ...] = ()
    budget: float = 0.0
    technicians: tuple[Technician, ...] = ()


def read_settings(path: Path, *, shown_as: str | None = None) -> BuildingSettings:
    """Read ``building.toml``.

    Raises SettingsError with every problem of the file.
    """
    file = shown_as or path.name
    table = read_toml(
        path,
        largest=LARGEST_FILE,
        too_large=f"give it a few lines such as {_EXAMPLE}",
        shown_as=file,
        missing=f'write one with at least {_EXAMPLE} and floors = ["1", "2"]',
        fix=f"write settings as in {_EXAMPLE}, text in quotes",
    )
    return parse_settings(table, file)


def parse_settings(table: Mapping[str, object], file: str = "building.toml") -> BuildingSettings:
    """Turn a parsed TOML table into settings; see :func:`read_settings`."""
    top = TomlTable(file, "", table)
    name = top.text("name", None)
    floors = _floors(top, "floors")
    plan, model, doors, rules = (top.table(key) for key in ("plan", "model", "doors", "rules"))
    if model.take("rate_scale") is not None:
        model.fail(
            "rate_scale",
            "it is not used any more: the log moves the rates from where published buildings are met",
            "delete the line",
        )
    rows = top.tables("links")
    minutes, marks, cleared = top.table("minutes"), top.tables("access"), top.table("clearance")
    households = top.table("households")
    beds, weeks, crew = top.tables("beds"), top.table("weeks"), top.tables("technicians")
    settings = BuildingSettings(
        name=name,
        floors=floors,
        storey_height=plan.number("storey_height_m", 2.8, 1.8, 12.0),
        layout=plan.word("layout", "", LAYOUTS),
        prevalence=model.number("prevalence", 0.05, 0.0001, 0.9),
        history_weeks=model.whole("history_weeks", 104, 4, 520),
        seed=model.whole("seed", 1, 0, 2**32 - 1),
        method=doors.word("method", "brief-visual", tuple(LOOKING)),
        ring=_ring(doors, "ring"),
        across=doors.flag("across", False),
        top=doors.whole("top", 15, 1, 10_000),
        order=doors.word("order", "find", ORDERS),
        week_costs=tuple(
            weeks.number(level, usual, 0.0, 100.0) for level, usual in zip(LEVELS, WEEK_COSTS, strict=True)
        ),
        links=tuple(link for row in rows if (link := _link(row)) is not None),
        pace=replace(_pace(minutes), households=_households(households)),
        access=tuple(rule for row in marks if (rule := _access(row)) is not None),
        rules=rules.text("set", DEFAULT_RULES),
        holidays=rules.dates("holidays"),
        clearance=_clearance(cleared),
        beds=tuple(bed for row in beds if (bed := _bed(row)) is not None),
        budget=top.table("month").number("budget", 0.0, 0.0, 1e9),
        technicians=_crew(crew),
    )
    top.settle()
    return settings


def _link(row: TomlTable) -> Link | None:
    a, b = row.text("a", None), row.text("b", None)
    words = row.text("why", None)
    strength = row.number("strength", 1.0, 0.001, 20.0)
    route = row.word("route", "link", BY_HAND)
    if a and a == b:
        row.fail("b", f"it ties unit {a!r} to itself", "name two different units")
    return Link(a, b, words, strength, route) if a and b else None


def _bed(row: TomlTable) -> BedPlace | None:
    unit, floor, against = row.text("unit", None), row.text("floor", ""), row.text("against", "")
    x, y = (row.metres(key) for key in ("x", "y"))
    if bool(against) == (x is not None or y is not None) or (x is None) != (y is None):
        row.fail(
            "against",
            "it takes one way to say where the bed stands",
            f'write x and y in metres, or against = "{HALLWAY}", "{OUTSIDE}" or the neighbour\'s unit code',
        )
        return None
    return BedPlace(unit, floor, x, y, against) if unit else None


def _pace(table: TomlTable) -> Pace:
    usual = Pace()
    look = {method: table.number(method, known, 0.5, 480.0) for method, known in usual.look.items()}
    return replace(
        usual.with_look(look),
        knock=table.number("knock", usual.knock, 0.0, 60.0),
        metres_per_minute=table.number("metres_per_minute", usual.metres_per_minute, 5.0, 200.0),
        no_access=table.number("no_access", usual.no_access, 0.001, 0.99),
        no_access_visits=table.number("no_access_visits", usual.no_access_visits, 0.1, 1000.0),
    )


def _households(table: TomlTable) -> Households:
    usual = Households()
    return Households(
        stay_weeks=table.number("stay_weeks", usual.stay_weeks, 4.0, 2000.0),
        empty_weeks=table.number("empty_weeks", usual.empty_weeks, 1.0, 520.0),
        refuses=table.number("refuses", usual.refuses, 0.0, 0.9),
        not_prepared=table.number("not_prepared", usual.not_prepared, 0.0, 0.9),
    )


def _clearance(table: TomlTable) -> ClearanceRule:
    usual = ClearanceRule()

    def whole(key: str) -> int:
        least, most = BOUNDS[key]
        return table.whole(key, getattr(usual, key), int(least), int(most))

    periods = whole("periods")
    heavy = whole("heavy_periods")
    if heavy < periods and "heavy_periods" in table.values:
        table.fail(
            "heavy_periods",
            f"it is {heavy}, fewer than the {periods} of any unit",
            "write as many or more here",
        )
    return ClearanceRule(
        periods=periods,
        heavy_periods=max(heavy, periods),
        period_days=whole("period_days"),
        looks=whole("looks"),
        chance=table.number("chance", usual.chance, *BOUNDS["chance"]),
        watch_months=whole("watch_months"),
        encasements=table.flag("encasements", usual.encasements),
        monitors=table.words("monitors", usual.monitors, COUNTING_MONITORS),
        room_celsius=table.number("room_celsius", usual.room_celsius, *BOUNDS["room_celsius"]),
    )


def _access(row: TomlTable) -> AccessRule | None:
    unit, why = row.text("unit", None), row.text("why", "")
    shut = row.flag("do_not_enter", False)
    clocks = {key: row.text(key, "") for key in ("from", "to")}
    opens, closes = (_minute(row, key, clock) for key, clock in clocks.items())
    days = _days(row, "days")
    if shut and any(clocks.values()):
        row.fail("do_not_enter", "it stands beside times", "give times in a table of their own, or none")
    if not shut and not any(clocks.values()) and not days:
        row.fail(
            "from",
            "it allows every hour of every day",
            'write from = "09:00" and to = "12:00", days, or do_not_enter = true',
        )
    opens, closes = (0 if opens is None else opens), (MIDNIGHT if closes is None else closes)
    if opens >= closes:
        row.fail(
            "to",
            f"it is {clocks['to']!r}, not after {clocks['from'] or '00:00'!r}",
            "write the later time here",
        )
    return AccessRule(unit, opens, closes, days, shut, why) if unit else None


def _crew(rows: Sequence[TomlTable]) -> tuple[Technician, ...]:
    crew: dict[str, Technician] = {}
    for row in rows:
        code, hours = row.text("code", None), row.number("hours", HOURS, 0.25, 24.0)
        days = _days(row, "days") or WORK_DAYS
        if len(code) > MOST_CODE or unseen(code):
            row.fail("code", "it is no work code", 'write a short one, as in code = "T1"; never a name')
        if code in crew:
            row.fail("code", f"{code[:20]!r} is there twice", "give each technician a code of their own")
        crew[code] = Technician(code, 60.0 * hours, days)
    return tuple(crew.values())


def _minute(row: TomlTable, key: str, clock: str) -> int | None:
    minute = minute_of(clock) if clock else None
    if clock and minute is None:
        row.fail(key, f"{clock[:20]!r} is no time of day", f'write it as in {key} = "09:30"')
    return minute


def _floors(table: TomlTable, key: str) -> tuple[str, ...]:
    value = table.take(key)
    fix = f'list them lowest first, as in {key} = ["1", "2", "3"]'
    if not isinstance(value, list):
        if value is None:
            table.fail(key, "it is missing", fix)
        else:
            table.wrong_type(key, value, "a list of floor names", fix)
        return ()
    names = [str(floor).strip() for floor in value if isinstance(floor, str | int) and floor is not True]
    if len(names) < len(value) or not all(names):
        table.fail(key, "one of them is not a name", fix)
    elif not names:
        table.fail(key, "it is empty", fix)
    elif odd := next(filter(None, map(unseen, names)), ""):
        table.fail(key, f"a name holds a character that is not seen ({odd})", "type it again")
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        table.fail(key, f"floor {twice[0]!r} is there twice", "give each floor its own name")
    return tuple(names)


def _ring(table: TomlTable, key: str) -> str:
    value = table.take(key)
    if value is None:
        return SIDES
    letters = value.upper() if isinstance(value, str) else "?"
    if set(letters) - set(SIDES) or len(set(letters)) < len(letters):
        table.fail(
            key,
            f"it is {str(value)[:20]!r}, expected letters of {SIDES} (left, right, up, down), each once",
            f'write for example {key} = "{SIDES}"',
        )
        return SIDES
    return letters


def _days(table: TomlTable, key: str) -> tuple[str, ...]:
    value = table.take(key)
    if value is None:
        return ()
    fix = f'list them as in {key} = ["mon", "thu"]'
    if not isinstance(value, list) or not value:
        table.wrong_type(key, value, "a list of days", fix)
        return ()
    words = [str(day).strip().lower()[:3] if isinstance(day, str) else "" for day in value]
    if unknown := [day for day, word in zip(value, words, strict=True) if word not in DAYS]:
        table.fail(key, f"{str(unknown[0])[:20]!r} is no day", fix)
    return tuple(day for day in DAYS if day in words)

"""When a unit may be entered: time windows and do-not-enter marks, as a building's settings give them.

A mark says nothing about people: a unit, a time and a reason such as ``"key at the office"``.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from spread.errors import Problem, SettingsError, told
from spread.facts import Fact
from spread.trade.crew import WEEKDAYS

DAYS = WEEKDAYS
MIDNIGHT = 24 * 60
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


@dataclass(frozen=True, slots=True)
class AccessRule:
    """One ``[[access]]`` table.

    ``unit``: unit code. ``opens``, ``closes``: minutes after midnight between which a visit must begin and
    end. ``days``: words of :data:`DAYS` that it holds on; empty for every day. ``do_not_enter``: whether it
    forbids those days and allows nothing. ``why``: a few words that go into lists; never about people.
    """

    unit: str
    opens: int = 0
    closes: int = MIDNIGHT
    days: tuple[str, ...] = ()
    do_not_enter: bool = False
    why: str = ""

    def holds_on(self, day: dt.date) -> bool:
        """Whether the rule is for that day of the week."""
        return not self.days or DAYS[day.weekday()] in self.days


@dataclass(frozen=True, slots=True)
class Access(Fact):
    """When a unit may be entered on one day.

    Parameters
    ----------
    kind
        ``shut`` by a do-not-enter mark, ``hours`` for within some windows, or ``another-day`` for windows on
        other days.
    windows
        Minutes after midnight; none at all: not on this day.
    reasons
        The words of the house's own ``[[access]]`` tables.
    """

    kind: Literal["shut", "hours", "another-day"]
    windows: tuple[tuple[int, int], ...] = ()
    reasons: tuple[str, ...] = ()


def minute_of(clock: str) -> int | None:
    """Return minutes after midnight of ``HH:MM`` (24:00 allowed), or None where it is no time of day."""
    if clock == "24:00":
        return MIDNIGHT
    match = _CLOCK.fullmatch(clock)
    return 60 * int(match[1]) + int(match[2]) if match else None


def clock_of(minute: float) -> str:
    """Return minutes after midnight as ``HH:MM``, to the nearest minute; the next day begins at 00:00."""
    hours, minutes = divmod(round(minute), 60)
    return f"{hours % 24:02d}:{minutes:02d}"


def unknown_units(
    rules: Sequence[AccessRule], units: Collection[str], *, file: str = "building.toml"
) -> list[Problem]:
    """Return a problem for every rule of a unit that is not on the plan."""
    return [
        Problem(
            file,
            told("access {number}, setting 'unit'", number=number),
            told("unit {unit} is not on the plan", unit=repr(rule.unit[:40])),
            told("correct the unit or remove the table"),
        )
        for number, rule in enumerate(rules, start=1)
        if rule.unit not in units
    ]


def access_on(
    rules: Sequence[AccessRule], units: Collection[str], day: dt.date, *, file: str = "building.toml"
) -> dict[str, Access]:
    """Return the units whose access is restricted on a day.

    A do-not-enter mark of the day outweighs every window. A unit with windows, none of them on this
    day, cannot be entered on it; several windows of a day allow any of them.

    Raises SettingsError for every rule of a unit that is not on the plan.
    """
    problems = unknown_units(rules, units, file=file)
    if problems:
        raise SettingsError(problems)
    restricted: dict[str, Access] = {}
    for unit in dict.fromkeys(rule.unit for rule in rules):
        mine = [rule for rule in rules if rule.unit == unit]
        today = [rule for rule in mine if rule.holds_on(day)]
        shut = [rule for rule in today if rule.do_not_enter]
        windows = [rule for rule in today if not rule.do_not_enter]
        if shut:
            restricted[unit] = Access("shut", (), _reasons(shut))
        elif windows:
            hours = tuple(sorted((rule.opens, rule.closes) for rule in windows))
            restricted[unit] = Access("hours", hours, _reasons(windows))
        elif any(not rule.do_not_enter for rule in mine):
            restricted[unit] = Access("another-day", (), _reasons(mine))
    return restricted


def _reasons(rules: Sequence[AccessRule]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(rule.why for rule in rules if rule.why))

"""The week planned: every door on a day on which it may be entered, and who goes there in which order.

Doors are given days by :mod:`spread.decisions.week.solve`; each day is then walked by the routing of a round.
What does not fit into its day once the walks are known goes on to the next one that is lawful, and the
minutes that a day has left are filled with doors of later days or of none. Nothing is planned on a day on
which notice of entry would not have run, moved by hand or not.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from spread.contacts.distances import Distances
from spread.decisions.round.making import plan_round
from spread.decisions.round.parts import (
    NINE,
    AskedFor,
    ForDuty,
    ForRevisit,
    ForTreatment,
    Must,
    Round,
    RoundSettings,
)
from spread.decisions.view import View
from spread.decisions.week.doors import Door
from spread.decisions.week.solve import assign
from spread.facts import Fact
from spread.plan.access import Access, AccessRule, access_on
from spread.plan.model import Plan
from spread.trade.crew import Technician

DAYS = 7
"""Today and the six days after it."""
WALK = 1.5
"""Minutes that a door takes beside the visit, until the walks are known (judgement: some 60 metres)."""
FILL = 8.0
"""Minutes left from which a day takes doors of later days too (judgement: a door and the way there)."""
EFFORT = 4
"""Rounds of the search for the walk of a day: a week is planned anew after every answer."""
FIRST = {ForDuty: 4.0, ForTreatment: 3.0, ForRevisit: 2.0}
"""What is owed goes first: each more than all that only promises finds (judgement); a ring counts 1."""

What = Literal["refused", "access", "notice", "time"]


@dataclass(frozen=True, slots=True)
class Waits(Fact):
    """A door that is on no day of the week, and what it waits for.

    ``refused``: an arrangement after a refusal. ``notice``: its notice cannot have run within the week, or
    what is on record is good for no working day of it. ``access``: the house's own marks shut it. ``time``:
    the hours are full.
    """

    door: Door
    what: What
    access: Access | None = None


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """One working day."""

    day: dt.date
    technicians: tuple[str, ...]  #: Work codes, in the order of the paths of the round
    round: Round


@dataclass(frozen=True, slots=True)
class WeekPlan:
    """A week of doors."""

    on: dt.date
    days: tuple[PlannedDay, ...]  #: The days on which somebody works
    doors: Mapping[str, Door]  #: Every door that was there to plan
    waits: tuple[Waits, ...]  #: Those on no day
    moved: tuple[str, ...] = ()  #: Units that stand on the day on which somebody put them
    let_go: tuple[NoMove, ...] = ()  #: Units that somebody put on a day that does not do any more, and why

    def day_of(self, unit: str) -> dt.date | None:
        """Return the day of a unit, or None."""
        return next((one.day for one in self.days if unit in one.round.units), None)

    def to_announce(self, day: dt.date) -> tuple[Door, ...]:
        """Return the doors of a day whose notice is still to be given, in the order of its rounds."""
        units = next((one.round.units for one in self.days if one.day == day), ())
        return tuple(door for u in units if not (door := self.doors[u]).entry.lawful_on(day))


@dataclass(frozen=True)
class WeekSettings:
    """What a week may take."""

    crew: tuple[Technician, ...]
    begins: int = NINE
    #: Days on which somebody put a unit by hand; those that are not lawful any more count for nothing
    moved: Mapping[str, dt.date] = field(default_factory=dict)
    access: tuple[AccessRule, ...] = ()
    round: RoundSettings = field(default_factory=RoundSettings)  #: Method, order, pace and seed of the rounds


def plan_week(
    view: View, plan: Plan, distances: Distances, doors: Sequence[Door], settings: WeekSettings
) -> WeekPlan:
    """Plan a week.

    ``doors``: what could be done (:func:`spread.decisions.week.doors.doors_of`). Raises SettingsError for
    what :func:`spread.decisions.round.making.plan_round` refuses.
    """
    days = working_days(view.on, settings.crew)
    shut = [access_on(settings.access, view.network.units, day) for day in days]
    open_on = [[_may(view, door, day, one) for day, one in zip(days, shut, strict=True)] for door in doors]
    moved = _moved(doors, days, open_on, settings.moved)
    chosen = _assigned(view, doors, days, open_on, moved, settings.crew)
    # Walks are shorter than was reckoned: who was told a day, or put on it, is tried on it all the same, and
    # what its own day has no time for goes on to the next: nobody is forgotten for having been moved.
    told = {
        doors[i].unit: one.index(True)
        for i, one in enumerate(open_on)
        if _told_one_day(doors[i]) and any(one)
    }
    held = told | moved
    chosen = [held.get(one.unit, -1) if day < 0 else day for one, day in zip(doors, chosen, strict=True)]
    planned: list[PlannedDay] = []
    gone: set[int] = set()
    for d, day in enumerate(days):
        free = [i for i in range(len(doors)) if i not in gone and open_on[i][d]]
        free = [i for i in free if moved.get(doors[i].unit, d) <= d]
        crew = [one for one in settings.crew if one.works_on(day)]
        first = [doors[i] for i in free if 0 <= chosen[i] <= d]
        walked = _walk(view, plan, distances, first, first, day, crew, settings)
        if any(_told_one_day(door) and door.unit not in walked.units for door in first):
            # Somebody waits for it: looked for longer before it is said that the day has no room.
            longer = _walk(view, plan, distances, first, first, day, crew, settings, effort=8 * EFFORT)
            walked = max(walked, longer, key=lambda one: len(one.units))
        if len(free) > len(first) and _idle(walked, crew) > FILL:
            stay = [door for door in first if door.unit in walked.units]
            walked = _walk(view, plan, distances, [doors[i] for i in free], stay, day, crew, settings)
        planned.append(PlannedDay(day, tuple(one.code for one in crew), walked))
        gone |= {i for i in free if doors[i].unit in walked.units}
    there = {unit for one in planned for unit in one.round.units}
    waits = [
        Waits(door, *_waits_for(door, days, shut, open_on[i]))
        for i, door in enumerate(doors)
        if door.unit not in there
    ]
    kept = tuple(u for u, d in moved.items() if u in planned[d].round.units)
    week = WeekPlan(view.on, tuple(planned), {one.unit: one for one in doors}, tuple(waits), kept)
    return replace(week, let_go=_let_go(view, week, settings))


def _let_go(view: View, week: WeekPlan, settings: WeekSettings) -> tuple[NoMove, ...]:
    """Return the moves that the plan does not keep; of doors that are done or gone nothing is said."""
    asked = {u: day for u, day in settings.moved.items() if u in week.doors and u not in week.moved}
    why = (
        why_not(view, week, u, day, settings) or NoMove(u, day, "full") for u, day in sorted(asked.items())
    )
    return tuple(one for one in why if one.kind not in ("past", "tried"))


def working_days(on: dt.date, crew: Sequence[Technician], days: int = DAYS) -> tuple[dt.date, ...]:
    """Return the days from one on, in a week, on which anybody works."""
    week = (on + dt.timedelta(days=ahead) for ahead in range(days))
    return tuple(day for day in week if any(one.works_on(day) for one in crew))


def _may(view: View, door: Door, day: dt.date, shut: Mapping[str, Access]) -> bool:
    restricted = shut.get(door.unit)
    tried = day == view.on and door.unit in view.tried_today
    opens = restricted is None or bool(restricted.windows)
    return opens and not tried and day >= door.not_before and door.entry.may_plan(day)


def _told_one_day(door: Door) -> bool:
    """Whether the notice that is on record names the day of the visit: on no other may anybody come."""
    return door.entry.state in ("given", "running") and door.entry.first == door.entry.last


def _moved(
    doors: Sequence[Door],
    days: Sequence[dt.date],
    open_on: Sequence[Sequence[bool]],
    asked: Mapping[str, dt.date],
) -> dict[str, int]:
    """Return the places of the days on which units were put by hand, where that is still lawful."""
    found = {}
    for door, free in zip(doors, open_on, strict=True):
        day = asked.get(door.unit)
        if day in days and free[days.index(day)]:
            found[door.unit] = days.index(day)
    return found


def _assigned(
    view: View,
    doors: Sequence[Door],
    days: Sequence[dt.date],
    open_on: Sequence[Sequence[bool]],
    moved: Mapping[str, int],
    crew: Sequence[Technician],
) -> list[int]:
    if not doors or not days:
        return [-1] * len(doors)
    whole = sum(door.worth for door in doors) + 1.0
    value = np.full((len(doors), len(days)), -1.0)
    for i, door in enumerate(doors):
        for d, day in enumerate(days):
            if open_on[i][d] and moved.get(door.unit, d) == d:
                # Residents who were told this day, and whoever put a door on it, come before what is owed.
                held = 10.0 if door.unit in moved else 5.0 if _told_one_day(door) else 0.0
                value[i, d] = _value(door, day, view.on, whole) + held * whole
    minutes = np.array([door.minutes + WALK for door in doors])
    room = np.array([sum(one.minutes for one in crew if one.works_on(day)) for day in days])
    longest = np.array([max(one.minutes for one in crew if one.works_on(day)) for day in days])
    value[minutes[:, None] - WALK > longest[None, :]] = -1.0
    return [int(day) for day in assign(value, minutes, room)]


def _value(door: Door, day: dt.date, on: dt.date, whole: float) -> float:
    """Return what a door earns on a day: weeks averted, less what waiting costs, and what is owed.

    Every day that a find waits costs its unit a seventh of an infested week, whatever else it spreads.
    """
    earned = max(0.0, door.worth - door.finds * (day - on).days / 7.0)
    if door.why is None:
        return earned
    late = 0 if door.due is None else max(0, (day - door.due).days)
    return earned + FIRST.get(type(door.why), 1.0) * whole * (0.2 + 0.8 / (1.0 + late / 7.0))


def _walk(
    view: View,
    plan: Plan,
    distances: Distances,
    doors: Sequence[Door],
    first: Sequence[Door],
    day: dt.date,
    crew: Sequence[Technician],
    settings: WeekSettings,
    *,
    effort: int = EFFORT,
) -> Round:
    """Walk a day: ``first`` go in before the other doors."""
    must = {door.unit: why for door in first if (why := _first(door, settings)) is not None}
    if len(first) < len(doors):
        must = {door.unit: door.why or AskedFor() for door in first}
    return plan_round(
        view,
        plan,
        distances,
        replace(
            settings.round,
            day=day,
            begins=settings.begins,
            technicians=len(crew),
            minutes=max(one.minutes for one in crew),
            each=tuple(one.minutes for one in crew),
            only=frozenset(door.unit for door in doors),
            kinds=("look", "treat", "revisit"),
            must=must,
            visits={door.unit: door.minutes for door in doors},
            access=settings.access,
            effort=effort,
        ),
    )


def _idle(walked: Round, crew: Sequence[Technician]) -> float:
    """Return the most minutes that a technician of a day has left."""
    return max(one.minutes - path.finish for one, path in zip(crew, walked.paths, strict=True))


def _first(door: Door, settings: WeekSettings) -> Must | None:
    """Return why a door goes in first: what asks for it, a resident who was told the day, or who moved it."""
    told = door.entry.state in ("given", "running")
    return door.why or (AskedFor() if told or door.unit in settings.moved else None)


def _waits_for(
    door: Door, days: Sequence[dt.date], shut: Sequence[Mapping[str, Access]], free: Sequence[bool]
) -> tuple[What, Access | None]:
    if door.entry.state == "refused":
        return "refused", None
    if any(free):
        return "time", None
    if not any(door.entry.may_plan(day) for day in days):
        return "notice", None
    barred = next((one[door.unit] for one in shut if door.unit in one and not one[door.unit].windows), None)
    return ("access", barred) if barred else ("notice", None)


@dataclass(frozen=True, slots=True)
class NoMove(Fact):
    """Why a unit cannot be put on a day.

    ``kind``: ``notice`` (its notice would not have run; ``first`` is the first day), ``refused``, ``access``,
    ``window`` (its visit means nothing before ``first``), ``promised`` (residents were told ``first``),
    ``day`` (nobody works on it), ``full`` (its hours are), ``past``, ``tried`` (somebody was there today) or
    ``unit`` (there is nothing to do there this week).
    """

    unit: str
    day: dt.date
    kind: str
    first: dt.date | None = None


def why_not(view: View, week: WeekPlan, unit: str, day: dt.date, settings: WeekSettings) -> NoMove | None:
    """Return why a unit cannot be put on a day of the week; None where it can."""
    door = week.doors.get(unit)
    kind, first = "", None
    if door is None:
        return NoMove(unit, day, "unit")
    if day < view.on:
        kind = "past"
    elif day not in working_days(view.on, settings.crew):
        kind = "day"
    elif door.entry.state == "refused":
        kind = "refused"
    elif not door.entry.may_plan(day):
        promised = door.entry.state in ("given", "running") and day >= door.entry.again
        kind, first = ("promised" if promised else "notice"), door.entry.first
    elif day < door.not_before:
        kind, first = "window", door.not_before
    elif day == view.on and unit in view.tried_today:
        kind = "tried"
    else:
        restricted = access_on(settings.access, view.network.units, day).get(unit)
        kind = "access" if restricted is not None and not restricted.windows else ""
    return NoMove(unit, day, kind, first) if kind else None

"""The doors of a week: why somebody has to come, by when, how long it takes, and when entry is lawful."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from spread.decisions.doors.effort import effort_of
from spread.decisions.doors.ranking import DoorDuty, prizes
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import Duty
from spread.decisions.round.parts import ForDuty, ForRevisit, ForRing, ForTreatment, Must
from spread.decisions.view import View
from spread.decisions.week.entry import Entry
from spread.facts import Fact
from spread.records.kinds import LEVELS, Record
from spread.settings import BuildingSettings
from spread.trade import treating
from spread.trade.biology import LEVEL_NAMES, level_of_count

UNTOLD = LEVELS[1]  #: Level that a treatment's minutes are taken for where no row says any


@dataclass(frozen=True, slots=True)
class Door(Fact):
    """One unit that somebody could come to in the week."""

    unit: str
    why: Must | None  #: What asks for it; None where only its place on the list does
    entry: Entry  #: When it may lawfully be entered
    minutes: float  #: Expected minutes there
    finds: float  #: New finds expected of a visit
    worth: float  #: Weeks averted expected of a visit on the first day
    not_before: dt.date  #: The visit means nothing before this day (eggs wait; the window is not open)
    due: dt.date | None  #: The last day on which it is in time; None where nothing is owed
    animals: bool = False  #: Whether animals were met at the last visit

    @property
    def purpose(self) -> str:
        """What its notice says that the visit is for: ``treatment`` or ``inspection``."""
        return "treatment" if isinstance(self.why, ForTreatment) else "inspection"


def doors_of(
    view: View,
    owned: BuildingSettings,
    entries: Mapping[str, Entry],
    looks: Mapping[str, DoorDuty],
    owed: Sequence[Duty],
    last: dt.date,
    *,
    method: str,
) -> tuple[Door, ...]:
    """Return the doors of a week, in plan order.

    Parameters
    ----------
    view, owned
        What is known, and the settings of the building.
    entries
        When each unit may be entered (:func:`spread.decisions.week.entry.entries_of`).
    looks
        Looks that the rule set asks for (:func:`spread.decisions.doors.ranking.open_looks`).
    owed
        All duties: of them the days by which a treatment has to begin are taken.
    last
        Last day of the week: visits whose window opens later are left out.
    method
        How the technician looks.
    """
    effort = effort_of(view, method, owned.pace)
    _, finds, worth = prizes(view, method, effort, owned.order)
    treat_by = {
        duty.unit: day_of(duty.due)
        for duty in reversed(owed)
        if duty.step == "begin-treatment" and duty.status != "done" and duty.due is not None
    }
    found = []
    for i, unit in enumerate(view.network.units):
        told, rows = view.followups[unit], view.log.of(unit, view.on)
        why: Must | None = None
        not_before, due, minutes = view.on, None, float(effort.visit[i])
        if told.status == "treat" and told.visit is not None:
            why = ForTreatment(told.visit, view.on)
            due = min(told.visit.latest, treat_by.get(unit, told.visit.latest))
            minutes = treating.MINUTES[_level(rows, told.found_on)].central
        elif unit in looks:
            why, due = ForDuty(looks[unit]), looks[unit].due
        elif told.status == "revisit" and told.visit is not None:
            if told.visit.earliest > last:
                continue
            why = ForRevisit(told.visit, view.on)
            not_before, due = max(view.on, told.visit.earliest), told.visit.latest
        elif unit in view.ring_places:
            why = ForRing(view.ring_places[unit])
        known = told.status != "look"
        if why is None and worth[i] <= 0 and finds[i] <= 0:
            continue
        found.append(
            Door(
                unit=unit,
                why=why,
                entry=entries[unit],
                minutes=minutes,
                finds=0.0 if known else float(effort.opens[i] * finds[i]),
                worth=float(effort.opens[i] * worth[i]),
                not_before=not_before,
                due=due,
                animals=_animals(rows),
            )
        )
    return tuple(found)


def _level(rows: Sequence[Record], found_on: dt.date | None) -> str:
    """Return the level of the last find, by its word or its count."""
    find = next((r for r in reversed(rows) if r.when == found_on and r.found == "yes"), None)
    if find is None:
        return UNTOLD
    return find.level or (LEVEL_NAMES[level_of_count(find.count)] if find.count else UNTOLD)


def _animals(rows: Sequence[Record]) -> bool:
    last = next((r.job for r in reversed(rows) if r.job is not None and r.job.pets), None)
    return last is not None and last.pets == "present"

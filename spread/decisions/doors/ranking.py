"""Which door next: units ranked by finds a knock, or by what a minute there averts.

Finds a knock is the default of lists and rounds: in the open benchmark (``docs/benchmark.md``) the chance of
a find found as much in 15 doors as weeks averted a minute did (3.61 and 3.59) and averted no less in eight
weeks of rounds (2.69 and 2.57 weeks an hour), and it needs no guess of what a find saves.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spread.contacts.relations import RingPlace
from spread.decisions.case.followup import revisits
from spread.decisions.case.visits import Visit
from spread.decisions.doors.choice import finds_and_worth
from spread.decisions.doors.effort import Effort, Tries, effort_of, tries
from spread.decisions.doors.looking import AnotherLook, another_look, chances_of_yes
from spread.decisions.doors.reasons import how_sure, reasons_for
from spread.decisions.doors.told import Sure
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import Duty, Place, Started, duties
from spread.decisions.view import View
from spread.errors import Problem, SettingsError
from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.settings import ORDERS
from spread.trade.pace import Pace
from spread.trade.rule_set import Origin, RuleSet

MOST_REASONS = 3


@dataclass(frozen=True, slots=True)
class DoorDuty(Fact):
    """A look that a rule set asks for and nobody has done yet."""

    due: dt.date | None  #: Its day; None where the rule gives no date
    late: bool  #: Whether that day has gone by
    status: str  #: ``overdue``, ``due`` or ``cannot`` (tried without access; still owed)
    #: places, started: How the unit lies to what started it, and what that was
    places: tuple[tuple[Place, ...], ...]
    started: Started
    rule: str  #: Id of the rule set
    origin: Origin  #: Where the rule stands, and how sure that is


@dataclass(frozen=True, slots=True)
class DoorRow(Fact):
    """One unit in the list of next doors."""

    unit: str  #: Unit code
    rank: int  #: 1 for the first door; units apart from the list (treat, revisit) rank among themselves
    chance: float  #: Posterior probability that the unit is infested today
    #: Probability that the chosen method finds something there today, if somebody opens. A dog's alert counts
    #: here; ``worth`` asks for its confirmation too.
    chance_of_find: float
    reasons: tuple[Fact, ...]  #: Up to three, the weightiest first
    ring: tuple[RingPlace, ...]  #: How it lies to the finds whose rings ask for it; empty where none does
    #: ``look`` (knock), ``treat`` (known infested, not treated since) or ``revisit`` (treated and on its way
    #: to clearance, or a visit of the watch is due): :attr:`FollowUp.status`
    status: str
    sure: Sure  #: What the chance rests on (:func:`spread.decisions.doors.reasons.how_sure`)
    opens: float  #: Chance that somebody opens
    tries: Tries  #: What that rests on
    #: Finds expected of one knock: the chance that somebody opens times that of a find; a dog's alert is to
    #: be confirmed
    finds: float
    #: Infested-unit-weeks averted over the horizon if something is found there and treated now
    worth_of_find: float
    #: The same expected of one visit: the chances that somebody opens and of a find are in it
    worth: float
    #: Expected minutes at this door, without the walk: the knock, and the look if somebody opens
    minutes: float
    per_hour: float  #: Infested-unit-weeks averted for an hour spent so: ``60 * worth / minutes``
    duty: DoorDuty | None = None  #: The look that a rule set asks for, or None
    visit: Visit | None = None  #: Of a unit to revisit; else None
    #: What to do instead where the planned look would repeat one that found nothing; else None
    instead: AnotherLook | None = None

    @property
    def mandatory(self) -> bool:
        """Whether a ring rule or a duty puts it on the list whatever its rank."""
        return bool(self.ring) or self.duty is not None


def chance_of_find(view: View, method: str) -> Floats:
    """Return the chance that a method finds something in each unit today.

    ``method``: a method of looking; a monitor counts for its usual period.

    Returned: shape (N,): sum over levels of chance times sensitivity, as this building's log taught it and a
    look before it leaves it (false positives not counted).
    """
    return np.asarray((view.posterior.levels * chances_of_yes(view, method))[:, 1:].sum(axis=1))


def prizes(view: View, method: str, effort: Effort, order: str) -> tuple[Floats, Floats, Floats]:
    """Return what a knock at each unit earns by an order, and expected finds and weeks averted if it opens.

    Returned: three arrays of shape (N,). The one place that says what lists and rounds maximise.
    """
    if order not in ORDERS:
        what = f"{order[:40]!r} is no order of doors"
        raise SettingsError(Problem("doors", "order", what, f"use {' or '.join(ORDERS)}"))
    finds, worth = finds_and_worth(view, method)
    return effort.opens * (finds if order == "find" else worth), finds, worth


def open_looks(view: View, rules: RuleSet) -> dict[str, DoorDuty]:
    """Return the looks that a rule set asks for on the day of the view and that nobody has done.

    Returned: by unit; of several the most pressing one: overdue, then by date.
    """
    found: dict[str, DoorDuty] = {}
    for duty in duties(view.log, view.graph, rules, view.on):
        if duty.step == "inspect" and duty.status != "done":
            found.setdefault(duty.unit, _door_duty(duty, rules))
    return found


def _door_duty(duty: Duty, rules: RuleSet) -> DoorDuty:
    due = None if duty.due is None else day_of(duty.due)
    return DoorDuty(due, duty.late, duty.status, duty.places, duty.started, rules.id, duty.deadline.origin)


def rank_doors(
    view: View,
    method: str,
    *,
    pace: Pace | None = None,
    looks: Mapping[str, DoorDuty] | None = None,
    order: str = "find",
) -> tuple[DoorRow, ...]:
    """Rank every unit: doors to look at first, then units to treat, then units to revisit as they fall due.

    One that was tried or looked at today waits behind the other doors to look at: knocking again at
    once finds nothing new.

    Raises SettingsError for an unknown order.

    Parameters
    ----------
    method : How the technician will look
    pace : Minutes of a visit; the usual ones if None
    looks : What a rule set asks for (:func:`open_looks`); it marks doors and moves none
    order
        ``find``: doors to look at go by finds a knock. ``benefit``: by weeks averted per minute at the door
        (``model.md`` 7).
    """
    finds = chance_of_find(view, method)
    chance = view.posterior.chance
    index = view.network.index
    effort = effort_of(view, method, pace or Pace())
    prize, found, worth_if_open = prizes(view, method, effort, order)
    worth = effort.opens * worth_if_open
    of_a_find = np.divide(worth_if_open, found, out=np.zeros_like(found), where=found > 0)
    per_hour = 60.0 * worth / np.maximum(effort.whole, 1e-9)
    by = prize if order == "find" else per_hour
    groups: dict[str, list[str]] = {"look": [], "treat": [], "revisit": []}
    for unit in view.network.units:
        groups[view.followups[unit].status].append(unit)
    groups["look"].sort(key=lambda u: (u in view.tried_today, -by[index[u]], index[u]))
    groups["treat"].sort(
        key=lambda u: (-float(view.posterior.levels[index[u]] @ view.dynamics.shedding), index[u])
    )
    groups["revisit"] = [
        one.unit for visits in revisits(view.followups.values()).values() for one, _ in visits
    ]

    def row(status: str, rank: int, unit: str) -> DoorRow:
        i = index[unit]
        return DoorRow(
            unit=unit,
            rank=rank,
            chance=float(chance[i]),
            chance_of_find=float(finds[i]),
            reasons=reasons_for(view, unit)[:MOST_REASONS],
            ring=view.ring_places.get(unit, ()),
            status=status,
            sure=how_sure(view, unit),
            opens=float(effort.opens[i]),
            tries=view.log.worked_out(unit, view.on, tries, view.standings[unit]),
            finds=float(effort.opens[i] * found[i]),
            worth_of_find=float(of_a_find[i]),
            worth=float(worth[i]),
            minutes=float(effort.whole[i]),
            per_hour=float(per_hour[i]),
            duty=(looks or {}).get(unit),
            visit=view.followups[unit].visit if status == "revisit" else None,
            instead=another_look(view, unit, method, owed=unit in view.ring_places or unit in (looks or {})),
        )

    return tuple(
        row(status, rank, unit)
        for status, units in groups.items()
        for rank, unit in enumerate(units, start=1)
    )

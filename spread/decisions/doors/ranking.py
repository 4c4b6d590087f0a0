"""Which door next: units ranked by the chance of a find, or by what a minute there averts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spread.decisions.case.revisits import revisits
from spread.decisions.case.visits import window_words
from spread.decisions.doors.choice import finds_and_worth
from spread.decisions.doors.effort import effort_of
from spread.decisions.doors.reasons import how_sure, reasons_for
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import Duty, duties
from spread.decisions.view import View
from spread.errors import Problem, SettingsError
from spread.posterior.dynamics import Floats
from spread.settings import ORDERS
from spread.trade import detection
from spread.trade.pace import Pace
from spread.trade.rule_set import RuleSet
from spread.weeks import speak_date

MOST_REASONS = 3


@dataclass(frozen=True, slots=True)
class DoorDuty:
    """A look that a rule set asks for and nobody has done yet.

    Parameters
    ----------
    words
        In plain words: ``look by Tue 24 Nov 2026``.
    due
        The day as ISO text; empty where the rule gives no date.
    status
        ``overdue``, ``due`` or ``cannot`` (tried without access; still owed).
    because
        What started it and how the unit lies to it: ``beside 1405; find in 1405 on Fri 13 Nov 2026``.
    rule
        Id of the rule set.
    source
        Where the rule stands, and how sure that is.
    """

    words: str
    due: str
    status: str
    because: str
    rule: str
    source: str


@dataclass(frozen=True, slots=True)
class DoorRow:
    """One unit in the list of next doors.

    Parameters
    ----------
    unit
        Unit code.
    rank
        1 for the first door; units apart from the list (treat, revisit) rank among themselves.
    chance
        Posterior probability that the unit is infested today.
    chance_of_find
        Probability that the chosen method finds something there today, if somebody opens. A dog's
        alert counts here; ``worth`` asks for its confirmation too.
    reason
        A sentence or two in plain words.
    rule
        What a ring rule asks for, such as ``"beside 304"``; empty where no rule names the unit.
    status
        ``look`` (knock), ``treat`` (known infested, not treated since) or ``revisit`` (treated and on its
        way to clearance, or a visit of the watch is due): :attr:`FollowUp.status`.
    sure
        What the chance rests on, in a few words (:func:`spread.decisions.doors.reasons.how_sure`).
    opens
        Chance that somebody opens.
    worth_of_find
        Infested-unit-weeks averted over the horizon if something is found there and treated now.
    worth
        The same expected of one visit: the chances that somebody opens and of a find are in it.
    minutes
        Expected minutes at this door, without the walk: the knock, and the look if somebody opens.
    per_hour
        Infested-unit-weeks averted for an hour spent so: ``60 * worth / minutes``.
    duty
        The look that a rule set asks for, or None.
    reasons
        Up to three sentences; ``reason`` is all of them in one text.
    visit, visit_words
        Of a unit to revisit: ``overdue``, ``due`` or ``coming``, and its window in words; else empty.
    """

    unit: str
    rank: int
    chance: float
    chance_of_find: float
    reason: str
    rule: str
    status: str
    sure: str
    opens: float = 1.0
    worth_of_find: float = 0.0
    worth: float = 0.0
    minutes: float = 0.0
    per_hour: float = 0.0
    duty: DoorDuty | None = None
    reasons: tuple[str, ...] = ()
    visit: str = ""
    visit_words: str = ""

    @property
    def mandatory(self) -> bool:
        """Whether a ring rule or a duty puts it on the list whatever its rank."""
        return bool(self.rule) or self.duty is not None


def chance_of_find(view: View, method: str) -> Floats:
    """Return the chance that a method finds something in each unit today.

    Parameters
    ----------
    view
        What is known.
    method
        A method of looking; a monitor counts for its usual period.

    Returns
    -------
    Floats
        Shape (N,): sum over levels of chance times sensitivity (false positives not counted).
    """
    return np.asarray(view.posterior.levels @ detection.sensitivity(method))


def open_looks(view: View, rules: RuleSet) -> dict[str, DoorDuty]:
    """Return the looks that a rule set asks for on the day of the view and that nobody has done.

    Parameters
    ----------
    view
        What is known.
    rules
        The rule set.

    Returns
    -------
    dict
        By unit; of several the most pressing one: overdue, then by date.
    """
    found: dict[str, DoorDuty] = {}
    for duty in duties(view.log, view.graph, rules, view.on):
        if duty.step == "inspect" and duty.status != "done":
            found.setdefault(duty.unit, _door_duty(duty, rules))
    return found


def _door_duty(duty: Duty, rules: RuleSet) -> DoorDuty:
    day = "" if duty.due is None else day_of(duty.due).isoformat()
    told = "" if duty.due is None else f" by {speak_date(day_of(duty.due))}"
    words = f"look was due{told}" if duty.late else f"look{told or ', the rule gives no date'}"
    if duty.status == "cannot":
        words += ", tried without access"
    because = "; ".join(filter(None, (duty.place, duty.because_words)))
    return DoorDuty(words, day, duty.status, because, rules.id, str(duty.origin))


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

    Parameters
    ----------
    view
        What is known.
    method
        How the technician will look.
    pace
        Minutes of a visit; the usual ones if None.
    looks
        What a rule set asks for (:func:`open_looks`); it marks doors and moves none.
    order
        ``find``: doors to look at go by the chance of a find. ``benefit``: by weeks averted per minute
        at the door (``model.md`` 7).

    Raises
    ------
    SettingsError
        For an unknown order.
    """
    if order not in ORDERS:
        what = f"{order[:40]!r} is no order of doors"
        raise SettingsError(Problem("doors", "order", what, f"use {' or '.join(ORDERS)}"))
    finds = chance_of_find(view, method)
    chance = view.posterior.chance
    index = view.network.index
    effort = effort_of(view, method, pace or Pace())
    found, worth_if_open = finds_and_worth(view, method)
    worth = effort.opens * worth_if_open
    of_a_find = np.divide(worth_if_open, found, out=np.zeros_like(found), where=found > 0)
    per_hour = 60.0 * worth / np.maximum(effort.whole, 1e-9)
    by = finds if order == "find" else per_hour
    groups: dict[str, list[str]] = {"look": [], "treat": [], "revisit": []}
    for unit in view.network.units:
        groups[view.followups[unit].status].append(unit)
    seen_today = {unit for unit in view.network.units if _tried_today(view, unit)}
    groups["look"].sort(key=lambda u: (u in seen_today, -by[index[u]], index[u]))
    groups["treat"].sort(
        key=lambda u: (-float(view.posterior.levels[index[u]] @ view.dynamics.shedding), index[u])
    )
    groups["revisit"] = [
        one.unit for visits in revisits(view.followups.values()).values() for one, _ in visits
    ]

    def row(status: str, rank: int, unit: str) -> DoorRow:
        i = index[unit]
        reasons = reasons_for(view, unit)[:MOST_REASONS]
        visit = view.followups[unit].visit if status == "revisit" else None
        return DoorRow(
            unit=unit,
            rank=rank,
            chance=float(chance[i]),
            chance_of_find=float(finds[i]),
            reason=" ".join(reasons),
            rule=view.rule_words.get(unit, ""),
            status=status,
            sure=how_sure(view, unit),
            opens=float(effort.opens[i]),
            worth_of_find=float(of_a_find[i]),
            worth=float(worth[i]),
            minutes=float(effort.whole[i]),
            per_hour=float(per_hour[i]),
            duty=(looks or {}).get(unit),
            reasons=reasons,
            visit=visit.status if visit else "",
            visit_words=window_words(visit, view.on) if visit else "",
        )

    return tuple(
        row(status, rank, unit)
        for status, units in groups.items()
        for rank, unit in enumerate(units, start=1)
    )


def _tried_today(view: View, unit: str) -> bool:
    return any(
        record.when == view.on and (record.is_look or record.kind == "no-access")
        for record in view.log.of(unit)
    )

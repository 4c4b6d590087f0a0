"""What the records and the rules say of each unit: its last look, whether it was shut, its next duty.

Worked out once a version of the session; the views and filters of the plan page lean on it.
"""

from __future__ import annotations

import datetime as dt
import weakref
from collections.abc import Mapping
from dataclasses import dataclass

from spread.decisions.doors.told import Sure
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import Duty, duties
from spread.decisions.standing import Standing, standing_of
from spread.session import Session
from spread.trade.rule_set import STEPS

LONG_AGO = 30
"""Days; the filter for units that were not looked at is about this."""
ONLY = {
    "": "All units",
    "long-ago": f"Not looked at for {LONG_AGO} days",
    "due": "A duty is due",
    "shut": "No access so far",
    "treat": "To treat",
    "revisit": "To revisit",
}
"""The filters, in the order of the page, with their names."""
_WORST_FIRST = ("overdue", "cannot", "due", "done")


@dataclass(frozen=True, slots=True)
class Facts:
    """What is on record of one unit on the session's day.

    Parameters
    ----------
    standing
        Where it stands by its records.
    status
        ``look``, ``treat`` or ``revisit``, as on the list of doors.
    chance
        That it is infested today.
    sure
        What the chance rests on.
    duty
        ``overdue``, ``cannot``, ``due``, ``done``, or empty where no rule asks for anything.
    due
        The day of that duty, or None where the rule gives none.
    step
        What it asks for, in words.
    """

    standing: Standing
    status: str
    chance: float
    sure: Sure
    duty: str = ""
    due: dt.date | None = None
    step: str = ""


_known: weakref.WeakKeyDictionary[Session, tuple[int, dict[str, Facts]]] = weakref.WeakKeyDictionary()


def facts_of(session: Session) -> dict[str, Facts]:
    """Return the facts of every unit, in plan order."""
    version = session.version
    known = _known.get(session)
    if known is not None and known[0] == version:
        return known[1]
    log, on = session.view.log, session.on
    owed, followups = worst_duties(session), session.view.followups
    sure = {row.unit: row.sure for row in session.doors()}
    chances = session.chances()
    facts = {}
    for unit in session.plan.units:
        duty = owed.get(unit)
        facts[unit] = Facts(
            standing=standing_of(log.of(unit), on),
            status=followups[unit].status,
            chance=chances[unit],
            sure=sure[unit],
            duty=duty.status if duty else "",
            due=day_of(duty.due) if duty and duty.due is not None else None,
            step=STEPS.get(duty.step, duty.step) if duty else "",
        )
    _known[session] = (version, facts)
    return facts


def worst_duties(session: Session) -> Mapping[str, Duty]:
    """Return the duty of each unit that presses most: overdue, no access, due first, done."""
    worst: dict[str, Duty] = {}
    for duty in duties(session.view.log, session.contacts, session.rules, session.on):
        held = worst.get(duty.unit)
        if held is None or _pressing(duty) < _pressing(held):
            worst[duty.unit] = duty
    return worst


def _pressing(duty: Duty) -> tuple[int, dt.date]:
    day = day_of(duty.due) if duty.due is not None else dt.date.max
    return _WORST_FIRST.index(duty.status), day


def kept_by(session: Session, only: object) -> frozenset[str] | None:
    """Return the units that a filter of :data:`ONLY` keeps; None for no filter, or for one unknown."""
    if not isinstance(only, str) or not only or only not in ONLY:
        return None
    facts = facts_of(session)
    return frozenset(unit for unit, fact in facts.items() if _keeps(only, fact, session.on))


def _keeps(only: str, fact: Facts, on: dt.date) -> bool:
    standing = fact.standing
    if only == "long-ago":
        look = standing.last_look
        return look is None or (on - look.when).days > LONG_AGO
    if only == "due":
        return fact.duty in ("overdue", "cannot", "due")
    if only == "shut":
        return standing.shut > 0
    return fact.status == only

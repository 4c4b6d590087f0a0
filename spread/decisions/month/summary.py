"""The short of a building's day, to be kept: how many, its trend, what is owed, what an hour there averts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

from spread.decisions.doors.ranking import DoorRow
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import duties
from spread.decisions.month.change import change_of, first_day
from spread.decisions.view import View
from spread.records.summaries import Owed, Summary, Worth
from spread.trade.prices import TREATMENT_MINUTES
from spread.trade.rule_set import RuleSet

TREND_DAYS = 28
"""Days over which the start page says whether it gets better."""
DOORS = 40
"""Doors to look at that are kept, more than a technician's week in one building takes."""
DIGITS = 4
_SIZES = ("light", "light", "moderate", "heavy")


def summary_of(view: View, rules: RuleSet, doors: Iterable[DoorRow]) -> Summary:
    """Return the short of a view.

    ``rules``: the building's. ``doors``: all of its units, in any order.
    """
    posterior, doors = view.posterior, tuple(doors)
    low, median, high = posterior.infested_count()
    change = change_of(view, max(view.on - dt.timedelta(days=TREND_DAYS), first_day(view)), view.on)
    to_look = sorted((row for row in doors if row.status == "look"), key=lambda row: -row.per_hour)
    return Summary(
        on=view.on,
        rows=sum(row.when <= view.on for row in view.log.rows),
        units=len(posterior.units),
        known=sum(
            told.state in ("infested", "under treatment", "clearing") for told in view.followups.values()
        ),
        low=low,
        median=median,
        high=high,
        trend=change.verdict if change else "unknown",
        fell=round(change.fell, DIGITS) if change else 0.0,
        rose=round(change.rose, DIGITS) if change else 0.0,
        settled=posterior.diagnostics.good,
        chances={
            unit: round(float(p), DIGITS) for unit, p in zip(posterior.units, posterior.chance, strict=True)
        },
        doors=tuple(Worth(round(row.minutes, 1), round(row.worth, DIGITS)) for row in to_look[:DOORS]),
        owed=tuple(
            sorted(_owed(view, rules, {row.unit: row.minutes for row in doors}), key=lambda o: o.latest)
        ),
    )


def _owed(view: View, rules: RuleSet, minutes: dict[str, float]) -> Iterator[Owed]:
    """Yield visits of the follow-up, and duties of somebody at the door that have a day."""
    for unit, told in view.followups.items():
        if told.visit is None:
            continue
        spent = minutes[unit]
        if told.visit.kind == "treat":
            level = int(view.posterior.levels[view.network.index[unit], 1:].argmax())
            spent += TREATMENT_MINUTES[_SIZES[level]].central
        yield Owed(unit, told.visit.kind, told.visit.target, told.visit.latest, round(spent, 1))
    for duty in duties(view.log, view.graph, rules, view.on):
        if duty.step == "inspect" and duty.status != "done" and duty.due is not None:
            due = day_of(duty.due)
            yield Owed(duty.unit, duty.step, due, due, round(minutes[duty.unit], 1))

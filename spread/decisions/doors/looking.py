"""The next look at each unit: what it finds there today, given who found how much and what it repeats.

A look is no fresh draw where it repeats another: what one person could not reach they cannot reach again
(:mod:`spread.posterior.looks`). And sensitivities are those that the log taught, not those of the trade.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from spread.decisions.view import View
from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.posterior.looks import last_by_sense, sense_of, shared_after, with_odds
from spread.records.kinds import Record
from spread.trade import detection
from spread.trade.registry import LOOKING, MONITORS


@dataclass(frozen=True, slots=True)
class AnotherLook(Fact):
    """The planned look would repeat one that found nothing: another method, or a later day, tells more."""

    method: str  #: Of the look that found nothing
    days: int  #: Days since then
    share: float  #: How surely the same look today repeats its answer
    instead: str  #: A method of another sense that finds most in the unit now
    #: From when the same look is fresh again; None where a rule or a report asks for a look now
    again: dt.date | None


def weeks_until_answer(method: str) -> int:
    """Return the whole weeks from the first visit to the answer: 2 for interceptors, 0 for a look."""
    return round(MONITORS[method].nominal_days / 7) if method in MONITORS else 0


def sensitivity_here(view: View, method: str) -> Floats:
    """Return the chance that a fresh look finds something by level, shape (levels,); by mistake at 0.

    With the odds that this building's log taught of the method and of those who look.
    """
    chances = detection.sensitivity(method)
    chances[0] = detection.false_positive(method, frozenset(), False)
    return with_odds(chances, view.posterior.odds.of_next(method))


def chances_of_yes(view: View, method: str) -> Floats:
    """Return the chance that a look begun today finds something, shape (N, levels); by mistake at 0."""
    fresh = np.tile(sensitivity_here(view, method), (view.network.size, 1))
    for i, unit in enumerate(view.network.units):
        last, share = repeated_look(view, unit, method)
        if last is not None and share:
            fresh[i] = (1.0 - share) * fresh[i] + share * (last.found == "yes")
    return fresh


def repeated_look(view: View, unit: str, method: str) -> tuple[Record | None, float]:
    """Return the last look at a unit by a method's sense, and how surely one begun today repeats it.

    Who looks next is not known: where the last look names somebody it is taken for the same person, so that
    a look is rather thought to repeat too much than too little.
    """
    last = view.log.worked_out(unit, view.on, last_by_sense).get(sense_of(method))
    if last is None or last.found == "unsure":
        return last, 0.0
    days = (view.on - last.when).days + 7 * weeks_until_answer(method)
    return last, shared_after(days, same_person=bool(last.by))


def another_look(view: View, unit: str, method: str, *, owed: bool) -> AnotherLook | None:
    """Return what to do instead of a look that would repeat one that found nothing; None where none would.

    ``owed``: whether a rule asks for a look; then no later day is proposed, nor after a report.
    """
    last, share = repeated_look(view, unit, method)
    if last is None or last.found != "no" or not share or view.followups[unit].status != "look":
        return None
    sense = sense_of(method)
    levels = view.posterior.levels[view.network.index[unit], 1:]
    others = [key for key, row in LOOKING.items() if row.weighed and sense_of(key) != sense]
    best = max(others, key=lambda key: float(levels @ sensitivity_here(view, key)[1:]), default="")
    report = view.standings[unit].last_report
    now = owed or (report is not None and report.when >= last.when)
    fresh = detection.SAME_PERSON_DAYS + 1 if last.by else 1
    return AnotherLook(
        last.method, (view.on - last.when).days, share, best, None if now else last.when + dt.timedelta(fresh)
    )

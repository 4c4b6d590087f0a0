"""A programme as whole numbers, as the compiled kernel reads it; and the rows of a unit's state."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from spread.programmes.clearing import ending_of
from spread.programmes.columns import METHODS, PROTOCOL, TREATMENTS
from spread.programmes.programme import Programme
from spread.trade.clearance import ClearanceRule
from spread.trade.methods.looks import BRIEF
from spread.trade.pace import Pace
from spread.trade.prices import ENCASE_MINUTES as ENCASING
from spread.trade.prices import SURVEY_MINUTES as SURVEY
from spread.trade.prices import TREATMENT_MINUTES as TREATING

Whole = NDArray[np.int64]

NOT = -1  #: Not done
(
    COMPLAINT_METHOD, COMPLAINT_WITHIN, COMPLAINT_TRIES, RING_METHOD, RING_WITHIN, RING_TRIES, RANKED_METHOD,
    RANKED_DOORS, RANKED_EVERY, RANKED_FROM, RANKED_TRIES, SURVEY_METHOD, SURVEY_EVERY, SURVEY_TIMES,
    SURVEY_FROM, SURVEY_OVER, SURVEY_TRIES, VACANT_METHOD, CONFIRM_METHOD, TREAT_METHOD, TREAT_WITHIN,
    TREAT_EVERY, HEAT_AFTER, CLEAN, CLEAN_HEAVY, PER_PERIOD, MONITOR, NOTICE, BEGINS, WATCH_METHOD,
    WATCH_EVERY, WATCH_WEEKS, WATCH_TRIES, ENCASE, N_RULES,
) = range(35)  # fmt: skip
"""Places of a programme's numbers."""
BUDGET, KNOCK, IN_UNIT, CAPACITY, FIRST_VISIT, NEXT_VISIT, BY_METHOD = range(7)
"""Places of its minutes: of ranked doors each time, of a knock, in the unit, of the crew a week (0: no end);
and what visits are planned with, knock and all: the first of a course, a later one, and from the last place
on a look by each method, then a monitor fetched by each."""

(
    LEVEL, VACANT, EMPTY_WEEKS, MOVED_IN, REFUSER, CASE, CASE_DUE, CASE_VISITS, CASE_CLEAN, CASE_HEAVY,
    CLOSED_IN, DUE, KIND, METHOD, TRIES, PLACED, PLACED_METHOD, HOLD_UNTIL, AVOID_UNTIL, LOOKED_IN, TREATED,
    REPORTED, CLEAR_AT_START, EVER, FOUND_EVER, ENCASED, N_STATE,
) = range(27)  # fmt: skip
"""Rows of the state of the units, one whole number each."""
BY_COMPLAINT, BY_RING, BY_RANK, BY_SURVEY, BY_VACANCY, BY_CONFIRM, BY_WATCH = range(7)  #: Why a look is due
WILLING_ROW, SHUT_ROW = range(2)
"""Rows of the habits of the households: how readily they report, how often nobody opens."""

HOLD_WEEKS = 8
"""Silence is no evidence for so long after a report, find or treatment
(:data:`spread.posterior.observations.REPORT_HOLD_WEEKS`)."""
AVOID_WEEKS = 26  #: A unit that refused is not ranked again for so long (judgement, no source)
RELAPSE_WEEKS = 26
"""A course begun so soon after another ended in the unit is counted as a relapse, as
:data:`spread.trade.building_stock.RELAPSE` counts."""


def encode(
    programme: Programme, pace: Pace, clearance: ClearanceRule | None = None, crew_minutes: float = 0.0
) -> tuple[Whole, NDArray[np.float64]]:
    """Return a programme as arrays of shape (:data:`N_RULES`,) and (:data:`BY_METHOD` + 2 methods,).

    ``pace``: for ranked doors that fill a number of minutes, and for the crew's time; ``clearance``: the
    building's clearance rule; the trade's if None. ``crew_minutes``: at doors a week; 0 is without end.
    """
    rules = np.full(N_RULES, NOT, dtype=np.int64)
    minutes = np.zeros(BY_METHOD + 2 * len(METHODS))
    if (complaint := programme.complaint) is not None:
        rules[COMPLAINT_METHOD] = METHODS.index(complaint.method)
        rules[[COMPLAINT_WITHIN, COMPLAINT_TRIES]] = complaint.within_weeks, complaint.tries
    if (ring := programme.ring) is not None:
        rules[RING_METHOD] = METHODS.index(ring.method)
        rules[[RING_WITHIN, RING_TRIES]] = ring.within_weeks, ring.tries
    if (ranked := programme.ranked) is not None:
        rules[RANKED_METHOD] = METHODS.index(ranked.method)
        rules[[RANKED_DOORS, RANKED_EVERY]] = ranked.doors, ranked.every_weeks
        rules[[RANKED_FROM, RANKED_TRIES]] = programme.begins + ranked.from_week, ranked.tries
        minutes[BUDGET] = ranked.minutes
        minutes[KNOCK] = pace.knock
        minutes[IN_UNIT] = pace.look.get(ranked.method, pace.look[BRIEF.key])
    if (survey := programme.survey) is not None:
        rules[SURVEY_METHOD] = METHODS.index(survey.method)
        rules[[SURVEY_EVERY, SURVEY_TIMES]] = survey.every_weeks, survey.times
        rules[[SURVEY_FROM, SURVEY_OVER]] = programme.begins + survey.from_week, survey.over_weeks
        rules[SURVEY_TRIES] = survey.tries
    if programme.vacant is not None:
        rules[VACANT_METHOD] = METHODS.index(programme.vacant.method)
    if (watch := programme.watch) is not None:
        rules[WATCH_METHOD] = METHODS.index(watch.method)
        rules[[WATCH_EVERY, WATCH_WEEKS, WATCH_TRIES]] = watch.every_weeks, watch.weeks, watch.tries
    rules[CONFIRM_METHOD] = METHODS.index(programme.confirm)
    treatment, ending = programme.treatment, ending_of(programme, clearance or ClearanceRule())
    rules[TREAT_METHOD] = TREATMENTS.index(treatment.method)
    rules[[TREAT_WITHIN, TREAT_EVERY]] = treatment.within_weeks, treatment.every_weeks
    rules[[HEAT_AFTER, ENCASE]] = treatment.heat_after, treatment.encase
    rules[[CLEAN, CLEAN_HEAVY, PER_PERIOD]] = ending.visits, ending.heavy_visits, ending.per_period
    rules[MONITOR] = METHODS.index(ending.monitor) if ending.monitor else NOT
    rules[NOTICE] = programme.notice
    rules[BEGINS] = programme.begins
    if crew_minutes:
        minutes[CAPACITY] = crew_minutes
        _plan_visits(minutes, pace, ending.monitor)
        minutes[FIRST_VISIT] += ENCASING.central * treatment.encase
    return rules, minutes


def _plan_visits(minutes: NDArray[np.float64], pace: Pace, monitor: str) -> None:
    """Write down what visits are planned with: doors open, and a visit to a course treats."""
    set_up = {m: pace.set_up.get(m, whole) for m, whole in pace.look.items()} | {PROTOCOL: SURVEY.central}
    fetch = {m: whole - set_up[m] for m, whole in pace.look.items()} | {PROTOCOL: 0.0}
    for m, method in enumerate(METHODS):
        minutes[BY_METHOD + m] = pace.knock + set_up[method]
        minutes[BY_METHOD + len(METHODS) + m] = pace.knock + fetch[method]
    set_one, fetch_one = (set_up[monitor], fetch[monitor]) if monitor else (0.0, 0.0)
    minutes[FIRST_VISIT] = pace.knock + set_one + TREATING["moderate"].central
    minutes[NEXT_VISIT] = pace.knock + pace.look[BRIEF.key] + fetch_one + TREATING["light"].central

"""Looks that a programme plans of itself inside a run: surveys, the watch, and ranked doors."""

from __future__ import annotations

import numba as nb
import numpy as np

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes import filter as firm
from spread.programmes import rules as r
from spread.programmes.inside import BORROWS, COMPILED
from spread.programmes.tables import Tables
from spread.programmes.visits import State, Whole, schedule


@nb.njit(**BORROWS)
def plan_survey(state: State, week: int, rules: Whole, counts: Whole) -> None:
    """Put a survey on the calendar when one begins."""
    since = week - rules[r.SURVEY_FROM]
    if rules[r.SURVEY_METHOD] < 0 or since < 0 or since % rules[r.SURVEY_EVERY]:
        return
    if rules[r.SURVEY_TIMES] > 0 and since // rules[r.SURVEY_EVERY] >= rules[r.SURVEY_TIMES]:
        return
    n = state.shape[1]
    for i in range(n):
        due = week + i * rules[r.SURVEY_OVER] // n
        if schedule(state, i, due, r.BY_SURVEY, rules[r.SURVEY_METHOD], rules[r.SURVEY_TRIES]):
            counts[c.NOTICES] += rules[r.NOTICE] * (1 - state[r.VACANT, i])


@nb.njit(**BORROWS)
def plan_watch(state: State, week: int, rules: Whole, counts: Whole) -> None:
    """Put a look on the calendar where a course ended some weeks ago and the watch asks for one."""
    if rules[r.WATCH_METHOD] < 0 or week < rules[r.BEGINS]:
        return
    for i in range(state.shape[1]):
        since = week - state[r.CLOSED_IN, i]
        closed = state[r.CLOSED_IN, i] >= 0 and 0 < since <= rules[r.WATCH_WEEKS]
        if not closed or since % rules[r.WATCH_EVERY]:
            continue
        if schedule(state, i, week, r.BY_WATCH, rules[r.WATCH_METHOD], rules[r.WATCH_TRIES]):
            counts[c.NOTICES] += rules[r.NOTICE] * (1 - state[r.VACANT, i])


@nb.njit(**COMPILED)
def plan_ranked(
    state: State, week: int, rules: Whole, minutes: Floats, belief: Floats, opens: Floats, t: Tables,
    score: Floats, counts: Whole,
) -> None:  # fmt: skip
    """Put this week's ranked doors on the calendar: the likeliest finds, until doors or minutes are up."""
    since = week - rules[r.RANKED_FROM]
    if rules[r.RANKED_METHOD] < 0 or since < 0 or since % rules[r.RANKED_EVERY]:
        return
    method, left = rules[r.RANKED_METHOD], minutes[r.BUDGET]
    room = rules[r.RANKED_DOORS]
    if room <= 0:
        room = 1 + int(left / (minutes[r.KNOCK] + opens.min() * minutes[r.IN_UNIT]))
    n, found = state.shape[1], t.found[method]
    # The best so far, best first, of equal ones the first: the list is short, so it is kept as it is made.
    best, held = np.empty(min(room, n), np.int64), 0
    for i in range(n):
        taken = state[r.CASE, i] or state[r.PLACED, i] >= 0 or state[r.DUE, i] >= 0
        if taken or state[r.AVOID_UNTIL, i] > week:
            continue
        share = 1.0 if state[r.VACANT, i] else opens[i]
        score[i] = share * firm.chance_of_find(belief, i, found)
        if held == best.shape[0] and score[i] <= score[best[held - 1]]:
            continue
        held = min(held + 1, best.shape[0])
        place = held - 1
        while place > 0 and score[best[place - 1]] < score[i]:
            best[place] = best[place - 1]
            place -= 1
        best[place] = i
    for i in best[:held]:
        if rules[r.RANKED_DOORS] <= 0:
            left -= minutes[r.KNOCK] + opens[i] * minutes[r.IN_UNIT]
            if left < 0.0:
                break
        schedule(state, i, week, r.BY_RANK, method, rules[r.RANKED_TRIES])
        counts[c.NOTICES] += rules[r.NOTICE] * (1 - state[r.VACANT, i])

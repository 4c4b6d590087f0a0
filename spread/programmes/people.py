"""The people of a building inside a run: their habits, who leaves, who moves in, who reports."""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes import keys as k
from spread.programmes import rules as r
from spread.programmes.begin import Begin
from spread.programmes.inside import BORROWS
from spread.programmes.tables import Tables
from spread.programmes.visits import State, Whole, schedule


@nb.njit(**BORROWS)
def household(state: State, habits: Floats, i: int, begin: Begin, run: np.uint64, since: int) -> None:
    """Draw the habits of the people of a unit: since week ``since``, or known at the start (-1)."""
    key = k.week_key(run, k.HOUSEHOLD + since + 1)
    # A gamma number of mean 1 and shape 2: its coefficient of variation is 0.71
    # (spread.worlds.habits asks for 0.7, judgement).
    first = 1.0 - k.uniform(key, i, k.WILLING)
    second = 1.0 - k.uniform(key, i, k.WILLING_TOO)
    habits[r.WILLING_ROW, i] = -0.5 * math.log(first * second)
    shut = begin.shut
    row = i if since < 0 else shut.shape[0] - 1
    habits[r.SHUT_ROW, i] = shut[row, int(k.uniform(key, i, k.SHUT) * shut.shape[1])]
    state[r.REFUSER, i] = 1 if k.uniform(key, i, k.REFUSES) < begin.refuses else 0


@nb.njit(**BORROWS)
def set_up(state: State, habits: Floats, begin: Begin, run: int, key: np.uint64, per_period: int) -> None:
    """Set the units as they are today in one run."""
    state[:] = 0
    for i in range(state.shape[1]):
        state[r.LEVEL, i] = begin.levels[run, i]
        state[r.VACANT, i] = begin.vacant[i]
        state[r.EMPTY_WEEKS, i] = begin.empty_weeks[i]
        state[r.CASE, i] = begin.case[i]
        state[r.CASE_DUE, i] = begin.case_due[i]
        state[r.CASE_VISITS, i] = begin.case_visits[i]
        state[r.CASE_CLEAN, i] = begin.case_clean[i] * per_period
        state[r.CASE_HEAVY, i] = begin.case_heavy[i]
        state[r.HOLD_UNTIL, i] = begin.hold_until[i]
        for row in (r.CLOSED_IN, r.DUE, r.PLACED, r.LOOKED_IN, r.TREATED):
            state[row, i] = r.NOT
        state[r.CLEAR_AT_START, i] = 1 if begin.levels[run, i] == 0 else 0
        state[r.EVER, i] = 1 - state[r.CLEAR_AT_START, i]
        state[r.FOUND_EVER, i] = 1 if begin.case[i] and begin.levels[run, i] > 0 else 0
        household(state, habits, i, begin, key, -1)


@nb.njit(**BORROWS)
def people(
    state: State, habits: Floats, begin: Begin, week: int, run: np.uint64, key: np.uint64, rules: Whole,
    t: Tables, counts: Whole,
) -> None:  # fmt: skip
    """Let people leave and move in, and let residents report."""
    for i in range(state.shape[1]):
        state[r.MOVED_IN, i] = 0
        state[r.REPORTED, i] = 0
        luck = k.uniform(key, i, k.TURNOVER)
        if state[r.VACANT, i]:
            if luck < begin.relet:
                state[r.VACANT, i] = 0
                state[r.MOVED_IN, i] = 1
                counts[c.MOVE_INS] += 1
                household(state, habits, i, begin, run, week)
        elif luck < begin.leave:
            state[r.VACANT, i] = 1
            state[r.EMPTY_WEEKS, i] = 0
            state[r.ENCASED, i] = 0  # the beds go with the people
            looks = rules[r.VACANT_METHOD] >= 0 and week >= rules[r.BEGINS]
            if looks and schedule(state, i, week, r.BY_VACANCY, rules[r.VACANT_METHOD], 1):
                counts[c.VACANT_CHECKS] += 1
        chance = t.report[state[r.VACANT, i], state[r.LEVEL, i]]
        if not state[r.VACANT, i]:
            chance *= habits[r.WILLING_ROW, i]
        if k.uniform(key, i, k.REPORT) >= chance:
            continue
        in_hand = state[r.DUE, i] >= 0 and state[r.KIND, i] in (r.BY_COMPLAINT, r.BY_CONFIRM)
        if state[r.CASE, i] or state[r.PLACED, i] >= 0 or in_hand:
            continue  # the household waits for the visit that is due
        state[r.REPORTED, i] = 1
        state[r.HOLD_UNTIL, i] = week + r.HOLD_WEEKS
        counts[c.REPORTS] += 1
        if state[r.LEVEL, i] == 0:
            counts[c.FALSE_REPORTS] += 1
        if rules[r.COMPLAINT_METHOD] >= 0:
            later = int(k.uniform(key, i, k.DELAY) * (rules[r.COMPLAINT_WITHIN] + 1))
            due = week + later
            schedule(state, i, due, r.BY_COMPLAINT, rules[r.COMPLAINT_METHOD], rules[r.COMPLAINT_TRIES])

"""The compiled forward kernel: one run of one programme, week by week; the outermost loop is over runs."""

from __future__ import annotations

import math
from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes import filter as firm
from spread.programmes import keys as k
from spread.programmes import rules as r
from spread.programmes.begin import Begin
from spread.programmes.tables import Tables
from spread.programmes.visits import State, Whole, check, follow_up, look, schedule


class Kept(NamedTuple):
    """What is kept of every run of a programme: R runs, W weeks.

    Parameters
    ----------
    infested, known
        Shape (R, W + 1): units infested, and courses of treatment under way, at the start of each week.
    visits
        Shape (R, W): doors stood at.
    counts
        Shape (R, columns): :data:`spread.programmes.columns.COLUMNS`.
    shots
        Shape (R, snapshots, N): levels at the start of the weeks asked for.
    """

    infested: NDArray[np.int32]
    known: NDArray[np.int32]
    visits: NDArray[np.int32]
    counts: Whole
    shots: NDArray[np.int8]

    def first(self, runs: int) -> Kept:
        """Return the first ``runs`` runs alone."""
        return Kept(
            self.infested[:runs], self.known[:runs], self.visits[:runs], self.counts[:runs], self.shots[:runs]
        )


def new_kept(runs: int, weeks: int, units: int = 0, snapshots: int = 0) -> Kept:
    """Return room for ``runs`` runs."""
    return Kept(
        np.zeros((runs, weeks + 1), np.int32),
        np.zeros((runs, weeks + 1), np.int32),
        np.zeros((runs, weeks), np.int32),
        np.zeros((runs, len(c.COLUMNS)), np.int64),
        np.zeros((runs, snapshots, units), np.int8),
    )


@nb.njit(cache=True, nogil=True, error_model="numpy")
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


@nb.njit(cache=True, nogil=True, error_model="numpy")
def set_up(state: State, habits: Floats, begin: Begin, run: int, key: np.uint64) -> None:
    """Set the units as they are today in one run."""
    state[:] = 0
    for i in range(state.shape[1]):
        state[r.LEVEL, i] = begin.levels[run, i]
        state[r.VACANT, i] = begin.vacant[i]
        state[r.EMPTY_WEEKS, i] = begin.empty_weeks[i]
        state[r.CASE, i] = begin.case[i]
        state[r.CASE_DUE, i] = begin.case_due[i]
        state[r.CASE_VISITS, i] = begin.case_visits[i]
        state[r.CASE_CLEAN, i] = begin.case_clean[i]
        state[r.HOLD_UNTIL, i] = begin.hold_until[i]
        for row in (r.CLOSED_IN, r.DUE, r.PLACED, r.LOOKED_IN, r.TREATED):
            state[row, i] = r.NOT
        state[r.CLEAR_AT_START, i] = 1 if begin.levels[run, i] == 0 else 0
        state[r.EVER, i] = 1 - state[r.CLEAR_AT_START, i]
        state[r.FOUND_EVER, i] = 1 if begin.case[i] and begin.levels[run, i] > 0 else 0
        household(state, habits, i, begin, key, -1)


@nb.njit(cache=True, nogil=True, error_model="numpy")
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
            if luck < r.RELET:
                state[r.VACANT, i] = 0
                state[r.MOVED_IN, i] = 1
                household(state, habits, i, begin, run, week)
        elif luck < r.LEAVE:
            state[r.VACANT, i] = 1
            state[r.EMPTY_WEEKS, i] = 0
            if rules[r.VACANT_METHOD] >= 0 and schedule(
                state, i, week, r.BY_VACANCY, rules[r.VACANT_METHOD], 1
            ):
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


@nb.njit(cache=True, nogil=True, error_model="numpy")
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


@nb.njit(cache=True, nogil=True, error_model="numpy")
def plan_ranked(
    state: State, week: int, rules: Whole, minutes: Floats, belief: Floats, opens: Floats, t: Tables,
    score: Floats, counts: Whole,
) -> None:  # fmt: skip
    """Put this week's ranked doors on the calendar: the likeliest finds, until doors or minutes are up."""
    since = week - rules[r.RANKED_FROM]
    if rules[r.RANKED_METHOD] < 0 or since < 0 or since % rules[r.RANKED_EVERY]:
        return
    method = rules[r.RANKED_METHOD]
    n = state.shape[1]
    for i in range(n):
        taken = state[r.CASE, i] or state[r.PLACED, i] >= 0 or state[r.DUE, i] >= 0
        if taken or state[r.AVOID_UNTIL, i] > week:
            score[i] = -1.0
        else:
            share = 1.0 if state[r.VACANT, i] else opens[i]
            score[i] = share * firm.chance_of_find(belief, i, t.found[method])
    left = minutes[r.BUDGET]
    doors = rules[r.RANKED_DOORS] if rules[r.RANKED_DOORS] > 0 else n
    for _ in range(doors):
        best = np.argmax(score)
        if score[best] < 0.0:
            break
        if rules[r.RANKED_DOORS] <= 0:
            left -= minutes[r.KNOCK] + opens[best] * minutes[r.IN_UNIT]
            if left < 0.0:
                break
        score[best] = -1.0
        schedule(state, best, week, r.BY_RANK, method, rules[r.RANKED_TRIES])
        counts[c.NOTICES] += rules[r.NOTICE] * (1 - state[r.VACANT, best])


@nb.njit(cache=True, nogil=True, error_model="numpy")
def live(
    state: State, begin: Begin, weights: Floats, brought_in: float, mixing: float, key: np.uint64, t: Tables,
    push: Floats, counts: Whole,
) -> None:  # fmt: skip
    """Let a week pass in truth: spread and growth first, then the week's treatments."""
    indptr, indices, shedding, grow, odds = begin.indptr, begin.indices, t.shedding, t.grow, t.odds
    n = state.shape[1]
    push[:] = 0.0
    everywhere = 0.0
    for j in range(n):
        if state[r.LEVEL, j]:
            out = shedding[state[r.LEVEL, j]]
            if state[r.VACANT, j] and state[r.EMPTY_WEEKS, j] < odds[3]:
                out *= odds[2]
            everywhere += out
            for place in range(indptr[j], indptr[j + 1]):
                push[indices[place]] += out * weights[place]
    everywhere *= mixing / n
    for i in range(n):
        level = state[r.LEVEL, i]
        empty = state[r.VACANT, i]
        if level == 0:
            hazard = push[i] + everywhere
            hazard = brought_in + (hazard * odds[1] if empty else hazard)
            if state[r.MOVED_IN, i]:
                hazard += odds[0]
            luck = k.uniform(key, i, k.SPREAD)
            # A chance is never more than its hazard: most units need no exponential.
            if luck < hazard and luck < -math.expm1(-hazard):
                level = 1
                counts[c.NEW] += 1
                if not state[r.EVER, i]:
                    counts[c.NEW_UNITS] += 1
                    state[r.EVER, i] = 1
        else:
            level = draw(grow[empty, level], k.uniform(key, i, k.GROWTH))
        if state[r.TREATED, i] >= 0:
            level = draw(t.act[state[r.TREATED, i], level], k.uniform(key, i, k.TREAT))
            state[r.TREATED, i] = r.NOT
        state[r.LEVEL, i] = level
        if empty:
            state[r.EMPTY_WEEKS, i] += 1


@nb.njit(cache=True, nogil=True, error_model="numpy")
def draw(reach: Floats, luck: float) -> int:
    """Return the level that a uniform number falls on, from cumulated chances of shape (levels,)."""
    level = 0
    while level < reach.shape[0] - 1 and luck > reach[level]:
        level += 1
    return level


@nb.njit(cache=True, nogil=True, error_model="numpy")
def weights_of(exposure: Floats, rates: Floats) -> Floats:
    """Return the weekly hazard along each contact, shape (contacts,), from rates (2 + routes,)."""
    weights = np.zeros(exposure.shape[0])
    for place in range(exposure.shape[0]):
        for route in range(exposure.shape[1]):
            weights[place] += exposure[place, route] * rates[2 + route]
    return weights


@nb.njit(cache=True, nogil=True, error_model="numpy")
def note(state: State, run: int, week: int, snapshots: Whole, kept: Kept) -> int:
    """Write down how things stand at the start of a week; return the units infested."""
    n = state.shape[1]
    for s in range(snapshots.shape[0]):
        if snapshots[s] == week:
            for i in range(n):
                kept.shots[run, s, i] = state[r.LEVEL, i]
    infested = 0
    known = 0
    for i in range(n):
        infested += state[r.LEVEL, i] > 0
        known += state[r.CASE, i]
    kept.infested[run, week] = infested
    kept.known[run, week] = known
    return infested


@nb.njit(cache=True, nogil=True, error_model="numpy")
def visits_of_week(
    state: State, habits: Floats, week: int, rules: Whole, ring: tuple[Whole, Whole], key: np.uint64,
    t: Tables, belief: Floats, counts: Whole,
) -> int:  # fmt: skip
    """Make every visit that is due in a week, in the order of the units; return how many."""
    before = counts[c.VISITS]
    for i in range(state.shape[1]):
        if state[r.DUE, i] == week:
            look(state, habits, i, week, rules, ring, key, t, belief, counts)
        elif state[r.PLACED, i] == week:
            check(state, habits, i, week, rules, ring, key, t, belief, counts)
        if state[r.CASE_DUE, i] == week and state[r.CASE, i]:
            follow_up(state, habits, i, week, rules, key, t, belief, counts)
    made = counts[c.VISITS] - before
    counts[c.TRIPS] += made > 0
    return made


@nb.njit(cache=True, nogil=True, error_model="numpy")
def believe(belief: Floats, state: State, begin: Begin, weights: Floats, t: Tables, push: Floats) -> None:
    """Let a week pass in what the firm believes, treatments last; call it before :func:`live`."""
    rates = begin.mean_rates
    firm.predict(belief, state, begin.indptr, begin.indices, weights, rates[0], rates[1], t, push)
    for i in range(belief.shape[0]):
        if state[r.TREATED, i] >= 0:
            firm.treat(belief, i, t.effect[state[r.TREATED, i]])


@nb.njit(cache=True, nogil=True, error_model="numpy")
def run_block(
    first: int,
    last: int,
    seed: int,
    weeks: int,
    begin: Begin,
    t: Tables,
    rules: Whole,
    minutes: Floats,
    ring: tuple[Whole, Whole],
    snapshots: Whole,
    kept: Kept,
) -> None:
    """Do runs ``first`` to ``last`` - 1 of one programme.

    Parameters
    ----------
    seed
        With the run's number, the only source of luck.
    weeks
        How long.
    begin, t
        The building today, and the trade.
    rules, minutes
        From :func:`spread.programmes.rules.encode`.
    ring
        From :func:`spread.programmes.begin.rings_of`.
    snapshots
        Weeks of which the levels are kept.
    kept
        Filled in rows ``first`` to ``last`` - 1.
    """
    n = begin.levels.shape[1]
    state = np.zeros((r.N_STATE, n), np.int32)
    habits = np.zeros((2, n))
    push, score, opens = np.zeros(n), np.zeros(n), np.zeros(n)
    ranks = rules[r.RANKED_METHOD] >= 0
    # Only ranked doors need a belief; with no rows it is left alone everywhere.
    belief = np.zeros((n if ranks else 0, begin.belief.shape[1]))
    believed = weights_of(begin.exposure, begin.mean_rates)
    for i in range(n):
        opens[i] = 1.0 - begin.shut[i].mean()
    for run in range(first, last):
        counts = kept.counts[run]
        key = k.run_key(seed, run)
        set_up(state, habits, begin, run, key)
        # In a loop: assigning a whole array would compile numba's text of a shape error too, for seconds.
        for i in range(belief.shape[0]):
            for a in range(belief.shape[1]):
                belief[i, a] = begin.belief[i, a]
        rates = begin.rates[run]
        weights = weights_of(begin.exposure, rates)
        for week in range(weeks):
            counts[c.BUG_WEEKS] += note(state, run, week, snapshots, kept)
            now = k.week_key(key, week)
            people(state, habits, begin, week, key, now, rules, t, counts)
            plan_survey(state, week, rules, counts)
            if ranks:
                firm.hear(belief, state, week, t.report)
                plan_ranked(state, week, rules, minutes, belief, opens, t, score, counts)
            kept.visits[run, week] = visits_of_week(state, habits, week, rules, ring, now, t, belief, counts)
            if ranks:
                believe(belief, state, begin, believed, t, push)
            live(state, begin, weights, rates[0], rates[1], now, t, push, counts)
        note(state, run, weeks, snapshots, kept)
        for i in range(n):
            counts[c.UNITS_INFESTED] += state[r.EVER, i]
            counts[c.UNITS_FOUND] += state[r.FOUND_EVER, i]

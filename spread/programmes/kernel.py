"""The compiled forward kernel: one run of one programme, week by week; the outermost loop is over runs."""

from __future__ import annotations

import numba as nb
import numpy as np

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes import filter as firm
from spread.programmes import keys as k
from spread.programmes import rules as r
from spread.programmes.begin import Begin
from spread.programmes.capacity import put_off
from spread.programmes.kept import Kept
from spread.programmes.living import believe, live, weights_of
from spread.programmes.people import people, set_up
from spread.programmes.planning import plan_ranked, plan_survey
from spread.programmes.tables import Tables
from spread.programmes.visits import State, Whole, check, follow_up, look


@nb.njit(cache=True, nogil=True, error_model="numpy")
def note(state: State, run: int, week: int, snapshots: Whole, kept: Kept) -> int:
    """Write down how things stand at the start of a week; return the units infested."""
    n = state.shape[1]
    for s in range(snapshots.shape[0]):
        if snapshots[s] == week:
            for i in range(n):
                kept.shots[run, s, i] = state[r.LEVEL, i]
    for month in range(kept.ends.shape[0]):
        if kept.ends[month] == week:
            for column in range(kept.counts.shape[1]):
                kept.by_month[run, month, column] = kept.counts[run, column]
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
) -> tuple[int, int]:  # fmt: skip
    """Make every visit that is due in a week, in the order of the units; return how many, and treatments."""
    before = counts[c.VISITS]
    treated = 0
    for i in range(state.shape[1]):
        if state[r.DUE, i] == week:
            look(state, habits, i, week, rules, ring, key, t, belief, counts)
        elif state[r.PLACED, i] == week:
            check(state, habits, i, week, rules, ring, key, t, belief, counts)
        if state[r.CASE_DUE, i] == week and state[r.CASE, i]:
            follow_up(state, habits, i, week, rules, key, t, belief, counts)
            treated += state[r.TREATED, i] >= 0
    made = counts[c.VISITS] - before
    counts[c.TRIPS] += made > 0
    return made, treated


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
    seed : With the run's number, the only source of luck
    weeks : How long
    begin, t : The building today, and the trade
    rules, minutes : From :func:`spread.programmes.rules.encode`
    ring : From :func:`spread.programmes.begin.rings_of`
    snapshots : Weeks of which the levels are kept
    kept : Filled in rows ``first`` to ``last`` - 1
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
        set_up(state, habits, begin, run, key, rules[r.PER_PERIOD])
        # In a loop: assigning a whole array would compile numba's text of a shape error too, for seconds.
        for i in range(belief.shape[0]):
            for a in range(belief.shape[1]):
                belief[i, a] = begin.belief[i, a]
        rates = begin.rates[run]
        weights = weights_of(begin.exposure, rates)
        begins_with = 0
        for week in range(weeks):
            counts[c.BUG_WEEKS] += note(state, run, week, snapshots, kept)
            now = k.week_key(key, week)
            people(state, habits, begin, week, key, now, rules, t, counts)
            plan_survey(state, week, rules, counts)
            if ranks:
                firm.hear(belief, state, week, t.report)
                plan_ranked(state, week, rules, minutes, belief, opens, t, score, counts)
            if minutes[r.CAPACITY] > 0.0:
                begins_with = put_off(state, week, minutes, begins_with, counts)
            made, treated = visits_of_week(state, habits, week, rules, ring, now, t, belief, counts)
            kept.visits[run, week] = made
            kept.treated[run, week] = treated
            if ranks:
                believe(belief, state, begin, believed, t, push)
            live(state, begin, weights, rates[0], rates[1], now, t, push, counts)
        note(state, run, weeks, snapshots, kept)
        for i in range(n):
            counts[c.UNITS_INFESTED] += state[r.EVER, i]
            counts[c.UNITS_FOUND] += state[r.FOUND_EVER, i]

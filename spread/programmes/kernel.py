"""The compiled forward kernel: runs of one programme, week by week.

Runs of a programme without ranked doors go one after another. Where doors are ranked, several go side by
side, for what the firm believes is most of the work and goes faster together
(:func:`spread.programmes.filter.predict`). A run's figures do not depend on its company.
"""

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
from spread.programmes.inside import BORROWS, COMPILED
from spread.programmes.kept import Kept
from spread.programmes.living import believe, live, weigh
from spread.programmes.people import people, set_up
from spread.programmes.planning import plan_ranked, plan_survey, plan_watch
from spread.programmes.tables import Tables, at
from spread.programmes.visits import State, Whole, check, follow_up, look

SIDE_BY_SIDE = 25  #: Runs whose doors are ranked together; their state still stays in a core's cache


@nb.njit(**BORROWS)
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


@nb.njit(**BORROWS)
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


@nb.njit(**COMPILED)
def begin_with(belief: Floats, first: Floats) -> None:
    """Fill what the firm of a run believes; no rows where no door is ranked."""
    # In a loop: assigning a whole array would compile numba's text of a shape error too, for seconds.
    for i in range(belief.shape[0]):
        for a in range(belief.shape[1]):
            belief[i, a] = first[i, a]


@nb.njit(**COMPILED)
def run_block(
    first: int,
    last: int,
    seed: int,
    weeks: int,
    begin: Begin,
    tables: Tables,
    which: Whole,
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
    begin : The building today
    tables, which : The trade: all tables and each run's, from :func:`spread.programmes.tables.stacked`
    rules, minutes : From :func:`spread.programmes.rules.encode`
    ring : From :func:`spread.programmes.begin.rings_of`
    snapshots : Weeks of which the levels are kept
    kept : Filled in rows ``first`` to ``last`` - 1
    """
    n, contacts = begin.levels.shape[1], begin.exposure.shape[0]
    ranks = rules[r.RANKED_METHOD] >= 0
    width = SIDE_BY_SIDE if ranks else 1
    states = np.zeros((width, r.N_STATE, n), np.int32)
    habits, keys = np.zeros((width, 2, n)), np.zeros(width, np.uint64)
    weights, onward = np.zeros((width, contacts)), np.zeros(width, np.int64)
    push, score, opens = np.zeros(n), np.zeros(n), np.zeros(n)
    # Only ranked doors need a belief; with no rows it is left alone everywhere.
    belief = np.zeros((width, n if ranks else 0, begin.belief.shape[1]))
    believed = np.zeros(contacts)
    weigh(begin.exposure, begin.mean_rates, believed)
    for i in range(n):
        opens[i] = 1.0 - begin.shut[i].mean()
    for start in range(first, last, width):
        end = min(start + width, last)
        for run in range(start, end):
            place = run - start
            keys[place] = k.run_key(seed, run)
            set_up(states[place], habits[place], begin, run, keys[place], rules[r.PER_PERIOD])
            weigh(begin.exposure, begin.rates[run], weights[place])
            onward[place] = 0
            begin_with(belief[place], begin.belief)
        for week in range(weeks):
            for run in range(start, end):
                place, counts, t = run - start, kept.counts[run], at(tables, which[run])
                state, habit, taken = states[place], habits[place], belief[place]
                counts[c.BUG_WEEKS] += note(state, run, week, snapshots, kept)
                now = k.week_key(keys[place], week)
                people(state, habit, begin, week, keys[place], now, rules, t, counts)
                plan_survey(state, week, rules, counts)
                plan_watch(state, week, rules, counts)
                if ranks:
                    firm.hear(taken, state, week, t.report)
                    plan_ranked(state, week, rules, minutes, taken, opens, t, score, counts)
                onward[place] = put_off(state, week, minutes, onward[place], counts)
                made, treated = visits_of_week(state, habit, week, rules, ring, now, t, taken, counts)
                kept.visits[run, week] = made
                kept.treated[run, week] = treated
            if ranks:
                believe(belief, states, begin, believed, tables, which[start:end])
            for run in range(start, end):
                place, t, rates = run - start, at(tables, which[run]), begin.rates[run]
                now = k.week_key(keys[place], week)
                live(states[place], begin, weights[place], rates[0], rates[1], now, t, push, kept.counts[run])
        for run in range(start, end):
            state, counts = states[run - start], kept.counts[run]
            note(state, run, weeks, snapshots, kept)
            for i in range(n):
                counts[c.UNITS_INFESTED] += state[r.EVER, i]
                counts[c.UNITS_FOUND] += state[r.FOUND_EVER, i]

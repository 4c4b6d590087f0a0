"""What happens at a door inside a run: knock, look, begin a course, treat, close it."""

from __future__ import annotations

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import LEVELS, Floats
from spread.programmes import columns as c
from spread.programmes import filter as firm
from spread.programmes import keys as k
from spread.programmes import rules as r
from spread.programmes import tables as p
from spread.programmes.inside import BORROWS
from spread.programmes.tables import NO, UNSURE, YES, Tables

State = NDArray[np.int32]
Whole = NDArray[np.int64]

OPEN, SHUT, REFUSED = range(3)
FORTNIGHT = 2
HEAVY = LEVELS - 1


@nb.njit(**BORROWS)
def schedule(state: State, i: int, due: int, kind: int, method: int, tries: int) -> bool:
    """Put a look on the calendar, unless the unit is in hand or an earlier look stands; say whether."""
    if state[r.CASE, i] or state[r.PLACED, i] >= 0 or (0 <= state[r.DUE, i] <= due):
        return False
    state[r.DUE, i] = due
    state[r.KIND, i] = kind
    state[r.METHOD, i] = method
    state[r.TRIES, i] = tries
    return True


@nb.njit(**BORROWS)
def knock(state: State, habits: Floats, i: int, week: int, key: np.uint64, counts: Whole) -> int:
    """Knock at a door; a vacant unit is opened with the office's key."""
    counts[c.VISITS] += 1
    if state[r.VACANT, i]:
        return OPEN
    if state[r.REFUSER, i]:
        counts[c.REFUSALS] += 1
        state[r.AVOID_UNTIL, i] = week + r.AVOID_WEEKS
        return REFUSED
    if k.uniform(key, i, k.ACCESS) < habits[r.SHUT_ROW, i]:
        counts[c.SHUT_DOORS] += 1
        return SHUT
    return OPEN


@nb.njit(**BORROWS)
def outcome(level: int, i: int, method: int, key: np.uint64, t: Tables) -> int:
    """Draw what a look gives: no, yes or unsure."""
    if k.uniform(key, i, t.luck[p.TO_BE_UNSURE, method]) < t.unsure[method, level]:
        return UNSURE
    return YES if k.uniform(key, i, t.luck[p.TO_FIND, method]) < t.found[method, level] else NO


@nb.njit(**BORROWS)
def begin_case(
    state: State, i: int, week: int, rules: Whole, ring: tuple[Whole, Whole], key: np.uint64, counts: Whole
) -> None:
    """Begin a course of treatment, and send somebody to the units around."""
    if state[r.LEVEL, i] > 0:
        counts[c.FINDS] += 1
        state[r.FOUND_EVER, i] = 1
    else:
        counts[c.FALSE_FINDS] += 1
    closed = state[r.CLOSED_IN, i]
    if closed >= 0 and week - closed <= r.RELAPSE_WEEKS:
        counts[c.RELAPSES] += 1
    state[r.CASE, i] = 1
    state[r.CASE_DUE, i] = week + rules[r.TREAT_WITHIN]
    state[r.CASE_VISITS, i] = 0
    state[r.CASE_CLEAN, i] = 0
    state[r.CASE_HEAVY, i] = state[r.LEVEL, i] == HEAVY
    state[r.DUE, i] = r.NOT
    state[r.PLACED, i] = r.NOT
    state[r.HOLD_UNTIL, i] = week + r.HOLD_WEEKS
    if rules[r.RING_METHOD] < 0 or week < rules[r.BEGINS]:
        return
    indptr, indices = ring
    for place in range(indptr[i], indptr[i + 1]):
        j = indices[place]
        # Whoever was looked at a week ago or less has had the look that the ring asks for.
        if state[r.LOOKED_IN, j] < 0 or week - state[r.LOOKED_IN, j] > 1:
            later = 1 + int(k.uniform(key, j, k.RING) * rules[r.RING_WITHIN])
            if schedule(state, j, week + later, r.BY_RING, rules[r.RING_METHOD], rules[r.RING_TRIES]):
                counts[c.NOTICES] += rules[r.NOTICE] * (1 - state[r.VACANT, j])


@nb.njit(**BORROWS)
def judge(
    state: State,
    i: int,
    week: int,
    method: int,
    answer: int,
    rules: Whole,
    ring: tuple[Whole, Whole],
    key: np.uint64,
    t: Tables,
    belief: Floats,
    counts: Whole,
) -> None:
    """Act on what a look gave: begin a course, look again, or go on."""
    state[r.LOOKED_IN, i] = week
    if belief.shape[0]:
        firm.multiply(belief, i, t.likely[method, answer])
    kind = state[r.KIND, i]
    if answer == YES and not t.kinds[p.NEEDS_CONFIRMING, method]:
        begin_case(state, i, week, rules, ring, key, counts)
        return
    if answer == YES:
        counts[c.ALERTS] += 1
        if state[r.LEVEL, i] == 0:
            counts[c.FALSE_ALERTS] += 1
    if answer != NO and kind != r.BY_CONFIRM:
        counts[c.CONFIRMS] += 1
        if schedule(state, i, week + 1, r.BY_CONFIRM, rules[r.CONFIRM_METHOD], 3):
            counts[c.NOTICES] += rules[r.NOTICE] * (1 - state[r.VACANT, i])


@nb.njit(**BORROWS)
def knock_for(
    whole: bool, state: State, habits: Floats, i: int, week: int, key: np.uint64, counts: Whole
) -> int:
    """Knock for a look; the protocol's price holds the knock at a door that opens."""
    door = knock(state, habits, i, week, key, counts)
    if door != OPEN or not whole:
        counts[c.KNOCKS] += 1
    return door


@nb.njit(**BORROWS)
def look(
    state: State,
    habits: Floats,
    i: int,
    week: int,
    rules: Whole,
    ring: tuple[Whole, Whole],
    key: np.uint64,
    t: Tables,
    belief: Floats,
    counts: Whole,
) -> None:
    """Make the look that is due in a unit, or set its monitor."""
    method = state[r.METHOD, i]
    whole, brief = method == t.places[p.PLACE_OF_PROTOCOL], t.places[p.PLACE_OF_BRIEF]
    state[r.DUE, i] = r.NOT
    door = knock_for(whole, state, habits, i, week, key, counts)
    if door != OPEN:
        state[r.TRIES, i] -= 1
        if state[r.TRIES, i] > 0 and door == SHUT:
            state[r.DUE, i] = week + 1
        else:
            counts[c.GIVEN_UP] += 1
        return
    counts[c.LOOKS + method] += 1
    counts[c.SURVEY_LOOKS] += state[r.KIND, i] == r.BY_SURVEY
    counts[c.RANKED_LOOKS] += state[r.KIND, i] == r.BY_RANK
    answer = NO
    if whole:
        answer = outcome(state[r.LEVEL, i], i, brief, key, t)
        if answer == YES:
            judge(state, i, week, brief, answer, rules, ring, key, t, belief, counts)
            return
        if belief.shape[0]:
            firm.multiply(belief, i, t.likely[brief, answer])
    if t.kinds[p.IS_SET, method] or whole:
        state[r.PLACED, i] = week + FORTNIGHT
        state[r.PLACED_METHOD, i] = method
        return
    answer = outcome(state[r.LEVEL, i], i, method, key, t)
    judge(state, i, week, method, answer, rules, ring, key, t, belief, counts)


@nb.njit(**BORROWS)
def check(
    state: State,
    habits: Floats,
    i: int,
    week: int,
    rules: Whole,
    ring: tuple[Whole, Whole],
    key: np.uint64,
    t: Tables,
    belief: Floats,
    counts: Whole,
) -> None:
    """Fetch the monitor that stands in a unit; tried every week until somebody opens."""
    method = state[r.PLACED_METHOD, i]
    whole = method == t.places[p.PLACE_OF_PROTOCOL]
    if knock_for(whole, state, habits, i, week, key, counts) != OPEN:
        state[r.PLACED, i] = week + 1
        return
    state[r.PLACED, i] = r.NOT
    counts[t.places[p.FIRST_CHECK] + method] += 1
    seen = t.places[p.PLACE_OF_TRAPS] if whole else method
    answer = outcome(state[r.LEVEL, i], i, seen, key, t)
    judge(state, i, week, seen, answer, rules, ring, key, t, belief, counts)


@nb.njit(**BORROWS)
def follow_up(
    state: State,
    habits: Floats,
    i: int,
    week: int,
    rules: Whole,
    key: np.uint64,
    t: Tables,
    belief: Floats,
    counts: Whole,
) -> None:
    """Visit a unit under treatment: look, treat unless nothing is found, close after enough clean visits."""
    door = knock(state, habits, i, week, key, counts)
    counts[c.KNOCKS] += 1
    counts[c.NOTICES] += rules[r.NOTICE] * (1 - state[r.VACANT, i])
    if door != OPEN:
        state[r.CASE_DUE, i] = week + (1 if door == SHUT else rules[r.TREAT_EVERY])
        return
    level, brief = state[r.LEVEL, i], t.places[p.PLACE_OF_BRIEF]
    monitor = rules[r.MONITOR]
    first = state[r.CASE_VISITS, i] == 0
    treats = first
    if not first:
        counts[c.LOOKS + brief] += 1
        answer = outcome(level, i, brief, key, t)
        if belief.shape[0]:
            firm.multiply(belief, i, t.likely[brief, answer])
        treats = answer != NO
        if monitor >= 0:
            counts[t.places[p.FIRST_CHECK] + monitor] += 1
            caught = outcome(level, i, monitor, key, t)
            if belief.shape[0]:
                firm.multiply(belief, i, t.likely[monitor, caught])
            treats = treats or caught == YES
        state[r.LOOKED_IN, i] = week
    elif monitor >= 0:
        counts[c.LOOKS + monitor] += 1
    if treats:
        done = state[r.CASE_VISITS, i]
        heat = rules[r.HEAT_AFTER] > 0 and done > 0 and done % rules[r.HEAT_AFTER] == 0
        method = t.places[p.PLACE_OF_HEAT] if heat else rules[r.TREAT_METHOD]
        state[r.CASE_VISITS, i] = done + 1
        state[r.CASE_CLEAN, i] = 0
        if level == HEAVY:
            state[r.CASE_HEAVY, i] = 1
        state[r.TREATED, i] = method
        state[r.HOLD_UNTIL, i] = week + r.HOLD_WEEKS
        if first and rules[r.ENCASE] == 1 and not state[r.VACANT, i] and not state[r.ENCASED, i]:
            state[r.ENCASED, i] = 1
            counts[c.ENCASEMENTS] += 1
        counts[t.places[p.FIRST_TREATED] + 3 * method + max(0, level - 2)] += 1
        state[r.CASE_DUE, i] = week + rules[r.TREAT_EVERY]
        return
    state[r.CASE_CLEAN, i] += 1
    state[r.CASE_DUE, i] = week + rules[r.TREAT_EVERY]
    enough = rules[r.CLEAN_HEAVY] if state[r.CASE_HEAVY, i] else rules[r.CLEAN]
    if state[r.CASE_CLEAN, i] >= enough:
        state[r.CASE, i] = 0
        state[r.CASE_DUE, i] = r.NOT
        state[r.CLOSED_IN, i] = week
        counts[c.CLOSED] += 1
        if level > 0:
            counts[c.CLOSED_INFESTED] += 1

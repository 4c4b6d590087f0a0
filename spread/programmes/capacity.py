"""A crew that has only so many minutes a week: what does not fit is put off to the next week."""

from __future__ import annotations

import numba as nb

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes import rules as r
from spread.programmes.inside import BORROWS
from spread.programmes.visits import State, Whole

COURSES, ANSWERS, PLANNED = range(3)
"""What goes first: visits to units under treatment; looks that somebody waits for, and traps that stand; and
looks that the programme plans."""


@nb.njit(**BORROWS)
def needed(state: State, i: int, week: int, first: int, minutes: Floats) -> float:
    """Return the minutes that the visit due in a unit is planned with, if it is of this turn; else 0."""
    methods = (minutes.shape[0] - r.BY_METHOD) // 2
    if state[r.CASE, i] and state[r.CASE_DUE, i] == week:
        if first != COURSES:
            return 0.0
        return float(minutes[r.NEXT_VISIT if state[r.CASE_VISITS, i] else r.FIRST_VISIT])
    if state[r.DUE, i] == week:
        kind = state[r.KIND, i]
        waited_for = kind in (r.BY_COMPLAINT, r.BY_CONFIRM, r.BY_VACANCY)
        if first != (ANSWERS if waited_for else PLANNED):
            return 0.0
        return float(minutes[r.BY_METHOD + state[r.METHOD, i]])
    if state[r.PLACED, i] == week and first == ANSWERS:
        return float(minutes[r.BY_METHOD + methods + state[r.PLACED_METHOD, i]])
    return 0.0


@nb.njit(**BORROWS)
def put_off(state: State, week: int, minutes: Floats, start: int, counts: Whole) -> int:
    """Put off what the crew has no time for in a week; return the unit that the next week begins with.

    Visits are taken by :data:`COURSES` and so on, each from unit ``start`` on, until one does not fit; a
    first visit is made however long it takes. A ranked door that does not fit is ranked anew. What a visit
    of the week brings about in the same week comes on top.
    """
    n = state.shape[1]
    left = minutes[r.CAPACITY]
    if left <= 0.0:  # no end
        return start
    full, made, onward = False, False, -1
    for first in range(PLANNED + 1):
        for step in range(n):
            i = (start + step) % n
            need = needed(state, i, week, first, minutes)
            if need <= 0.0:
                continue
            full = full or (made and need > left)
            if not full:
                made = True
                left -= need
                continue
            if onward < 0:
                onward = i
            counts[c.PUT_OFF] += 1
            if first == COURSES:
                state[r.CASE_DUE, i] = week + 1
            elif state[r.DUE, i] == week:
                state[r.DUE, i] = r.NOT if state[r.KIND, i] == r.BY_RANK else week + 1
            else:
                state[r.PLACED, i] = week + 1
    return start if onward < 0 else onward

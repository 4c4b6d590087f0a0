"""Which look is graded by which list: one rule, told in the docstring of :func:`match`."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from spread.records.kinds import Record
from spread.records.log import Log
from spread.records.looked import seen_as
from spread.records.promises import Promise, Promised

HORIZON = 28
"""Days for which a list's promises count (judgement: about a month, in which chances move little)."""
UNLISTED, OTHER_METHOD, OVERTAKEN, UNDECIDED = "unlisted", "other-method", "overtaken", "undecided"
"""Why a look is not graded: no list named the unit before it; only lists of other methods did; something else
was recorded of the unit between list and look; the look ended unsure or left the sleeping places out."""


@dataclass(frozen=True, slots=True)
class Graded:
    """One look with the list that is graded by it."""

    look: str  #: Id of the row
    day: dt.date  #: Of the list
    method: str
    promised: float  #: Chance that the look is written down as a find
    made: bool


@dataclass(frozen=True, slots=True)
class Matched:
    """All looks since the first list."""

    graded: tuple[Graded, ...] = ()  #: In the order of the lists' days
    left: Mapping[str, int] = field(default_factory=dict)  #: How many looks are not graded, by why
    units: int = 0  #: Units that were on a list
    looked: int = 0  #: Those of them with a graded look


def match(promises: Sequence[Promise], log: Log, on: dt.date) -> Matched:
    """Match each look to the list that it grades.

    That is the last list before the look that named the unit and the look's method, no more than
    :data:`HORIZON` days earlier. *Before* means that the list did not know the look and is of no later day
    than the look began; a correction counts as the row that it corrects. Anything recorded of the unit
    between the two, a look, a complaint, a treatment or a turnover, ends the promise: what the list said is
    then no longer what is believed.

    ``promises``: in the order in which they were made. ``on``: looks of later days are left out.
    """
    of_unit: dict[str, list[tuple[Promise, Promised]]] = {}
    for promise in sorted(promises, key=lambda one: one.on):  # stable: lists of one day stay in their order
        for unit, promised in promise.by_unit.items():
            of_unit.setdefault(unit, []).append((promise, promised))
    first = min((promise.on for promise in promises), default=on)
    found: list[Graded] = []
    left: Counter[str] = Counter()
    looked = set()
    for unit in dict.fromkeys(row.unit for row in log.current):
        rows = [row for row in log.of(unit, on) if counts(row)]
        for place, row in enumerate(rows):
            if not row.is_look or row.began < first:
                continue
            told = _grade(row, rows[:place], of_unit.get(unit, ()), log)
            if isinstance(told, str):
                left[told] += 1
            else:
                found.append(told)
                looked.add(unit)
    found.sort(key=lambda one: one.day)
    return Matched(tuple(found), dict(left), len(of_unit), len(looked))


def known_rows(log: Log, units: Iterable[str], on: dt.date) -> frozenset[str]:
    """Return the ids of rows of units, of a day or later, that a list made now knows or could know."""
    return frozenset(row.id for unit in set(units) for row in log.of(unit) if row.when >= on and counts(row))


def counts(row: Record) -> bool:
    """Return whether a row changes what is believed of its unit, and so ends a promise."""
    return row.is_look or row.is_complaint or row.kind in ("treatment", "turnover")


def _grade(
    look: Record, earlier: Sequence[Record], lists: Sequence[tuple[Promise, Promised]], log: Log
) -> Graded | str:
    """Return what a look grades, or why nothing; ``lists`` named its unit, by day and then as made."""
    chain = tuple(_chain(look, log))
    # A list may have known a row that only its correction moved to a later day.
    ids, began = {row.id for row in chain}, min(row.began for row in chain)
    method, of_another = seen_as(look), False
    undecided = look.found not in ("yes", "no") or not method
    for promise, promised in reversed(lists[: bisect_right(lists, began, key=lambda told: told[0].on)]):
        if (look.began - promise.on).days > HORIZON:
            break
        if ids & promise.known:
            continue
        if undecided:
            return UNDECIDED
        if promise.method != method:
            of_another = True
            continue
        since = (row for row in reversed(earlier) if row.when >= promise.on)
        if any(promise.known.isdisjoint(one.id for one in _chain(row, log)) for row in since):
            return OVERTAKEN
        return Graded(look.id, promise.on, method, promised.yes, look.found == "yes")
    return OTHER_METHOD if of_another else UNLISTED


def _chain(row: Record, log: Log) -> Iterator[Record]:
    """Yield a row and all that it corrects."""
    seen: set[str] = set()
    at: Record | None = row
    while at is not None and at.id not in seen:
        seen.add(at.id)
        yield at
        at = log.by_id.get(at.supersedes) if at.supersedes else None

"""The grade of a building's lists so far: finds promised and made, scores, calibration, coverage."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from spread.decisions.grades.matching import Graded, Matched, match
from spread.decisions.grades.scores import brier, interval, log_score, poisson_binomial, with_event
from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.records.log import Log
from spread.records.promises import Promises

ENOUGH = 20
"""Looks from which anything is said of how good the lists are (judgement)."""
SURE, BAND = 0.95, 0.90
"""What the interval of a sum holds, and that of one day's lists."""
EDGES = (0.0, 0.02, 0.05, 0.1, 0.2, 0.4, 1.0)
"""Edges of the bands of chance: narrow where most doors are."""


@dataclass(frozen=True, slots=True)
class Sum(Fact):
    """Some looks together: finds promised and made.

    ``low``, ``high``: the 95 % interval of the number of finds if every promise is right and looks do not
    hang together.
    """

    name: str  #: Of the method; empty of all looks
    looks: int
    promised: float
    low: int
    high: int
    made: int

    @property
    def inside(self) -> bool:
        """Whether what was made lies in the interval."""
        return self.low <= self.made <= self.high


@dataclass(frozen=True, slots=True)
class Band(Fact):
    """Looks that were promised a chance from ``least`` up to ``most``."""

    least: float
    most: float
    looks: Sum


@dataclass(frozen=True, slots=True)
class ListDay(Fact):
    """The lists of one day, and all up to it.

    ``low``, ``high``: 90 % interval of the finds of this day's lists; ``holds``: what it holds, more than
    90 % of a count. ``so_far``: everything graded by lists up to this day.
    """

    day: dt.date
    looks: int
    promised: float
    low: int
    high: int
    holds: float
    made: int
    so_far: Sum

    @property
    def covered(self) -> bool:
        """Whether the interval held what was made."""
        return self.low <= self.made <= self.high


@dataclass(frozen=True, slots=True)
class Grades(Fact):
    """How good the lists of a building were so far."""

    on: dt.date
    lists: int  #: Lists kept
    since: dt.date | None  #: Day of the first
    #: units, looked: Units that were on a list, and how many of them a graded look was made in
    units: int
    looked: int
    left: dict[str, int]  #: Looks that are not graded, by why (:mod:`spread.decisions.grades.matching`)
    whole: Sum
    brier: float | None  #: Mean squared distance of promise and find; None without looks
    #: Brier score of always saying the share that was found: known only afterwards, so hard to beat
    reference: float | None
    skill: float | None  #: One minus the ratio of the two; None where all or no looks found something
    log_score: float | None
    bands: tuple[Band, ...]
    methods: tuple[Sum, ...]
    days: tuple[ListDay, ...]
    covered: int  #: Days whose interval held what was made
    expected: float  #: Days of which that was to be expected
    can_keep: bool  #: Whether lists can be kept here
    unread: int  #: Lists that cannot be read

    @property
    def enough(self) -> bool:
        """Whether there are looks enough to say anything."""
        return self.whole.looks >= ENOUGH


@dataclass(frozen=True, slots=True)
class OffPromise(Fact):
    """Lists promised another number of finds than were made, outside the 95 % interval."""

    more: bool  #: Whether more was made than promised
    looks: int
    promised: float
    low: int
    high: int
    made: int


def grades_of(promises: Promises, log: Log, on: dt.date, *, can_keep: bool = True) -> Grades:
    """Grade the lists of a building by the looks up to a day.

    ``can_keep``: False where an attempt to keep a list has failed.
    """
    lists = promises.all()
    matched = match(lists, log, on)
    return _graded(
        matched,
        on=on,
        lists=len(lists),
        since=min((one.on for one in lists), default=None),
        can_keep=can_keep and promises.can_keep,
        unread=promises.broken,
    )


def off_promise(grades: Grades) -> OffPromise | None:
    """Return the warning that the lists do not keep their promises; None where they do or nobody can tell."""
    whole = grades.whole
    if not grades.enough or whole.inside:
        return None
    return OffPromise(whole.made > whole.high, whole.looks, whole.promised, whole.low, whole.high, whole.made)


def _graded(
    matched: Matched, *, on: dt.date, lists: int, since: dt.date | None, can_keep: bool, unread: int
) -> Grades:
    graded = matched.graded
    promised, made = _chances(graded)
    score = reference = skill = logs = None
    if graded:
        share = float(made.mean())
        score, reference, logs = brier(promised, made), share * (1.0 - share), log_score(promised, made)
        skill = 1.0 - score / reference if reference > 0 else None
    days = tuple(_days(graded))
    named = sorted({one.method for one in graded})
    return Grades(
        on=on,
        lists=lists,
        since=since,
        units=matched.units,
        looked=matched.looked,
        left=dict(matched.left),
        whole=sum_of("", graded),
        brier=score,
        reference=reference,
        skill=skill,
        log_score=logs,
        bands=tuple(_bands(graded)),
        methods=tuple(sum_of(name, [one for one in graded if one.method == name]) for name in named),
        days=days,
        covered=sum(day.covered for day in days),
        expected=sum(day.holds for day in days),
        can_keep=can_keep,
        unread=unread,
    )


def _chances(graded: Sequence[Graded]) -> tuple[Floats, Floats]:
    return np.array([one.promised for one in graded]), np.array([float(one.made) for one in graded])


def sum_of(name: str, graded: Sequence[Graded]) -> Sum:
    """Return some looks together."""
    promised, made = _chances(graded)
    return _counted(name, promised, int(made.sum()), poisson_binomial(promised))


def _counted(name: str, promised: Floats, made: int, told: Floats) -> Sum:
    low, high, _ = interval(told, SURE)
    return Sum(name, len(promised), float(promised.sum()), low, high, made)


def _bands(graded: Sequence[Graded]) -> Iterable[Band]:
    for least, most in pairwise(EDGES):
        inside = [one for one in graded if least <= one.promised < most or one.promised == most == 1.0]
        if inside:
            yield Band(least, most, sum_of("", inside))


def _days(graded: Sequence[Graded]) -> Iterable[ListDay]:
    """Yield the lists by day, with a running sum whose chances are carried from day to day."""
    told, so_far, made_so_far = np.ones(1), np.zeros(0), 0
    for day, group in groupby(graded, key=lambda one: one.day):
        promised, made = _chances(list(group))
        low, high, holds = interval(poisson_binomial(promised), BAND)
        for chance in promised:
            told = with_event(told, float(chance))
        so_far, made_so_far = np.append(so_far, promised), made_so_far + int(made.sum())
        whole = _counted("", so_far, made_so_far, told)
        yield ListDay(day, len(promised), float(promised.sum()), low, high, holds, int(made.sum()), whole)

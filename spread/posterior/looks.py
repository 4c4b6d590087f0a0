"""One look taken apart: its chance of a find by level, and what it shares with the look before it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from spread.posterior import look_items
from spread.posterior.dynamics import LEVELS, Floats
from spread.records.kinds import LEVELS as GRADES
from spread.records.kinds import Record
from spread.records.looked import seen_as
from spread.trade import biology, detection
from spread.trade.registry import BY_EYE

GRADE_OF_NOTHING = np.array([0.70, 0.20, 0.08, 0.02])
"""Grade written down when a clear unit is taken for infested: mostly the lightest (judgement, no source)."""


class Look(NamedTuple):
    """One look taken apart: a find has chance ``max(found * share, floor) * rest``; none, of 1 - found.

    Parameters
    ----------
    outcome
        Yes, no or unsure.
    found
        Shape (levels,): chance of a find; of a false one at level 0.
    share
        Shape (levels,): chance that the look ended in this kind of answer at all.
    rest
        Shape (levels,): chance of the grade that was written down.
    copied
        How surely the look repeats the one before it (:func:`shared_miss`); 0 for a fresh one.
    before
        Whether that one found something.
    grade
        The grade that was written down, or nothing.
    """

    outcome: str
    found: Floats
    share: Floats
    rest: Floats
    copied: float = 0.0
    before: bool = False
    grade: str = ""

    def likelihood(self) -> Floats:
        """Return P(outcome | level), shape (levels,)."""
        if self.outcome == "unsure":
            return _floored(self.share)
        found = (1.0 - self.copied) * self.found + self.copied * self.before
        if self.outcome == "no":
            return _floored((1.0 - found) * self.share)
        return np.asarray(_floored(found * self.share) * self.rest)


def look_likelihood(
    record: Record,
    *,
    treated_before: bool,
    last: Record | None = None,
    odds: tuple[float, float] = (1.0, 1.0),
) -> Floats:
    """Return P(this inspection or monitor outcome | level), shape (levels,).

    A look ends unsure now and then. Otherwise a find is as likely as the method's sensitivity at
    the level; in a clear unit it is a false positive, by the evidence accepted. A stated grade
    multiplies the chance of that grade at each level. The outcome's chance, before the grade, is
    floored at
    :data:`spread.trade.detection.LIKELIHOOD_FLOOR`. Items of the room, where the record has them, say
    which of its traps stood, where the strongest sign was, and that signs were all
    (:mod:`spread.posterior.look_items`); a clean look that left the sleeping places out says nothing
    (:mod:`spread.records.looked`).

    Parameters
    ----------
    record
        The look.
    treated_before
        Whether the unit was treated before it.
    last
        The look before it with which it may share a miss (:func:`last_looks`).
    odds
        Factors on the odds of a find, and of a false one, as the log taught.
    """
    look = take_apart(record, treated_before=treated_before, last=last)
    factors = np.array([odds[1], *[odds[0]] * (LEVELS - 1)])
    found = factors * look.found / (1.0 - look.found + factors * look.found)
    return look._replace(found=found).likelihood()


def take_apart(record: Record, *, treated_before: bool, last: Record | None = None) -> Look:
    """Return the parts of a look's likelihood.

    Parameters
    ----------
    record, treated_before, last
        As in :func:`look_likelihood`.
    """
    method = seen_as(record)
    if not method:
        return Look("unsure", np.zeros(LEVELS), np.ones(LEVELS), np.ones(LEVELS))
    found = detection.sensitivity(method, record.days)
    if record.items and record.kind == "monitor" and record.found != "yes":
        found = 1.0 - (1.0 - found) ** look_items.standing_share(record.items)
    unsure = detection.unsure_chance()
    ones = np.ones(LEVELS)
    if record.found == "unsure":
        return Look("unsure", found, unsure, ones)
    copied = 0.0 if last is None else shared_miss(last, record)
    before = last is not None and last.found == "yes"
    if record.found == "no":
        found[0] = detection.false_positive(method, frozenset(), treated_before)
        return Look("no", found, 1.0 - unsure, ones, copied, before)
    share = 1.0 - unsure
    found[0] = detection.false_positive(record.method, record.evidence, treated_before)
    if record.items:
        found[0] = look_items.false_positive(record, treated_before)
        share = share * look_items.signs_factor(record)
    grade = record.level or _grade_of(record)
    rest = ones
    if grade:
        column = GRADES.index(grade)
        rest = np.concatenate(([GRADE_OF_NOTHING[column]], detection.GRADE_GIVEN_LEVEL[:, column]))
    return Look("yes", found, share, rest, copied, before, grade)


def shared_miss(last: Record, record: Record) -> float:
    """Return how surely a look repeats the answer of the one before it in the same unit, 0 to 1.

    Two looks of one day find or miss the same bugs, and so do two of one person soon after each other:
    whoever could not reach behind a wall panel cannot reach there again. Looks by another sense are fresh.
    """
    days = (record.when - last.when).days
    if sense_of(last.method) != sense_of(record.method) or last.found == "unsure":
        return 0.0
    if days == 0:
        return detection.SAME_DAY.central
    if record.by and record.by == last.by and days <= detection.SAME_PERSON_DAYS:
        return detection.SAME_PERSON.central
    return 0.0


def last_looks(rows: Iterable[Record]) -> dict[str, Record]:
    """Return for each look, by its id, the look before it in the unit by the same sense.

    Looks that have none, or whose unit was treated since, are left out. Rows of one day follow each other by
    their ids, which sort by the time they were made.

    Parameters
    ----------
    rows
        Current rows.
    """
    last: dict[str, dict[str, Record]] = {}
    found = {}
    for row in sorted(rows, key=lambda r: (r.when, r.id)):
        of_unit = last.setdefault(row.unit, {})
        if row.kind == "treatment":
            of_unit.clear()
        elif row.is_look and seen_as(row):
            sense = sense_of(row.method)
            if sense in of_unit:
                found[row.id] = of_unit[sense]
            of_unit[sense] = row
    return found


def sense_of(method: str) -> str:
    """Return what a method looks with: all looks by eye share one sense."""
    return "eye" if method in BY_EYE else method


def _floored(values: Floats) -> Floats:
    return np.maximum(values, detection.LIKELIHOOD_FLOOR)


def _grade_of(record: Record) -> str:
    """Return the grade that a count of live bugs amounts to, or nothing."""
    if record.count and (not record.evidence or record.evidence & {"live", "eggs"}):
        return biology.LEVEL_NAMES[biology.level_of_count(record.count)]
    return ""

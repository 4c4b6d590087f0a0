"""Treatment that fails, named as such: catches that do not fall, what to check, and what to change next.

In trials counts fell from visit to visit (their ``reduction`` in :mod:`spread.trade.methods.treatments`). A
series of counts, by one and the same way of counting, that stays above the slowest of these over two
treatments or more is no course that needs patience. Why is for people to find out; the licensed firm and
the label say what is used.

Causes to check: bugs not all found, homes not prepared, resting places and neighbours left out, resistance,
new ones brought in (EPA, When Treatments Don't Work, epa.gov/bedbugs, read in part); the order is judgement.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from spread.decisions.standing import is_find
from spread.facts import Fact
from spread.records.kinds import Record
from spread.records.looked import seen_as
from spread.trade.development import LONGEST_DAYS, visit_days
from spread.trade.registry import TREATMENTS

LEAST, STILL = 2, 3
"""Treatments over which counts have to fall, and after which bugs seen alive are named whatever their "
"number."""
SEATING = ("sofa", "chair")
BELONGINGS = ("closet", "luggage", "books-toys")
EPISODE = dt.timedelta(days=365)


@dataclass(frozen=True, slots=True)
class Counted(Fact):
    """Bugs counted on a day: caught in ``days`` of traps, or seen at a look where ``days`` is 0."""

    when: dt.date
    count: int
    days: int = 0


@dataclass(frozen=True, slots=True)
class Cause(Fact):
    """What to check.

    Parameters
    ----------
    kind
        ``seating`` or ``belongings`` (no row says that anybody looked there), ``neighbours``,
        ``same-method``, ``late`` (treatments too far apart), ``covers`` (none on record), ``resistance``,
        ``brought-in``.
    method
        Of ``same-method``.
    days
        Of ``late``: the longest time between two treatments.
    """

    kind: str
    method: str = ""
    days: int = 0


@dataclass(frozen=True, slots=True)
class Failing(Fact):
    """Treatment that does not work.

    Parameters
    ----------
    treatments
        Day and method of each of the last year.
    counts
        The series that does not fall; empty where bugs are seen alive and nobody counts them.
    expected
        The most that trials would leave at the last count.
    causes
        What to check, likeliest to be missed first.
    """

    treatments: tuple[tuple[dt.date, str], ...]
    counts: tuple[Counted, ...]
    expected: float
    causes: tuple[Cause, ...]

    @property
    def last_methods(self) -> tuple[str, ...]:
        """Methods used, each once, the last first."""
        return tuple(dict.fromkeys(method for _, method in reversed(self.treatments)))


def failing_of(records: Sequence[Record], on: dt.date) -> Failing | None:
    """Return what fails in the treatment of a unit, or None where nothing says that it does.

    Parameters
    ----------
    records
        The unit's current records, in any order; those after ``on`` are left out.
    on
        The day.
    """
    rows = sorted((r for r in records if on - EPISODE <= r.when <= on), key=lambda r: (r.when, r.id))
    treated = [r for r in rows if r.kind == "treatment"]
    if len(treated) < LEAST:
        return None
    counted_on = None
    for series in _series(rows):
        first, last = series[0], series[-1]
        between = [r for r in treated if first.when < r.when < last.when]
        if len(between) < LEAST:
            continue
        counted_on = max(counted_on or last.when, last.when)
        left = math.prod(1.0 - TREATMENTS[r.method].reduction.low for r in between)
        if _rate(last) > _rate(first) * left:
            expected = _rate(first) * left * max(1, last.days)
            return Failing(_told(treated), series, expected, tuple(_causes(rows, treated)))
    alive = [r for r in rows if is_find(r) and (r.evidence & {"live", "eggs"} or r.count)]
    if not alive or (counted_on is not None and counted_on >= alive[-1].when):
        return None  # counts that fall say more than that some are left
    if any(r.is_look and r.found == "no" and r.when > alive[-1].when and seen_as(r) for r in rows):
        return None
    waited = visit_days().earliest
    if sum((alive[-1].when - r.when).days >= waited for r in treated) < STILL:
        return None
    return Failing(_told(treated), (), 0.0, tuple(_causes(rows, treated)))


def _series(rows: Sequence[Record]) -> list[tuple[Counted, ...]]:
    """Return counts by traps and counts by looks, each in order; zero counts too."""
    series: dict[str, list[Counted]] = {}
    for row in rows:
        if not row.is_look or (row.count is None and row.found != "no"):
            continue
        if row.kind == "monitor" and row.days:
            series.setdefault(row.method, []).append(Counted(row.when, row.count or 0, row.days))
        elif row.kind == "inspection" and (row.count or row.found == "no"):
            series.setdefault("look", []).append(Counted(row.when, row.count or 0))
    return [tuple(counts) for counts in series.values() if len(counts) > 1]


def _rate(one: Counted) -> float:
    return one.count / max(1, one.days)


def _told(treated: Sequence[Record]) -> tuple[tuple[dt.date, str], ...]:
    return tuple((row.when, row.method) for row in treated)


def _causes(rows: Sequence[Record], treated: Sequence[Record]) -> list[Cause]:
    looked = {one.item for row in rows if row.kind == "inspection" for one in row.items}
    causes = []
    if not looked & set(SEATING):
        causes.append(Cause("seating"))
    if not looked & set(BELONGINGS):
        causes.append(Cause("belongings"))
    causes.append(Cause("neighbours"))
    if len(treated) > 1 and treated[-1].method == treated[-2].method:
        causes.append(Cause("same-method", method=treated[-1].method))
    apart = max(((b.when - a.when).days for a, b in pairwise(treated)), default=0)
    if apart > LONGEST_DAYS:
        causes.append(Cause("late", days=apart))
    if not any(one.item == "encasement" and one.state == "intact" for row in rows for one in row.items):
        causes.append(Cause("covers"))
    return [*causes, Cause("resistance"), Cause("brought-in")]

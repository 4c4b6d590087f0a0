"""What a period cost by a building's own prices: the rows of its log, counted as a programme's runs are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spread.decisions.case.clearance import COVER
from spread.facts import Fact
from spread.programmes import columns as c
from spread.programmes.money import KINDS, Prices, costs, hours
from spread.records.kinds import LEVELS, Record, said_by
from spread.trade.registry import MONITORS


@dataclass(frozen=True, slots=True)
class Spent(Fact):
    """Money and hours of a period.

    ``money``: by kind of :data:`spread.programmes.money.KINDS`, those of nothing left out. ``budget``: what
    was set aside for it; None where nobody said.
    """

    currency: str
    money: tuple[tuple[str, float], ...]
    hours: float
    budget: float | None = None

    @property
    def total(self) -> float:
        """All kinds together."""
        return sum(amount for _, amount in self.money)


def spent(
    rows: Iterable[Record], prices: Prices, since: dt.date, until: dt.date, budget: float | None = None
) -> Spent:
    """Return what the work on record in a period cost.

    A monitor is paid when it is read, its first visit too; a treatment by the size of the last find before
    it, light where none has a level; the way there for each day on which somebody came. Nothing is counted
    for infested weeks.

    ``rows``: current rows of the building, each once, those before the period too. ``budget``: of the period.
    """
    counts = counted_work(rows, since, until)
    money, spent_hours = costs(counts[None], prices)[0], hours(counts[None], prices)[0]
    told = tuple((kind, float(amount)) for kind, amount in zip(KINDS, money, strict=True) if amount)
    return Spent(prices.currency, told, float(spent_hours.sum()), budget)


def counted_work(
    rows: Iterable[Record], since: dt.date, until: dt.date, *, encase: bool = False
) -> NDArray[np.int64]:
    """Return the paid work on record in a period by the columns of a run; see :func:`spent`.

    ``encase``: whether encasements that a treatment left intact are counted, once a household. Without, they
    are taken for material of the treatment.
    """
    counts = np.zeros(c.WIDTH, dtype=np.int64)
    level: dict[str, str] = {}
    days, encased = set(), set[str]()
    for row in sorted(rows, key=lambda one: (one.when, one.id)):
        if row.when > until:
            break
        if row.is_look and row.found == "yes" and row.level:
            level[row.unit] = row.level
        if row.kind == "turnover":
            encased.discard(row.unit)
        left = row.kind == "treatment" and any(o.item == COVER and o.state == "intact" for o in row.items)
        new = encase and left and row.unit not in encased
        encased |= {row.unit} if left else set()
        if row.when < since:
            continue
        counts[c.ENCASEMENTS] += new
        if row.is_look or row.kind in ("treatment", "no-access"):
            days.add(row.when)
            counts[c.KNOCKS] += 2 if row.method in MONITORS else 1
        if row.is_look:
            counts[c.LOOKS + c.METHODS.index(row.method)] += 1
            counts[c.CHECKS + c.METHODS.index(row.method)] += row.method in MONITORS
        elif row.kind == "treatment":
            size = max(0, LEVELS.index(level.get(row.unit, LEVELS[0])) - 1)
            counts[c.TREATED + len(c.SIZES) * c.TREATMENTS.index(row.method) + size] += 1
        elif row.is_complaint:
            counts[c.REPORTS] += 1
        elif said_by(row) in ("entry-notice", "result-notice"):
            counts[c.NOTICES] += 1
    counts[c.TRIPS] = len(days)
    return counts


def budget_of(a_month: float | None, since: dt.date, until: dt.date) -> float | None:
    """Return what is set aside for a period, of so much a month; None where nobody said."""
    if a_month is None:
        return None
    days = (until - since).days + 1
    whole = since.day == 1 and (until + dt.timedelta(days=1)).day == 1
    months = (until.year - since.year) * 12 + until.month - since.month + 1 if whole else days / 30.44
    return a_month * months

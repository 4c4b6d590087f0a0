"""A fee schedule: what a firm asks for a programme, and what that comes to in the simulated futures.

The firm's own costs are :mod:`spread.programmes.money`; an owner pays these fees instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple, get_args

import numpy as np

from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.kept import WEEKS_A_MONTH, Kept
from spread.toml_table import TomlTable

Renewal = Literal["ends", "monthly", "yearly"]
"""What happens when the term is over: it ends, or goes on month by month or year by year."""
MOST_FEE = 1e6


@dataclass(frozen=True, slots=True)
class Fees(Fact):
    """What is asked, how long it holds and what is promised; every fee of nothing is not asked."""

    set_up: float = 0.0  #: Once
    unit_month: float = 0.0  #: For each unit and month
    visit: float = 0.0  #: For each visit to a unit that somebody could enter, treatments among them
    treatment: float = 0.0  #: For the first treatment visit of a unit after a find
    retreatment: float = 0.0  #: For each further treatment visit until the unit is closed
    term_months: int = 24  #: How long the schedule is agreed for
    renewal: Renewal = "ends"
    notice_days: int = 30  #: How long before the end, or before leaving, either side says so
    #: Whether a unit that is found again within 26 weeks of its closing is treated again for nothing
    retreats: bool = False
    #: Share of the fees for the whole time that is paid back where a unit is still under treatment at its end
    refund: float = 0.0

    @property
    def any_fee(self) -> bool:
        """Whether anything is asked at all."""
        return any((self.set_up, self.unit_month, self.visit, self.treatment, self.retreatment))


class Billed(NamedTuple):
    """What the fees come to in every run, each of shape (R,)."""

    asked: Floats  #: Before the guarantee
    treatment: Floats  #: What of it is for treatment visits
    given: Floats  #: What the guarantee takes off


def billed(kept: Kept, fees: Fees) -> Billed:
    """Return what a fee schedule comes to in every run of a programme."""
    counts = kept.counts.astype(float)
    units, weeks = kept.shots.shape[2], kept.visits.shape[1]
    entered = counts[:, c.VISITS] - counts[:, c.SHUT_DOORS] - counts[:, c.REFUSALS]
    treated = counts[:, c.TREATED : c.WIDTH].sum(axis=1)
    # Courses that were under way at the start had their first visit before: what is treated in them is again.
    first = np.minimum(counts[:, [c.FINDS, c.FALSE_FINDS]].sum(axis=1), treated)
    treatment = fees.treatment * first + fees.retreatment * (treated - first)
    asked = fees.set_up + fees.unit_month * units * weeks / WEEKS_A_MONTH + fees.visit * entered + treatment
    again = np.minimum(counts[:, c.RELAPSES] / np.maximum(first, 1.0), 1.0)
    given = treatment * again if fees.retreats else 0.0 * treatment
    given = given + fees.refund * (asked - given) * (kept.known[:, -1] > 0)
    return Billed(asked, treatment, given)


def fees_from(top: TomlTable) -> Fees:
    """Read the tables ``[fees]``, ``[term]`` and ``[guarantee]`` of an offer; problems go to the table."""
    usual = Fees()
    row, term, promise = top.table("fees"), top.table("term"), top.table("guarantee")
    return Fees(
        **{name: row.number(name, 0.0, 0.0, MOST_FEE) for name in FEE_NAMES},
        term_months=term.whole("months", usual.term_months, 1, 120),
        renewal=term.word("renewal", usual.renewal, get_args(Renewal)),  # type: ignore[arg-type]
        notice_days=term.whole("notice_days", usual.notice_days, 0, 365),
        retreats=promise.flag("retreats", usual.retreats),
        refund=promise.number("refund", usual.refund, 0.0, 1.0),
    )


FEE_NAMES = ("set_up", "unit_month", "visit", "treatment", "retreatment")
"""Fees, as an offer names them and in its order."""


def fees_table(fees: Fees) -> dict[str, Mapping[str, float | int | str | bool]]:
    """Return a schedule as the tables of an offer."""
    return {
        "fees": {name: getattr(fees, name) for name in FEE_NAMES},
        "term": {"months": fees.term_months, "renewal": fees.renewal, "notice_days": fees.notice_days},
        "guarantee": {"retreats": fees.retreats, "refund": fees.refund},
    }

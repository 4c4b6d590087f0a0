"""Money of runs, each kind where it belongs: the firm's inner costs, the owner's bill, the owner's losses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.crew import with_trips
from spread.programmes.fees import Fees, billed
from spread.programmes.kept import WEEKS_A_MONTH
from spread.programmes.money import KINDS, Prices, costs, losses
from spread.programmes.run import Runs

WEEKS_A_YEAR = 12.0 * WEEKS_A_MONTH


@dataclass(frozen=True)
class Books:
    """The money of every run of one programme."""

    work: Floats  #: Shape (R, kinds): what the work costs the firm
    bill: Floats | None  #: Shape (R,): what the owner pays by a fee schedule; None without one
    given: Floats | None  #: Shape (R,): what the guarantee takes off the bill, which is what it costs
    rest: Floats  #: Shape (R,): a mean course of treatment for every unit infested at the end
    losses: Floats  #: Shape (R,): what the owner loses by infested units, in no other figure here
    #: counts, last: What money counts for beside money of today: what is paid, shape (R,), and at the end
    counts: Floats
    last: float

    @property
    def paid(self) -> Floats:
        """What the programme costs the one who pays: the bill, or the work where there are no fees."""
        return self.work.sum(axis=1) if self.bill is None else self.bill

    @property
    def compared(self) -> Floats:
        """What programmes are compared by: a programme that finds little leaves bills behind."""
        return self.paid * self.counts + self.rest * self.last


def books_of(
    runs: Sequence[Runs], prices: Prices, fees: Fees | None, *, course: float | None = None
) -> dict[str, Books]:
    """Return the books of every programme by its key.

    ``fees``: None for the work at its cost. ``course``: price of a course for what is left; the mean over
    these runs if None.
    """
    course = course_price(runs, prices, fees) if course is None else course
    found = {}
    for each in runs:
        visits = each.kept.visits
        later = later_counts(visits.shape[1] + 1, prices.discount)
        bill = None if fees is None else billed(each.kept, fees)
        found[each.programme.key] = Books(
            work=costs(with_trips(each.kept, prices), prices),
            bill=None if bill is None else bill.asked - bill.given,
            given=None if bill is None else bill.given,
            rest=course * each.infested[:, -1].astype(np.float64),
            losses=losses(each.counts, prices),
            counts=paid_counts(visits if bill is None else np.ones_like(visits), later[:-1]),
            last=float(later[-1]),
        )
    return found


def later_counts(weeks: int, discount: float) -> Floats:
    """Return what money of each week counts for beside money of today, from per cent a year."""
    return np.asarray((1.0 + discount / 100.0) ** (-np.arange(weeks) / WEEKS_A_YEAR))


def paid_counts(visits: NDArray[np.int32], later: Floats) -> Floats:
    """Return what all that is paid counts for, shape (R,): work by its visits, a bill evenly through time."""
    shares = np.where(visits.sum(axis=1, keepdims=True) > 0, visits, 1)
    return (
        np.asarray((shares * later).sum(axis=1) / shares.sum(axis=1)) if later.size else np.ones(len(visits))
    )


def course_price(runs: Sequence[Runs], prices: Prices, fees: Fees | None = None) -> float:
    """Return the mean price of treatment of one course, over all programmes and runs; 0 if there was none."""
    begun = sum(int(each.counts[:, [c.FINDS, c.FALSE_FINDS]].sum()) for each in runs)
    if fees is None:
        place = KINDS.index("treatment")
        spent = sum(float(costs(each.counts, prices)[:, place].sum()) for each in runs)
    else:
        spent = sum(float(billed(each.kept, fees).treatment.sum()) for each in runs)
    return spent / begun if begun else 0.0

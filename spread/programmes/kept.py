"""What is kept of every run of a programme, and room for it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spread.programmes import columns as c
from spread.programmes.rules import Whole

WEEKS_A_MONTH = 365.25 / 12.0 / 7.0


class Kept(NamedTuple):
    """What is kept of every run of a programme: R runs, W weeks."""

    #: infested, known: Shape (R, W + 1): units infested, and courses of treatment under way, at the start of
    #: each week
    infested: NDArray[np.int32]
    known: NDArray[np.int32]
    visits: NDArray[np.int32]  #: Shape (R, W): doors stood at
    treated: NDArray[np.int32]  #: Shape (R, W): visits among them that treated
    counts: Whole  #: Shape (R, columns): see :mod:`spread.programmes.columns`
    shots: NDArray[np.int8]  #: Shape (R, snapshots, N): levels at the start of the weeks asked for
    ends: Whole  #: Shape (M,): week at whose start each month of the programme is over
    by_month: NDArray[np.int32]  #: Shape (R, M, columns): the counts up to then

    def first(self, runs: int) -> Kept:
        """Return the first ``runs`` runs alone."""
        return Kept(
            self.infested[:runs], self.known[:runs], self.visits[:runs], self.treated[:runs],
            self.counts[:runs], self.shots[:runs], self.ends, self.by_month[:runs],
        )  # fmt: skip

    def up_to(self, month: int) -> Kept:
        """Return the runs as they stand when so many months are over, as if they had ended then."""
        weeks, counts = int(self.ends[month - 1]), self.by_month[:, month - 1].astype(np.int64)
        return self._replace(
            infested=self.infested[:, : weeks + 1], known=self.known[:, : weeks + 1],
            visits=self.visits[:, :weeks], treated=self.treated[:, :weeks], counts=counts,
            ends=self.ends[:month], by_month=self.by_month[:, :month],
        )  # fmt: skip


def month_ends(weeks: int) -> list[int]:
    """Return the weeks at whose start the months of a programme are over; the last may be short."""
    most = int(weeks / WEEKS_A_MONTH) + 1
    return sorted({min(round(month * WEEKS_A_MONTH), weeks) for month in range(1, most + 1)} | {weeks})


def new_kept(runs: int, weeks: int, units: int = 0, snapshots: int = 0) -> Kept:
    """Return room for ``runs`` runs."""
    ends = np.array(month_ends(weeks), dtype=np.int64)
    return Kept(
        np.zeros((runs, weeks + 1), np.int32),
        np.zeros((runs, weeks + 1), np.int32),
        np.zeros((runs, weeks), np.int32),
        np.zeros((runs, weeks), np.int32),
        np.zeros((runs, c.WIDTH), np.int64),
        np.zeros((runs, snapshots, units), np.int8),
        ends,
        np.zeros((runs, len(ends), c.WIDTH), np.int32),
    )

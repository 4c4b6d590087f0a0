"""What is kept of every run of a programme, and room for it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spread.programmes import columns as c
from spread.programmes.rules import Whole


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

    def first(self, runs: int) -> Kept:
        """Return the first ``runs`` runs alone."""
        return Kept(
            self.infested[:runs], self.known[:runs], self.visits[:runs], self.treated[:runs],
            self.counts[:runs], self.shots[:runs],
        )  # fmt: skip


def new_kept(runs: int, weeks: int, units: int = 0, snapshots: int = 0) -> Kept:
    """Return room for ``runs`` runs."""
    return Kept(
        np.zeros((runs, weeks + 1), np.int32),
        np.zeros((runs, weeks + 1), np.int32),
        np.zeros((runs, weeks), np.int32),
        np.zeros((runs, weeks), np.int32),
        np.zeros((runs, c.WIDTH), np.int64),
        np.zeros((runs, snapshots, units), np.int8),
    )

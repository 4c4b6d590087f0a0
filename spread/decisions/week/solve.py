"""Which door on which day: an assignment under the hours of each day, solved by HiGHS.

A day holds the minutes of everybody who works on it; what a door earns falls with every day that passes, and
what is owed goes before what only promises finds. Huangfu and Hall, *Parallelizing the dual revised simplex
method*, Mathematical Programming Computation 10, 2018, is the solver.
"""

from __future__ import annotations

import highspy
import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats

GAP = 0.01
"""Share of the optimum that may be missed: the last of it takes ten times as long (0.25 s to 3.6 s)."""
NODES = 50
"""Nodes of the search at most: a bound that, unlike seconds, gives the same plan on every machine."""


class _Quiet(highspy.Highs):
    """A solver without callbacks: setting them up prints a banner into whatever a command prints."""

    def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
        """Do nothing."""


def assign(value: Floats, minutes: Floats, room: Floats) -> NDArray[np.intp]:
    """Return the day of each door, or -1 where it is on none.

    Parameters
    ----------
    value
        Shape (N, D): what a door earns on a day; below 0 where that day is not possible.
    minutes
        Shape (N,): what it takes.
    room
        Shape (D,): minutes of a day.
    """
    doors, days = np.nonzero(value >= 0)
    chosen = np.full(len(minutes), -1, dtype=np.intp)
    if not len(doors):
        return chosen
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(doors), len(minutes) + len(room)
    lp.col_cost_ = value[doors, days]
    lp.col_lower_, lp.col_upper_ = np.zeros(len(doors)), np.ones(len(doors))
    lp.row_lower_ = np.full(lp.num_row_, -highspy.kHighsInf)
    lp.row_upper_ = np.concatenate([np.ones(len(minutes)), room])
    lp.sense_ = highspy.ObjSense.kMaximize
    lp.integrality_ = [highspy.HighsVarType.kInteger] * len(doors)
    # A column a door and day: one in the row of its door, its minutes in that of its day.
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.arange(0, 2 * len(doors) + 1, 2)
    lp.a_matrix_.index_ = np.column_stack([doors, len(minutes) + days]).ravel()
    lp.a_matrix_.value_ = np.column_stack([np.ones(len(doors)), minutes[doors]]).ravel()
    solver = _Quiet()
    for option, setting in (
        ("output_flag", False), ("mip_rel_gap", GAP), ("mip_max_nodes", NODES), ("threads", 1),
        ("random_seed", 1),
    ):  # fmt: skip
        solver.setOptionValue(option, setting)
    solver.passModel(lp)
    solver.run()
    taken = np.asarray(solver.getSolution().col_value) > 0.5
    if taken.any():
        chosen[doors[taken]] = days[taken]
    return chosen

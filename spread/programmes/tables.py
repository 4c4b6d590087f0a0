"""The facts of the trade as the arrays that the kernel reads."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import LEVELS, Dynamics, Floats
from spread.programmes.columns import METHODS, PROTOCOL, TREATMENTS
from spread.trade import detection, treatment

BRIEF = METHODS.index("brief-visual")
TRAPS = METHODS.index("interceptors")
WHOLE_PROTOCOL = METHODS.index(PROTOCOL)
HEAT = TREATMENTS.index("whole-room-heat")
MONITORED = np.array([m in detection.NOMINAL_DAYS for m in METHODS])
"""Methods of two visits, a fortnight apart (a lure trap's night is a second visit too)."""
UNCONFIRMED = np.array([m in ("dog", "interview") for m in METHODS])
"""Methods whose word alone is no find."""
NO, YES, UNSURE = range(3)


class Tables(NamedTuple):
    """Facts of biology and of the trade.

    Parameters
    ----------
    shedding
        Shape (levels,).
    grow
        Shape (2, levels, levels): cumulated growth, occupied then vacant.
    growth
        The same, not cumulated.
    odds
        Shape (4,): move-in, factor on the pressure upon an empty unit, factor on what it sheds at first, and
        for how many weeks.
    found, unsure
        Shape (methods, levels): chance that a look finds, column 0 by mistake; and that it ends unsure.
    likely
        Shape (methods, 3, levels): likelihood of no, yes, unsure.
    report
        Shape (2, levels): weekly chance of a report, occupied then vacant.
    act, effect
        Shape (treatments, levels, levels): what a treatment does, cumulated and not.
    """

    shedding: Floats
    grow: Floats
    growth: Floats
    odds: Floats
    found: Floats
    unsure: Floats
    likely: Floats
    report: Floats
    act: Floats
    effect: Floats


def look_tables() -> tuple[Floats, Floats]:
    """Return chances of a find and of an unsure end, both of shape (methods, levels)."""
    found = np.zeros((len(METHODS), LEVELS))
    unsure = np.zeros_like(found)
    for m, method in enumerate(METHODS):
        if method == PROTOCOL:
            continue  # drawn as a brief look and interceptors
        found[m] = detection.sensitivity(method)
        evidence = frozenset({"alert"}) if method == "dog" else frozenset[str]()
        found[m, 0] = detection.false_positive(method, evidence, treated_before=False)
        if method in ("brief-visual", "thorough-visual"):
            unsure[m] = detection.unsure_chance()
    found[WHOLE_PROTOCOL] = 1.0 - (1.0 - found[BRIEF]) * (1.0 - found[TRAPS])
    return found, unsure


def tables_of(dynamics: Dynamics, **changed: NDArray[np.float64]) -> Tables:
    """Gather the tables.

    Parameters
    ----------
    dynamics
        Growth, shedding and what vacancy does.
    **changed
        Any of ``found``, ``report`` and ``effect`` to use instead of the trade's, of the same shape: for
        what-if runs (:mod:`spread.programmes.drivers`).
    """
    found, unsure = look_tables()
    found = changed.get("found", found)
    effect = changed.get("effect", np.stack([treatment.effect_matrix(m) for m in TREATMENTS]))
    report = changed.get("report", np.stack([detection.report_chance(), detection.vacant_report_chance()]))
    likely = np.stack([(1.0 - found) * (1.0 - unsure), found * (1.0 - unsure), unsure], axis=1)
    odds = (dynamics.move_in, dynamics.vacant_target, dynamics.vacant_source, dynamics.vacant_source_weeks)
    return Tables(
        shedding=dynamics.shedding,
        grow=np.cumsum(dynamics.growth, axis=2),
        growth=dynamics.growth,
        odds=np.array(odds, dtype=np.float64),
        found=found,
        unsure=unsure,
        likely=np.maximum(likely, detection.LIKELIHOOD_FLOOR),
        report=report,
        act=np.cumsum(effect, axis=2),
        effect=effect,
    )

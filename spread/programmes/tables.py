"""The facts of the trade as the arrays that the kernel reads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import LEVELS, Dynamics, Floats
from spread.posterior.looks import with_odds
from spread.posterior.seeing import NO_ODDS, Odds
from spread.programmes.columns import CHECKS, METHODS, PROTOCOL, TREATED, TREATMENTS
from spread.programmes.inside import COMPILED
from spread.programmes.keys import DECISIONS, Keys, apart, stream
from spread.trade import detection, registry, treatment
from spread.trade.methods import looks, monitors

BRIEF = METHODS.index(looks.BRIEF.key)
TRAPS = METHODS.index(monitors.INTERCEPTORS.key)
WHOLE_PROTOCOL = METHODS.index(PROTOCOL)
NO, YES, UNSURE = range(3)
PLACE_OF_BRIEF, PLACE_OF_TRAPS, PLACE_OF_PROTOCOL, PLACE_OF_HEAT, FIRST_CHECK, FIRST_TREATED = range(6)
"""Places of ``Tables.places``."""
IS_SET, NEEDS_CONFIRMING = range(2)
"""Rows of ``Tables.kinds``: left standing for a fortnight (a lure trap's night is a second visit too); a word
that alone is no find."""
TO_FIND, TO_BE_UNSURE = range(2)  #: Rows of ``Tables.luck``


class Tables(NamedTuple):
    """Facts of biology and of the trade."""

    shedding: Floats  #: Shape (levels,)
    grow: Floats  #: Shape (2, levels, levels): cumulated growth, occupied then vacant
    growth: Floats  #: The same, not cumulated
    #: Shape (4,): move-in, factor on the pressure upon an empty unit, factor on what it sheds at first, and
    #: for how many weeks
    odds: Floats
    #: found, unsure: Shape (methods, levels): chance that a look finds, column 0 by mistake; and that it ends
    #: unsure
    found: Floats
    unsure: Floats
    likely: Floats  #: Shape (methods, 3, levels): likelihood of no, yes, unsure
    report: Floats  #: Shape (2, levels): weekly chance of a report, occupied then vacant
    #: act, effect: Shape (treatments, levels, levels): what a treatment does, cumulated and not
    act: Floats
    effect: Floats
    luck: Keys  #: Shape (2, methods): keys of the random numbers by which a look finds and ends unsure
    kinds: NDArray[np.bool_]  #: Shape (2, methods): what a method is
    #: Shape (6,): which methods and columns are meant where the kernel has to mean some. The kernel is
    #: compiled and kept without the registry, so it is told.
    places: NDArray[np.int64]


def stacked(runs: Sequence[Tables]) -> tuple[Tables, NDArray[np.int64]]:
    """Return the tables of all runs as one, along a new first axis, and the place of each run's there."""
    places: dict[int, int] = {}
    which = [places.setdefault(id(each), len(places)) for each in runs]
    apart = [runs[which.index(place)] for place in range(len(places))]
    return Tables(*(np.stack(each) for each in zip(*apart, strict=True))), np.array(which, dtype=np.int64)


@nb.njit(**COMPILED)
def at(tables: Tables, place: int) -> Tables:
    """Return one of the tables that :func:`stacked` put together."""
    return Tables(
        tables.shedding[place], tables.grow[place], tables.growth[place], tables.odds[place],
        tables.found[place], tables.unsure[place], tables.likely[place], tables.report[place],
        tables.act[place], tables.effect[place], tables.luck[place], tables.kinds[place],
        tables.places[place],
    )  # fmt: skip


def look_tables(odds: Odds = NO_ODDS) -> tuple[Floats, Floats]:
    """Return chances of a find and of an unsure end, both of shape (methods, levels).

    ``odds``: what a building's log taught of methods and of those who look.
    """
    found = np.zeros((len(METHODS), LEVELS))
    unsure = np.zeros_like(found)
    for m, method in enumerate(METHODS):
        if method == PROTOCOL:
            continue  # drawn as a brief look and interceptors
        found[m] = with_odds(detection.sensitivity(method), odds.of_next(method))
        found[m, 0] = detection.false_positive(method, frozenset(), treated_before=False)
        if method in registry.BY_EYE:
            unsure[m] = detection.unsure_chance()
    found[WHOLE_PROTOCOL] = 1.0 - (1.0 - found[BRIEF]) * (1.0 - found[TRAPS])
    return found, unsure


def tables_of(dynamics: Dynamics, odds: Odds = NO_ODDS, **changed: NDArray[np.float64]) -> Tables:
    """Gather the tables.

    Parameters
    ----------
    dynamics : Growth, shedding and what vacancy does
    odds : As in :func:`look_tables`
    **changed
        Any of ``found``, ``report`` and ``effect`` to use instead of the trade's, of the same shape: for
        what-if runs (:mod:`spread.programmes.drivers`).
    """
    found, unsure = look_tables(odds)
    found = changed.get("found", found)
    effect = changed.get(
        "effect", np.stack([treatment.over_units(treatment.effect_matrix(m)) for m in TREATMENTS])
    )
    report = changed.get("report", np.stack([detection.report_chance(), detection.vacant_report_chance()]))
    likely = np.stack([(1.0 - found) * (1.0 - unsure), found * (1.0 - unsure), unsure], axis=1)
    hazards = (dynamics.move_in, dynamics.vacant_target, dynamics.vacant_source, dynamics.vacant_source_weeks)
    return Tables(
        shedding=dynamics.shedding,
        grow=np.cumsum(dynamics.growth, axis=2),
        growth=dynamics.growth,
        odds=np.array(hazards, dtype=np.float64),
        found=found,
        unsure=unsure,
        likely=np.maximum(likely, detection.LIKELIHOOD_FLOOR),
        report=report,
        act=np.cumsum(effect, axis=2),
        effect=effect,
        luck=_luck(),
        kinds=np.array(
            [[m in registry.MONITORS for m in METHODS], [m in registry.UNCONFIRMED for m in METHODS]]
        ),
        places=np.array(
            [BRIEF, TRAPS, WHOLE_PROTOCOL, TREATMENTS.index(registry.ROOM_HEAT), CHECKS, TREATED]
        ),
    )


def streams() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the names of the random numbers of each method: by which a look finds, and ends unsure."""
    names = tuple(PROTOCOL if m == PROTOCOL else registry.LOOKING[m].stream for m in METHODS)
    return names, tuple(f"{name}:unsure" for name in names)


def _luck() -> Keys:
    names = streams()
    assert apart((*DECISIONS, *names[0], *names[1])), "two decisions would share luck; rename a method"
    return np.array([[stream(name) for name in row] for row in names], dtype=np.uint64)

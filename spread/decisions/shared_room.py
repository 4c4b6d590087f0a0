"""A room that some units share and no plan shows: whether the log tells of one, and which units use it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spread.facts import Fact
from spread.posterior.draws import Posterior
from spread.posterior.room import ON
from spread.trade import routes

LIKELY = 0.5
"""Chance of a shared room from which it is warned of, and from which a source is named as it (judgement)."""
MOST_NAMED = 12
"""Most units that are named (judgement)."""


@dataclass(frozen=True, slots=True)
class SharedRoom(Fact):
    """Whether some units share a room, or are visited by one person, that neither plan nor log shows.

    Parameters
    ----------
    chance, before
        That there is one, with this log and before it.
    learned
        Whether the log tells of one: its chance is above :data:`LIKELY`.
    units
        Those that use it, if there is one, rather than not; likeliest first, at most :data:`MOST_NAMED`; two
        at least, or none where the log does not tell.
    """

    chance: float
    before: float
    learned: bool
    units: tuple[str, ...]


def shared_room_of(posterior: Posterior) -> SharedRoom | None:
    """Return what the log tells of a shared room; None where the fit did not learn of one."""
    shared = posterior.shared
    if shared is None:
        return None
    chance = float(posterior.weights @ shared.draws[:, ON])
    if chance <= LIKELY:
        return SharedRoom(chance, routes.ROOM, False, ())
    order = np.argsort(-shared.members, kind="stable")
    named = int((shared.members > LIKELY * shared.draws[:, ON].mean()).sum())
    first = order[: min(MOST_NAMED, max(2, named))]
    return SharedRoom(chance, routes.ROOM, True, tuple(posterior.units[i] for i in first))

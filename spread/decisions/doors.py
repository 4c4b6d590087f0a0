"""Which door next: units ranked by the chance that the method finds something."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spread.decisions.reasons import how_sure, reasons_for
from spread.decisions.view import View
from spread.posterior.dynamics import Floats
from spread.trade import detection


@dataclass(frozen=True, slots=True)
class DoorRow:
    """One unit in the list of next doors.

    Parameters
    ----------
    unit
        Unit code.
    rank
        1 for the first door; units apart from the list (treat, revisit) rank among themselves.
    chance
        Posterior probability that the unit is infested today.
    chance_of_find
        Probability that the chosen method finds something there today.
    reason
        A sentence or two in plain words.
    rule
        What a ring rule asks for, such as ``"beside 304"``; empty where no rule names the unit.
    status
        ``look`` (knock), ``treat`` (known infested, not treated since) or ``revisit``
        (known infested and treated, not yet two clear looks).
    sure
        What the chance rests on, in a few words (:func:`spread.decisions.reasons.how_sure`).
    """

    unit: str
    rank: int
    chance: float
    chance_of_find: float
    reason: str
    rule: str
    status: str
    sure: str


def chance_of_find(view: View, method: str) -> Floats:
    """Return the chance that a method finds something in each unit today.

    Parameters
    ----------
    view
        What is known.
    method
        A method of looking; a monitor counts for its usual period.

    Returns
    -------
    Floats
        Shape (N,): sum over levels of chance times sensitivity (false positives not counted).
    """
    return np.asarray(view.posterior.levels @ detection.sensitivity(method))


def rank_doors(view: View, method: str) -> tuple[DoorRow, ...]:
    """Rank every unit: doors to look at first, then units to treat, then units to visit again.

    Doors to look at go by the chance of a find. One that was tried or looked at today waits
    behind the others: knocking again at once finds nothing new.

    Parameters
    ----------
    view
        What is known.
    method
        How the technician will look.
    """
    finds = chance_of_find(view, method)
    chance = view.posterior.chance
    index = view.network.index
    groups: dict[str, list[str]] = {"look": [], "treat": [], "revisit": []}
    for unit in view.network.units:
        groups[view.standings[unit].status].append(unit)
    seen_today = {unit for unit in view.network.units if _tried_today(view, unit)}
    groups["look"].sort(key=lambda u: (u in seen_today, -finds[index[u]], index[u]))
    groups["treat"].sort(
        key=lambda u: (-float(view.posterior.levels[index[u]] @ view.dynamics.shedding), index[u])
    )
    groups["revisit"].sort(key=lambda u: (-chance[index[u]], index[u]))
    return tuple(
        DoorRow(
            unit=unit,
            rank=rank,
            chance=float(chance[index[unit]]),
            chance_of_find=float(finds[index[unit]]),
            reason=" ".join(reasons_for(view, unit)[:3]),
            rule=view.rule_words.get(unit, ""),
            status=status,
            sure=how_sure(view, unit),
        )
        for status, units in groups.items()
        for rank, unit in enumerate(units, start=1)
    )


def _tried_today(view: View, unit: str) -> bool:
    return any(
        record.when == view.on and (record.is_look or record.kind == "no-access")
        for record in view.log.of(unit)
    )

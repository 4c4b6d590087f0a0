"""Who is to be revisited, and when: the one place that the plan, the week, the rounds and the lists go by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from spread.decisions.followup import FollowUp, followup_of
from spread.decisions.visits import STATUSES, Visit
from spread.trade.clearance import ClearanceRule

if TYPE_CHECKING:
    from spread.decisions.view import View


def followups(view: View, rule: ClearanceRule | None = None) -> dict[str, FollowUp]:
    """Return the follow-up of every unit of a building, in plan order.

    Parameters
    ----------
    view
        What is known.
    rule
        The clearance rule; that of the view if None.
    """
    if rule is None or rule == view.clearance:
        return view.followups
    return {unit: followup_in(view, unit, rule) for unit in view.network.units}


def revisits(found: Iterable[FollowUp]) -> dict[str, list[tuple[FollowUp, Visit]]]:
    """Return the units to revisit with their visits, by its status; the earliest day to aim for first."""
    groups: dict[str, list[tuple[FollowUp, Visit]]] = {status: [] for status in STATUSES}
    for one in found:
        if one.status == "revisit" and one.visit is not None:
            groups[one.visit.status].append((one, one.visit))
    for group in groups.values():
        group.sort(key=lambda pair: (pair[1].target, pair[0].unit))
    return groups


def revisit_words(found: Mapping[str, FollowUp]) -> str:
    """Return how many units are to be revisited, such as ``revisits: 4 late, 2 due``."""
    names = zip(("late", "due", "coming"), revisits(found.values()).values(), strict=True)
    parts = [f"{len(group)} {name}" for name, group in names if group]
    return f"revisits: {', '.join(parts)}" if parts else "no revisits"


def followup_in(view: View, unit: str, rule: ClearanceRule | None = None) -> FollowUp:
    """Return the follow-up of one unit of a building; the rule is that of the view if None."""
    if rule is None or rule == view.clearance:
        return view.followups[unit]
    chance = float(view.posterior.chance[view.network.index[unit]])
    settled = view.posterior.diagnostics.good
    return followup_of(view.log.of(unit), unit, view.on, chance, rule, settled=settled)

"""Who is to be revisited, and when: the one place that the plan, the week, the rounds and the lists go by."""

from __future__ import annotations

from collections.abc import Iterable

from spread.decisions.case.followup import FollowUp
from spread.decisions.case.visits import STATUSES, Visit


def revisits(found: Iterable[FollowUp]) -> dict[str, list[tuple[FollowUp, Visit]]]:
    """Return the units to revisit with their visits, by its status; the earliest day to aim for first."""
    groups: dict[str, list[tuple[FollowUp, Visit]]] = {status: [] for status in STATUSES}
    for one in found:
        if one.status == "revisit" and one.visit is not None:
            groups[one.visit.status].append((one, one.visit))
    for group in groups.values():
        group.sort(key=lambda pair: (pair[1].target, pair[0].unit))
    return groups

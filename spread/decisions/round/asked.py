"""A round that does what is asked for: duties of a rule set first, then revisits and rings of finds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from spread.contacts.distances import Distances
from spread.decisions.case.followup import revisits
from spread.decisions.doors.ranking import DoorDuty
from spread.decisions.round.making import done_today, plan_round
from spread.decisions.round.parts import ForDuty, ForRevisit, ForRing, GaveWay, Must, Round, RoundSettings
from spread.decisions.view import View
from spread.plan.model import Plan


def duty_doors(looks: Mapping[str, DoorDuty]) -> dict[str, Must]:
    """Return the doors that a rule set asks for, with why."""
    return {unit: ForDuty(look) for unit, look in looks.items()}


def ring_doors(view: View) -> dict[str, Must]:
    """Return the doors that the ring rule asks for, with why.

    A unit that is known infested needs no look for the ring's sake, but a duty may still ask for one.
    """
    return {
        unit: ForRing(places)
        for unit, places in view.ring_places.items()
        if view.followups[unit].status == "look"
    }


def revisit_doors(view: View) -> dict[str, Must]:
    """Return the units whose revisit is late or due, with why: the same as on every list."""
    groups = revisits(view.followups.values())
    return {
        one.unit: ForRevisit(visit, view.on) for status in ("overdue", "due") for one, visit in groups[status]
    }


def plan_asked_round(
    view: View, plan: Plan, distances: Distances, settings: RoundSettings, looks: Mapping[str, DoorDuty]
) -> Round:
    """Plan a round with every door that is asked for forced in, as far as the time goes.

    Where not all of them fit, duties go before revisits and the ring: a second round is planned with the
    doors of ``settings.must`` and the duties alone forced, and taken if it does more duties.

    Raises SettingsError with every problem of the settings.

    Parameters
    ----------
    view, plan, distances, settings
        As for :func:`spread.decisions.round.making.plan_round`; doors of ``settings.must`` stay forced.
    looks : What the rule set asks for (:func:`spread.decisions.doors.ranking.open_looks`)
    """
    duties, ring = duty_doors(looks), {**revisit_doors(view), **ring_doors(view)}
    first = plan_round(view, plan, distances, replace(settings, must={**ring, **duties, **settings.must}))
    wanted = set(duties) | set(settings.must)
    if not wanted & {unit for unit, _ in first.left_out}:
        return first
    second = plan_round(view, plan, distances, replace(settings, must={**duties, **settings.must}))
    if len(wanted & set(second.units)) <= len(wanted & set(first.units)):
        return first
    told = {unit for unit, _ in second.left_out} | set(second.units)
    missed = tuple((unit, why) for unit, why in _not_visited(view, ring, settings) if unit not in told)
    return replace(second, left_out=(*second.left_out, *missed))


def _not_visited(view: View, ring: Mapping[str, Must], settings: RoundSettings) -> list[tuple[str, GaveWay]]:
    """Return every door of the ring that was not done today, for the list of those left out."""
    done = done_today(view, settings)
    return [(unit, GaveWay(must)) for unit, must in ring.items() if unit not in done]

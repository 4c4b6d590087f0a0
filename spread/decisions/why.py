"""Why a unit stands where it stands: evidence, likely sources, what to do next."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from spread.contacts.words import relation
from spread.decisions.reasons import how_sure, on_riser, reasons_for
from spread.decisions.standing import Standing
from spread.decisions.view import View
from spread.records.kinds import Record
from spread.records.words import METHOD_WORDS
from spread.trade.biology import LEVEL_NAMES
from spread.weeks import speak_date

DAYS_TO_NEXT_VISIT = 14
"""Days from a visit to the next one (trials looked again every 14 days, doi 10.3390/insects8030076)."""


@dataclass(frozen=True, slots=True)
class SourceShare:
    """A share of the pressure on a unit: from a contact by a route, or brought in.

    Parameters
    ----------
    unit
        The contact's code; empty for ``brought in`` and ``building-wide``.
    route
        ``wall``, ``floor``, ``riser``, ``hallway``, ``link``, ``brought in``, ``building-wide``.
    share
        Share of the unit's expected hazard over the last 26 weeks, 0 to 1.
    words
        The same in words, such as ``"304: through 6.2 m of shared wall"``.
    """

    unit: str
    route: str
    share: float
    words: str


@dataclass(frozen=True, slots=True)
class Why:
    """Everything the unit panel and ``spread why`` show.

    Parameters
    ----------
    unit, chance, status, rule, sure
        As in :class:`spread.decisions.doors.DoorRow`.
    levels
        Probability by level name (clear, trace, low, moderate, heavy).
    reasons
        One to four sentences, the weightiest first.
    sources
        Largest share first.
    history
        The unit's current records, newest first.
    next_step
        What to do next, in words.
    trail
        (Monday, chance) for every week of the window, oldest first.
    """

    unit: str
    chance: float
    status: str
    rule: str
    sure: str
    levels: dict[str, float]
    reasons: tuple[str, ...]
    sources: tuple[SourceShare, ...]
    history: tuple[Record, ...]
    next_step: str
    trail: tuple[tuple[str, float], ...]


def explain(view: View, unit: str, method: str) -> Why:
    """Gather everything worth saying about a unit.

    Parameters
    ----------
    view
        What is known.
    unit
        Unit code; must be one of the building.
    method
        The usual method of looking, for the next step.
    """
    i = view.network.index[unit]
    chance = float(view.posterior.chance[i])
    standing = view.standings[unit]
    return Why(
        unit=unit,
        chance=chance,
        status=standing.status,
        rule=view.rule_words.get(unit, ""),
        sure=how_sure(chance, trusted=view.posterior.diagnostics.good),
        levels={name: float(p) for name, p in zip(LEVEL_NAMES, view.posterior.levels[i], strict=True)},
        reasons=reasons_for(view, unit),
        sources=sources_of(view, unit),
        history=tuple(r for r in reversed(view.log.of(unit)) if r.when <= view.on),
        next_step=_next_step(view, unit, method),
        trail=tuple((monday.isoformat(), p) for monday, p in view.posterior.trail(unit)),
    )


def sources_of(view: View, unit: str, *, most: int = 6) -> tuple[SourceShare, ...]:
    """Return the likely sources of pressure on a unit over the last 26 weeks, largest share first.

    Shares are of the expected hazard, whether or not the unit is infested; who infested whom
    is a harder question and not answered here.
    """
    by_contact, building_wide, brought_in = view.pressure_on(unit)
    total = sum(by_contact.values()) + building_wide + brought_in
    shares = [
        SourceShare(contact, route, hazard / total, f"{contact}: {_way(view, unit, contact, route)}")
        for (contact, route), hazard in by_contact.items()
    ]
    shares.append(
        SourceShare("", "building-wide", building_wide / total, "visits, laundry and lounges, building-wide")
    )
    shares.append(SourceShare("", "brought in", brought_in / total, "brought in from outside"))
    return tuple(sorted(shares, key=lambda s: -s.share)[:most])


def _way(view: View, unit: str, contact: str, route: str) -> str:
    """Return by what a contact reaches a unit."""
    edge = view.graph.get_edge_data(unit, contact)[route]
    if route == "wall":
        return f"through {edge['metres']:.1f} m of shared wall"
    if route == "floor":
        return "through the floor" if edge["upper"] == unit else "through the ceiling"
    words = dict(relation(view.graph, contact, unit))[route]
    return f"{on_riser(words) if route == 'riser' else words} {unit}"


def _next_step(view: View, unit: str, method: str) -> str:
    standing = view.standings[unit]
    if standing.status == "treat":
        return (
            "Plan a treatment and tell the resident how to prepare; the neighbours around it are due a look."
        )
    if standing.status == "revisit":
        need = (
            "one more clear look, a fortnight after the first"
            if standing.clear_since == 1
            else "two clear looks, a fortnight apart"
        )
        return f"Visit again {_when_again(view, standing)}; it still needs {need}."
    if standing.last_alert is not None and standing.last_alert == standing.last_look:
        return (
            "Confirm by eye or with interceptors before anything is treated; an alert alone proves nothing."
        )
    if unit in view.rule_words:
        return f"Look at it: the ring rule asks for it ({view.rule_words[unit]})."
    return f"{METHOD_WORDS[method]} when its turn comes."


def _when_again(view: View, standing: Standing) -> str:
    visits = [row.when for row in (standing.last_look, standing.last_treatment) if row is not None]
    due = max(visits) + dt.timedelta(days=DAYS_TO_NEXT_VISIT)
    return "now" if due <= view.on else f"about {speak_date(due)}"

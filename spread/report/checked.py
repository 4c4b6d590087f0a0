"""What ``spread check`` prints, as plain text and as JSON-ready data; it loads no sampler."""

from __future__ import annotations

from typing import Any

from spread.building import Building
from spread.contacts.relations import ring_around
from spread.decisions.doors.contradictions import doubts_of
from spread.report.lines import folded
from spread.trade.routes import BY_KEY, ROUTES
from spread.words import ENGLISH, say
from spread.words.contradictions import doubt_data

MOST_DOUBTS = 20
"""As many records that do not go together are printed; JSON has all."""


def building_text(building: Building) -> str:
    """Return what ``spread check`` says: what was read, and what the plan leaves out."""
    plan, graph = building.plan, building.contacts
    counts = {route: sum(data["route"] == route for *_, data in graph.edges(data=True)) for route in ROUTES}
    alone = [unit for unit in graph.nodes if graph.degree(unit) == 0]
    rings = [len(ring_around(graph, unit)) for unit in graph.nodes]
    contacts = ", ".join(f"{counts[r]} by {BY_KEY[r].contacts}" for r in ROUTES if counts[r])
    spread_of_rings = f"{min(rings)} to {max(rings)}" if min(rings) < max(rings) else str(min(rings))
    lines = [
        f"{building.name}: {_count(len(plan.units), 'unit')} on {_count(len(plan.floors), 'floor')}, "
        f"read from {plan.source}.",
        f"Contacts: {contacts or 'none'}.",
        f"Neighbours beside, above and below a unit: {spread_of_rings}.",
        f"Log: {_count(len(building.store.log.rows), 'row')}"
        + (
            f", {ENGLISH.day(building.log.current[0].when)} to {ENGLISH.day(building.log.current[-1].when)}."
            if building.log.current
            else "; the log is empty, so every unit starts from the building's prior."
        ),
    ]
    if building.changes:
        lost = len(building.homes.lost(building.store.log))
        gone = f"; {_count(lost, 'row')} of the log of homes that are gone" if lost else ""
        lines.append(
            f"Changes since it was drawn: {len(building.changes)} (spread plan BUILDING list){gone}."
        )
    if alone:
        lines.append(f"Without any contact: {', '.join(alone[:10])}{' ...' if len(alone) > 10 else ''}.")
    lines += [f"Note: {warning}" for warning in building.warnings]
    doubts = doubts_of(building.log, tuple(building.plan.units))
    lines += [
        folded(f"Note: {doubt.unit}: {say(doubt, ENGLISH)} (rows {', '.join(doubt.rows)})", rest=" " * 6)
        for doubt in doubts[:MOST_DOUBTS]
    ]
    if len(doubts) > MOST_DOUBTS:
        lines.append(f"Note: {len(doubts) - MOST_DOUBTS} more of this kind; --json lists them all.")
    lines.append("Nothing stands in the way of a fit.")
    return "\n".join(lines)


def building_data(building: Building) -> dict[str, Any]:
    """Return what ``spread check`` found, ready for JSON."""
    plan, log = building.plan, building.log
    return {
        "building": building.name,
        "units": len(plan.units),
        "floors": list(plan.floors),
        "contacts": {
            route: sum(data["route"] == route for *_, data in building.contacts.edges(data=True))
            for route in ROUTES
        },
        "rows": len(log.rows),
        "changes": len(building.changes),
        "warnings": [str(warning) for warning in building.warnings],
        "doubts": [doubt_data(doubt) for doubt in doubts_of(log, tuple(plan.units))],
    }


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"

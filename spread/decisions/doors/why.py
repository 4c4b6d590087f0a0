"""Why a unit stands where it stands: evidence, likely sources, what to do next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from spread.decisions.case.followup import FollowUp
from spread.decisions.doors.contradictions import Doubt, doubts_in
from spread.decisions.doors.reasons import how_sure, reasons_for
from spread.decisions.doors.sources import MEANINGFUL, SourceShare, bears_on, came_from
from spread.decisions.span import Span
from spread.decisions.view import View
from spread.records.kinds import Record
from spread.records.words import METHOD_WORDS
from spread.trade.biology import LEVEL_NAMES
from spread.weeks import speak_date


@dataclass(frozen=True, slots=True)
class Why:
    """Everything the unit panel and ``spread why`` show.

    Parameters
    ----------
    unit, chance, status, rule, sure
        As in :class:`spread.decisions.doors.ranking.DoorRow`.
    levels
        Probability by level name (clear, trace, low, moderate, heavy).
    reasons
        One to four sentences, the weightiest first.
    sources
        Largest share first; see ``sources_kind``.
    sources_kind
        ``came-from``: where the infestation came from, given that there is one; or ``bears-on``:
        the pressure on a unit that is likely clear.
    sources_title, sources_note
        The same in words, to stand over the sources; the note tells when it began and how fresh it is.
    began
        When the infestation began, given that there is one; None with ``bears-on``.
    pressure
        What bears on the unit whether or not it is infested, largest share first.
    doubts
        Records of the unit that do not go together, newest first.
    history
        The unit's current records, newest first.
    next_step
        What to do next, in words.
    trail
        (Monday, chance) for every week of the window, oldest first.
    followup
        Where the unit is between a find and the end of the watch, and what clearance lacks.
    """

    unit: str
    chance: float
    status: str
    rule: str
    sure: str
    levels: dict[str, float]
    reasons: tuple[str, ...]
    sources: tuple[SourceShare, ...]
    sources_kind: str
    sources_title: str
    sources_note: str
    began: Span | None
    pressure: tuple[SourceShare, ...]
    doubts: tuple[Doubt, ...]
    history: tuple[Record, ...]
    next_step: str
    trail: tuple[tuple[str, float], ...]
    followup: FollowUp | None = None


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
    followup = view.followups[unit]
    return Why(
        unit=unit,
        chance=chance,
        status=followup.status,
        rule=view.rule_words.get(unit, ""),
        sure=how_sure(view, unit),
        levels={name: float(p) for name, p in zip(LEVEL_NAMES, view.posterior.levels[i], strict=True)},
        reasons=reasons_for(view, unit),
        **_sources(view, unit),
        doubts=doubts_in(view.log.of(unit), view.on),
        history=tuple(r for r in reversed(view.log.of(unit)) if r.when <= view.on),
        next_step=_next_step(view, unit, method, followup),
        trail=tuple((monday.isoformat(), p) for monday, p in view.posterior.trail(unit)),
        followup=followup,
    )


def _sources(view: View, unit: str) -> dict[str, Any]:
    """Return the fields of :class:`Why` on sources, and say which of the two kinds is shown."""
    pressure = bears_on(view, unit)
    origin = came_from(view, unit)
    if origin is None:
        unlikely = float(view.posterior.chance[view.network.index[unit]]) < MEANINGFUL
        why_not = (
            "Too unlikely to name a source."
            if unlikely
            else "The last full fit can name no source for it yet."
        )
        return {
            "sources": pressure,
            "sources_kind": "bears-on",
            "sources_title": "What bears on it from now on",
            "sources_note": f"{why_not} Shares of the pressure over the last 26 weeks.",
            "began": None,
            "pressure": pressure,
        }
    known = view.standings[unit].status == "treat"
    note = "As of the last full fit; answers since have moved the chance. " if origin.as_of_fit else ""
    return {
        "sources": origin.sources,
        "sources_kind": "came-from",
        "sources_title": "The infestation most likely came from"
        if known
        else "If it is infested, it most likely came from",
        "sources_note": f"{note}{'It' if known else 'If it is infested, that'} began {origin.began.words}.",
        "began": origin.began,
        "pressure": pressure,
    }


def _next_step(view: View, unit: str, method: str, followup: FollowUp) -> str:
    standing = view.standings[unit]
    if followup.status == "treat":
        return (
            "Plan a treatment and tell the resident how to prepare; the neighbours around it are due a look."
        )
    if followup.status == "revisit":
        again = f"Visit again {_when_again(view, followup)}"
        return f"{again}, to keep watch." if not followup.lacks else f"{again}; it is not cleared yet."
    if standing.last_alert is not None and standing.last_alert == standing.last_look:
        return (
            "Confirm by eye or with interceptors before anything is treated; an alert alone proves nothing."
        )
    if unit in view.rule_words:
        return f"Look at it: the ring rule asks for it ({view.rule_words[unit]})."
    return f"{METHOD_WORDS[method]} when its turn comes."


def _when_again(view: View, followup: FollowUp) -> str:
    visit = followup.visit
    due = view.on if visit is None else visit.target
    return "now" if due <= view.on else f"about {speak_date(due)}"

"""Why a unit stands where it stands: evidence, likely sources, what to do next."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from spread.contacts.relations import RingPlace
from spread.decisions.case.followup import FollowUp
from spread.decisions.doors.contradictions import Doubt, doubts_in
from spread.decisions.doors.levels import Heavier, heavier_than_found
from spread.decisions.doors.looking import AnotherLook, another_look
from spread.decisions.doors.reasons import how_sure, reasons_for
from spread.decisions.doors.sources import Attribution, Origin, SourceShare, attribution_of, bears_on
from spread.decisions.doors.told import Attributed, Sure
from spread.decisions.span import Span
from spread.decisions.view import View
from spread.facts import Fact
from spread.records.kinds import Record
from spread.trade.biology import LEVEL_NAMES


@dataclass(frozen=True, slots=True)
class PlanTreatment(Fact):
    """Plan a treatment and tell the resident how to prepare; the neighbours are due a look."""


@dataclass(frozen=True, slots=True)
class VisitAgain(Fact):
    """Visit again on a day (None: now); ``lacks``: it is not cleared yet, else it is to keep watch."""

    due: dt.date | None
    lacks: bool


@dataclass(frozen=True, slots=True)
class ConfirmAlert(Fact):
    """Confirm an alert before anything is treated."""


@dataclass(frozen=True, slots=True)
class LookForRing(Fact):
    """Look, because the ring rule asks for it."""

    places: tuple[RingPlace, ...]


@dataclass(frozen=True, slots=True)
class LookForReport(Fact):
    """Look by a method, because of a report after which nobody has looked."""

    method: str
    days: int


@dataclass(frozen=True, slots=True)
class LookInTurn(Fact):
    """Look by a method when the unit's turn comes."""

    method: str


NextStep = PlanTreatment | VisitAgain | ConfirmAlert | LookForRing | LookForReport | LookInTurn | AnotherLook


@dataclass(frozen=True, slots=True)
class Why:
    """Everything the unit panel and ``spread why`` show."""

    #: unit, chance, status, ring, sure: As in :class:`spread.decisions.doors.ranking.DoorRow`
    unit: str
    chance: float
    status: str
    ring: tuple[RingPlace, ...]
    sure: Sure
    levels: dict[str, float]  #: Probability by level name (clear, trace, low, moderate, heavy)
    reasons: tuple[Fact, ...]  #: One to four, the weightiest first
    #: Where the infestation came from, given that there is one; or what bears on a clear unit
    attribution: Attribution
    #: What bears on the unit whether or not it is infested, largest share first
    pressure: tuple[SourceShare, ...]
    doubts: tuple[Doubt, ...]  #: Records of the unit that do not go together, newest first
    history: tuple[Record, ...]  #: The unit's current records, newest first
    next_step: NextStep  #: What to do next
    trail: tuple[tuple[str, float], ...]  #: (Monday, chance) for every week of the window, oldest first
    #: Where the unit is between a find and the end of the watch, and what clearance lacks
    followup: FollowUp | None = None
    heavier: Heavier | None = None  #: Why the likeliest level is heavier than what was found last

    @property
    def sources(self) -> tuple[SourceShare, ...]:
        """The shares of the attribution, largest first."""
        return self.attribution.sources

    @property
    def sources_kind(self) -> Attributed:
        """Which attribution it is."""
        return self.attribution.kind

    @property
    def began(self) -> Span | None:
        """When the infestation began, given that there is one; None where that cannot be said."""
        return self.attribution.began if isinstance(self.attribution, Origin) else None


def explain(view: View, unit: str, method: str) -> Why:
    """Gather everything worth saying about a unit.

    ``unit``: unit code; must be one of the building; ``method``: the usual method of looking, for the next
    step.
    """
    i = view.network.index[unit]
    chance = float(view.posterior.chance[i])
    followup = view.followups[unit]
    return Why(
        unit=unit,
        chance=chance,
        status=followup.status,
        ring=view.ring_places.get(unit, ()),
        sure=how_sure(view, unit),
        levels={name: float(p) for name, p in zip(LEVEL_NAMES, view.posterior.levels[i], strict=True)},
        reasons=reasons_for(view, unit),
        attribution=attribution_of(view, unit),
        pressure=bears_on(view, unit),
        doubts=doubts_in(view.log.of(unit), view.on),
        history=tuple(r for r in reversed(view.log.of(unit)) if r.when <= view.on),
        next_step=_next_step(view, unit, method, followup),
        trail=tuple((monday.isoformat(), p) for monday, p in view.posterior.trail(unit)),
        followup=followup,
        heavier=heavier_than_found(view, unit),
    )


def _next_step(view: View, unit: str, method: str, followup: FollowUp) -> NextStep:
    standing = view.standings[unit]
    if followup.status == "treat":
        return PlanTreatment()
    if followup.status == "revisit":
        visit = followup.visit
        later = visit is not None and visit.target > view.on
        return VisitAgain(visit.target if visit and later else None, bool(followup.lacks))
    if standing.last_alert is not None and standing.last_alert == standing.last_look:
        return ConfirmAlert()
    if unit in view.ring_places:
        return LookForRing(view.ring_places[unit])
    return another_look(view, unit, method, owed=False) or _look(view, unit, method)


def _look(view: View, unit: str, method: str) -> LookForReport | LookInTurn:
    report, look = view.standings[unit].last_report, view.standings[unit].last_look
    if report is not None and (look is None or look.when < report.when):
        return LookForReport(method, (view.on - report.when).days)
    return LookInTurn(method)

"""Where a unit's infestation came from, if it has one; and what bears on it if it has none."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from spread.contacts.relations import Way, ways_between
from spread.decisions.doors.told import Attributed
from spread.decisions.shared_room import shared_room_of
from spread.decisions.span import Span, span_of
from spread.decisions.view import View
from spread.facts import Fact
from spread.posterior.rates import ANYWHERE, BEFORE, FROM_OUTSIDE, MOVED_IN, SHARED
from spread.trade.routes import ROUTES
from spread.weeks import monday_of

MEANINGFUL = 0.02
"""Chance from which a source is named: under it too few draws have the unit infested (judgement)."""
ALSO_NAMED = 0.25
"""A second route of one contact is named when it carries this part of the contact's share (judgement)."""
MOST = 6


@dataclass(frozen=True, slots=True)
class SourceShare(Fact):
    """A share of where an infestation came from, or of what bears on a unit."""

    unit: str  #: The contact's code; empty where no contact is meant
    #: The contact's weightiest of ``wall``, ``floor``, ``riser``, ``hallway``, ``link``; or ``brought in``,
    #: ``moved in``, ``building-wide``, ``shared room``, ``before``
    route: str
    share: float  #: 0 to 1; all sources of a unit together are 1
    of: Attributed  #: Whether it is a share of where an infestation came from, or of what bears on the unit
    #: How the contact lies to the unit, by the routes that carry much of its share, most first
    ways: tuple[Way, ...] = ()
    #: The contact's share by route, summing to ``share``; empty where no contact is meant
    by_route: dict[str, float] = field(default_factory=dict)
    since: dt.date | None = None  #: The window's first day for ``before``, else None


@dataclass(frozen=True, slots=True)
class Origin(Fact):
    """Where the infestation of a unit came from, given that it is infested now."""

    sources: tuple[SourceShare, ...]  #: Largest share first
    began: Span  #: When the present infestation began
    #: Whether answers have moved the chances since the last full fit, whose sources these are
    as_of_fit: bool
    known: bool  #: Whether the infestation is on record and not treated since

    @property
    def kind(self) -> Attributed:
        """Which of the two attributions it is."""
        return "came-from"


@dataclass(frozen=True, slots=True)
class Bearing(Fact):
    """What bears on a unit, where no source of an infestation can be named."""

    sources: tuple[SourceShare, ...]  #: Largest share first
    #: Whether that is because an infestation is too unlikely; else the last full fit knows of none
    unlikely: bool

    @property
    def kind(self) -> Attributed:
        """Which of the two attributions it is."""
        return "bears-on"


Attribution = Origin | Bearing


def attribution_of(view: View, unit: str) -> Attribution:
    """Return where a unit's bugs come from: the one answer that the reasons and ``why`` go by."""
    origin = came_from(view, unit)
    if origin is not None:
        return origin
    return Bearing(bears_on(view, unit), float(view.posterior.chance[view.network.index[unit]]) < MEANINGFUL)


def came_from(view: View, unit: str, *, most: int = MOST) -> Origin | None:
    """Return where a unit's infestation came from, given that it has one.

    Counted over the sweeps of the fit that have the unit infested: each drew one founding source
    in proportion to its hazard in the week before the present infestation began (``model.md`` 5).

    ``most``: most sources that are named.

    Returned: None when the chance is under :data:`MEANINGFUL`, now or at the fit, or sources were not kept.
    """
    posterior = view.posterior
    blame = posterior.blame
    i = view.network.index[unit]
    if blame is None or min(float(posterior.chance[i]), float(blame.began[i].sum())) < MEANINGFUL:
        return None
    # Not the chance now: that is smoothed and moves with answers, these counts do not.
    infested = float(blame.began[i].sum())
    by_contact = {
        (view.network.units[view.network.indices[k]], ROUTES[r]): float(blame.contact[k, r]) / infested
        for k in range(view.network.indptr[i], view.network.indptr[i + 1])
        for r in np.flatnonzero(blame.contact[k])
    }
    others = blame.other[i] / infested
    routes = {"brought in": FROM_OUTSIDE, "moved in": MOVED_IN, "building-wide": ANYWHERE, "before": BEFORE}
    if _tells_of_room(view):
        routes["shared room"] = SHARED
    else:  # of a room that the log does not tell of, no more is known than of laundry and lounges
        others[ANYWHERE] += others[SHARED]
    start = monday_of(posterior.first_week)
    rest = [
        SourceShare("", route, float(others[column]), "came-from", since=start if route == "before" else None)
        for route, column in routes.items()
        if others[column] > 0
    ]
    sources = sorted(
        [*_of_contacts(view, unit, by_contact, "came-from"), *rest], key=lambda source: -source.share
    )
    return Origin(
        tuple(sources[:most]),
        span_of(blame.began[i], posterior.first_week),
        _moved_since_fit(view),
        view.standings[unit].status == "treat",
    )


def bears_on(view: View, unit: str, *, most: int = MOST) -> tuple[SourceShare, ...]:
    """Return what bears on a unit, whether or not it is infested, largest share first.

    Shares are of the expected hazard over the last 26 weeks.

    ``most``: most sources that are named.
    """
    by_contact, building_wide, brought_in, room = view.pressure_on(unit)
    if not (told := _tells_of_room(view)):
        building_wide += room
    total = sum(by_contact.values()) + building_wide + brought_in + (room if told else 0.0)
    shares = _of_contacts(view, unit, {key: h / total for key, h in by_contact.items()}, "bears-on")
    shares.append(SourceShare("", "building-wide", building_wide / total, "bears-on"))
    shares.append(SourceShare("", "brought in", brought_in / total, "bears-on"))
    if told:
        shares.append(SourceShare("", "shared room", room / total, "bears-on"))
    return tuple(sorted(shares, key=lambda s: -s.share)[:most])


def _tells_of_room(view: View) -> bool:
    """Return whether the log tells of a shared room, so that it may be named as a source."""
    room = shared_room_of(view.posterior)
    return room is not None and room.learned


def _of_contacts(
    view: View, unit: str, by_contact: dict[tuple[str, str], float], of: Attributed
) -> list[SourceShare]:
    """Gather shares by contact and route into one share a contact."""
    contacts: dict[str, dict[str, float]] = {}
    for (contact, route), share in by_contact.items():
        contacts.setdefault(contact, {})[route] = share
    shares = []
    for contact, routes in contacts.items():
        ordered = dict(sorted(routes.items(), key=lambda pair: -pair[1]))
        whole, first = sum(ordered.values()), next(iter(ordered))
        ways = ways_between(view.graph, contact, unit)
        told = tuple(ways[r] for r, s in ordered.items() if r == first or s >= ALSO_NAMED * whole)
        shares.append(SourceShare(contact, first, whole, of, told, ordered))
    return shares


def _moved_since_fit(view: View) -> bool:
    """Return whether answers or days have passed since the fit whose sources are kept."""
    posterior = view.posterior
    reweighted = bool(np.ptp(posterior.log_weights) > 0.0) or posterior.late
    return reweighted or (
        posterior.blame is not None and posterior.blame.began.shape[1] < posterior.weekly.shape[1]
    )

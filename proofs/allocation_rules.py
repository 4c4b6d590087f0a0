"""How hours over many buildings are spent, by the product and by usual rules; see ``allocation``.

Every rule pays the way to a building once and, at each door, the minutes that the product expects of it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from benchmarks.ring import COMPLAINT_WEEKS, ring_order
from spread.contacts.relations import ring_around
from spread.firm.fitting import Asked, session_of
from spread.firm.places import Places
from spread.firm.tomorrow import tomorrow_of
from spread.portfolio.standing import Kept
from spread.portfolio.team import Team

TRAVEL = 30.0
"""Minutes of way to each building."""
VISIT = 120.0
"""Least minutes of a stay, the way included, where hours are shared out by a figure: an equal share of forty
hours over a hundred buildings would not pay the way."""


@dataclass(frozen=True)
class Seen:
    """What a rule may know of a building.

    Parameters
    ----------
    key
        The building's.
    minutes
        What each door to look at is expected to take.
    listed
        The building's own list of the product, from its top.
    ring
        The same units as the ring rule orders them (:func:`benchmarks.ring.ring_order`).
    waiting
        Units with an open report: nobody looked since; the newest first.
    beside
        Neighbours of units known infested.
    complaints
        Reports of the last eight weeks.
    chances
        Of infestation at each door.
    finds, averted
        What the product expects of a visit to each door: finds, and infested weeks averted.
    """

    key: str
    minutes: Mapping[str, float]
    listed: tuple[str, ...]
    ring: tuple[str, ...]
    waiting: tuple[str, ...]
    beside: tuple[str, ...]
    complaints: int
    chances: Mapping[str, float]
    finds: Mapping[str, float]
    averted: Mapping[str, float]


@dataclass
class Spent:
    """How a rule spends its hours.

    Parameters
    ----------
    rule
        What it is called.
    doors, minutes
        By building: its doors, and minutes there with the way.
    share
        How often each building's stay happens: 1, or the share of buildings that have their turn by lot.
    """

    rule: str
    doors: dict[str, tuple[str, ...]] = field(default_factory=dict)
    minutes: dict[str, float] = field(default_factory=dict)
    share: float = 1.0

    @property
    def hours(self) -> float:
        """All hours, the way included."""
        return self.share * sum(self.minutes.values()) / 60.0

    def add(self, one: Seen, units: Iterable[str], free: float) -> float:
        """Look at a building's units in turn as long as minutes are left; return what is left then."""
        for unit in units:
            cost = one.minutes[unit] + (0.0 if one.key in self.doors else TRAVEL)
            if unit in self.doors.get(one.key, ()):
                continue
            if cost > free:
                break
            self.doors[one.key] = (*self.doors.get(one.key, ()), unit)
            self.minutes[one.key] = self.minutes.get(one.key, 0.0) + cost
            free -= cost
        return free


class _NothingOwed:
    """A firm's buildings of which nothing is owed: the simulated practice does that beside the hours."""

    def __init__(self, places: Places) -> None:
        self._places = places

    def __getattr__(self, name: str) -> object:
        return getattr(self._places, name)

    def summaries(self) -> tuple[Kept, ...]:
        """Return what is kept of each building, without what is owed."""
        return tuple(
            replace(one, summary=replace(one.summary, owed=())) if one.summary else one
            for one in self._places.summaries()
        )


def by_product(places: Places, asked: Asked, hours: float) -> Spent:
    """Spend hours as ``spread portfolio doors --hours --travel`` says."""
    found = tomorrow_of(_NothingOwed(places), asked, Team(hours, 1, TRAVEL), 100_000)  # type: ignore[arg-type]
    if found.problems or found.changed:
        raise SystemExit(" ".join((*found.problems, *found.changed)))
    spent = Spent("the product's")
    for door in found.doors:
        key = door.kept.key
        spent.doors[key] = (*spent.doors.get(key, ()), door.row.unit)
        spent.minutes[key] = spent.minutes.get(key, TRAVEL) + door.row.minutes
    return spent


def seen_of(places: Places, key: str, asked: Asked) -> Seen:
    """Open a building and return what a rule may know of it."""
    session, _ = session_of(places, key, asked)
    view = session.view
    rows = sorted((row for row in session.doors() if row.status == "look"), key=lambda row: -row.per_hour)
    minutes = {row.unit: row.minutes for row in rows}
    heard: dict[str, dt.date] = {}
    for row in view.log.current:
        if row.is_complaint and 0 <= (view.on - row.when).days <= 7 * COMPLAINT_WEEKS:
            heard[row.unit] = max(row.when, heard.get(row.unit, row.when))
    last = {unit: view.standings[unit].last_look for unit in heard}
    waiting = [u for u in heard if u in minutes and (last[u] is None or last[u].when < heard[u])]
    known = [unit for unit, standing in view.standings.items() if standing.status != "look"]
    beside = {other: None for unit in known for other in ring_around(view.graph, unit, rule="LRUD")}
    return Seen(
        key,
        minutes,
        tuple(minutes),
        tuple(
            unit
            for unit in ring_order(view.graph, view.log.current, view.standings, view.on)
            if unit in minutes
        ),
        tuple(sorted(waiting, key=lambda unit: -heard[unit].toordinal())),
        tuple(unit for unit in beside if unit in minutes),
        sum(row.is_complaint and 0 <= (view.on - row.when).days <= 7 * COMPLAINT_WEEKS
            for row in view.log.current),
        {row.unit: row.chance for row in rows},
        {row.unit: row.finds for row in rows},
        {row.unit: row.worth for row in rows},
    )  # fmt: skip


def by_turn(seen: Sequence[Seen], hours: float, rng: np.random.Generator) -> Spent:
    """Equal shares by turn: so many buildings by lot as two hours each reach, each its own list from the top.

    Every building's stay is worked out and counts by its chance to have its turn: the mean over all lots.
    """
    turns = min(len(seen), int(60.0 * hours // VISIT))
    spent = Spent("equal shares by turn", share=turns / len(seen))
    for one in seen:
        spent.add(one, one.listed, VISIT)
    return spent


def by_equal(seen: Sequence[Seen], hours: float, rng: np.random.Generator) -> Spent:
    """Equal shares at the doors of every building, as if the way cost nothing: what no firm can do."""
    spent = Spent("equal shares, the way for nothing")
    for one in seen:
        spent.add(one, one.listed, TRAVEL + 60.0 * hours / len(seen))
        if one.key in spent.minutes:
            spent.minutes[one.key] -= TRAVEL
    return spent


def by_complaints(seen: Sequence[Seen], hours: float, rng: np.random.Generator) -> Spent:
    """Complaints first, the usual rule.

    All units with an open report, in the building with the most first; then neighbours of units known
    infested, where the way is paid first; then any door by lot.
    """
    spent, free = Spent("complaints first"), 60.0 * hours
    lot = {one.key: float(rng.random()) for one in seen}
    for one in sorted(seen, key=lambda one: (-len(one.waiting), lot[one.key])):
        free = spent.add(one, one.waiting, free)
    there = set(spent.doors)
    for one in sorted(seen, key=lambda one: (one.key not in there, -len(one.beside), lot[one.key])):
        free = spent.add(one, one.beside, free)
    there = set(spent.doors)
    for one in sorted(seen, key=lambda one: (one.key not in there, lot[one.key])):
        free = spent.add(one, rng.permutation(list(one.minutes)).tolist(), free)
    return spent


def by_ring(seen: Sequence[Seen], hours: float, rng: np.random.Generator) -> Spent:
    """Hours by number of complaints, each building's doors by the ring rule.

    Hours go in proportion to reports of eight weeks; where a share is below two hours, the building with the
    fewest is left out and the others share anew.
    """
    spent = Spent("ring, hours by complaints")
    lot = {one.key: float(rng.random()) for one in seen}
    wanted = sorted((one for one in seen if one.complaints), key=lambda one: (-one.complaints, lot[one.key]))
    while wanted and 60.0 * hours * wanted[-1].complaints / sum(one.complaints for one in wanted) < VISIT:
        wanted.pop()
    # A building that has no more doors leaves its minutes to the next ones.
    free, complaints = 60.0 * hours, sum(one.complaints for one in wanted)
    for one in wanted:
        share = free * one.complaints / complaints
        free -= share - spent.add(one, one.ring, share)
        complaints -= one.complaints
    return spent


Rule = Callable[[Sequence[Seen], float, np.random.Generator], Spent]
RULES: tuple[Rule, ...] = (by_turn, by_equal, by_complaints, by_ring)

"""Which door next, by rule or by model: every strategy is one small function ``order(view, scratch)``.

``view`` is a :class:`~benchmarks.sight.Sight`: the building, its log and, for some, a posterior;
never the truth. ``scratch`` is a random generator for ties. The answer is every unit that is not known
infested, once, best first.

In a series of rounds the rules that go by records alone are given one piece of sense more, so that
they are no straw men: a door opened in a round waits until the others have been opened (``_rested``).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from benchmarks.lookahead import order_by_lookahead
from benchmarks.sight import Sight
from benchmarks.worth import worth_of_looking
from spread.decisions.doors.effort import effort_of
from spread.decisions.doors.ranking import chance_of_find, prizes
from spread.decisions.standing import is_find
from spread.decisions.view import RING_WEEKS
from spread.trade import detection
from spread.trade.minutes import KNOCK, NO_ACCESS, NO_ACCESS_VISITS
from spread.trade.pace import Pace
from spread.trade.registry import LOOKING

METHOD = "brief-visual"

Order = Callable[[Sight, np.random.Generator], list[str]]


def by_score(view: Sight, scratch: np.random.Generator, score: Mapping[str, float] | np.ndarray) -> list[str]:
    """Return candidates by falling score, ties by lot."""
    index = view.ground.network.index
    lot = scratch.random(len(index))
    value = score if isinstance(score, Mapping) else {u: float(score[index[u]]) for u in view.candidates}
    return sorted(view.candidates, key=lambda u: (-value.get(u, 0.0), lot[index[u]]))


def _rested(view: Sight, order: list[str]) -> list[str]:
    """Let doors opened in the rounds wait behind the others, the fewer looks the sooner."""
    if view.since is None:
        return order
    looks: dict[str, int] = {}
    for row in view.rows:
        if row.is_look and row.when >= view.since and row.method == METHOD:
            looks[row.unit] = looks.get(row.unit, 0) + 1
    return sorted(order, key=lambda unit: looks.get(unit, 0))


def by_lot(view: Sight, scratch: np.random.Generator) -> list[str]:
    """Doors by lot; over the rounds a sweep of the building in random order."""
    return _rested(view, by_score(view, scratch, {}))


def _ring_places(view: Sight, *, unseen: bool) -> dict[str, tuple[int, int]]:
    """Return (age of the newest find in days, place) of every ring member.

    ``unseen`` counts only finds since the member was last looked at.
    """
    places: dict[str, tuple[int, int]] = {}
    for centre, day in view.centres.items():
        for unit, place in view.ground.rings[centre].items():
            if not (unseen and view.looked_since(unit, day)):
                key = ((view.on - day).days, place)
                places[unit] = min(key, places.get(unit, key))
    return places


def ring(view: Sight, scratch: np.random.Generator) -> list[str]:
    """Waiting complaints, then the ring around the finds of 26 weeks, newest first, then the others."""
    places = _ring_places(view, unseen=False)
    order = by_score(view, scratch, {})
    order.sort(key=lambda u: (u not in view.waiting, u not in places, places.get(u, (0, 0))))
    return _rested(view, order)


def ring_unseen(view: Sight, scratch: np.random.Generator) -> list[str]:
    """As the ring, but members not looked at since the find go before those that were."""
    unseen, places = _ring_places(view, unseen=True), _ring_places(view, unseen=False)
    order = _rested(view, by_score(view, scratch, {}))

    def key(u: str) -> tuple[bool, int, tuple[int, int]]:
        if u in unseen:
            return u not in view.waiting, 0, unseen[u]
        fresh = view.since is None or not view.looked_since(u, view.since)
        return (
            u not in view.waiting,
            1 if u in places and fresh else 2,
            places.get(u, (0, 0)) if fresh else (0, 0),
        )

    return sorted(order, key=key)


def ring_unseen_long(view: Sight, scratch: np.random.Generator) -> list[str]:
    """As before, with complaints remembered for 26 weeks, as finds are, and not for eight."""
    return ring_unseen(replace(view, complaint_weeks=RING_WEEKS), scratch)


def _contact_sums(view: Sight, *, unseen: bool) -> dict[str, float]:
    """Return the sum of contact weights from the centres onto each candidate."""
    index, weights = view.ground.network.index, view.ground.weights
    return {
        unit: sum(
            weights[index[centre], index[unit]]
            for centre, day in view.centres.items()
            if not (unseen and view.looked_since(unit, day))
        )
        for unit in view.candidates
    }


def weighted_ring(view: Sight, scratch: np.random.Generator) -> list[str]:
    """Waiting complaints, then by the sum of contact weights from the finds of 26 weeks."""
    order = by_score(view, scratch, _contact_sums(view, unseen=False))
    return _rested(view, sorted(order, key=lambda u: u not in view.waiting))


def weighted_ring_unseen(view: Sight, scratch: np.random.Generator) -> list[str]:
    """As the weighted ring, counting first only finds since the unit was last looked at."""
    unseen = _contact_sums(view, unseen=True)
    order = _rested(view, by_score(view, scratch, _contact_sums(view, unseen=False)))
    return sorted(order, key=lambda u: (u not in view.waiting, -unseen[u]))


def past_count(view: Sight, scratch: np.random.Generator) -> list[str]:
    """Most finds and complaints ever first."""
    counts: dict[str, float] = {}
    for row in view.rows:
        if is_find(row) or row.is_complaint:
            counts[row.unit] = counts.get(row.unit, 0.0) + 1.0
    return _rested(view, by_score(view, scratch, counts))


def degree(view: Sight, scratch: np.random.Generator) -> list[str]:
    """Most contact first: the sum of a unit's contact weights."""
    return _rested(view, by_score(view, scratch, view.ground.weights.sum(axis=0)))


def pagerank(view: Sight, scratch: np.random.Generator) -> list[str]:
    """Personalised PageRank (networkx) from the units found or reported, over the contact weights."""
    start = dict.fromkeys(
        [*view.centres, *(u for u in view.standings if view.standings[u].status != "look")], 1.0
    )
    ranks = nx.pagerank(view.ground.plain, personalization=start or None)
    return _rested(view, by_score(view, scratch, ranks))


def our_chance(view: Sight, scratch: np.random.Generator) -> list[str]:
    """By the chance of being infested."""
    assert view.posterior is not None
    return by_score(view, scratch, view.posterior.chance)


def our_find(view: Sight, scratch: np.random.Generator) -> list[str]:
    """By the chance that the look finds something, whoever opens."""
    return by_score(view, scratch, chance_of_find(view.view, METHOD))


def our_knock(view: Sight, scratch: np.random.Generator) -> list[str]:
    """By finds a knock, the chance of being let in counted: the product's own list."""
    effort = effort_of(view.view, METHOD, Pace())
    return by_score(view, scratch, prizes(view.view, METHOD, effort, "find")[0])


def our_benefit(view: Sight, scratch: np.random.Generator) -> list[str]:
    """By infested-unit-weeks averted per minute, with each unit's own chance that nobody opens."""
    shut = dict.fromkeys(view.candidates, 0)
    tries = dict(shut)
    for row in view.rows:
        if row.unit in shut and row.kind in ("no-access", "inspection"):
            tries[row.unit] += 1
            shut[row.unit] += row.kind == "no-access"
    worth = worth_of_looking(view.view, METHOD).expected
    prior = NO_ACCESS.central * NO_ACCESS_VISITS
    value = {}
    for unit in view.candidates:
        opens = 1.0 - (prior + shut[unit]) / (NO_ACCESS_VISITS + tries[unit])
        minutes = KNOCK.central + opens * LOOKING[METHOD].minutes.central
        value[unit] = opens * float(worth[view.ground.network.index[unit]]) / minutes
    return by_score(view, scratch, value)


def our_lookahead(view: Sight, scratch: np.random.Generator) -> list[str]:
    """By looking ahead over the doors left in the round."""
    assert view.posterior is not None
    asked = [u for u in view.candidates if not view.looked_since(u, view.on)]
    columns = [view.ground.network.index[u] for u in asked]
    order = order_by_lookahead(
        view.posterior.draws[:, columns],
        view.posterior.weights,
        detection.sensitivity(METHOD),
        max(1, view.doors),
    )
    return [asked[k] for k in order] + [u for u in view.candidates if u not in set(asked)]


@dataclass(frozen=True)
class Strategy:
    """A strategy: its function, what it leans on (``log``, ``learned`` or ``true`` rates), and whether
    it orders anew after each answer of a round (the others keep the list of the morning). Fits are dear:
    not all of ours go through the rounds."""

    name: str
    order: Order
    leans_on: str = "log"
    adapts: bool = False
    in_rounds: bool = True


STRATEGIES: tuple[Strategy, ...] = (
    Strategy("random", by_lot),
    Strategy("ring", ring),
    Strategy("ring, not yet looked at first", ring_unseen),
    Strategy("weighted ring", weighted_ring),
    Strategy("weighted ring, not yet looked at first", weighted_ring_unseen),
    Strategy("adaptive ring", ring_unseen, adapts=True),
    Strategy("adaptive ring, complaints of 26 weeks", ring_unseen_long, adapts=True),
    Strategy("highest past count", past_count),
    Strategy("degree", degree),
    Strategy("personalised PageRank", pagerank),
    Strategy("our chance", our_chance, "learned"),
    Strategy("our chance of a find", our_find, "learned"),
    Strategy("our finds a knock", our_knock, "learned", in_rounds=False),
    Strategy("our benefit per minute", our_benefit, "learned"),
    Strategy("our benefit per minute, after each answer", our_benefit, "learned", adapts=True),
    Strategy("our chance of a find, after each answer", our_find, "learned", adapts=True, in_rounds=False),
    Strategy("our chance of a find, looking ahead", our_lookahead, "learned", adapts=True, in_rounds=False),
    Strategy("our chance, true rates", our_chance, "true"),
)
"""In the order of the tables. The truth itself is no strategy: see ``rounds.truth_order``."""

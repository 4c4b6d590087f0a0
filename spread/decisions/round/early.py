"""The likeliest doors early in a route, so that a round that is cut short has lost little.

Doors taken for infested still come last: whoever comes from one may carry bugs on. Doors that are only
suspect need not wait: more are clear than not, and a find there is known before the next door.
"""

from __future__ import annotations

from collections.abc import Iterator

from spread.decisions.round.walks import SLACK, Route, Task, schedule
from spread.posterior.dynamics import Floats

LONGER = 0.05
"""Share of a technician's time that the walk may grow by for the sake of the order (judgement)."""


def likeliest_early(task: Task, prize: Floats, route: Route, k: int) -> Route:
    """Return a route's doors with those that earn most moved ahead, as far as time and tiers let them.

    Each door, the one that earns most first, takes the earliest place in which the route can still be kept,
    grows by no more than :data:`LONGER` in all and waits less for what it earns: alone, or by walking the
    doors before it the other way round.

    ``task``: what is planned; ``prize``: shape (N,): what each door earns; ``route``: doors in order; ``k``:
    number of the technician.
    """
    times = schedule(task, route, k)
    if not times:
        return route
    latest = times[-1][1] + LONGER * float(task.until[k] - task.clock[k])
    best, waits = list(route), _waits(prize, route, times)
    for door in sorted(route, key=lambda one: -prize[one]):
        for other in _earlier(best, best.index(door)):
            kept = schedule(task, other, k)
            if kept is None or kept[-1][1] > latest + SLACK:
                continue
            longer = _waits(prize, other, kept)
            if longer < waits - SLACK:
                best, waits = other, longer
                break
    return tuple(best)


def _earlier(route: list[int], at: int) -> Iterator[list[int]]:
    """Yield orders with the door of a place moved ahead, the earliest first."""
    for place in range(at):
        yield [*route[:place], route[at], *route[place:at], *route[at + 1 :]]
        yield [*route[:place], *route[place : at + 1][::-1], *route[at + 1 :]]


def _waits(prize: Floats, route: Route | list[int], times: list[tuple[float, float]]) -> float:
    """Return the minutes that what is earned waits, weighed by it."""
    return sum(float(prize[door]) * begin for door, (begin, _) in zip(route, times, strict=True))

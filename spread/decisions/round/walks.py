"""Routes under time limits: when each stop is, what another door would add, and how to shorten a walk."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats

Route = tuple[int, ...]
_Table = list[list[float]]
_Lists = tuple[_Table, _Table, list[float], list[int], list[_Table]]
_INFINITE = float("inf")
SLACK = 1e-9
SHORTER = 1e-6


@dataclass(frozen=True)
class Task:
    """Doors to choose from and the crew that goes; minutes throughout, clocks from the round's beginning."""

    worth: Floats  #: Shape (N,): what a visit earns, not below 0
    minutes: Floats  #: Shape (N,): minutes of the visit
    tier: NDArray[np.int64]  #: Shape (N,): on one route tiers never fall
    #: Shape (N, W, 2): spans within which a visit must begin and end; unused ones are (inf, -inf)
    windows: Floats
    forced: NDArray[np.bool_]  #: Shape (N,): doors that go in before all others
    walk: Floats  #: Shape (N, N): minutes from door to door
    first: Floats  #: Shape (K, N): minutes from where each technician stands to each door
    #: clock, until: Shape (K,): when each technician is free and when the last visit must have ended
    clock: Floats
    until: Floats

    @property
    def size(self) -> int:
        """Number of doors."""
        return len(self.worth)

    @cached_property
    def lists(self) -> _Lists:
        """First, walk, minutes, tier and windows as lists: single figures are read faster from them."""
        return (
            self.first.tolist(),
            self.walk.tolist(),
            self.minutes.tolist(),
            self.tier.tolist(),
            self.windows.tolist(),
        )


def schedule(task: Task, route: Sequence[int], k: int) -> list[tuple[float, float]] | None:
    """Return when each visit of technician ``k`` begins and ends, or None where the route cannot be kept.

    A technician who is early waits.

    ``task``: what is to be planned; ``route``: doors by their place in the task, in order; ``k``: number of
    the technician.
    """
    first, walk, minutes, tiers, spans = task.lists
    now, ends, here, times = float(task.clock[k]), float(task.until[k]) + SLACK, -1, []
    for door in route:
        if here >= 0 and tiers[door] < tiers[here]:
            return None
        arrive = now + (first[k][door] if here < 0 else walk[here][door])
        begin = _INFINITE
        for opens, closes in spans[door]:
            at = max(arrive, opens)
            if at + minutes[door] <= closes + SLACK and at < begin:
                begin = at
        now = begin + minutes[door]
        if now > ends:
            return None
        times.append((begin, now))
        here = door
    return times


def insertions(task: Task, route: Sequence[int], k: int) -> tuple[Floats, NDArray[np.intp]]:
    """Return the least added minutes (N,) of every door in a route, inf where it does not fit, and where.

    ``task``: what is to be planned; ``route``: doors by their place in the task, in order; ``k``: number of
    the technician. Raises ValueError when the route itself cannot be kept.
    """
    times = schedule(task, route, k)
    if times is None:
        raise ValueError("a route that cannot be kept was asked to take another door")
    stops = np.array(route, dtype=np.intp)
    # Rows are the places between stops, columns the doors.
    free = np.array([float(task.clock[k]), *(end for _, end in times)])
    leg = np.concatenate([task.first[k][None], task.walk[stops]])
    end = _begin_all(task, free[:, None] + leg) + task.minutes
    end[1:][task.tier < task.tier[stops][:, None]] = np.inf
    added = np.where(end <= task.until[k] + SLACK, end - free[:, None], np.inf)
    if len(stops):
        onward = task.walk[:, stops].T
        arrive = end[:-1] + onward
        latest = np.array(_latest_begins(task, route, k))
        fits = (arrive <= latest[:, None] + SLACK) & (task.tier <= task.tier[stops][:, None])
        direct = free[:-1] + leg[np.arange(len(stops)), stops]
        # Waiting may be saved, but what is added is at least the visit itself.
        added[:-1] = np.where(fits, np.maximum(arrive - direct[:, None], task.minutes), np.inf)
        added[:, stops] = np.inf
    where = added.argmin(axis=0)
    return added[where, np.arange(task.size)], where


def _begin_all(task: Task, arrive: Floats) -> Floats:
    """Return the earliest begin of a visit to each door from its arrival, shape (..., N)."""
    best = np.full_like(arrive, np.inf)
    for opens, closes in np.moveaxis(task.windows, 1, 0).transpose(0, 2, 1):
        begin = np.maximum(arrive, opens)
        best = np.minimum(best, np.where(begin + task.minutes <= closes + SLACK, begin, np.inf))
    return best


def _latest_begins(task: Task, route: Sequence[int], k: int) -> list[float]:
    """Return for each stop the latest begin that still lets the rest be kept."""
    _, walk, minutes, _, spans = task.lists
    latest = [0.0] * len(route)
    ends = float(task.until[k])
    for place in range(len(route) - 1, -1, -1):
        door = route[place]
        if place + 1 < len(route):
            ends = latest[place + 1] - walk[door][route[place + 1]]
        begin = -_INFINITE
        for opens, closes in spans[door]:
            at = min(ends, closes) - minutes[door]
            begin = max(begin, at) if at >= opens - SLACK else begin
        latest[place] = begin
    return latest


def shorter(task: Task, route: list[int], k: int) -> list[int] | None:
    """Return a route with the same doors that takes less time, by one reversal or one move.

    ``task``: what is to be planned; ``route``: doors by their place in the task, in order; ``k``: number of
    the technician.
    """
    times = schedule(task, route, k)
    if not times:
        return None
    for other in _rearranged(task, route, k):
        kept = schedule(task, other, k)
        if kept and kept[-1][1] <= times[-1][1] + SLACK:
            return other
    return None


def _rearranged(task: Task, route: list[int], k: int) -> Iterator[list[int]]:
    """Yield orders of a route with a shorter walk; the walk is the same both ways."""
    n = len(route)
    leg = np.zeros((n + 2, n + 2))  # 0 is where the technician stands, n + 1 the end, which costs nothing
    leg[0, 1:-1] = task.first[k, route]
    leg[1:-1, 1:-1] = task.walk[np.ix_(route, route)]
    step = np.diagonal(leg, 1)  # from p to p + 1
    i, j = np.triu_indices(n, 1)
    i, j = i + 1, j + 1
    change = leg[i - 1, j] + leg[i, j + 1] - step[i - 1] - step[j]
    for at in np.flatnonzero(change < -SHORTER):
        a, b = i[at] - 1, j[at]
        yield route[:a] + route[a:b][::-1] + route[b:]
    for length in range(1, min(3, n - 1) + 1):
        start = np.arange(1, n - length + 2)
        end = start + length - 1
        saved = step[start - 1] + step[end] - leg[start - 1, end + 1]
        place = np.arange(n + 1)[:, None]  # the piece goes between place and place + 1
        apart = (place < start - 1) | (place > end)
        for one, other, turned in ((start, end, False), (end, start, True))[: 1 + (length > 1)]:
            cost = leg[place, one] + leg[other, place + 1] - step[place]
            for p, at in np.argwhere(apart & (cost < saved - SHORTER)):
                a, b = start[at] - 1, end[at]
                piece = route[a:b][::-1] if turned else route[a:b]
                yield (
                    route[:p] + piece + route[p:a] + route[b:]
                    if p <= a
                    else route[:a] + route[b:p] + piece + route[p:]
                )


def tails_swapped(
    task: Task, a: list[int], b: list[int], k: int, m: int
) -> tuple[list[int], list[int]] | None:
    """Return two routes with their ends exchanged where that shortens the walk of both together.

    ``task``: what is to be planned; ``a``, ``b``: two routes; ``k``, ``m``: numbers of their technicians.
    """
    first, walk, *_ = task.lists

    def leg(t: int, route: list[int], place: int, door: int) -> float:
        return walk[route[place - 1]][door] if place else first[t][door]

    for i in range(len(a) + 1):
        for j in range(len(b) + 1):
            now = (leg(k, a, i, a[i]) if i < len(a) else 0.0) + (leg(m, b, j, b[j]) if j < len(b) else 0.0)
            then = (leg(k, a, i, b[j]) if j < len(b) else 0.0) + (leg(m, b, j, a[i]) if i < len(a) else 0.0)
            if then < now - SHORTER:
                one, two = a[:i] + b[j:], b[:j] + a[i:]
                if schedule(task, one, k) is not None and schedule(task, two, m) is not None:
                    return one, two
    return None

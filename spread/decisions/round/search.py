"""Which doors, in which order, in limited time: the orienteering problem with teams and time windows.

The problem is NP-hard, so this is a heuristic: doors go in where they earn most per added minute,
orders are mended by reversing and moving stretches, doors are swapped for better ones and between
technicians, and parts are torn out and filled again many times (Pisinger and Ropke, *Large
neighborhood search*, from memory). ``tests/test_round.py`` holds it against an exact solver.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, permutations

import numpy as np
from numpy.typing import NDArray

from spread.decisions.round.walks import (
    SHORTER,
    SLACK,
    Route,
    Task,
    insertions,
    schedule,
    shorter,
    tails_swapped,
)
from spread.posterior.dynamics import Floats

_FORCED = 1e6


class _Plan:
    """Routes under way, with what inserting any door anywhere would cost."""

    def __init__(self, task: Task, prize: Floats, routes: Sequence[Route]) -> None:
        self.task = task
        self.prize = prize
        self.routes = [list(route) for route in routes]
        self.tables: list[tuple[Floats, NDArray[np.intp]] | None] = [None] * len(self.routes)
        self.spared: dict[Route, tuple[Floats, Floats]] = {}

    @property
    def worth(self) -> float:
        return float(sum(self.prize[door] for route in self.routes for door in route))

    @property
    def time(self) -> float:
        return sum(_minutes(self.task, route, k) for k, route in enumerate(self.routes))

    @property
    def score(self) -> tuple[float, float]:
        return round(self.worth, 9), -round(self.time, 6)

    def copy_routes(self) -> list[Route]:
        return [tuple(route) for route in self.routes]

    def set(self, k: int, route: Sequence[int]) -> None:
        self.routes[k] = list(route)
        self.tables[k] = None

    def open_doors(self) -> NDArray[np.bool_]:
        free = self.prize > 0
        for route in self.routes:
            free[route] = False
        return free

    def best_insertions(self, k: int) -> tuple[Floats, NDArray[np.intp]]:
        """Return, shape (N,) each, the least added minutes of every door in a route, and where."""
        table = self.tables[k]
        if table is None:
            table = self.tables[k] = insertions(self.task, self.routes[k], k)
        return table

    def fill(self, noise: Floats | None = None) -> None:
        """Put in the door that earns most per added minute until none fits."""
        while True:
            free = self.open_doors()
            best = (0.0, -1, -1, -1)
            for k in range(len(self.routes)):
                added, where = self.best_insertions(k)
                rate = self.prize / np.maximum(added, 1e-3)
                if noise is not None:
                    rate = rate * noise
                rate = np.where(free & np.isfinite(added), rate, 0.0)
                door = int(np.argmax(rate))
                if rate[door] > best[0]:
                    best = (float(rate[door]), k, door, int(where[door]))
            if best[1] < 0:
                return
            _, k, door, place = best
            self.set(k, [*self.routes[k][:place], door, *self.routes[k][place:]])

    def shorten(self) -> None:
        """Reverse and move stretches of each route while that saves minutes."""
        for k in range(len(self.routes)):
            while (other := shorter(self.task, self.routes[k], k)) is not None:
                self.set(k, other)

    def untangle(self) -> None:
        """Exchange the ends of two routes while that saves minutes."""
        for k, m in combinations(range(len(self.routes)), 2):
            while (pair := tails_swapped(self.task, self.routes[k], self.routes[m], k, m)) is not None:
                before = self.time
                old = self.routes[k], self.routes[m]
                self.set(k, pair[0])
                self.set(m, pair[1])
                if self.time > before - SHORTER:  # waiting ate what the walk saved
                    self.set(k, old[0])
                    self.set(m, old[1])
                    break

    def replace(self) -> bool:
        """Swap one door for one that earns more; True if any was."""
        for k, route in enumerate(self.routes):
            for place, door in enumerate(route):
                rest = [*route[:place], *route[place + 1 :]]
                added, where = insertions(self.task, rest, k)
                fits = self.open_doors() & np.isfinite(added)
                gain = np.where(fits, self.prize, 0.0)
                other = int(np.argmax(gain))
                if gain[other] > self.prize[door] + SLACK:
                    at = int(where[other])
                    self.set(k, [*rest[:at], other, *rest[at:]])
                    return True
        return False

    def exchange(self) -> bool:
        """Move a door to another route or exchange two, whichever saves most; True if that saves minutes."""
        before, best, move = self.time, -SHORTER, None
        for k, m in permutations(range(len(self.routes)), 2):
            one, other = self.routes[k], self.routes[m]
            if not one:
                continue
            less, into_k = self._spared(k)
            moved = less + self.best_insertions(m)[0][one]
            i = int(np.argmin(moved))
            if moved[i] < best:
                best, move = float(moved[i]), (k, m, i, -1)
            if k < m and other:
                fewer, into_m = self._spared(m)
                swapped = less[:, None] + into_k[:, other] + fewer[None, :] + into_m[:, one].T
                i, j = divmod(int(np.argmin(swapped)), len(other))
                if swapped[i, j] < best:
                    best, move = float(swapped[i, j]), (k, m, i, j)
        if move is None:
            return False
        k, m, i, j = move
        kept = self.routes[k], self.routes[m]
        rest, door = _without(kept[0], i), kept[0][i]
        if j < 0:
            self.set(m, _with(kept[1], self.best_insertions(m), door))
            self.set(k, rest)
        else:
            spared = _without(kept[1], j)
            self.set(m, _with(spared, insertions(self.task, spared, m), door))
            self.set(k, _with(rest, insertions(self.task, rest, k), kept[1][j]))
        if self.time < before - SHORTER:
            return True
        self.set(k, kept[0])  # waiting ate what the walk saved
        self.set(m, kept[1])
        return False

    def _spared(self, k: int) -> tuple[Floats, Floats]:
        """Return the change (n,) in minutes by leaving out each stop, and what each door adds then (n, N)."""
        key = (k, *self.routes[k])
        if key not in self.spared:
            whole = _minutes(self.task, self.routes[k], k)
            less, added = [], []
            for place in range(len(self.routes[k])):
                rest = _without(self.routes[k], place)
                less.append(_minutes(self.task, rest, k) - whole)
                added.append(insertions(self.task, rest, k)[0])
            self.spared[key] = (np.array(less), np.array(added))
        return self.spared[key]

    def polish(self) -> None:
        """Shorten, fill and replace until nothing moves."""
        while True:
            before = self.score
            self.untangle()
            while self.exchange():
                pass
            self.shorten()
            self.fill()
            self.replace()
            if self.score <= before:
                return


def plan_routes(task: Task, rng: np.random.Generator, *, rounds: int = 200) -> list[Route]:
    """Return a route for each technician.

    ``task``: doors and crew; ``rng``: randomness; the same generator state gives the same routes; ``rounds``:
    how often a part is torn out and filled again.
    """
    prize = np.where(task.forced, _FORCED, 0.0) + np.maximum(task.worth, 0.0)
    plan = _Plan(task, prize, [()] * len(task.clock))
    plan.fill()
    plan.polish()
    best = _searched(task, prize, plan.copy_routes(), rng, rounds)
    # Then the same doors in the least time: which technician, which order.
    chosen = np.zeros(task.size)
    chosen[[door for route in best for door in route]] = _FORCED
    best = _searched(task, chosen, best, rng, rounds)
    plan = _Plan(task, prize, best)
    plan.polish()
    return plan.copy_routes()


def _searched(
    task: Task, prize: Floats, best: list[Route], rng: np.random.Generator, rounds: int
) -> list[Route]:
    """Tear out and fill again, keeping what is better and now and then what is a little worse."""
    best_score = _Plan(task, prize, best).score
    current, current_score = best, best_score
    for _ in range(rounds):
        chosen = [door for route in current for door in route]
        if not chosen:
            break
        plan = _Plan(task, prize, _torn(task, current, chosen, rng))
        plan.fill(rng.uniform(0.5, 1.5, task.size))
        plan.shorten()
        plan.fill()
        score = plan.score
        if score > best_score:
            plan.polish()
            best, best_score = plan.copy_routes(), plan.score
            current, current_score = best, best_score
        elif score[0] >= current_score[0] - 0.03 * abs(best_score[0] % _FORCED):
            current, current_score = plan.copy_routes(), score
        if current_score[0] < best_score[0] and rng.random() < 0.1:
            current, current_score = best, best_score
    return best


def _torn(
    task: Task, routes: Sequence[Route], chosen: Sequence[int], rng: np.random.Generator
) -> list[Route]:
    """Return the routes without a random third, a stretch of one of them, or doors near each other."""
    way = rng.random()
    if way < 0.4:
        out = {door for door in chosen if rng.random() < 0.35}
    elif way < 0.7:
        route = routes[int(rng.choice([k for k, r in enumerate(routes) if r]))]
        start, length = int(rng.integers(len(route))), int(rng.integers(1, max(2, len(route) // 2 + 1)))
        out = set(route[start : start + length])
    else:
        near = task.walk[chosen[int(rng.integers(len(chosen)))], list(chosen)]
        out = {
            chosen[i] for i in np.argsort(near, kind="stable")[: int(rng.integers(2, len(chosen) // 2 + 3))]
        }
    return [tuple(door for door in route if door not in out) for route in routes]


def _minutes(task: Task, route: Sequence[int], k: int) -> float:
    """Return how long a route takes, 0 where it is empty."""
    times = schedule(task, route, k)
    return times[-1][1] - float(task.clock[k]) if times else 0.0


def _without(route: Sequence[int], place: int) -> list[int]:
    return [*route[:place], *route[place + 1 :]]


def _with(route: Sequence[int], table: tuple[Floats, NDArray[np.intp]], door: int) -> list[int]:
    place = int(table[1][door])
    return [*route[:place], door, *route[place:]]

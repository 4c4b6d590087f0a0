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

from spread.decisions.routes import SHORTER, SLACK, Route, Task, insertions, schedule, shorter, tails_swapped
from spread.posterior.dynamics import Floats

_FORCED = 1e6


class _Plan:
    """Routes under way, with what inserting any door anywhere would cost."""

    def __init__(self, task: Task, prize: Floats, routes: Sequence[Route]) -> None:
        self.task = task
        self.prize = prize
        self.routes = [list(route) for route in routes]
        self.tables: list[tuple[Floats, NDArray[np.intp]] | None] = [None] * len(self.routes)

    @property
    def worth(self) -> float:
        return float(sum(self.prize[door] for route in self.routes for door in route))

    @property
    def time(self) -> float:
        ends = [schedule(self.task, route, k) for k, route in enumerate(self.routes)]
        return sum(times[-1][1] - float(self.task.clock[k]) for k, times in enumerate(ends) if times)

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

    def bestinsertions(self, k: int) -> tuple[Floats, NDArray[np.intp]]:
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
                added, where = self.bestinsertions(k)
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
        """Move a door to another route or exchange two, where that saves minutes; True if any was."""
        task, doors = self.task, [list(route) for route in self.routes]
        before = self.time
        for k, m in permutations(range(len(doors)), 2):
            into_m = insertions(task, doors[m], m)
            spared = [_without(doors[m], j) for j in range(len(doors[m]))]
            instead = [insertions(task, rest, m) for rest in spared]
            for i, a in enumerate(doors[k]):
                rest = _without(doors[k], i)
                if schedule(task, rest, k) is None:
                    continue
                into_k = insertions(task, rest, k)
                tries = [(rest, _with(doors[m], into_m, a))] if np.isfinite(into_m[0][a]) else []
                tries += [
                    (_with(rest, into_k, b), _with(spared[j], instead[j], a))
                    for j, b in enumerate(doors[m])
                    if k < m and np.isfinite(into_k[0][b]) and np.isfinite(instead[j][0][a])
                ]
                for one, other in tries:
                    self.set(k, one)
                    self.set(m, other)
                    if self.time < before - SHORTER:
                        return True
                self.set(k, doors[k])
                self.set(m, doors[m])
        return False

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

    Parameters
    ----------
    task
        Doors and crew.
    rng
        Randomness; the same generator state gives the same routes.
    rounds
        How often a part is torn out and filled again.
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


def _without(route: Sequence[int], place: int) -> list[int]:
    return [*route[:place], *route[place + 1 :]]


def _with(route: Sequence[int], table: tuple[Floats, NDArray[np.intp]], door: int) -> list[int]:
    place = int(table[1][door])
    return [*route[:place], door, *route[place:]]

"""A round: which doors, by which method, in which order, in the minutes that a crew has.

Doors are chosen within the time, by :mod:`spread.decisions.round.search`, for what the lists are ranked by:
finds a knock, or weeks averted (:func:`spread.decisions.doors.ranking.prizes`). Each technician comes to
doors taken for infested after all others, to limit carry-over (judgement, no source for the bound), and to
the likeliest of the others early (:mod:`spread.decisions.round.early`).

Planned minutes are expected ones: a shut door saves the look. If every door opens a round takes longer
than planned, so it is planned again after each answer: a call with the log as it is now, the doors done
and where each technician stands.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spread.contacts.distances import Distances
from spread.decisions.doors.effort import Effort, effort_of
from spread.decisions.doors.ranking import prizes
from spread.decisions.doors.reasons import reasons_for
from spread.decisions.round.early import likeliest_early
from spread.decisions.round.parts import (
    KINDS,
    AllBarred,
    AllShut,
    Barred,
    HeldBack,
    NoDoor,
    NothingLeft,
    NoTime,
    NoWindow,
    Path,
    Position,
    Round,
    RoundSettings,
    Stop,
    TooFar,
)
from spread.decisions.round.search import plan_routes
from spread.decisions.round.walks import Task, schedule
from spread.decisions.view import View
from spread.errors import Problem, SettingsError
from spread.plan.access import Access, access_on
from spread.plan.model import Plan
from spread.posterior.dynamics import Floats
from spread.records.sense import guess

SUSPECT, INFESTED = 0.15, 0.50
"""Chances from which a door is suspect and taken for infested (judgement, no source)."""
TIERS = ("likely clear", "suspect", "likely infested")
LAST = TIERS.index("likely infested")
"""The tier that comes after all others."""
MOST_TECHNICIANS = 50
MOST_MINUTES = 24 * 60


def plan_round(view: View, plan: Plan, distances: Distances, settings: RoundSettings) -> Round:
    """Plan a round, or the rest of one.

    Doors looked at or tried on the day of the view count as done.

    ``plan``, ``distances``: the building and its walks; ``settings``: what the round may take.

    Raises
    ------
    SettingsError
        With every problem of the settings: no time, no technician, an unknown start or unit. A round that
        reaches no door is an answer and no error: it says so in ``no_door``.
    """
    access = _check(view, distances, settings)
    positions = _positions(distances, settings)
    effort = effort_of(view, settings.method, settings.pace)
    prize, finds, worth = prizes(view, settings.method, effort, settings.order)
    doors, blocked = _candidates(view, settings, access)
    rows = np.array([view.network.index[unit] for unit in doors], dtype=np.intp)
    task = _task(view, distances, settings, effort, prize, rows, access, positions)
    rng = np.random.default_rng([settings.seed, view.on.toordinal(), len(rows)])
    routes = plan_routes(task, rng, rounds=settings.effort) if doors else [()] * len(positions)
    routes = [likeliest_early(task, task.worth, route, k) for k, route in enumerate(routes)]
    make = _StopMaker(view, plan, distances, settings, effort, finds, worth, access)
    paths = tuple(
        make.path(k, positions[k], [doors[i] for i in route], schedule(task, route, k) or [])
        for k, route in enumerate(routes)
    )
    chosen = {doors[i] for route in routes for i in route}
    missed = [
        (unit, NoTime(must)) for unit, must in settings.must.items() if unit in doors and unit not in chosen
    ]
    stops = [stop for path in paths for stop in path.stops]
    return Round(
        method=settings.method,
        minutes=settings.minutes,
        begins=settings.begins,
        paths=paths,
        finds=sum(stop.finds for stop in stops if not stop.known),
        worth=sum(stop.worth for stop in stops),
        finish=max(path.finish for path in paths),
        left_out=(*blocked, *missed),
        no_door=None if stops else _no_door(doors, blocked, task, settings),
        held_back=_held_back(paths),
    )


def tier_of(chance: float, status: str) -> int:
    """Return 0, 1 or 2 of :data:`TIERS`; a unit known infested is 2 whatever its chance.

    ``chance``: of infestation now; ``status``: the unit's standing.
    """
    return 2 if status != "look" or chance > INFESTED else int(chance >= SUSPECT)


def done_today(view: View, settings: RoundSettings) -> set[str]:
    """Return the units that need no more visit today: looked at, tried, or said to be done."""
    tried = view.tried_today if _day(view, settings) == view.on else frozenset[str]()
    return set(settings.done) | tried


def _day(view: View, settings: RoundSettings) -> dt.date:
    return settings.day or view.on


def _check(view: View, distances: Distances, settings: RoundSettings) -> dict[str, Access]:
    """Raise every problem of the settings; return the units whose access is restricted today."""
    problems = []

    def fail(where: str, what: str, fix: str) -> None:
        problems.append(Problem("round", where, what, fix))

    if not 0 < settings.minutes <= MOST_MINUTES:
        what = f"it is {settings.minutes:g}, expected more than 0 and at most {MOST_MINUTES} minutes"
        fail("minutes", what, "give the time that each technician has, such as 240")
    if not 1 <= settings.technicians <= MOST_TECHNICIANS:
        what = f"it is {settings.technicians}, expected 1 to {MOST_TECHNICIANS}"
        fail("technicians", what, "say how many go")
    if settings.positions and len(settings.positions) != settings.technicians:
        what = f"{len(settings.positions)} are given for {settings.technicians} technicians"
        fail("positions", what, "give one for each technician")
    if unknown := [kind for kind in settings.kinds if kind not in KINDS]:
        fail("kinds", f"{unknown[0][:40]!r} is not known", f"use {', '.join(KINDS)}")
    for unit in (*settings.must, *settings.done):
        if unit not in view.network.index:
            fix = guess(unit, view.network.units, "use a unit code of the plan")
            fail("units", f"there is no unit {unit[:40]!r}", fix)
    access: dict[str, Access] = {}
    for check in (
        lambda: access.update(access_on(settings.access, distances.units, _day(view, settings))),
        lambda: [distances.from_start(start) for start in _starts(distances, settings)],
    ):
        try:
            check()
        except SettingsError as error:
            problems += error.problems
    if problems:
        raise SettingsError(problems)
    return access


def _starts(distances: Distances, settings: RoundSettings) -> list[str]:
    usual = settings.start.strip() or distances.usual_start
    return [usual, *(position.at for position in settings.positions)]


def _positions(distances: Distances, settings: RoundSettings) -> tuple[Position, ...]:
    start = settings.start.strip() or distances.usual_start
    return settings.positions or (Position(start),) * settings.technicians


def _candidates(
    view: View, settings: RoundSettings, access: Mapping[str, Access]
) -> tuple[list[str], list[tuple[str, Access | Barred]]]:
    """Return the doors to choose from, and those that cannot be entered today with why."""
    done = done_today(view, settings)
    only = view.network.units if settings.only is None else settings.only
    wanted = [
        unit
        for unit in view.network.units
        if unit in only
        and unit not in done
        and (unit in settings.must or view.followups[unit].status in settings.kinds)
    ]
    shut: dict[str, Access | Barred] = {u: one for u, one in access.items() if not one.windows}
    shut |= settings.barred
    return [unit for unit in wanted if unit not in shut], [(u, shut[u]) for u in wanted if u in shut]


def _task(
    view: View,
    distances: Distances,
    settings: RoundSettings,
    effort: Effort,
    prize: Floats,
    rows: NDArray[np.intp],
    access: Mapping[str, Access],
    positions: Sequence[Position],
) -> Task:
    units = [view.network.units[i] for i in rows]
    order = np.array([distances.units.index(unit) for unit in units], dtype=np.intp)
    speed = settings.pace.metres_per_minute
    windows = [access[unit].windows if unit in access else ((-np.inf, np.inf),) for unit in units]
    table = np.full((len(units), max(map(len, windows), default=1), 2), [np.inf, -np.inf])
    for i, spans in enumerate(windows):
        table[i, : len(spans)] = np.array(spans) - settings.begins
    return Task(
        worth=prize[rows],
        minutes=np.array([settings.visits.get(u, m) for u, m in zip(units, effort.visit[rows], strict=True)]),
        tier=np.array(
            [
                tier_of(float(view.posterior.chance[i]), view.followups[u].status) == LAST
                for i, u in zip(rows, units, strict=True)
            ],
            dtype=np.int64,
        ),
        windows=table,
        forced=np.array([unit in settings.must for unit in units], dtype=np.bool_),
        walk=distances.metres[np.ix_(order, order)] / speed,
        first=np.stack([distances.from_start(p.at)[order] / speed for p in positions]),
        clock=np.array([position.minute for position in positions]),
        until=np.array(settings.each or (settings.minutes,) * len(positions), dtype=float),
    )


@dataclass(frozen=True)
class _StopMaker:
    view: View
    plan: Plan
    distances: Distances
    settings: RoundSettings
    effort: Effort
    finds: Floats
    worth: Floats
    access: Mapping[str, Access]

    def path(
        self, k: int, position: Position, units: Sequence[str], times: Sequence[tuple[float, float]]
    ) -> Path:
        stops, here, left = [], "", position.minute
        late = position.minute
        for unit, (begin, leave) in zip(units, times, strict=True):
            metres = (
                self.distances.between(here, unit)
                if here
                else float(self.distances.from_start(position.at)[self.distances.units.index(unit)])
            )
            walk = metres / self.settings.pace.metres_per_minute
            stops.append(self._stop(unit, left + walk, begin, leave, metres))
            longest = float(self.effort.longest[self.view.network.index[unit]])
            late = max(late + walk, begin) + self.settings.visits.get(unit, longest)
            here, left = unit, leave
        return Path(k + 1, position.at, position.minute, tuple(stops), left, late)

    def _stop(self, unit: str, arrive: float, begin: float, leave: float, metres: float) -> Stop:
        view, i = self.view, self.view.network.index[unit]
        chance, opens, finds = (float(a[i]) for a in (view.posterior.chance, self.effort.opens, self.finds))
        floors = [door.floor for door in self.plan.doors if door.unit == unit]
        return Stop(
            unit=unit,
            floor=floors[0] if floors else min(self.plan.units[unit].parts, key=self.plan.level_of),
            method=self.settings.method,
            arrive=arrive,
            begin=begin,
            leave=leave,
            walk_m=metres,
            chance=chance,
            tier=TIERS[tier_of(chance, view.followups[unit].status)],
            known=view.followups[unit].status != "look",
            opens=opens,
            finds=opens * finds,
            worth=opens * float(self.worth[i]),
            worth_of_find=float(self.worth[i]) / finds if finds > 0 else 0.0,
            must=self.settings.must.get(unit),
            ring=view.ring_places.get(unit, ()),
            access=self.access.get(unit),
            why=reasons_for(view, unit)[:3],
        )


def _held_back(paths: Sequence[Path]) -> HeldBack | None:
    """Return the doors not known that stand last for fear of carry-over, and what that puts at risk."""
    last = [
        stop
        for path in paths
        for place, stop in enumerate(path.stops)
        if stop.tier == TIERS[LAST]
        and not stop.known
        and any(s.tier != TIERS[LAST] for s in path.stops[:place])
    ]
    if not last:
        return None
    return HeldBack(
        tuple(stop.unit for stop in last), sum(stop.finds for stop in last), min(stop.begin for stop in last)
    )


def _no_door(
    doors: Sequence[str], blocked: Sequence[tuple[str, Access | Barred]], task: Task, settings: RoundSettings
) -> NoDoor:
    """Return why a round has no stop."""
    if not doors:
        if any(isinstance(why, Barred) for _, why in blocked):
            return AllBarred(sum(isinstance(why, Barred) for _, why in blocked))
        return AllShut(len(blocked)) if blocked else NothingLeft(settings.kinds)
    need, spare = float((task.first + task.minutes).min()), float((task.until - task.clock).max())
    if need > spare:
        return TooFar(need, max(spare, 0.0))
    return NoWindow(settings.begins, settings.begins + settings.minutes)

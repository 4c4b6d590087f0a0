"""The planned week against going day by day: weeks averted an hour on simulated buildings.

Run it from the top folder::

    python -m proofs.week_plan --buildings 40

Buildings live and are looked after as usual (:mod:`spread.worlds`); each is fitted, and one week is planned
twice under the same hours, notice of entry and access: whole (:mod:`spread.decisions.week.plan`), and day by
day, each day taking the best round that is left and lawful (:mod:`spread.decisions.round.making`). Both are
held to what the model expects of their visits, less a seventh of an infested week for every day that a find
waits, and to how many units that truly are infested they come to.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from spread.contacts.distances import Distances, distances_of
from spread.contacts.graph import build_contacts
from spread.decisions.doors.ranking import open_looks
from spread.decisions.duties.owed import duties
from spread.decisions.round.making import plan_round
from spread.decisions.round.parts import RoundSettings
from spread.decisions.view import View
from spread.decisions.week.doors import Door, doors_of
from spread.decisions.week.entry import entries_of
from spread.decisions.week.plan import WeekSettings, plan_week, working_days
from spread.plan.access import DAYS, AccessRule, access_on
from spread.plan.drawing.reading import parse_unit_list
from spread.plan.model import Plan
from spread.plan.unit_list import draw_plan
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.records.log import Log
from spread.settings import BuildingSettings
from spread.trade.crew import crew_of
from spread.trade.rules import load_rules
from spread.worlds.practice import usual_practice

ON = dt.date(2026, 11, 23)
"""A Monday."""
WEEKS = 60
FLOORS, A_FLOOR = 4, 14
HOURS = 0.75
"""Of each of two technicians: too few for every door, so that it matters who is chosen."""
SHUT_MOST_DAYS = 0.4
"""Share of units that may be entered on two days of the week alone."""


@dataclass(frozen=True)
class Held:
    """What one way of planning came to."""

    weeks: float  #: Weeks averted, expected
    hours: float
    owed: int  #: Doors that a duty, a revisit, a treatment or a ring asks for
    infested: int  #: Units visited that truly are infested


def building() -> Plan:
    """Return the plan that every building has."""
    codes = [f"{floor}{number:02d}" for floor in range(1, FLOORS + 1) for number in range(1, A_FLOOR + 1)]
    units = parse_unit_list("unit,floor\n" + "".join(f"{code},{code[0]}\n" for code in codes))
    names = tuple(str(floor) for floor in range(1, FLOORS + 1))
    return draw_plan(units, "double-loaded", floors=names, name="Made House")


def both(seed: int, plan: Plan, distances: Distances) -> tuple[Held, Held]:
    """Let one building live, and return what the planned week and going day by day come to."""
    rng = np.random.default_rng([seed, 17])
    graph = build_contacts(plan)
    network, dynamics = network_of(graph), central_dynamics(prevalence=0.15)
    start = ON - dt.timedelta(weeks=WEEKS)
    records, truth = usual_practice(network, graph, dynamics, weeks=WEEKS, rng=rng, start_date=start)
    rows = tuple(row for row in records if row.when < ON)
    quick = FitSettings(weeks=WEEKS, sweeps=150, most_sweeps=150, warmup=50, chains=2, seed=seed, workers=1)
    posterior = fit(network, rows, dynamics, on=ON, settings=quick)
    view = View(graph, network, posterior.dynamics or dynamics, Log(rows), posterior)
    own, rules = BuildingSettings(plan.name, plan.floors), load_rules("philadelphia")
    looks, owed = open_looks(view, rules), duties(view.log, graph, rules, ON)
    last = ON + dt.timedelta(days=6)
    doors = doors_of(view, own, entries_of(view, rules), looks, owed, last, method=own.method)
    access = tuple(
        AccessRule(unit, days=tuple(DAYS[k] for k in sorted(rng.choice(5, 2, replace=False))))
        for unit in network.units
        if rng.random() < SHUT_MOST_DAYS
    )
    settings = WeekSettings(crew_of(2, HOURS), access=access, round=RoundSettings(seed=seed, pace=own.pace))
    week = plan_week(view, plan, distances, doors, settings)
    planned = {unit: one.day for one in week.days for unit in one.round.units}
    known = {door.unit: door for door in doors}
    infested = {unit for unit, level in zip(network.units, truth[:, -1], strict=True) if level > 0}
    greedy, hours = day_by_day(view, plan, distances, doors, settings)
    whole = sum(path.finish for one in week.days for path in one.round.paths) / 60.0
    return held(planned, known, whole, infested), held(greedy, known, hours, infested)


def day_by_day(
    view: View, plan: Plan, distances: Distances, doors: Sequence[Door], settings: WeekSettings
) -> tuple[dict[str, dt.date], float]:
    """Return the day of each door where every day takes the best round of what is left, and the hours."""
    taken: dict[str, dt.date] = {}
    minutes = 0.0
    for day in working_days(view.on, settings.crew):
        shut = access_on(settings.access, view.network.units, day)
        free = [
            door
            for door in doors
            if door.unit not in taken
            and day >= door.not_before
            and door.entry.may_plan(day)
            and (door.unit not in shut or shut[door.unit].windows)
        ]
        crew = [one for one in settings.crew if one.works_on(day)]
        walked = plan_round(
            view,
            plan,
            distances,
            replace(
                settings.round,
                day=day,
                technicians=len(crew),
                minutes=max(one.minutes for one in crew),
                only=frozenset(door.unit for door in free),
                kinds=("look", "treat", "revisit"),
                must={door.unit: door.why for door in free if door.why is not None},
                visits={door.unit: door.minutes for door in free},
                access=settings.access,
            ),
        )
        taken |= dict.fromkeys(walked.units, day)
        minutes += sum(path.finish for path in walked.paths)
    return taken, minutes / 60.0


def held(days: Mapping[str, dt.date], doors: Mapping[str, Door], hours: float, infested: set[str]) -> Held:
    """Return what visits on these days come to."""
    weeks = sum(
        max(0.0, doors[unit].worth - doors[unit].finds * (day - ON).days / 7.0) for unit, day in days.items()
    )
    owed = sum(doors[unit].why is not None for unit in days)
    return Held(weeks, hours, owed, len(infested & set(days)))


def told(pairs: Sequence[tuple[Held, Held]]) -> str:
    """Return the comparison in a few lines, each difference with its 95 % interval over buildings."""
    lines = [f"{len(pairs)} buildings, {FLOORS * A_FLOOR} units, two technicians of {HOURS:g} hours a day"]
    for name, of in (
        ("weeks averted an hour", lambda one: one.weeks / max(one.hours, 1e-9)),
        ("weeks averted", lambda one: one.weeks),
        ("owed doors visited", lambda one: float(one.owed)),
        ("infested units visited", lambda one: float(one.infested)),
        ("hours", lambda one: one.hours),
    ):
        a, b = (np.array([of(pair[k]) for pair in pairs]) for k in (0, 1))
        difference = a - b
        half = 1.96 * difference.std(ddof=1) / np.sqrt(len(pairs)) if len(pairs) > 1 else float("nan")
        lines.append(
            f"{name}: planned {a.mean():.3f}, day by day {b.mean():.3f}, "
            f"difference {difference.mean():+.3f} ({difference.mean() - half:+.3f} to "
            f"{difference.mean() + half:+.3f})"
        )
    return "\n".join(lines)


def main(argv: Sequence[str] | None = None) -> int:
    """Compare, and print; exit code 1 where the planned week averts fewer weeks an hour for certain."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--buildings", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(argv)
    plan = building()
    distances = distances_of(plan)
    pairs = []
    for seed in range(args.seed, args.seed + args.buildings):
        pairs.append(both(seed, plan, distances))
        if sys.stderr.isatty():
            print(f"{len(pairs)} of {args.buildings}", file=sys.stderr)
    print(told(pairs))
    gain = np.array([a.weeks / max(a.hours, 1e-9) - b.weeks / max(b.hours, 1e-9) for a, b in pairs])
    if len(gain) < 2:
        return 0
    return int(gain.mean() + 1.96 * gain.std(ddof=1) / np.sqrt(len(gain)) < 0)


if __name__ == "__main__":
    sys.exit(main())

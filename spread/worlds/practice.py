"""Usual practice: what residents and a pest firm do in a simulated building, and the log they leave.

Complaint-driven, as most buildings are run: a resident reports, a technician looks within days,
looks at the units around a find, treats every two weeks until two clean looks two weeks apart,
now and then leaves interceptors or brings a dog. Nobody here sees the hidden levels except
through :class:`spread.worlds.truth.World`'s looks and reports.
"""

from __future__ import annotations

import datetime as dt
import heapq
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import networkx as nx
import numpy as np

from spread.posterior.dynamics import Dynamics, Network
from spread.records.kinds import Record
from spread.weeks import week_of
from spread.worlds.habits import PracticeSettings, ring
from spread.worlds.truth import Levels, Nature, World

__all__ = ["CREW", "Practice", "PracticeSettings", "number_records", "ring", "usual_practice"]

CREW = ("T1", "T2", "T3")  #: Crew codes of technicians


@dataclass(order=True, slots=True)
class _Task:
    """A visit that is due."""

    day: dt.date
    unit: str
    purpose: str = field(compare=False)  # report, ring, case, sweep, confirm, pick-up
    tries: int = field(default=0, compare=False)


@dataclass(slots=True)
class _Case:
    """A unit under treatment."""

    method: str
    treatments: int = 0
    clean: int = 0


class Practice:
    """A firm at work in a :class:`~spread.worlds.truth.World`, week by week.

    Parameters
    ----------
    world : The building; its first week must be that of the first :meth:`run_week`
    graph : Contact graph with ``route`` on edges and ``floors`` on nodes
    settings : How the building is run
    rng : For the firm's own choices: days, floors to sweep, who goes

    Attributes
    ----------
    records
        Everything written down so far, in the order it happened.
    open_cases
        Units under treatment.
    """

    def __init__(
        self, world: World, graph: nx.MultiGraph, settings: PracticeSettings, rng: np.random.Generator
    ) -> None:
        self.world = world
        self.graph = graph
        self.settings = settings
        self.records: list[Record] = []
        self.open_cases: dict[str, _Case] = {}
        self._rng = rng
        self._tasks: list[_Task] = []
        self._back_in: dict[str, int] = {}
        self._due: set[tuple[str, str]] = set()
        for unit in settings.never_report:
            world.willing[world.network.index[unit]] = 0.0

    def run_week(self, week: int) -> None:
        """Do everything of one week, and let it pass."""
        monday = dt.date.fromordinal(week * 7 + 1)
        self._turnover(monday)
        if self.settings.sweep_every and week % self.settings.sweep_every == 0:
            self._plan_sweep(monday)
        for unit in self.world.reports():
            self._take_report(unit, monday)
        sunday = monday + dt.timedelta(days=6)
        while self._tasks and self._tasks[0].day <= sunday:
            self._visit(heapq.heappop(self._tasks))
        self.world.step()

    def _note(
        self,
        when: dt.date,
        unit: str,
        kind: str,
        method: str = "",
        evidence: frozenset[str] = frozenset(),
        by: str = "",
    ) -> Record:
        self.records.append(
            Record(f"w{len(self.records) + 1}", when, unit, kind, method, evidence=evidence, by=by)
        )
        return self.records[-1]

    def _within(self, day: dt.date, first: int, last: int) -> dt.date:
        """Return a working day (Monday to Friday) from ``first`` to ``last`` days after ``day``."""
        chosen = day + dt.timedelta(days=int(self._rng.integers(first, max(first, last) + 1)))
        return chosen - dt.timedelta(days=max(0, chosen.weekday() - 4)) if chosen.weekday() > 4 else chosen

    def _add(self, task: _Task) -> None:
        if (task.unit, task.purpose) not in self._due:
            self._due.add((task.unit, task.purpose))
            heapq.heappush(self._tasks, task)

    def _turnover(self, monday: dt.date) -> None:
        if not self.settings.stay_weeks:
            return
        leaves = self.world.uniform("turnover") < 1.0 / self.settings.stay_weeks
        for i in np.flatnonzero(leaves | self.world.vacant):
            unit = self.world.network.units[i]
            luck = self.world.luck("turnover", unit)
            when = monday + dt.timedelta(days=int(luck.integers(5)))
            if self.world.vacant[i]:
                if self._back_in[unit] <= self.world.week:
                    self.world.move_in(unit)
                    self._note(when, unit, "turnover", "moved-in", by="office")
            elif unit not in self.settings.staying:
                self.world.move_out(unit)
                spell = luck.integers(*self.settings.empty_weeks, endpoint=True)
                self._back_in[unit] = self.world.week + int(spell)
                self._note(when, unit, "turnover", "moved-out", by="office")

    def _plan_sweep(self, monday: dt.date) -> None:
        """Choose a floor for the dog: two in three times one with a case, if there is any."""
        floors: dict[str, list[str]] = {}
        for unit, data in self.graph.nodes(data=True):
            floors.setdefault(str(data["floors"][0]), []).append(unit)
        troubled = [f for f, units in floors.items() if any(u in self.open_cases for u in units)]
        names = troubled if troubled and self._rng.random() < 2 / 3 else list(floors)
        day = self._within(monday, 0, 3)
        for unit in floors[names[int(self._rng.integers(len(names)))]]:
            if unit not in self.open_cases:
                self._add(_Task(day, unit, "sweep"))

    def _take_report(self, unit: str, monday: dt.date) -> None:
        if unit in self.open_cases or (unit, "report") in self._due:
            return  # in hand already: the household waits for the next visit
        day = self._within(monday, 0, 4)
        luck = self.world.luck("reports", unit)
        # The shares follow the factors that a report's evidence is read with: live 0.2, bites only 4.
        infested = self.world.level_of(unit) > 0
        shares = (0.5, 0.1, 0.2) if infested else (0.1, 0.4, 0.25)
        which = int(np.searchsorted(np.cumsum(shares), luck.random()))
        evidence = (frozenset({"live"}), frozenset({"bites"}), frozenset({"stains"}), frozenset[str]())[which]
        self._note(day, unit, "report", evidence=evidence, by="office")
        self._add(_Task(self._within(day, 1, self.settings.look_within), unit, "report"))

    def _visit(self, task: _Task) -> None:
        self._due.discard((task.unit, task.purpose))
        if task.purpose != "case" and task.unit in self.open_cases:
            return
        empty = self.world.vacant[self.world.network.index[task.unit]]
        absent = self.settings.no_access * (0.5 if task.purpose == "sweep" else 1.0)
        absent = max(absent, 0.9) if task.unit in self.settings.often_out else absent
        if task.purpose != "pick-up" and not empty and self.world.nobody_opens(task.unit, absent):
            self._knock_in_vain(task)
            return
        if task.purpose == "case":
            self._case_visit(task)
        elif task.purpose == "ring" and self._rng.random() < self.settings.interceptor_share and not empty:
            self._add(_Task(task.day + dt.timedelta(days=14), task.unit, "pick-up"))
        elif task.purpose == "pick-up":
            self._judge(self._look(task, "interceptors", days=14))
        elif task.purpose == "sweep":
            if self._look(task, "dog", by="K9").found == "yes":
                self._add(_Task(self._within(task.day, 1, 4), task.unit, "confirm"))
        else:
            self._judge(self._look(task, "brief-visual"))

    def _knock_in_vain(self, task: _Task) -> None:
        method = "refused" if self._rng.random() < 0.1 else "nobody-home"
        self._note(task.day, task.unit, "no-access", method, by=self._who())
        tries = task.tries + 1
        if task.purpose == "case" or (task.purpose != "sweep" and tries < self.settings.tries):
            self._add(replace(task, day=task.day + dt.timedelta(days=7), tries=tries))

    def _who(self) -> str:
        return CREW[int(self._rng.integers(len(CREW)))]

    def _look(self, task: _Task, method: str, *, days: int | None = None, by: str = "") -> Record:
        record = self.world.look(
            task.unit,
            method,
            when=task.day,
            id=f"w{len(self.records) + 1}",
            days=days,
            by=by or self._who(),
            unsure=method == "brief-visual",
        )
        self.records.append(record)
        return record

    def _judge(self, look: Record) -> None:
        """Open a case on a find and send somebody to the units around it."""
        if look.found != "yes":
            return
        method = "spray" if self._rng.random() < self.settings.spray_share else "steam-dust-encase"
        self.open_cases[look.unit] = _Case(method)
        self._add(_Task(self._within(look.when, 2, 9), look.unit, "case"))
        for other in ring(self.graph, look.unit):
            if other not in self.open_cases:
                self._add(_Task(self._within(look.when, 1, self.settings.ring_within), other, "ring"))

    def _case_visit(self, task: _Task) -> None:
        """Look first; treat unless clean; close after enough clean looks in a row."""
        case = self.open_cases[task.unit]
        if case.treatments == 0 or self._look(task, "brief-visual").found != "no":
            case.clean = 0
            heat = case.treatments > 0 and case.treatments % self.settings.heat_after == 0
            method = "whole-room-heat" if heat else case.method
            case.treatments += 1
            self._note(task.day, task.unit, "treatment", method, by=self._who())
            self.world.treat(task.unit, method, when=task.day)
        else:
            case.clean += 1
            if case.clean >= self.settings.clean_looks:
                del self.open_cases[task.unit]
                return
        self._add(_Task(task.day + dt.timedelta(days=self.settings.treatment_every), task.unit, "case"))


def usual_practice(
    network: Network,
    graph: nx.MultiGraph,
    dynamics: Dynamics,
    *,
    weeks: int,
    rng: np.random.Generator,
    start_date: dt.date,
    settings: PracticeSettings | None = None,
    start: Levels | None = None,
    nature: Nature | None = None,
) -> tuple[tuple[Record, ...], Levels]:
    """Let a building live and be looked after, and return its log and its truth.

    Parameters
    ----------
    network, graph, dynamics : The contact graph as arrays, the graph itself, and the rates
    weeks : Length of the log
    rng : The only source of randomness
    start_date : A day of the first week of the log
    settings : How the building is run
    start : Shape (N,): levels when the unrecorded weeks begin; None draws from the dynamics
    nature : As in :class:`spread.worlds.truth.World`

    Returns
    -------
    records
        In order of days, with ids ``r0001`` and on.
    truth
        Shape (N, weeks): hidden level of every unit in every week of the log.
    """
    settings = settings or PracticeSettings()
    world_rng, firm_rng = rng.spawn(2)
    first = week_of(start_date)
    before = settings.unrecorded_weeks
    world = World(
        network,
        dynamics,
        rng=world_rng,
        week=first - before,
        start=start,
        report_spread=settings.report_spread,
        nature=nature,
    )
    practice = Practice(world, graph, settings, firm_rng)
    truth = np.empty((network.size, weeks), dtype=np.int8)
    for t in range(-before, weeks):
        practice.run_week(first + t)
        if t >= 0:
            truth[:, t] = world.ended
    log_begins = dt.date.fromordinal(first * 7 + 1)
    return number_records(r for r in practice.records if r.when >= log_begins), truth


def number_records(records: Iterable[Record]) -> tuple[Record, ...]:
    """Return records in order of days (and as they happened within a day) with ids ``r0001`` and on."""
    ordered = sorted(records, key=lambda r: r.when)
    return tuple(replace(r, id=f"r{k:04d}") for k, r in enumerate(ordered, start=1))

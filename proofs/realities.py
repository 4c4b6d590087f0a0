"""Buildings that are not as the model assumes: a tower that is lived in week by week, and its log.

Written apart from :mod:`spread.worlds`. Rates are drawn from the priors and not told to a fit; practice is
usual (complaints looked into and treated until a look is clear, neighbours looked at, a dog team through half
the building once a year). Each kind of reality breaks one assumption.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from spread.posterior.dynamics import LEVELS, central_dynamics, network_of
from spread.records.kinds import LEVELS as GRADES
from spread.records.kinds import Record
from spread.trade import biology, detection, seeing, treatment

FLOORS, A_FLOOR, WEEKS = 7, 10, 104
ON = dt.date(2026, 11, 25)
START = ON - dt.timedelta(days=7 * (WEEKS - 1) + ON.weekday())


@dataclass(frozen=True)
class Kind:
    """One kind of reality; the defaults are what the fit assumes."""

    heavy_as_light: bool = False
    misses: float = 1.0
    never: float = 0.0
    false_alerts: float = 0.15
    resist: float = seeing.RESISTS.central
    move_ins: float = 1.0
    laundry: float = 0.0
    blind: float = 1.0  # factor on what one of the two inspectors misses
    hide: float = 0.0  # share of units where every look misses three times as much
    growth: float = 1.0  # factor on the growth a day
    own: float = 0.0  # weekly chance that people with many bugs halve them by themselves, off the log
    false_reports: float = 1.0  # factor on complaints of nothing
    needs: tuple[str, ...] = ()


KINDS = {
    "as assumed": Kind(),
    "heavy ones report as rarely as light": Kind(heavy_as_light=True, needs=("reporting",)),
    "looks miss twice as much": Kind(misses=2.0, needs=("finding",)),
    "a third never report": Kind(never=0.33, needs=("reporting",)),
    "four in ten dog alerts in clear units": Kind(false_alerts=0.4, needs=("alerts",)),
    "seven in ten units resist treatment": Kind(resist=0.7, needs=("treatment",)),
    "move-ins tenfold": Kind(move_ins=10.0, needs=("move-ins",)),
    "a laundry that no plan shows": Kind(laundry=0.06, needs=("shared room",)),
    "one of two inspectors misses three times as much": Kind(blind=3.0, needs=("finding",)),
    "a third of units hide what they have": Kind(hide=0.33, needs=("finding",)),
    "bugs grow half as fast": Kind(growth=0.5),
    "people treat by themselves, off the log": Kind(own=0.05),
    "complaints of nothing fivefold": Kind(false_reports=5.0, needs=("complaints", "unexpected")),
    "some never report, some miss, some resist": Kind(
        never=0.3, misses=1.6, resist=0.6, needs=("reporting", "finding", "treatment")
    ),
}


def tower() -> nx.MultiGraph:
    """Seven floors of ten units on both sides of a hallway."""
    graph = nx.MultiGraph()
    places = [(f, k) for f in range(FLOORS) for k in range(A_FLOOR)]
    for index, (f, k) in enumerate(places):
        graph.add_node(f"{f + 1}{k:02d}", index=index)
    for f, k in places:
        for g, h, route in [(f, k + 2, "wall"), (f + 1, k, "floor"), (f + 1, k, "riser")]:
            if (g, h) in places:
                here, there = f"{f + 1}{k:02d}", f"{g + 1}{h:02d}"
                graph.add_edge(here, there, key=route, route=route, exposure=1.0, upper=there)
        if k % 2 == 0:
            here, there = f"{f + 1}{k:02d}", f"{f + 1}{k + 1:02d}"
            graph.add_edge(here, there, key="hallway", route="hallway", exposure=1.0, facing=True)
    return graph


class Building:
    """A building that is lived in week by week, and its log."""

    def __init__(self, kind: Kind, seed: int) -> None:
        self.kind, self.rng = kind, np.random.default_rng([seed, 77])
        self.graph, self.d = tower(), central_dynamics()
        self.network = network_of(self.graph)
        shape, rate = (np.array(part) for part in self.d.rate_priors)
        theta = self.rng.gamma(shape, 1.0 / rate)
        n = self.network.size
        self.brought_in, self.move_in = theta[0], theta[-1] * kind.move_ins
        self.push = self.network.dense(theta[2:-1]) + theta[1] / n
        self.club = self.rng.permutation(n)[: n // 5]
        self.push[np.ix_(self.club, self.club)] += kind.laundry
        np.fill_diagonal(self.push, 0.0)
        self.speaks = self.rng.random(n) >= kind.never
        self.hard = self.rng.random(n) < kind.resist
        self.hides = self.rng.random(n) < kind.hide
        self.growth = biology.growth_matrix(biology.GROWTH_PER_DAY.central * kind.growth)
        self.x = self.rng.choice(LEVELS, p=self.d.start, size=n)
        self.log: list[Record] = []
        self.plan: dict[int, list[tuple[int, str, str]]] = {}
        self.treated: dict[int, list[str]] = {}
        self.ever: set[int] = set()
        self.busy: dict[int, int] = {}
        self.lived: list[np.ndarray] = []

    def write(self, week: int, day: int, i: int, kind: str, method: str = "", **more: object) -> None:
        """Add a row."""
        when = START + dt.timedelta(days=7 * week + day)
        row = Record(f"r{len(self.log)}", when, self.network.units[i], kind, method)
        self.log.append(replace(row, **more))

    def look(self, week: int, day: int, i: int, method: str, by: str) -> bool:
        """Look at a unit; return whether it was a find."""
        level = int(self.x[i])
        sense = detection.sensitivity(method)[level]
        misses = self.kind.misses * (3.0 if self.hides[i] else 1.0)
        misses *= self.kind.blind if by == "T2" else 1.0
        chance = 1.0 - min(0.98, misses * (1.0 - sense))
        if level == 0:
            chance = (
                self.kind.false_alerts
                if method == "dog"
                else detection.false_positive(method, frozenset(), i in self.ever)
            )
        found = bool(self.rng.random() < chance)
        kind = "monitor" if method == "interceptors" else "inspection"
        grade = ""
        if found and method == "brief-visual":
            mix = detection.GRADE_GIVEN_LEVEL[max(level, 1) - 1]
            grade = str(self.rng.choice(GRADES, p=mix / mix.sum()))
        self.write(week, day, i, kind, method, found="yes" if found else "no", level=grade, by=by)
        return found

    def live(self) -> None:
        """Live through all weeks."""
        n = self.network.size
        for week in range(WEEKS):
            self.lived.append(self.x.copy())
            self.treated = {}
            chance = detection.report_chance()[np.minimum(self.x, 2) if self.kind.heavy_as_light else self.x]
            chance = np.where(self.speaks, chance, 0.0)
            chance[self.x == 0] = detection.report_chance()[0] * self.kind.false_reports
            if week < WEEKS - 1:
                for i in np.flatnonzero(self.rng.random(n) < chance):
                    self.write(week, 0, i, "report")
                    self.plan.setdefault(week + 1, []).append((i, "look", "T1" if week % 2 else "T2"))
            if week % 52 == 40:
                for i in self.rng.permutation(n)[: n // 2]:
                    if self.look(week, 1, i, "dog", "K9"):
                        self.plan.setdefault(week + 1, []).append((i, "look", "T1"))
            if week % 26 == 13:
                for i in self.rng.permutation(n)[:10]:
                    self.look(week, 1, i, "interceptors", "T2")
            for i, what, by in self.plan.pop(week, []):
                if what == "visit":
                    self.visit(week, i, by)
                elif self.look(week, 2, i, "brief-visual", by) and self.busy.get(i, -9) < week:
                    self.begin(week, i, by)
            self.step(week)

    def begin(self, week: int, i: int, by: str) -> None:
        """Start treating a unit and look at its neighbours."""
        self.busy[i] = week + 12
        self.plan.setdefault(week + 1, []).append((i, "visit", by))
        for j in self.network.indices[self.network.indptr[i] : self.network.indptr[i + 1]]:
            if self.busy.get(int(j), -9) < week:
                self.plan.setdefault(week + 1, []).append((int(j), "look", by))

    def visit(self, week: int, i: int, by: str) -> None:
        """Look, and treat unless two looks were clear; at most six visits."""
        found = self.look(week, 3, i, "brief-visual", by)
        visits = [r for r in self.log if r.unit == self.network.units[i] and r.kind == "treatment"]
        clear = [r.found for r in self.log if r.unit == self.network.units[i] and r.is_look][-2:]
        if not found and clear == ["no", "no"]:
            self.busy[i] = week
            return
        self.write(week, 3, i, "treatment", "spray", by=by)
        self.treated[i] = ["spray"]
        self.ever.add(i)
        if len(visits) < 12:
            self.busy[i] = week + 4
            self.plan.setdefault(week + 2, []).append((i, "visit", by))

    def step(self, week: int) -> None:
        """Let a week pass: spread, growth, move-ins, then treatments at its end."""
        if week == WEEKS - 1:
            return
        hazard = self.brought_in + self.d.shedding[self.x] @ self.push
        for i in np.flatnonzero(self.rng.random(self.network.size) < 1 / 150):
            self.write(week, 4, i, "turnover")
            hazard[i] += self.move_in
        own = (self.x >= 3) & (self.rng.random(self.network.size) < self.kind.own)
        self.x[own] -= 1
        rows = self.growth[self.x].copy()
        clear = self.x == 0
        rows[clear] = 0.0
        rows[clear, 0], rows[clear, 1] = np.exp(-hazard[clear]), 1 - np.exp(-hazard[clear])
        for i, methods in self.treated.items():
            for method in methods:
                effect = treatment.effect_matrix(method)
                rows[i] = rows[i] @ (
                    np.eye(LEVELS) + (0.3 if self.hard[i] else 1.0) * (effect - np.eye(LEVELS))
                )
        self.x = (self.rng.random((self.network.size, 1)) > rows.cumsum(axis=1)[:, :-1]).sum(axis=1)

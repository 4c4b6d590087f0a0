"""Buildings that live and leave a log exactly as the posterior believes they do.

Written down from the equations of the model and the tables of ``spread.trade`` alone: nothing here shares
code with :mod:`spread.posterior` or :mod:`spread.worlds` but the :class:`Network` and :class:`Dynamics`
that hold the numbers. What is done about a unit (looks, treatments) may depend on what is on the log, never
on the hidden levels, so it carries no information of its own.

Silence is drawn as the posterior reads it: a unit in hand (a report, a find or a treatment less than
``HOLD`` weeks ago, or in this week before the report) does not report, nor does anybody in the running week.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field, replace

import networkx as nx
import numpy as np

from spread.posterior.dynamics import Dynamics, Network, central_dynamics, network_of
from spread.records.kinds import LEVELS as GRADES
from spread.records.kinds import LOOKS, MONITORS, Record
from spread.trade import biology, detection, treatment
from spread.trade.registry import TREATMENTS
from spread.trade.routes import ROUTES

ON = dt.date(2026, 11, 29)
"""A Sunday, so that the last week is whole."""
HOLD = 8
NOTHING_GRADED = (0.70, 0.20, 0.08, 0.02)
REPORT_SIGNS = {"live": (0.3, 0.2), "bites": (0.08, 4.0), "": (0.62, 1.0)}
"""Share of true reports that name it, and the factor of a false one; the products sum to one, too."""


@dataclass(frozen=True)
class Habits:
    """Chances a unit and week of what people do."""

    look: float = 0.06
    look_after_report: float = 0.7
    treat: float = 0.01
    treat_after_find: float = 0.6
    treat_after_report: float = 0.3
    again: float = 0.7
    move: float = 0.015


@dataclass
class Lived:
    """A building with its hidden past and its log."""

    network: Network
    dynamics: Dynamics
    theta: np.ndarray  # true rates: brought in, building-wide, routes
    x: np.ndarray  # (N, T) true levels
    records: list[Record] = field(default_factory=list)
    chance: np.ndarray = field(default_factory=lambda: np.empty(0))  # (N, T, levels) of what was observed
    on: dt.date = ON

    @property
    def weeks(self) -> int:
        return self.x.shape[1]


def priors(
    *,
    prevalence: float = 0.1,
    strength: float = 1.0,
    brought_in: float = 1.0,
    growth: float = biology.GROWTH_PER_DAY.central,
) -> Dynamics:
    """The product's dynamics and priors, or ones whose rates are so many times larger, or growth another."""
    central = central_dynamics(prevalence=prevalence, rate_scale=strength)
    shapes, rates = central.rate_priors
    return replace(
        central,
        brought_in=central.brought_in * brought_in,
        growth=np.stack([biology.growth_matrix(growth), biology.vacant_matrix()]),
        rate_priors=(shapes, (rates[0] / brought_in, *rates[1:])),
    )


def plan(units: int, floors: int, rng: np.random.Generator) -> Network:
    """Units in rows: walls, floors, risers up a stack, doors along the hallway, now and then a tie."""
    graph = nx.MultiGraph()
    graph.add_nodes_from(f"u{i:02d}" for i in range(units))
    names = list(graph)
    across = math.ceil(units / floors)

    def tie(i: int, j: int, route: str) -> None:
        graph.add_edge(names[i], names[j], key=route, route=route, exposure=rng.uniform(0.4, 1.6))

    for i in range(units):
        for j in range(i):
            along, up = abs(i % across - j % across), i // across - j // across
            if up == 0 and along == 1:
                tie(i, j, "wall")
            if up == 0:
                tie(i, j, "hallway")
            if along == 0 and up == 1:
                tie(i, j, "floor")
            if along == 0:
                tie(i, j, "riser")
            if rng.random() < 2.0 / units**2:
                tie(i, j, "link")
    return network_of(graph)


class _Life:
    """A building while it lives: what people did so far, and what is due."""

    def __init__(self, lived: Lived, rng: np.random.Generator, habits: Habits) -> None:
        n = lived.network.size
        self.lived, self.rng, self.habits = lived, rng, habits
        self.first_monday = lived.on - dt.timedelta(days=7 * lived.weeks - 1)
        self.empty_since = np.full(n, -1)
        self.back_in = np.full(n, -1)
        self.moved_in = np.zeros(n, dtype=bool)
        self.in_hand = np.full(n, -99)  # last week with a report, find or treatment
        self.look_due: set[tuple[int, int]] = set()
        self.treat_due: set[tuple[int, int]] = set()
        self.plans: dict[int, list[str]] = {}

    def write(self, t: int, i: int, kind: str, method: str = "", found: str = "", **more: object) -> None:
        # A look sees the level its week began with, so treatments are done on Sundays, after all looks.
        day = {"treatment": 6, "note": 0}.get(kind, int(self.rng.integers(6)))
        name = f"p{len(self.lived.records):05d}"
        when = self.first_monday + dt.timedelta(days=7 * t + day)
        unit = self.lived.network.units[i]
        self.lived.records.append(Record(name, when, unit, kind, method, found, **more))  # type: ignore[arg-type]

    def move(self, i: int, t: int) -> None:
        """Let people leave or come, or nobody open."""
        self.moved_in[i] = False
        if self.empty_since[i] < 0 and self.rng.random() < self.habits.move:
            self.write(t, i, "turnover", "moved-out")
            self.empty_since[i], self.back_in[i] = t, t + int(self.rng.integers(2, 14))
        elif self.back_in[i] == t:
            self.write(t, i, "turnover", "moved-in")
            self.empty_since[i], self.back_in[i], self.moved_in[i] = -1, -1, True
        if self.rng.random() < 0.02:
            self.write(t, i, "no-access", "nobody-home")

    def attend(self, i: int, t: int) -> None:
        """Look, hear and treat."""
        rng, habits = self.rng, self.habits
        found = (rng.random() < habits.look or (i, t) in self.look_due) and _look(self, i, t)
        treats = rng.random() < habits.treat or (i, t) in self.treat_due
        treats = treats or (found and rng.random() < habits.treat_after_find)
        if found or treats:
            self.in_hand[i] = t
        if t < self.lived.weeks - 1 and t - self.in_hand[i] >= HOLD and _report(self, i, t):
            self.in_hand[i] = t
            treats = rng.random() < habits.treat_after_report
            if rng.random() < habits.look_after_report:
                self.look_due.add((i, t + int(rng.integers(1, 3))))
        if treats:
            chosen = rng.choice(tuple(TREATMENTS), size=1 + (rng.random() < 0.1), replace=False)
            self.plans[i] = sorted(str(method) for method in chosen)
            for method in self.plans[i]:
                self.write(t, i, "treatment", method)
            if rng.random() < habits.again:
                self.treat_due.add((i, t + 2))

    def step(self, t: int, push: np.ndarray) -> np.ndarray:
        """Return the levels a week later: spread and growth first, then the treatments of the week."""
        d, now, rng = self.lived.dynamics, self.lived.x[:, t], self.rng
        empty = self.empty_since >= 0
        export = np.where(empty & (t - self.empty_since < d.vacant_source_weeks), d.vacant_source, 1.0)
        after = now.copy()
        for i in range(len(now)):
            pressure = sum(push[j, i] * d.shedding[now[j]] * export[j] for j in range(len(now)))
            hazard = self.lived.theta[0] + self.lived.theta[-1] * self.moved_in[i]
            hazard += pressure * (d.vacant_target if empty[i] else 1.0)
            if now[i] == 0:
                after[i] = int(rng.random() < 1.0 - math.exp(-hazard))
            else:
                after[i] = rng.choice(5, p=d.growth[int(empty[i]), now[i]])
            for method in self.plans.get(i, ()):
                after[i] = rng.choice(5, p=treatment.effect_matrix(method)[after[i]])
        self.plans.clear()
        return after


def live(
    network: Network, prior: Dynamics, *, weeks: int, rng: np.random.Generator, habits: Habits | None = None
) -> Lived:
    """Draw rates from their priors, a hidden past from the rates, and a log from the past."""
    shapes, inverse = (np.array(part) for part in prior.rate_priors)
    theta = rng.gamma(shapes, 1.0 / inverse)
    n = network.size
    push = np.full((n, n), theta[1] / n)
    np.fill_diagonal(push, 0.0)
    for i in range(n):
        for k in range(network.indptr[i], network.indptr[i + 1]):
            push[i, network.indices[k]] += sum(
                network.exposure[k, r] * theta[2 + r] for r in range(len(ROUTES))
            )
    lived = Lived(network, prior, theta, np.zeros((n, weeks), dtype=np.int8))
    lived.chance = np.ones((n, weeks, 5))
    life = _Life(lived, rng, habits or Habits())
    life.write(0, 0, "note", note="the log begins")
    start = [1 - prior.prevalence, *(prior.prevalence * prior.level_mix)]
    lived.x[:, 0] = rng.choice(5, size=n, p=start)
    for t in range(weeks):
        for i in range(n):
            life.move(i, t)
            life.attend(i, t)
        if t < weeks - 1:
            lived.x[:, t + 1] = life.step(t, push)
    return lived


def _look(life: _Life, i: int, t: int) -> bool:
    """Look at a unit in the way of a random method; return whether something was found."""
    lived, rng = life.lived, life.rng
    method = str(rng.choice([*LOOKS, *MONITORS]))
    days = int(rng.choice([1, 7, 14, 28])) if method in MONITORS and rng.random() < 0.7 else None
    kind = "monitor" if method in MONITORS else "inspection"
    level = lived.x[i, t]
    unsure = detection.unsure_chance()
    found = detection.sensitivity(method, days)
    found[0] = detection.false_positive(method, frozenset(), False)
    outcomes = np.stack([unsure, (1 - unsure) * (1 - found), (1 - unsure) * found])
    place = rng.choice(3, p=outcomes[:, level])
    lived.chance[i, t] *= outcomes[place]
    word = ("unsure", "no", "yes")[place]
    if word != "yes":
        life.write(t, i, kind, method, word, days=days)
        return False
    usual = {"dog": "alert", "interview": ""}.get(method, "live")
    signs = frozenset({usual}) if usual and rng.random() < 0.5 else frozenset[str]()
    more: dict[str, object] = {}
    if rng.random() < 0.6:
        table = np.vstack([NOTHING_GRADED, detection.GRADE_GIVEN_LEVEL])
        grade = rng.choice(4, p=table[level])
        lived.chance[i, t] *= table[:, grade]
        if rng.random() < 0.5 and usual == "live":
            low, high = biology.COUNT_CLASSES[grade]
            more["count"] = int(rng.integers(low, (high or 200) + 1))
        else:
            more["level"] = GRADES[grade]
    life.write(t, i, kind, method, "yes", evidence=signs, days=days, **more)
    return True


def _report(life: _Life, i: int, t: int) -> bool:
    """Let the resident report or keep silent."""
    lived, rng = life.lived, life.rng
    vacant = life.empty_since[i] >= 0
    chance = detection.vacant_report_chance() if vacant else detection.report_chance()
    level = lived.x[i, t]
    if rng.random() >= chance[level]:
        lived.chance[i, t] *= 1.0 - chance
        return False
    words = list(REPORT_SIGNS)
    shares = np.array([share * (factor if level == 0 else 1.0) for share, factor in REPORT_SIGNS.values()])
    word = str(rng.choice(words, p=shares / shares.sum()))
    lived.chance[i, t] *= chance
    lived.chance[i, t, 0] *= REPORT_SIGNS[word][1]
    life.write(t, i, "report", evidence=frozenset({word}) if word else frozenset())
    return True

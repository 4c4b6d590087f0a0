"""What a fit makes of buildings that are not as it assumes: bias, coverage, calibration, warnings.

Run all of it from the top folder::

    python -m proofs.misspecified --buildings 24

The simulator is written apart from :mod:`spread.worlds`: a tower of 70 units over 104 weeks, whose rates are
drawn from the priors and not given to the fit, under usual practice (complaints looked into and treated until
a look is clear, neighbours looked at, a dog team through half the building once a year). Each kind of reality
breaks one assumption. ``--before`` fits without learning who reports, finds and resists.

Finds are those of a brief look (its chance by the true level) at the first 15 doors of units not known to be
infested: of the product's list, and of rules of the open benchmark that go by the log alone.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from benchmarks.sight import Ground, Sight
from benchmarks.strategies import METHOD, STRATEGIES
from spread.decisions.departures import Departs
from spread.decisions.trust import Warned, warnings_of
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import LEVELS, Dynamics, central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit_evidence
from spread.posterior.observations import build_evidence
from spread.records.kinds import LEVELS as GRADES
from spread.records.kinds import Record
from spread.trade import biology, detection, seeing, treatment

FLOORS, A_FLOOR, WEEKS = 7, 10, 104
ON = dt.date(2026, 11, 25)
START = ON - dt.timedelta(days=7 * (WEEKS - 1) + ON.weekday())
CHAIN = FitSettings(weeks=WEEKS, chains=4, warmup=100, sweeps=250, most_sweeps=500)
DOORS = 15
"""Doors of the round whose finds are counted."""
OURS = "our chance of a find"
RULES = ("ring", "weighted ring", "weighted ring, not yet looked at first")
"""What the list is held against, with 1.4, 1.3 and 1.2 times as many finds asked for."""


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
    "a third of units hide what they have": Kind(hide=0.33),
    "bugs grow half as fast": Kind(growth=0.5),
    "people treat by themselves, off the log": Kind(own=0.05),
    "complaints of nothing fivefold": Kind(false_reports=5.0, needs=("complaints", "unexpected")),
    "some never report, some miss, some resist": Kind(
        never=0.3, misses=1.6, resist=0.6, needs=("reporting", "finding", "treatment")
    ),
}


WARNED = {
    "little-reported": "reporting",
    "many-never-report": "reporting",
    "little-found": "finding",
    "false-alerts": "alerts",
    "many-resist": "treatment",
    "shared-room": "shared room",
    "silent": "reporting",
    "silent-heavy": "reporting",
    "silent-light": "reporting",
    "never": "reporting",
    "looks": "finding",
    "looks-by": "finding",
    "resist": "treatment",
    "moved-in": "move-ins",
    "room": "shared room",
}
"""What a warning is about, by its kind, a departure's by its own; others keep their name."""


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


def finds_of(made: Building, posterior: Posterior, seed: int) -> dict[str, float]:
    """Return expected finds in the first doors of the product's list and of the rules it is held against."""
    ground = Ground(made.graph, made.network, made.d)
    sight = Sight.of(ground, made.log, ON, posterior=posterior, prior=made.d, doors=DOORS)
    found = detection.sensitivity(METHOD)[made.x]
    finds = {}
    for one in STRATEGIES:
        if one.name in (OURS, *RULES):
            doors = one.order(sight, np.random.default_rng([seed, 78]))[:DOORS]
            finds[one.name] = float(sum(found[made.network.index[unit]] for unit in doors))
    return finds


def about(warned: Warned) -> str:
    """Return what a warning is about."""
    kind = warned.kind if isinstance(warned, Departs) else warned.fact
    return WARNED.get(kind, kind)


def judge(kind: Kind, seed: int, *, before: bool) -> dict[str, object]:
    """Fit one building and hold the answer against the truth."""
    made = Building(kind, seed)
    made.live()
    prior: Dynamics = replace(central_dynamics(), room=not before)
    evidence = build_evidence(made.log, made.network.units, prior, on=ON, weeks=WEEKS)
    if before:
        evidence = replace(evidence, seeing=None)
    posterior = fit_evidence(
        made.network, evidence, prior, on=ON, settings=replace(CHAIN, seed=seed), warm=None
    )
    truth = made.x > 0
    low, _, high = posterior.infested_count()
    return {
        "rows": len(made.log),
        "true": int(truth.sum()),
        "expected": float(posterior.chance.sum()),
        "covered": bool(low <= truth.sum() <= high),
        "chances": posterior.chance.round(4).tolist(),
        "infested": truth.astype(int).tolist(),
        "finds": finds_of(made, posterior, seed),
        "warnings": sorted({about(one) for one in warnings_of(posterior)}),
        "rhat": posterior.diagnostics.worst_rhat,
    }


def calibration_error(chances: np.ndarray, infested: np.ndarray) -> float:
    """Mean distance of chance and share infested over ten equal groups of units."""
    order = np.argsort(chances)
    return float(np.mean([abs(chances[g].mean() - infested[g].mean()) for g in np.array_split(order, 10)]))


def ratio_of(finds: Sequence[dict[str, float]], rule: str) -> tuple[float, float, float]:
    """Return the list's finds over a rule's, and its 95 % interval from resampling buildings."""
    ours, theirs = (np.array([one[key] for one in finds]) for key in (OURS, rule))
    again = np.random.default_rng(0).integers(len(finds), size=(4000, len(finds)))
    low, high = np.quantile(ours[again].sum(axis=1) / theirs[again].sum(axis=1), (0.025, 0.975))
    return float(ours.sum() / theirs.sum()), float(low), float(high)


def main(words: Sequence[str] | None = None) -> None:
    """Print the table; with ``--out`` also write every building as a line of JSON."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--buildings", type=int, default=24)
    parser.add_argument("--first", type=int, default=0, help="seed of the first building")
    parser.add_argument("--kind", choices=sorted(KINDS), action="append")
    parser.add_argument("--before", action="store_true", help="learn the rates only")
    parser.add_argument("--out")
    chosen = parser.parse_args(words)
    sys.stdout.write(
        f"{'reality':50} {'true':>5} {'bias':>6} {'cover':>6} {'calib.':>7} {'warned':>7} {'rightly':>8} "
        f"{'finds':>6} {' '.join(f'{rule:>13.13}' for rule in RULES)}\n"
    )
    pooled: list[dict[str, float]] = []
    for name in chosen.kind or KINDS:
        rows = [judge(KINDS[name], chosen.first + k, before=chosen.before) for k in range(chosen.buildings)]
        chances = np.concatenate([row["chances"] for row in rows])  # type: ignore[arg-type]
        infested = np.concatenate([row["infested"] for row in rows])  # type: ignore[arg-type]
        needs = set(KINDS[name].needs)
        hits = [bool(needs & set(row["warnings"])) for row in rows]  # type: ignore[call-overload]
        right = f"{np.mean(hits):.2f}" if needs else "-"
        mean = {
            key: float(np.mean([row[key] for row in rows]))  # type: ignore[arg-type]
            for key in ("true", "expected", "covered")
        }
        finds: list[dict[str, float]] = [row["finds"] for row in rows]  # type: ignore[misc]
        pooled += finds
        found = [np.mean([one[key] for one in finds]) for key in (OURS, *RULES)]
        sys.stdout.write(
            f"{name:50} {mean['true']:5.1f} {mean['expected'] - mean['true']:6.1f} {mean['covered']:6.2f} "
            f"{calibration_error(chances, infested):7.3f} "
            f"{np.mean([bool(row['warnings']) for row in rows]):7.2f} {right:>8} "
            f"{found[0]:6.2f} {' '.join(f'{mean:13.2f}' for mean in found[1:])}\n"
        )
        sys.stdout.flush()
        if chosen.out:
            with open(chosen.out, "a", encoding="utf-8") as file:  # noqa: PTH123
                file.writelines(json.dumps({"kind": name, **row}) + "\n" for row in rows)
    for rule in RULES:
        ratio, low, high = ratio_of(pooled, rule)
        sys.stdout.write(f"finds over {rule}, pooled: {ratio:.2f} ({low:.2f} to {high:.2f})\n")


if __name__ == "__main__":
    main()

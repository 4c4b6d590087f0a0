"""How far do chances and ranking move when what the model is told is wrong?

``python -m benchmarks.robustness [--buildings 40]`` from the root of the repository.

Buildings are simulated by the very process that the model assumes, looked after by usual practice,
and their logs fitted: once with everything right, and once with each mistake, one at a time. The
fits never see the hidden truth; the scores do. ``--docs docs/robustness.md`` puts the tables there.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import networkx as nx
import numpy as np

from benchmarks.mistakes import MISTAKES, Mistake
from benchmarks.ring import ring_order
from spread.contacts.graph import build_contacts
from spread.decisions.doors.ranking import rank_doors
from spread.decisions.standing import Standing, standing_of
from spread.decisions.view import View
from spread.plan.unit_list import draw_plan, read_unit_list
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.records import Log
from spread.records.kinds import Record
from spread.worlds.practice import PracticeSettings, usual_practice

DOORS = 15
"""Doors of one round."""
MORNING = dt.date(2026, 11, 16)
"""The Monday morning that the answers are for; the log ends the day before. So treatments of the
last week have acted both in the truth and in the model."""
LAYOUTS = (
    ("double-loaded", 4, 12),
    ("double-loaded", 5, 12),
    ("single-loaded", 5, 10),
    ("core", 9, 6),
)
"""Layout, floors, units a floor; taken in turn."""
BINS = 10
"""Bins of equal width for the expected calibration error."""


@dataclass(frozen=True)
class House:
    """A simulated building, its log and what is hidden from the model."""

    number: int
    graph: nx.MultiGraph
    records: tuple[Record, ...]
    infested: np.ndarray
    weeks: int

    @property
    def standings(self) -> dict[str, Standing]:
        """Where each unit stands by the whole log."""
        log = Log(self.records)
        return {unit: standing_of(log.of(unit), MORNING) for unit in self.graph.nodes}

    @property
    def unknown(self) -> set[str]:
        """Infested units of which the firm does not know."""
        standings = self.standings
        units = [unit for unit, bad in zip(self.graph.nodes, self.infested, strict=True) if bad]
        return {unit for unit in units if standings[unit].status == "look"}


def build_house(number: int, seed: int, weeks: int) -> House:
    """Draw a building from a unit list and let it live for ``weeks`` under usual practice.

    Start, rates, sensitivities and reporting are what the model assumes; all residents report alike.
    """
    layout, floors, across = LAYOUTS[number % len(LAYOUTS)]
    rows = "".join(f"{f}{k:02d},{f}\n" for f in range(1, floors + 1) for k in range(1, across + 1))
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "units.csv"
        path.write_text("unit,floor\n" + rows, encoding="utf-8")
        plan = draw_plan(read_unit_list(path), layout, name=f"building {number}")
    graph = build_contacts(plan)
    records, truth = usual_practice(
        network_of(graph),
        graph,
        central_dynamics(),
        weeks=weeks + 1,  # the last one only for the levels that it begins with
        rng=np.random.default_rng([seed, number]),
        start_date=MORNING - dt.timedelta(weeks=weeks),
        settings=PracticeSettings(report_spread=0.0),
    )
    past = tuple(record for record in records if record.when < MORNING)
    return House(number, graph, past, truth[:, -1] > 0, weeks)


@dataclass(frozen=True)
class Outcome:
    """What one fit of one building said."""

    chance: np.ndarray
    doors: tuple[str, ...]
    finds: int
    rhat: float


def try_one(house: House, mistake: Mistake, settings: FitSettings, seed: int, place: int) -> Outcome:
    """Fit a building with a mistake and rank its doors.

    The wrong sensitivities hold for the ranking too, as they would in a product that has them wrong.
    """
    # What goes wrong is drawn anew for every building and mistake, and so are the fit's numbers.
    rng = np.random.default_rng([seed, house.number, place])
    graph, records = mistake.graph(house.graph, rng), mistake.records(house.records, rng)
    network, dynamics = network_of(graph), mistake.dynamics()
    settings = replace(settings, learn=mistake.learn, seed=int(rng.integers(2**31)), weeks=house.weeks + 1)
    with mistake.while_fitting():
        posterior = fit(network, records, dynamics, on=MORNING, settings=settings)
        view = View(graph, network, posterior.dynamics or dynamics, Log(records), posterior)
        rows = rank_doors(view, "brief-visual")
    doors = tuple(row.unit for row in rows if row.status == "look")[:DOORS]
    return Outcome(posterior.chance, doors, len(house.unknown & set(doors)), posterior.diagnostics.worst_rhat)


def calibration_error(chance: np.ndarray, infested: np.ndarray) -> float:
    """Return the expected calibration error: |mean chance - share infested| by bin, weighted by size."""
    which = np.minimum((chance * BINS).astype(int), BINS - 1)
    gaps = np.bincount(which, chance - infested.astype(float), minlength=BINS)
    return float(np.abs(gaps).sum() / len(chance))


def pooled_error(outcomes: Sequence[Outcome], houses: Sequence[House], chosen: np.ndarray) -> float:
    """Return the calibration error over all units of the buildings chosen."""
    chance = np.concatenate([outcomes[k].chance for k in chosen])
    return calibration_error(chance, np.concatenate([houses[k].infested for k in chosen]))


@dataclass(frozen=True)
class Figure:
    """A mean over buildings and its standard error."""

    value: float
    error: float

    @classmethod
    def of(cls, values: Sequence[float] | np.ndarray) -> Figure:
        """Return mean and standard error of one value a building."""
        values = np.asarray(values, dtype=float)
        return cls(float(values.mean()), float(values.std(ddof=1) / np.sqrt(len(values))))

    def show(self, digits: int, *, sign: bool = False) -> str:
        """Return it as ``1.2 ± 0.1``."""
        return f"{self.value:{'+' if sign else ''}.{digits}f} ± {self.error:.{digits}f}"


@dataclass(frozen=True)
class Row:
    """A line of the tables; ``d_`` is the paired difference against everything right."""

    name: str
    moved: Figure
    same_doors: Figure
    finds: Figure
    d_finds: Figure
    brier: Figure
    d_brier: Figure
    ece: Figure
    d_ece: Figure
    excess: Figure
    rhat: tuple[float, float]


def summarise(
    name: str, outcomes: Sequence[Outcome], right: Sequence[Outcome], houses: Sequence[House], seed: int
) -> Row:
    """Compare the fits of a mistake with the right ones and with the truth, building by building."""
    pairs = list(zip(outcomes, right, houses, strict=True))

    def brier(of: Sequence[Outcome]) -> np.ndarray:
        return np.array([np.mean((o.chance - h.infested) ** 2) for o, h in zip(of, houses, strict=True)])

    everyone = np.arange(len(houses))
    rng = np.random.default_rng([seed, len(houses)])  # the same resamples for every line, so paired
    drawn = [rng.integers(len(houses), size=len(houses)) for _ in range(400)]
    boot = np.array([pooled_error(outcomes, houses, k) for k in drawn])
    boot_right = np.array([pooled_error(right, houses, k) for k in drawn])
    ece, ece_right = pooled_error(outcomes, houses, everyone), pooled_error(right, houses, everyone)
    rhats = [o.rhat for o in outcomes]
    return Row(
        name,
        moved=Figure.of([np.abs(o.chance - r.chance).mean() for o, r, _ in pairs]),
        same_doors=Figure.of([len(set(o.doors) & set(r.doors)) for o, r, _ in pairs]),
        finds=Figure.of([o.finds for o, _, _ in pairs]),
        d_finds=Figure.of([o.finds - r.finds for o, r, _ in pairs]),
        brier=Figure.of(brier(outcomes)),
        d_brier=Figure.of(brier(outcomes) - brier(right)),
        ece=Figure(ece, float(boot.std(ddof=1))),
        d_ece=Figure(ece - ece_right, float((boot - boot_right).std(ddof=1))),
        excess=Figure.of([o.chance.sum() - h.infested.sum() for o, _, h in pairs]),
        rhat=(float(np.median(rhats)), float(np.max(rhats))),
    )


@dataclass(frozen=True)
class Study:
    """A whole run."""

    houses: tuple[House, ...]
    rows: tuple[Row, ...]
    right: tuple[Outcome, ...]
    outcomes: dict[str, tuple[Outcome, ...]]
    seconds: float


def run(
    buildings: int,
    *,
    seed: int,
    weeks: int,
    settings: FitSettings,
    mistakes: Sequence[Mistake] = MISTAKES,
    say: Callable[[str], None] = lambda words: None,
) -> Study:
    """Simulate the buildings and fit every one with every mistake; the first is the reference."""
    began = time.perf_counter()
    houses = tuple(build_house(number, seed, weeks) for number in range(buildings))
    outcomes: dict[str, list[Outcome]] = {mistake.name: [] for mistake in mistakes}
    for house in houses:
        for place, mistake in enumerate(mistakes):
            outcomes[mistake.name].append(try_one(house, mistake, settings, seed, place))
        say(f"building {house.number + 1} of {buildings}, {time.perf_counter() - began:.0f} s")
    right = tuple(outcomes[mistakes[0].name])
    rows = tuple(summarise(name, of, right, houses, seed) for name, of in outcomes.items())
    kept = {name: tuple(of) for name, of in outcomes.items()}
    return Study(houses, rows, right, kept, time.perf_counter() - began)


def tables(study: Study) -> str:
    """Return the two tables in Markdown."""
    houses = study.houses
    ring, ring_gain, by_lot, by_lot_gain = [], [], [], []
    for house, right in zip(houses, study.right, strict=True):
        standings = house.standings
        order = ring_order(house.graph, house.records, standings, MORNING)[:DOORS]
        ring.append(len(house.unknown & set(order)))
        ring_gain.append(ring[-1] - right.finds)
        open_doors = sum(standing.status == "look" for standing in standings.values())
        by_lot.append(len(house.unknown) * min(1.0, DOORS / open_doors))
        by_lot_gain.append(by_lot[-1] - right.finds)
    share = Figure.of([house.infested.mean() for house in houses])
    base = float(np.concatenate([house.infested for house in houses]).mean())
    unknown = Figure.of([len(house.unknown) for house in houses])
    lines = [
        f"Infested at the end: {100 * share.value:.1f} ± {100 * share.error:.1f} % of units; of them not yet "
        f"known to the firm: {unknown.show(2)} units a building. Units in all: "
        f"{sum(len(house.infested) for house in houses)}; records a building: "
        f"{np.mean([len(house.records) for house in houses]):.0f}.",
        "",
        "| what is wrong | chances moved, points | same among the first 15 doors "
        "| new finds in 15 doors | finds, difference |",
        "| --- | --- | --- | --- | --- |",
    ]
    for row in study.rows:
        first = row is study.rows[0]
        moved = "" if first else Figure(100 * row.moved.value, 100 * row.moved.error).show(2)
        same = "" if first else row.same_doors.show(1)
        change = "" if first else row.d_finds.show(2, sign=True)
        lines.append(f"| {row.name} | {moved} | {same} | {row.finds.show(2)} | {change} |")
    for name, values, gain in (
        ("*no model: the usual ring*", ring, ring_gain),
        ("*no model: doors by lot (expected)*", by_lot, by_lot_gain),
    ):
        lines.append(f"| {name} | | | {Figure.of(values).show(2)} | {Figure.of(gain).show(2, sign=True)} |")
    lines += [
        "",
        "| what is wrong | Brier score | difference | calibration error | difference "
        "| infested, expected minus true | R-hat, median and worst |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in study.rows:
        first = row is study.rows[0]
        lines.append(
            f"| {row.name} | {row.brier.show(4)} | {'' if first else row.d_brier.show(4, sign=True)} "
            f"| {row.ece.show(3)} | {'' if first else row.d_ece.show(3, sign=True)} "
            f"| {row.excess.show(2, sign=True)} | {row.rhat[0]:.3f}, {row.rhat[1]:.3f} |"
        )
    lines.append(f"| *no model: the share infested for every unit* | {base * (1 - base):.4f} | | | | | |")
    return "\n".join(lines) + "\n"


START, END = "<!-- run: written by the script -->\n", "<!-- end of run -->"


def put_into(path: Path, text: str) -> None:
    """Replace what stands between the two marks of a document."""
    whole = path.read_text(encoding="utf-8")
    before, rest = whole.split(START)
    _, after = rest.split(END)
    path.write_text(f"{before}{START}\n{text}\n{END}{after}", encoding="utf-8")


def main(argv: Sequence[str] | None = None) -> None:
    """Run it all and print the tables."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.robustness", description=__doc__)
    parser.add_argument("--buildings", type=int, default=40, help="how many, 2 or more (default 40)")
    parser.add_argument("--weeks", type=int, default=78, help="length of the log (default 78)")
    parser.add_argument("--seed", type=int, default=1, help="default 1")
    parser.add_argument("--sweeps", type=int, default=300, help="kept, a chain (default 300)")
    parser.add_argument("--docs", type=Path, help="document to put the tables into")
    args = parser.parse_args(argv)
    if args.buildings < 2:
        parser.error("--buildings must be 2 or more: a standard error needs two")
    settings = FitSettings(chains=4, warmup=100, sweeps=args.sweeps, most_sweeps=args.sweeps)
    study = run(
        args.buildings,
        seed=args.seed,
        weeks=args.weeks,
        settings=settings,
        say=lambda words: print(words, file=sys.stderr, flush=True),
    )
    text = (
        f"Run on {dt.date.today():%Y-%m-%d} by `python -m benchmarks.robustness --buildings "
        f"{args.buildings} --weeks {args.weeks} --seed {args.seed} --sweeps {args.sweeps}` in "
        f"{study.seconds / 60:.1f} minutes: {args.buildings} buildings, {len(study.rows)} fits each, "
        f"4 chains of {settings.warmup} + {args.sweeps} sweeps. After ± stands the standard error over "
        "buildings; differences are paired with everything right.\n\n" + tables(study)
    )
    print(text)
    if args.docs:
        put_into(args.docs, text)


if __name__ == "__main__":
    main()

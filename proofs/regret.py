"""What choosing a programme by this package loses where the truth is known, and how sure it is beside that.

Small buildings live for two years under usual practice by one joint draw of the trade and a pace of their own
(:mod:`spread.trade.joint`); the second year is their log. The package fits the log, runs a few programmes
ahead and chooses. Then the same programmes run on from the building's true levels under its true draw: what
the chosen one costs there in the mean, the owner's losses counted, against the best of them is its regret.
What an infested unit-week costs the owner differs from building to building: with none, the cheapest is best.
Every building is written down as it is done, so that a run goes on where it was stopped::

    python -m proofs.regret --buildings 30 --to regret.jsonl
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from spread.contacts.graph import build_contacts
from spread.decisions.view import View
from spread.plan.drawing.listed import UnitRow
from spread.plan.unit_list import UnitList, draw_plan
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.programmes.begin import begin_of
from spread.programmes.books import books_of, course_price
from spread.programmes.choice import MATTERS, choice_of
from spread.programmes.futures import tables_at
from spread.programmes.looking_first import seen_of
from spread.programmes.money import Prices
from spread.programmes.programme import Programme, Ranked
from spread.programmes.reading import preset
from spread.programmes.run import RunSettings, Simulated, simulate
from spread.programmes.tables import tables_of
from spread.records.log import Log
from spread.trade import detection, treatment
from spread.trade.joint import TREATED_BY, joint
from spread.trade.methods import looks, monitors
from spread.trade.pace import Pace
from spread.weeks import monday_of, week_of
from spread.worlds.habits import PracticeSettings
from spread.worlds.practice import usual_practice
from spread.worlds.truth import Nature

PROGRAMMES = ("complaint", "complaint-ring", "ranked", "survey-brief", "survey-twice-a-year")
LOSSES = (0.0, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0)
"""What an infested unit-week costs the owner, one building after another."""
WEEKS = 52
BINS = (0.0, 0.5, 0.7, 0.85, 0.95, 1.0 + 1e-9)
"""Ends of the bins of a stated chance."""
START = dt.date(2025, 1, 6)


def nature_at(by: dict[str, float], share: float) -> Nature:
    """Return the trade at one joint draw, for the log: looks, reports and treatments."""
    shifts = {
        looks.BRIEF.key: by["look"], looks.THOROUGH.key: by["look"], monitors.INTERCEPTORS.key: by["traps"],
        looks.INTERVIEW.key: by[looks.INTERVIEW.key],
    }  # fmt: skip

    def find(method: str, days: int | None = None) -> np.ndarray:
        found = detection.sensitivity(method, days).copy()
        if method in shifts:
            found[1:] = treatment.shifted(found[1:], shifts[method])
        return found

    def report() -> np.ndarray:
        chance = detection.report_chance().copy()
        chance[1:3] *= by["report_light"]
        chance[3:] *= by["report_heavy"]
        return np.minimum(chance, 0.5)

    def effect(method: str) -> np.ndarray:
        shift = by[TREATED_BY[method]] if method in TREATED_BY else 0.0
        return treatment.over_units(treatment.effect_matrix(method, shift), share)

    return Nature(find, report, effect)


def one_building(number: int, *, runs: int, futures: int, seed: int) -> dict[str, object]:
    """Return what was chosen for one building, what was said of it, and what each programme leads to."""
    rng = np.random.default_rng([seed, number])
    draws = joint()
    k = int(rng.integers(draws.size))
    by = {name: float(draws.moved(name)[k]) for name in draws.values}
    pace = float(np.exp(rng.normal(0.0, draws.values["between"][k])))
    brought = float(np.exp(rng.normal(0.0, draws.values["between"][k])))
    floors, a_floor = int(rng.integers(2, 5)), int(rng.choice([8, 10]))
    names = tuple(str(f + 1) for f in range(floors))
    rows = tuple(UnitRow(f"{f}{place:02d}", f) for f in names for place in range(1, a_floor + 1))
    graph = build_contacts(draw_plan(UnitList(rows, names), "double-loaded", floors=names, name=f"b{number}"))
    network, prior = network_of(graph), central_dynamics(prevalence=0.1)
    tables = tables_at(tables_of(prior), draws, k)
    truth = replace(
        prior,
        brought_in=prior.brought_in * by["brought_in"] * brought,
        mixing=prior.mixing * by["routes"] * pace,
        rates=prior.rates * by["routes"] * pace,
        growth=np.diff(tables.grow, axis=2, prepend=0.0),
        shedding=tables.shedding,
    )  # fmt: skip
    records, levels = usual_practice(
        network, graph, truth, weeks=WEEKS, rng=rng, start_date=START,
        settings=PracticeSettings(unrecorded_weeks=52),
        nature=nature_at(by, float(draws.values["resists"][k])),
    )  # fmt: skip
    on = monday_of(week_of(START) + WEEKS - 1) + dt.timedelta(days=6)
    settings = FitSettings(
        weeks=WEEKS, chains=2, warmup=150, sweeps=500, most_sweeps=1000, seed=number, workers=1
    )
    posterior = fit(network, records, prior, on=on, settings=settings)
    view = View(graph, network, posterior.dynamics or prior, Log(records), posterior)

    # What the package says.
    chosen = programmes_for(network.size)
    ahead = RunSettings(WEEKS, runs, seed=number + 1, workers=1)
    prices = Prices(loss=LOSSES[number % len(LOSSES)])
    done = simulate(view, chosen, ahead, pace=Pace())
    seen = seen_of(view, done, pace=Pace())
    choice = choice_of(done, prices, now=PROGRAMMES[0], by_week=WEEKS, seen=seen)
    said = weighed(done, prices)

    # What is so.
    true = RunSettings(WEEKS, futures, seed=100_000 + number, workers=1)
    start = begin_of(view, runs=futures, seed=true.seed, pace=Pace())
    rates = np.array([truth.brought_in, truth.mixing, *truth.rates])
    start = start._replace(
        levels=np.tile(levels[:, -1].astype(np.int8), (futures, 1)), rates=np.tile(rates, (futures, 1))
    )
    real = simulate(view, chosen, true, pace=Pace(), begin=start, tables=tables)
    money = weighed(real, prices, course_price(done.runs, prices))
    return {
        "building": number, "loss": prices.loss, "units": network.size,
        "infested": int((levels[:, -1] > 0).sum()),
        "finds": sum(r.found == "yes" for r in records), "good": bool(posterior.diagnostics.good),
        "chosen": choice.chosen.key, "reason": choice.chosen.reason, "ties": list(choice.chosen.ties),
        "right": choice.chosen.right, "here": choice.here,
        "said": {key: float(row.mean()) for key, row in said.items()},
        "true": {key: float(row.mean()) for key, row in money.items()},
        "true_error": {
            key: float((row - money[choice.chosen.key]).std(ddof=1) / futures**0.5)
            for key, row in money.items()
        },
        "looking": None if choice.looking is None else choice.looking.saves.mean,
    }  # fmt: skip


def programmes_for(units: int) -> list[Programme]:
    """Return the programmes, with as many ranked doors as suit a small building."""
    ranked = replace(preset("complaint-ranked"), key="ranked", ranked=Ranked(units // 12, every_weeks=2))
    return [ranked if key == "ranked" else preset(key) for key in PROGRAMMES]


def weighed(done: Simulated, prices: Prices, course: float | None = None) -> dict[str, np.ndarray]:
    """Return the money of every run by programme, the owner's losses with it."""
    books = books_of(done.runs, prices, None, course=course)
    return {key: each.compared + each.losses for key, each in books.items()}


def told(rows: Sequence[dict]) -> str:
    """Return the figures over all buildings."""
    best = np.array([min(row["true"].values()) for row in rows])
    mine = np.array([row["true"][row["chosen"]] for row in rows])
    lost, hits = mine - best, mine <= best * (1 + MATTERS)
    error = lost.std(ddof=1) / len(lost) ** 0.5 if len(lost) > 1 else float("nan")
    out = [
        f"Mean regret US$ {lost.mean():,.0f} (+- {error:,.0f}), {lost.sum() / best.sum():.1%} of what the "
        f"best cost; median {np.median(lost):,.0f}, largest {lost.max():,.0f}; within {MATTERS:.0%} of the "
        f"best in {hits.sum()} of {len(rows)}"
    ]
    for key in PROGRAMMES:
        fixed = np.array([row["true"][key] - min(row["true"].values()) for row in rows])
        out.append(
            f"  always {key}: mean regret {fixed.mean():,.0f}; "
            f"chosen in {sum(r['chosen'] == key for r in rows)}"
        )
    for field, words in (
        ("right", "Stated chance of a right choice (of the mean over the buildings that there may be)"),
        ("here", "The same for the building itself (regression on its pace and what a look would find)"),
    ):
        out.append(f"{words}:")
        hits = np.array(
            [row["true"][row["chosen"]] <= min(row["true"].values()) * (1 + MATTERS) for row in rows]
        )
        said = np.array([row[field] for row in rows])
        for low, high in pairwise(BINS):
            inside = (said >= low) & (said < high)
            if inside.any():
                out.append(
                    f"  {low:.2f} to {min(high, 1.0):.2f}: stated {said[inside].mean():.2f}, so in "
                    f"{hits[inside].mean():.2f} of {inside.sum()}"
                )
        brier = np.mean((said - hits) ** 2)
        out.append(f"  all: stated {said.mean():.2f}, so in {hits.mean():.2f}; Brier {brier:.3f}")
    return "\n".join(out)


def main(asked: Sequence[str] | None = None) -> None:
    """Do the buildings that are not done yet, and print the figures of all."""
    parser = argparse.ArgumentParser(description="Regret of the chosen programme where the truth is known.")
    parser.add_argument("--buildings", type=int, default=30)
    parser.add_argument("--runs", type=int, default=200, help="futures by the package")
    parser.add_argument("--futures", type=int, default=100, help="futures from the truth")
    parser.add_argument("--seed", type=int, default=18)
    parser.add_argument("--to", type=Path, default=Path("regret.jsonl"))
    args = parser.parse_args(asked)
    rows = [json.loads(line) for line in args.to.read_text().splitlines()] if args.to.is_file() else []
    have = {row["building"] for row in rows}
    for number in range(args.buildings):
        if number in have:
            continue
        row = one_building(number, runs=args.runs, futures=args.futures, seed=args.seed)
        rows.append(row)
        with args.to.open("a") as file:
            file.write(json.dumps(row) + "\n")
        print(
            number, row["units"], row["infested"], row["chosen"], row["right"], row["here"], file=sys.stderr
        )
    print(
        f"{len(rows)} buildings of {min(r['units'] for r in rows)} to {max(r['units'] for r in rows)} units"
    )
    print(told(rows))


if __name__ == "__main__":
    main()

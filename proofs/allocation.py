"""Forty hours over a firm's buildings: what the product's allocation averts, and what usual rules avert.

Run it from the top folder; a run that was stopped goes on where it was::

    python -m proofs.allocation build/allocation --buildings 100 --hours 40 80

Buildings of 24 to 78 units lived under rates and a readiness to report of their own; the usual practice
left 78 to 104 weeks of log. Each is fitted as ``spread portfolio fit`` does it. Hours are then spent by each
rule of :mod:`proofs.allocation_rules`, the way included, all by the same minutes: those that the product
expects of a door. At a door that opens one brief look finds by the true level; a find starts the firm's usual
course. Every building is then lived on under usual practice with those answers and without, the same luck in
both, in many futures; what is told is the difference in infested unit-weeks, with an interval over buildings.
What is owed (treatments, revisits, complaints) the firm's own practice does in every arm, beside these hours.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from benchmarks.rounds import _Trial
from benchmarks.worlds_of import MORNING, Firm, House
from proofs.allocation_rules import (
    RULES,
    TRAVEL,
    Seen,
    Spent,
    by_product,
    seen_of,
)
from spread.building import LOG_FILE, SETTINGS_FILE, UNITS_FILE
from spread.contacts.graph import build_contacts
from spread.files import write_whole
from spread.firm.fitting import Asked, fit_one, program_mark
from spread.firm.night import learn
from spread.firm.places import places_at
from spread.firm.simulated import drawn, dynamics_around
from spread.posterior.dynamics import network_of
from spread.posterior.fit import FitSettings
from spread.records.folder import as_file
from spread.records.kinds import Record
from spread.trade import detection
from spread.trade.prices import WEEK_COSTS
from spread.weeks import week_of
from spread.worlds.habits import PracticeSettings
from spread.worlds.truth import STREAMS, Nature, World

HORIZONS = (26, 52)
"""Weeks over which infested unit-weeks are counted; the first is that of the product's own worth."""
FLOORS, DOORS, WEEKS, BEFORE = (3, 7), (8, 14), (78, 105), 26
BETWEEN = 0.3
"""Standard deviation between buildings, of the logarithm of each rate and of how readily people report."""
RESAMPLED = 4000


@dataclass(frozen=True)
class Lived:
    """A building lived on after a day's answers, in several futures.

    ``weeks``: shape (futures, horizons), infested unit-weeks; ``finds``: (futures,), infested units found on
    the day that nobody had a case of; ``weighed``: (futures,), the weeks of the first horizon as the product
    weighs them, by level.
    """

    weeks: np.ndarray
    finds: np.ndarray
    weighed: np.ndarray


def house_of(seed: int, k: int, off: float, within: int, sizes: tuple = (FLOORS, DOORS, WEEKS)) -> House:
    """Let a building live through its past; the same numbers give the same one.

    ``off``: how far the firm's rates are from the literature's; ``within``: days from a report to the firm's
    look, at most; ``sizes``: bounds of floors, doors a floor, and weeks of log.
    """
    rng = np.random.default_rng([seed, k])
    floors, doors, weeks = (int(rng.integers(*bounds)) for bounds in sizes)
    dynamics = dynamics_around(rng, off, BETWEEN)
    reporting = float(np.exp(BETWEEN * rng.standard_normal()) / off)
    plan, _ = drawn(floors, doors, key_of(k))
    graph = build_contacts(plan)
    network = network_of(graph)
    settings = PracticeSettings(look_within=within)
    first = week_of(MORNING) - weeks - BEFORE
    world_rng, firm_rng = rng.spawn(2)
    nature = Nature(report=lambda: np.minimum(detection.report_chance() * reporting, 0.95))
    world = World(
        network, dynamics, rng=world_rng, week=first, report_spread=settings.report_spread, nature=nature
    )
    practice = Firm(world, graph, settings, firm_rng)
    for week in range(first, week_of(MORNING)):
        practice.run_week(week)
        if week == first + BEFORE - 1:
            practice.records.clear()
    return House(1000 * seed + k, f"{floors} {doors}", "double-loaded", graph, network, dynamics, practice)


def key_of(k: int) -> str:
    """Return the key of a building."""
    return f"house-{k:03d}"


def lay_out(folder: Path, house: House) -> None:
    """Write what the product may know of a building."""
    if (folder / LOG_FILE).exists():
        return
    plan, listed = drawn(*map(int, house.past.split()), folder.name)
    named = ", ".join(f'"{floor}"' for floor in plan.floors)
    folder.mkdir(parents=True, exist_ok=True)
    text = f'name = "{folder.name}"\nfloors = [{named}]\n\n[plan]\nlayout = "double-loaded"\n'
    write_whole(folder / SETTINGS_FILE, text)
    write_whole(folder / UNITS_FILE, listed)
    write_whole(folder / LOG_FILE, as_file(house.records))


def begun(house: House, doors: Sequence[str], future: int) -> tuple[_Trial, list[Record]]:
    """Return a building of one future on the day, once some doors were looked at, and the answers.

    What a look gives, who opens and all that happens later go by unit, week and future, so that every rule
    meets the same luck.
    """
    trial = _Trial(house)
    world = trial.practice.world
    rng = np.random.default_rng([house.number, 77, future])
    world._streams = dict(zip(STREAMS, rng.spawn(len(STREAMS)), strict=True))
    world._deal()
    return trial, [trial.knock(unit, MORNING) for unit in doors]


def lived(house: House, doors: Sequence[str], futures: int) -> Lived:
    """Look at some doors on the day, and let the building live on, in so many futures."""
    weeks, finds, weighed = np.zeros((futures, len(HORIZONS))), np.zeros(futures), np.zeros(futures)
    costs = np.array([0.0, *WEEK_COSTS])
    known = house.practice.open_cases
    for future in range(futures):
        trial, answers = begun(house, doors, future)
        world = trial.practice.world
        finds[future] = sum(
            one.found == "yes" and one.unit not in known and world.level_of(one.unit) > 0 for one in answers
        )
        infested = 0
        for week in range(max(HORIZONS)):
            trial.practice.run_week(world.week)
            infested += int((world.levels > 0).sum())
            weighed[future] += costs[world.levels].sum() if week < HORIZONS[0] else 0.0
            if week + 1 in HORIZONS:
                weeks[future, HORIZONS.index(week + 1)] = infested
    return Lived(weeks, finds, weighed)


class Kept:
    """What was lived so far, a line an arm in a file."""

    def __init__(self, path: Path, futures: int) -> None:
        self._path, self._futures = path, futures
        self._known: dict[tuple[str, tuple[str, ...]], Lived] = {}
        for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else ():
            try:
                told = json.loads(line)
            except ValueError:  # it was stopped within a line
                continue
            if len(told["finds"]) >= futures:
                arm = Lived(*(np.array(told[part.name])[:futures] for part in fields(Lived)))
                self._known[told["building"], tuple(told["doors"])] = arm

    def lived(self, key: str, house: House, doors: tuple[str, ...]) -> Lived:
        """Return an arm, lived now if it was not yet."""
        if (key, doors) not in self._known:
            arm = self._known[key, doors] = lived(house, doors, self._futures)
            told = {"building": key, "doors": doors}
            told |= {part.name: getattr(arm, part.name).tolist() for part in fields(Lived)}
            with self._path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(told) + "\n")
        return self._known[key, doors]


def averted(
    spent: Spent, houses: Mapping[str, House], kept: Kept
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what a rule averted in each building, shape (B, horizons + 1); its finds and minutes, (B,).

    The last column has the weighed weeks of the first horizon.
    """
    gains, finds = np.zeros((len(houses), len(HORIZONS) + 1)), np.zeros(len(houses))
    for place, (key, house) in enumerate(houses.items()):
        doors = spent.doors.get(key, ())
        if doors:
            nothing, arm = kept.lived(key, house, ()), kept.lived(key, house, doors)
            gains[place, :-1] = spent.share * (nothing.weeks - arm.weeks).mean(axis=0)
            gains[place, -1] = spent.share * (nothing.weighed - arm.weighed).mean()
            finds[place] = spent.share * arm.finds.mean()
    minutes = np.array([spent.share * spent.minutes.get(key, 0.0) for key in houses])
    return gains, finds, minutes


def interval(per_building: np.ndarray, rng: np.random.Generator) -> str:
    """Return a sum over buildings with its 95 % interval, by drawing buildings anew."""
    number = len(per_building)
    sums = per_building[rng.integers(number, size=(RESAMPLED, number))].sum(axis=1)
    low, high = np.quantile(sums, [0.025, 0.975])
    return f"{per_building.sum():.1f} ({low:.1f} to {high:.1f})"


def told(
    spents: Sequence[Spent],
    seen: Sequence[Seen],
    houses: Mapping[str, House],
    kept: Kept,
    rng: np.random.Generator,
) -> Iterator[str]:
    """Say what each rule averted, what the product expected of the same doors, and the lead of the first."""
    lead: tuple[np.ndarray, np.ndarray] | None = None
    for spent in spents:
        gains, finds, minutes = averted(spent, houses, kept)
        hours = minutes.sum() / 60.0
        lead = lead or (gains, finds)
        text = (
            f"{spent.rule}: {hours:.1f} h, {spent.share * len(spent.doors):.0f} buildings, "
            f"{spent.share * sum(map(len, spent.doors.values())):.0f} doors, "
            f"finds {interval(finds, rng)}, {finds.sum() / max(hours, 1e-9):.2f} an hour; averted"
        )
        for place, weeks in enumerate(HORIZONS):
            text += f" in {weeks} weeks {interval(gains[:, place], rng)},"
        finds_told, weeks_told = (
            spent.share
            * sum(getattr(one, what)[unit] for one in seen for unit in spent.doors.get(one.key, ()))
            for what in ("finds", "averted")
        )
        text += (
            f" weighed by level {interval(gains[:, -1], rng)} in {HORIZONS[0]},"
            f" where {finds_told:.1f} finds and {weeks_told:.1f} of these were expected,"
        )
        if lead[0] is not gains:
            text += f" the first has finds {interval(lead[1] - finds, rng)} more and averts"
            text += ",".join(f" {interval((lead[0] - gains)[:, p], rng)}" for p in range(len(HORIZONS)))
            text += " more"
        yield text.rstrip(",")


def main(argv: Sequence[str] | None = None) -> int:
    """Make the firm, spend the hours and say what was averted."""
    parser = argparse.ArgumentParser(prog="python -m proofs.allocation", description=__doc__)
    parser.add_argument("home", type=Path, help="folder that keeps buildings, fits and results")
    for name, usual in (("buildings", 100), ("seed", 1), ("futures", 12), ("sweeps", 300), ("within", 6)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--off", type=float, default=1.0)
    parser.add_argument("--pool", action="store_true", help="let the buildings teach one another first")
    parser.add_argument("--hours", type=float, nargs="+", default=[40.0])
    args = parser.parse_args(argv)
    run(args)
    return 0


def run(args: argparse.Namespace, sizes: tuple = (FLOORS, DOORS, WEEKS)) -> list[Spent]:
    """Do it in a folder; return how each rule spent its hours."""
    name = f"firm-{args.seed}-off{args.off:g}-within{args.within}{'-pooled' if args.pool else ''}"
    home: Path = args.home / name
    houses = {}
    for k in range(args.buildings):
        houses[key_of(k)] = house_of(args.seed, k, args.off, args.within, sizes)
        lay_out(home / "firm" / key_of(k), houses[key_of(k)])
    settings = FitSettings(sweeps=args.sweeps, most_sweeps=2 * args.sweeps, workers=1)
    asked, places = Asked(MORNING, program_mark(), settings), places_at(str(home / "firm"))
    for taught in (False, True)[: 1 + args.pool]:
        if taught:
            learn(places, MORNING)
        for key in houses:
            fitted = fit_one(str(home / "firm"), key, asked)
            if fitted.state == "failed":
                raise SystemExit(fitted.problem)
    seen = [seen_of(places, key, asked) for key in houses]
    kept, rng = Kept(home / "lived.jsonl", args.futures), np.random.default_rng(args.seed)
    levels = [house.practice.world.levels for house in houses.values()]
    units, infested = sum(map(len, levels)), sum(int((one > 0).sum()) for one in levels)
    chances = sum(sum(one.chances.values()) for one in seen)
    hidden = sum(
        house.practice.world.level_of(unit) > 0
        for house, one in zip(houses.values(), seen, strict=True)
        for unit in one.minutes
    )
    print(
        f"{len(houses)} buildings, {units} units, {infested} infested, {hidden} of them not known, "
        f"where chances sum to {chances:.0f}",
        flush=True,
    )
    done: list[Spent] = []
    for hours in args.hours:
        print(f"{hours:g} hours, {TRAVEL:g} minutes of way", flush=True)
        spents = [by_product(places, asked, hours), *(rule(seen, hours, rng) for rule in RULES)]
        for line in told(spents, seen, houses, kept, rng):
            print(line, flush=True)
        done += spents
    return done


if __name__ == "__main__":
    raise SystemExit(main())

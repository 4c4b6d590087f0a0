"""Work codes pooled over a firm's buildings: whether intervals hold, and what a new building gains.

Run it from the top folder::

    python -m proofs.persons --buildings 20 --new 40

In every building two people look by turns; the odds of a find of one are a third of the other's. The firm
pools by work code as ``spread portfolio persons --pool`` turns it on. Told are the pooled intervals against
the truth, and, for new buildings with three months of log in which the same two looked, each against itself:
chances from what the firm showed of the two and without.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.worlds_of import MORNING
from spread.building import load_building
from spread.contacts.graph import build_contacts
from spread.firm.fitting import Asked, fit_one, program_mark
from spread.firm.persons import choose, known_of, persons_of
from spread.firm.places import places_at
from spread.firm.simulated import drawn, dynamics_around
from spread.posterior.dynamics import network_of
from spread.posterior.fit import FitSettings, fit
from spread.posterior.looks import with_odds
from spread.records.folder import as_file
from spread.records.kinds import Record
from spread.session import dynamics_of, for_log
from spread.trade import detection
from spread.trade.experience import Experience, persons_believed
from spread.weeks import week_of
from spread.worlds.habits import PracticeSettings
from spread.worlds.practice import Practice, number_records
from spread.worlds.truth import Nature, World

ODDS = {"T1": 1.0, "T2": 1.0 / 3.0}
"""Of a find, against the trade's."""
YEARS, QUARTER, BEFORE = 78, 13, 26


class SeenBy(World):
    """A building in which who looks matters."""

    def look(self, unit: str, method: str, *, by: str = "", **rest: Any) -> Record:
        """Look with this person's odds of a find."""
        usual = self.nature
        self.nature = Nature(
            find=lambda method, days: with_odds(detection.sensitivity(method, days), ODDS.get(by, 1.0))
        )
        made = super().look(unit, method, by=by, **rest)
        self.nature = usual
        return made


class TwoLook(Practice):
    """A firm of two."""

    def _who(self) -> str:
        return tuple(ODDS)[int(self._rng.integers(len(ODDS)))]


def lay_out(folder: Path, rng: np.random.Generator, weeks: int) -> np.ndarray:
    """Write a building's folder; return its hidden levels on the day."""
    floors, doors = int(rng.integers(3, 5)), int(rng.integers(8, 11))
    plan, listed = drawn(floors, doors, folder.name)
    graph = build_contacts(plan)
    network, settings = network_of(graph), PracticeSettings()
    first = week_of(MORNING) - weeks - BEFORE
    world_rng, firm_rng = rng.spawn(2)
    world = SeenBy(
        network, dynamics_around(rng, 1.0, 0.3), rng=world_rng, week=first,
        report_spread=settings.report_spread,
    )  # fmt: skip
    practice = TwoLook(world, graph, settings, firm_rng)
    for week in range(first, week_of(MORNING)):
        practice.run_week(week)
        if week == first + BEFORE - 1:
            practice.records.clear()
    folder.mkdir(parents=True)
    named = ", ".join(f'"{floor}"' for floor in plan.floors)
    text = f'name = "{folder.name}"\nfloors = [{named}]\n\n[plan]\nlayout = "double-loaded"\n'
    (folder / "building.toml").write_text(text, encoding="utf-8")
    (folder / "units.csv").write_text(listed, encoding="utf-8")
    log = number_records(row for row in practice.records if row.when < MORNING)
    (folder / "records.csv").write_bytes(as_file(log))
    return np.array(world.levels)


def belief(folder: Path, taught: Experience | None, seed: int) -> tuple[np.ndarray, dict[str, float]]:
    """Return chances of a new building, and the odds of each who looked there."""
    building = replace(load_building(folder), experience=taught)
    base = FitSettings(sweeps=300, most_sweeps=1200, seed=seed, workers=1)
    settings = for_log(base, building.log, MORNING)
    posterior = fit(
        network_of(building.contacts),
        building.log.current,
        dynamics_of(building),
        on=MORNING,
        settings=settings,
    )
    return posterior.chance, dict(posterior.odds.people)


def scores(chance: np.ndarray, infested: np.ndarray) -> tuple[float, float]:
    """Return the Brier and the logarithmic score, a unit."""
    sure = np.clip(np.where(infested, chance, 1.0 - chance), 1e-6, 1.0)
    return float(((chance - infested) ** 2).mean()), float(-np.log(sure).mean())


def between(values: np.ndarray) -> str:
    """Return a mean with its 95 % interval."""
    half = 1.96 * values.std(ddof=1) / len(values) ** 0.5
    return f"{values.mean():+.4f} ({values.mean() - half:+.4f} to {values.mean() + half:+.4f})"


def main(argv: Sequence[str] | None = None) -> int:
    """Make the firm, pool it by person, and say what was found."""
    parser = argparse.ArgumentParser(prog="python -m proofs.persons", description=__doc__)
    for name, usual in (("buildings", 20), ("new", 40), ("seed", 1), ("sweeps", 300)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    args = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as home:  # everything in it is invented
        run(args, Path(home))
    return 0


def run(args: argparse.Namespace, home: Path) -> None:
    """Do it in a folder."""
    firm = home / "firm"
    for k in range(args.buildings):
        lay_out(firm / f"house-{k:03d}", np.random.default_rng([args.seed, k]), YEARS)
    places = places_at(str(firm))
    choose(places, by_person=True)
    settings = FitSettings(sweeps=args.sweeps, most_sweeps=2 * args.sweeps, workers=1)
    for key in places.keys():  # noqa: SIM118 - no mapping
        fit_one(str(firm), key, Asked(MORNING, program_mark(), settings))
    persons = persons_of(places)
    for one in known_of(persons):
        true = ODDS.get(one.code)
        held = (
            "" if true is None else f"; true {true:.2f} {'held' if one.low <= true <= one.high else 'MISSED'}"
        )
        print(
            f"{one.code}: {one.median:.2f} (90 % interval {one.low:.2f} to {one.high:.2f}), "
            f"{one.looks} looks in {one.buildings} buildings{held}",
            flush=True,
        )
    believed = {name: pair for name, pair in persons_believed(persons).items() if name[3:] in ODDS}
    taught = Experience(args.buildings, MORNING, believed)
    pairs, errors = [], []
    for k in range(args.new):
        folder = home / "new" / f"new-{k:03d}"
        infested = lay_out(folder, np.random.default_rng([args.seed, 10_000 + k]), QUARTER) > 0
        told = [belief(folder, experience, k + 1) for experience in (None, taught)]
        pairs.append([scores(chance, infested) for chance, _ in told])
        errors.append([[(np.log(odds.get(w, 1.0) / ODDS[w])) ** 2 for w in ODDS] for _, odds in told])
    if not pairs:
        return
    off, error = np.array(pairs), np.sqrt(np.array(errors).mean(axis=(0, 2)))
    print(f"new buildings: error of log odds of the two {error[0]:.2f} alone, {error[1]:.2f} pooled")
    for place, name in enumerate(("Brier score", "logarithmic score")):
        gain = off[:, 1, place] - off[:, 0, place]
        print(f"{name} {off[:, 0, place].mean():.4f} alone, pooled against it {between(gain)}")


if __name__ == "__main__":
    raise SystemExit(main())

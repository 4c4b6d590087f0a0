"""What a simulated firm's buildings teach one another, and what a new building gains by it.

Run it from the top folder::

    python -m proofs.pooling --buildings 60 --new 40

A firm's buildings live under hidden rates around a centre of its own, ``--off`` times the literature's (what
is brought in and reported as much rarer; mixing and move-ins are not off), with a spread between them; with
``--each`` every rate and reporting is 2 to 3 times off, up or down by lot. They are pooled as ``spread
portfolio fit --pool`` does it, but for where the chain begins. Then told: whether the intervals of centre and
spread hold the true ones; and for new buildings of the firm with three months of log, fitted from the
literature, from what the firm taught, and from its true centres and spread (the best that pooling could
teach): the error of the rates, the calibration of the chances, and how many units that are infested and not
known stand among the first doors. With ``--untreated`` new buildings lived before their log as a fit believes
it: nobody treated, and the share infested at first differs between buildings. ``--off 1 --between 1``:
buildings that have nothing in common; ``--buildings 0``: nothing is pooled, for the true centre alone.
"""

from __future__ import annotations

import argparse
import datetime as dt
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from proofs.calibration import calibration_error, chance_error
from spread.building import Building, load_building
from spread.contacts.graph import build_contacts
from spread.firm.fitting import seed_of
from spread.firm.house import Member
from spread.firm.one_chain import KEPT, together
from spread.firm.pooled import beliefs_of, file_of
from spread.firm.simulated import drawn, dynamics_around, factors_of
from spread.posterior.diagnostics import effective_size
from spread.posterior.dynamics import LEVELS, Dynamics, Network, network_of
from spread.posterior.fit import FitSettings, fit
from spread.posterior.rates import theta_names
from spread.posterior.seeing import HEAVY, LIGHT, NEVER, believed_of
from spread.records.folder import as_file
from spread.report.portfolio import pooled_line
from spread.session import Session, dynamics_of, for_log
from spread.trade import detection
from spread.trade.experience import Experience
from spread.trade.routes import ROUTES
from spread.trade.seeing import STARTS_CLEAR_OF
from spread.weeks import monday_of, week_of
from spread.worlds.practice import PracticeSettings, usual_practice
from spread.worlds.truth import Nature, World

ON = dt.date(2026, 11, 22)
"""A Sunday."""
NAMES = tuple(name for name in theta_names(ROUTES) if name != "link")
"""Rates that the drawn buildings have: nobody ties units by hand there."""
DOORS = 15
BEFORE = 26
"""Weeks lived before a log begins."""
BINS = (0.02, 0.05, 0.1, 0.2, 0.4, 0.7)
"""Bounds between bins of chances."""
YEARS, QUARTER = 104, 13
"""Weeks of log of the firm's buildings, and of the new ones."""


@dataclass(frozen=True)
class Gain:
    """A new building fitted one way: errors of log rates, chances, truth, infested among the first doors."""

    errors: np.ndarray
    chance: np.ndarray
    infested: np.ndarray
    found: int


def lay_out(
    folder: Path,
    rng: np.random.Generator,
    dynamics: Dynamics,
    reporting: float,
    weeks: int,
    untreated: bool = False,
) -> np.ndarray:
    """Write a building that lived under some rates and reported so readily; return its levels on the day.

    ``untreated``: whether nobody treated in the half-year before its log.
    """
    floors, doors = int(rng.integers(3, 6)), int(rng.integers(8, 13))
    plan, listed = drawn(floors, doors, folder.name)
    graph = build_contacts(plan)
    network = network_of(graph)
    start = lived_alone(network, dynamics, rng.spawn(1)[0]) if untreated else None
    records, truth = usual_practice(
        network,
        graph,
        dynamics,
        weeks=weeks,
        rng=rng,
        start_date=monday_of(week_of(ON) - weeks + 1),
        settings=PracticeSettings(unrecorded_weeks=0 if untreated else BEFORE),
        start=start,
        nature=Nature(report=lambda: np.minimum(detection.report_chance() * reporting, 0.95)),
    )
    folder.mkdir(parents=True)
    named = ", ".join(f'"{floor}"' for floor in plan.floors)
    text = f'name = "{folder.name}"\nfloors = [{named}]\n\n[plan]\nlayout = "double-loaded"\n'
    (folder / "building.toml").write_text(text, encoding="utf-8")
    (folder / "units.csv").write_text(listed, encoding="utf-8")
    (folder / "records.csv").write_bytes(as_file(records))
    return truth[:, -1]


def lived_alone(network: Network, dynamics: Dynamics, rng: np.random.Generator) -> np.ndarray:
    """Return the levels after half a year without a treatment, from a share infested as a fit believes it."""
    share = rng.beta(*(STARTS_CLEAR_OF * np.array([dynamics.prevalence, 1.0 - dynamics.prevalence])))
    begun = rng.choice(LEVELS, network.size, p=[1.0 - share, *(share * dynamics.level_mix)]).astype(np.int8)
    world = World(network, dynamics, rng=rng, week=0, start=begun)
    for _ in range(BEFORE):
        world.step()
    return world.levels.copy()


def judged(
    building: Building,
    true: Dynamics,
    reporting: float,
    levels: np.ndarray,
    taught: Experience | None,
    seed: int,
) -> Gain:
    """Fit a new building from what is believed, and hold the answer against the truth."""
    building = replace(building, experience=taught)
    base = FitSettings(sweeps=300, most_sweeps=1200, seed=seed, workers=1)
    network, log = network_of(building.contacts), building.log
    settings = for_log(base, log, ON)
    posterior = fit(network, log.current, dynamics_of(building), on=ON, settings=settings)
    session = Session(building, posterior, base)
    places = [theta_names(ROUTES).index(name) for name in NAMES]
    assert posterior.rates is not None
    errors = np.median(np.log(posterior.rates[:, places]), axis=0) - np.log(true.theta[places])
    assert posterior.traits is not None
    tail = posterior.traits.draws
    # Some never report: what a typical report chance is has them in it.
    ready = np.log(tail[:, [LIGHT, HEAVY]].mean(axis=1) * (1.0 - tail[:, NEVER]))
    errors = np.append(errors, np.median(ready) - np.log(reporting))
    first = [row.unit for row in session.doors() if row.status == "look"][:DOORS]
    infested = levels > 0
    found = sum(bool(infested[network.index[unit]]) for unit in first)
    return Gain(errors, posterior.chance, infested, found)


def told_of_lesson(told: dict[str, Any], true: dict[str, float], between: float) -> str:
    """Say whether the intervals hold what is true."""
    lines, held = [], []
    for name in NAMES:
        one = told["learned"][name]
        (low, middle, high), spread = one["centre"], one["spread"]
        inside = low <= true[name] <= high, spread[0] <= between <= spread[2]
        held.append(inside)
        lines.append(
            f"{name:14} true {np.exp(true[name]):.5f} general {np.exp(one['general'][0]):.5f} "
            f"firm {np.exp(middle):.5f} ({np.exp(low):.5f} to {np.exp(high):.5f})"
            f"{'' if inside[0] else ' MISSED'}; "
            f"spread {between:.2f}: {spread[1]:.2f} ({spread[0]:.2f} to {spread[2]:.2f})"
            f"{'' if inside[1] else ' MISSED'}{'' if one['taught'] else '; left to the literature'}"
        )
    centre, spread = np.array(held).reshape(-1, 2).sum(axis=0)
    lines.append(f"90 % intervals hold {centre} of {len(held)} centres and {spread} of {len(held)} spreads")
    return "\n".join(lines)


def told_of_gains(fits: Sequence[tuple[Gain, Gain, Gain]]) -> str:
    """Say what new buildings gain by what the firm taught, each against itself."""
    lines = []
    for k, name in enumerate((*NAMES, "reporting", "all rates")):
        alone, pooled, known = (
            np.sqrt(np.mean([_squared(one) if k > len(NAMES) else one.errors[k] ** 2 for one in side]))
            for side in zip(*fits, strict=True)
        )
        lines.append(
            f"{name:14} error of the log rate {alone:.2f} alone, {pooled:.2f} pooled: {pooled / alone:.2f}; "
            f"{known:.2f} with the true centre: {known / alone:.2f}"
        )
    for side, word in zip(zip(*fits, strict=True), ("alone", "pooled", "true centre"), strict=True):
        error, between = _calibration(side)
        chance, infested = (np.concatenate([getattr(o, n) for o in side]) for n in ("chance", "infested"))
        high = np.array([np.sum(one.chance - one.infested) for one in side]) * len(side) / len(chance)
        lines.append(
            f"{word}: calibration error {error:.3f} (standard error {between:.3f} over buildings; faultless "
            f"chances have {chance_error(chance):.3f}), Brier {np.mean([_brier(one) for one in side]):.4f}, "
            f"too high by {high.mean():+.4f} ({high.std() / len(side) ** 0.5:.4f})"
        )
        edges = np.digitize(chance, BINS)
        bins = [(chance[edges == b], infested[edges == b]) for b in np.unique(edges)]
        lines.append(
            "  said and true: " + ", ".join(f"{c.mean():.3f} {i.mean():.3f} ({len(c)})" for c, i in bins)
        )
    for word, of in (("squared error of log rates", _squared), ("Brier score", _brier), ("found", _found)):
        off = np.array([of(pooled) - of(alone) for alone, pooled, _ in fits])
        half = 1.96 * off.std(ddof=1) / len(off) ** 0.5
        lines.append(
            f"{word}: {np.mean([of(alone) for alone, _, _ in fits]):.4f} alone, {off.mean():+.4f} pooled "
            f"({off.mean() - half:+.4f} to {off.mean() + half:+.4f})"
        )
    return "\n".join(lines)


def _calibration(side: Sequence[Gain], times: int = 400) -> tuple[float, float]:
    """Return the calibration error and its standard error, by buildings drawn again and again."""
    rng, found = np.random.default_rng(1), []
    for k in range(times + 1):
        few = [side[b] for b in rng.integers(len(side), size=len(side))] if k else side
        chance, infested = (np.concatenate([getattr(o, n) for o in few]) for n in ("chance", "infested"))
        found.append(calibration_error(chance, infested))
    return found[0], float(np.std(found[1:]))


def _brier(one: Gain) -> float:
    return float(np.mean((one.chance - one.infested) ** 2))


def _squared(one: Gain) -> float:
    return float(np.mean(one.errors[:-1] ** 2))


def _found(one: Gain) -> float:
    """Infested units among the first doors."""
    return float(one.found)


def main(argv: Sequence[str] | None = None) -> int:
    """Make the firm, pool it, and say what was found."""
    parser = argparse.ArgumentParser(prog="python -m proofs.pooling", description=__doc__)
    for name, usual in (
        ("buildings", 60),
        ("new", 40),
        ("seed", 1),
        ("workers", 1),
        ("draws", KEPT),
    ):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--off", type=float, default=2.5)
    parser.add_argument("--each", action="store_true")
    parser.add_argument("--untreated", action="store_true")
    parser.add_argument("--between", type=float, default=0.3)
    args = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as home:  # everything in it is invented
        run(args, Path(home))
    return 0


def firm_of(args: argparse.Namespace) -> tuple[np.ndarray, float]:
    """Return the factors by which the firm's own rates, and its people's reporting, are off."""
    number = len(theta_names(ROUTES))
    if not args.each:
        return factors_of(args.off), 1.0 / args.off
    rng = np.random.default_rng([args.seed, 20_000])
    off = np.exp(rng.choice((-1.0, 1.0), number + 1) * rng.uniform(np.log(2.0), np.log(3.0), number + 1))
    return off[:-1], float(off[-1])


def lesson(args: argparse.Namespace, firm: Path, true: dict[str, float]) -> dict[str, tuple[float, float]]:
    """Pool the buildings of a folder, say what came of it, and return what one more is believed."""
    members = [
        Member(folder.name, load_building(folder), seed_of(folder.name, 1))
        for folder in sorted(firm.iterdir())
    ]
    began = time.process_time()
    pooled = together(members, ON, settings=FitSettings(workers=args.workers), kept=args.draws)
    print(f"{time.process_time() - began:.0f} s of processor", flush=True)
    believed = beliefs_of(pooled)
    told = file_of(pooled, believed, ON, rounds=1)
    print(pooled_line(told, moved=True))
    print(told_of_lesson(told, true, args.between))
    worth = zip(pooled.quantities, effective_size(pooled.centre[None]), strict=True)
    print("independent draws:", ", ".join(f"{one.name} {n:.0f}" for one, n in worth), flush=True)
    return believed


def run(args: argparse.Namespace, home: Path) -> None:
    """Do it in a folder."""
    firm, (off, ready) = home / "firm", firm_of(args)
    for k in range(args.buildings):
        rng = np.random.default_rng([args.seed, k])
        dynamics = dynamics_around(rng, off, args.between)
        reporting = ready * float(np.exp(args.between * rng.standard_normal()))
        lay_out(firm / f"house-{k:03d}", rng, dynamics, reporting, YEARS)
    centre = dynamics_around(np.random.default_rng(0), off, 0.0).theta
    true = dict(zip(theta_names(ROUTES), np.log(centre), strict=True))
    believed = lesson(args, firm, true) if args.buildings else {}
    truth = {name: (value, args.between) for name, value in true.items() if name in NAMES}
    truth |= {
        name: (believed_of(())[name][0] + np.log(ready), args.between)
        for name in ("report:light", "report:heavy")
    }
    taught, known = (Experience(args.buildings, ON, one) for one in (believed, truth))
    fits = []
    for k in range(args.new):
        rng = np.random.default_rng([args.seed, 10_000 + k])
        dynamics, folder = dynamics_around(rng, off, args.between), home / "new" / f"new-{k:03d}"
        reporting = ready * float(np.exp(args.between * rng.standard_normal()))
        levels = lay_out(folder, rng, dynamics, reporting, QUARTER, args.untreated)
        building = load_building(folder)
        one, two, three = (
            judged(building, dynamics, reporting, levels, experience, k + 1)
            for experience in (None, taught, known)
        )
        fits.append((one, two, three))
    print(told_of_gains(fits))


if __name__ == "__main__":
    raise SystemExit(main())

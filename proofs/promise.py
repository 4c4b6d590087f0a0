"""What a find averts against what was promised of it, taken apart: assumption by assumption, the truth known.

Run it from the top folder (a minute of processor; nothing is fitted)::

    python -m proofs.promise --buildings 40 --futures 4

The buildings are those of :mod:`proofs.allocation`. On the day each infested unit of which nobody knows is
found, one at a time, and its building is lived on with that find and without, the same luck in both. Held
against it is what a find is worth by :mod:`spread.decisions.doors.benefit`, told true rates and levels, and
usual practice as it is: what is off is then the worth itself and not the chances. Then the practice is
brought step by step to one where others find nothing and courses go on for good.
"""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchmarks.rounds import _Trial
from benchmarks.worlds_of import MORNING, Firm, House
from proofs.allocation import HORIZONS, house_of
from spread.decisions.doors.benefit import COURSE, Usual, brief_find, weeks_averted
from spread.posterior.dynamics import LEVELS, Floats
from spread.trade import detection, treatment
from spread.trade.prices import WEEK_COSTS
from spread.worlds.practice import _Case, _Task
from spread.worlds.truth import STREAMS, Nature

COSTS = np.array([0.0, *WEEK_COSTS])
STEPS = (
    "usual practice",
    "and nobody finds but after an infestation's own report",
    "and such a report begins a course at once",
    "and steam is always the course",
    "and a course goes on for good and nobody is out",
    "and nobody moves and all report alike",
)


class Eased(Firm):
    """A firm whose practice is brought so many of :data:`STEPS` further."""

    eased = 0

    def _add(self, task: _Task) -> None:
        if not self.eased or task.purpose not in ("ring", "sweep", "confirm"):
            super()._add(task)

    def _take_report(self, unit: str, monday: dt.date) -> None:
        if self.eased < 2:
            super()._take_report(unit, monday)
        elif self.world.level_of(unit) > 0 and unit not in self.open_cases:
            self.begin(unit, monday + dt.timedelta(days=7))

    def begin(self, unit: str, day: dt.date) -> None:
        """Begin a course."""
        self._deal_again(unit, "begin")
        spray = self.eased < 3 and self._rng.random() < self.settings.spray_share
        self.open_cases[unit] = _Case("spray" if spray else COURSE)
        self._add(_Task(day, unit, "case"))

    def _case_visit(self, task: _Task) -> None:
        if self.eased < 4:
            super()._case_visit(task)
            return
        self.world.treat(task.unit, self.open_cases[task.unit].method, when=task.day)
        self._add(_Task(task.day + dt.timedelta(days=self.settings.treatment_every), task.unit, "case"))

    def _knock_in_vain(self, task: _Task) -> None:
        if self.eased >= 4 and task.purpose == "case":
            self._case_visit(task)
        else:
            super()._knock_in_vain(task)


def lived_on(house: House, found: str, future: int, eased: int) -> Floats:
    """Return unit-weeks at each level, shape (levels,), after a unit, or none, was found."""
    practice = _Trial(house).practice
    practice.__class__ = Eased
    practice.eased, world = eased, practice.world
    rng = np.random.default_rng([house.number, 77, future])
    world._streams = dict(zip(STREAMS, rng.spawn(len(STREAMS)), strict=True))
    world._deal()
    if eased >= 5:
        world.willing[:], world.vacant[:], world.nature = 1.0, False, Nature()
        practice.settings = replace(practice.settings, stay_weeks=0.0)
    if found:
        practice.begin(found, MORNING + dt.timedelta(days=2))
    spent = np.zeros(LEVELS)
    for _ in range(HORIZONS[0]):
        practice.run_week(world.week)
        spent += np.bincount(world.levels, minlength=LEVELS)
    return spent


def hidden(house: House) -> list[str]:
    """Return the infested units of which nobody knows."""
    world, known = house.practice.world, house.practice.open_cases
    return [unit for unit in house.network.units if world.level_of(unit) > 0 and unit not in known]


def usual_practice_told(looks: float) -> Usual:
    """Return what usual practice is, half spray and half steam, in a world where no unit resists.

    ``looks``: uncalled looks at a door in a week.
    """
    effect = np.mean([treatment.effect_matrix(method) for method in (COURSE, "spray")], axis=0)
    return Usual((detection.report_chance() + looks) * brief_find(), effect)


@dataclass(frozen=True)
class Held:
    """Promised and realised, of each find: plain weeks and weeks weighed by level."""

    promised: Floats  #: Shape (finds, 2)
    realised: Floats  #: The same

    @property
    def ratio(self) -> Floats:
        """Promised over realised of all finds together, plain and weighed."""
        return np.asarray(self.promised.sum(axis=0) / self.realised.sum(axis=0))


def held(houses: Sequence[House], futures: int, eased: int = 0, usual: Usual | None = None) -> Held:
    """Hold what a find is worth against what it averted, of every hidden unit."""
    promised, realised = [], []
    told = usual or usual_practice_told(0.0)
    for house in houses:
        levels = house.practice.world.levels
        worth = [
            weeks_averted(house.network, house.truth, clear=1.0 * (levels == 0), usual=told, costs=costs)
            for costs in ((1.0,) * (LEVELS - 1), WEEK_COSTS)
        ]
        without = [lived_on(house, "", future, eased) for future in range(futures)]
        for unit in hidden(house):
            i = house.network.index[unit]
            promised.append([one[i, levels[i]] for one in worth])
            gone = np.mean([without[f] - lived_on(house, unit, f, eased) for f in range(futures)], axis=0)
            realised.append([gone[1:].sum(), gone @ COSTS])
    return Held(np.array(promised), np.array(realised))


def told(houses: Sequence[House], futures: int) -> Iterator[str]:
    """Say what finds averted at each step of the practice, and what was promised."""
    for eased, step in enumerate(STEPS):
        found = held(houses, futures, eased)
        spread = found.realised.std(axis=0) * len(found.realised) ** 0.5
        yield (
            f"{step}: {len(found.realised)} finds averted {found.realised[:, 0].sum():.0f} weeks (standard "
            f"error {spread[0]:.0f}), weighed {found.realised[:, 1].sum():.0f}; promised "
            f"{found.promised[:, 0].sum():.0f} and {found.promised[:, 1].sum():.0f}, "
            f"{found.ratio[0]:.2f} and {found.ratio[1]:.2f} times"
        )


def main(argv: Sequence[str] | None = None) -> int:
    """Make the buildings and say what finds avert."""
    parser = argparse.ArgumentParser(prog="python -m proofs.promise", description=__doc__)
    for name, usual in (("buildings", 40), ("seed", 1), ("futures", 4), ("within", 6)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    args = parser.parse_args(argv)
    houses = [house_of(args.seed, k, 1.0, args.within) for k in range(args.buildings)]
    for line in told(houses, args.futures):
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

"""The two trials of the benchmark: the first doors of one day, and eight weeks of rounds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from benchmarks.sight import Ground, Sight
from benchmarks.strategies import METHOD, STRATEGIES, Strategy
from benchmarks.worlds_of import MORNING, Firm, House, morning_of
from spread.decisions.standing import standing_of
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Dynamics, central_dynamics
from spread.posterior.fit import FitSettings, fit
from spread.records import Log
from spread.records.kinds import Record
from spread.trade import detection
from spread.trade.minutes import KNOCK
from spread.trade.registry import LOOKING
from spread.weeks import week_of
from spread.worlds.practice import _Case, _Task, number_records

DOORS = 15
ROUNDS = 8
WEEKS = 26
NO_ACCESS = 0.2
FIRST_FIT = FitSettings(chains=4, warmup=100, sweeps=250, most_sweeps=500, workers=1)
NEXT_FIT = FitSettings(chains=4, warmup=100, sweeps=250, most_sweeps=250, workers=1)
"""The fits of the later rounds: from where the last one ended, with a third of the warm-up."""
NOBODY = "no rounds"
TRUTH = "the truth"
BY_NAME: Mapping[str, Strategy] = {each.name: each for each in STRATEGIES}


def chance_by_level() -> np.ndarray:
    """Return the chance that a brief look ends with a find, by level, as the world gives it."""
    return detection.sensitivity(METHOD) * (1.0 - detection.unsure_chance())


def known_to_be(house: House, records: Sequence[Record]) -> tuple[list[str], list[str]]:
    """Return the units not known infested, and those among them that are infested."""
    log = Log(tuple(records))
    open_ = [u for u in house.network.units if standing_of(log.of(u), MORNING).status == "look"]
    return open_, [u for u in open_ if house.practice.world.level_of(u) > 0]


def fit_house(
    house: House,
    records: Sequence[Record],
    on: dt.date,
    leans_on: str,
    settings: FitSettings,
    warm: Posterior | None = None,
) -> Posterior:
    """Fit the log as the product does, with learned rates; or with the true ones."""
    learn = leans_on == "learned"
    seed = int(np.random.default_rng([house.number, week_of(on), int(learn)]).integers(2**31))
    own = replace(settings, weeks=house.weeks + 1, seed=seed, learn=learn)
    return fit(house.network, records, dynamics_told(house, leans_on), on=on, settings=own, warm=warm)


def dynamics_told(house: House, leans_on: str) -> Dynamics:
    """Return what the model is told: central values, or the truth."""
    return house.truth if leans_on == "true" else central_dynamics()


def truth_order(practice: Firm, candidates: Sequence[str]) -> list[str]:
    """Return units by the true chance of a find: the bound that no strategy can pass on average."""
    chance = chance_by_level()
    return sorted(candidates, key=lambda u: -chance[practice.world.level_of(u)])


def area_under_curve(order: Sequence[str], infested: set[str]) -> float | None:
    """Return the chance that an infested unit stands before a clear one; None if there are not both."""
    clear_before, total = 0, 0
    for unit in order:
        if unit in infested:
            total += clear_before
        else:
            clear_before += 1
    pairs = clear_before * len(infested)
    return 1.0 - total / pairs if pairs else None


def first_doors(
    house: House,
    fits: Mapping[str, Posterior],
    doors: int = DOORS,
    strategies: Sequence[Strategy] = STRATEGIES,
) -> dict:
    """Let every strategy choose its first doors on the same day, under the same missed detections."""
    records = house.records
    open_, hidden = known_to_be(house, records)
    world = house.branch().world
    seen = {
        u: world.look(u, METHOD, when=MORNING, id=f"now-{u}", by="T1", unsure=True)
        for u in house.network.units
    }
    chance = chance_by_level()
    ground = Ground(house.graph, house.network)
    results = {}
    for strategy in strategies:
        sight = Sight.of(
            ground,
            records,
            MORNING,
            posterior=fits.get(strategy.leans_on),
            prior=dynamics_told(house, strategy.leans_on),
            doors=doors,
        )
        first = strategy.order(sight, _scratch(house, 0, 0))
        chosen: list[str] = []
        order = first
        for k in range(min(doors, len(open_))):
            if strategy.adapts and k:
                order = strategy.order(sight, _scratch(house, 0, 0))
            chosen.append(next(u for u in order if u not in chosen))
            if strategy.adapts:
                sight = _after(house, strategy, sight, seen[chosen[-1]])
        results[strategy.name] = _score(house, chosen, first, seen, set(hidden), chance)
    order = truth_order(house.practice, open_)
    results[TRUTH] = _score(house, order[:doors], order, seen, set(hidden), chance)
    learned, true = (fits[k].diagnostics for k in ("learned", "true"))
    return {
        "units": house.network.size,
        "infested": int((house.practice.world.levels > 0).sum()),
        "open": len(open_),
        "hidden": len(hidden),
        "records": len(records),
        "rhat": [learned.worst_rhat, learned.rhat_worst_unit, learned.rhat_count, true.worst_rhat],
        "fit_seconds": learned.seconds,
        "expected_hidden": float(fits["learned"].chance[[house.network.index[u] for u in open_]].sum()),
        "strategies": results,
    }


def _after(house: House, strategy: Strategy, sight: Sight, record: Record) -> Sight:
    """Take in an answer as the product does: weigh the draws anew, and fit again once they are worn out."""
    sight = sight.after(record)
    posterior = sight.posterior
    if posterior is None or not posterior.needs_refit:
        return sight
    fitted = fit_house(house, sight.rows, sight.on, strategy.leans_on, NEXT_FIT, posterior)
    return replace(sight, posterior=fitted)


def _scratch(house: House, *place: int) -> np.random.Generator:
    """Return the generator for ties: the same for every strategy at the same place."""
    return np.random.default_rng([house.number, *place])


def _score(
    house: House,
    chosen: Sequence[str],
    first: Sequence[str],
    seen: Mapping[str, Record],
    hidden: set[str],
    chance: np.ndarray,
) -> dict:
    level = house.practice.world.level_of
    return {
        "finds": float(sum(chance[level(u)] for u in chosen)),
        "found": sum(seen[u].found == "yes" and u in hidden for u in chosen),
        "hidden": sum(u in hidden for u in chosen),
        "auc": area_under_curve(first, hidden),
    }


class _Trial:
    """A firm that does its usual work and, for some weeks, a round that a strategy chooses."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.practice = house.branch()
        self.practice.quiet, self.practice.paired = False, True
        self.minutes = 0.0
        self.finds = 0
        self.doors = 0
        self.false_alarms = 0

    @property
    def log(self) -> tuple[Record, ...]:
        """The log up to yesterday."""
        today = dt.date.fromordinal(self.practice.world.week * 7 + 1)
        return number_records(r for r in self.practice.records if r.when < today)

    def knock(self, unit: str, on: dt.date) -> Record:
        """Knock, look if somebody opens, and open a case on a find."""
        practice, world = self.practice, self.practice.world
        i = world.network.index[unit]
        self.doors += 1
        self.minutes += KNOCK.central
        name = f"w{len(practice.records) + 1}"
        if not world.vacant[i] and world.nobody_opens(unit, NO_ACCESS):
            record = Record(name, on, unit, "no-access", "nobody-home", by="T1")
        else:
            self.minutes += LOOKING[METHOD].minutes.central
            record = world.look(unit, METHOD, when=on, id=name, by="T1", unsure=True)
        practice.records.append(record)
        if record.found == "yes":
            self.finds += world.level_of(unit) > 0
            self.false_alarms += world.level_of(unit) == 0
            self._treat(unit, on)
        return record

    def _treat(self, unit: str, on: dt.date) -> None:
        """Open a case as the practice does, but send nobody next door: that is the strategy's to say.

        How and when goes by unit and week, so that it is the same whoever finds it.
        """
        if unit in self.practice.open_cases:
            return
        week = self.practice.world.week
        rng = np.random.default_rng([self.house.number, week, self.house.network.index[unit]])
        method = "spray" if rng.random() < self.practice.settings.spray_share else "steam-dust-encase"
        self.practice.open_cases[unit] = _Case(method)
        day = on + dt.timedelta(days=int(rng.integers(2, 5)))
        self.practice._add(_Task(day, unit, "case"))


def rounds(house: House, name: str, first: Mapping[str, Posterior], strategy: Strategy | None = None) -> dict:
    """Run eight weeks of rounds by one strategy, then usual practice to week 26.

    Parameters
    ----------
    house
        The world at the end of its past.
    name
        Of a strategy, :data:`NOBODY` or :data:`TRUTH`.
    first
        The posteriors of the first morning, by what a strategy leans on.
    strategy
        The strategy itself where it is not one of the benchmark's own.
    """
    trial = _Trial(house)
    strategy = strategy or BY_NAME.get(name)
    ground = Ground(house.graph, house.network)
    _, hidden = known_to_be(house, house.records)
    posterior: Posterior | None = None
    worst, infested_weeks, found_by = 0.0, 0, {}
    for week in range(WEEKS):
        on = morning_of(week)
        if week < ROUNDS and strategy is not None:
            log = trial.log
            if strategy.leans_on != "log":
                posterior = (
                    first[strategy.leans_on]
                    if week == 0
                    else fit_house(house, log, on, strategy.leans_on, NEXT_FIT, posterior)
                )
                worst = max(worst, posterior.diagnostics.rhat_worst_unit)
            told = dynamics_told(house, strategy.leans_on)
            sight = Sight.of(ground, log, on, posterior=posterior, prior=told, doors=DOORS, since=MORNING)
            _one_round(trial, strategy, sight, week)
        elif week < ROUNDS and name == TRUTH:
            open_ = [u for u in house.network.units if u not in trial.practice.open_cases]
            for unit in truth_order(trial.practice, open_)[:DOORS]:
                trial.knock(unit, on)
        trial.practice.run_week(trial.practice.world.week)
        infested_weeks += int((trial.practice.world.levels > 0).sum())
        if week in (3, ROUNDS - 1):
            found_by[week + 1] = len(_found(trial, hidden))
    return {
        "weeks": infested_weeks,
        "found4": found_by[4],
        "found8": found_by[8],
        "hidden": len(hidden),
        "minutes": trial.minutes,
        "finds": int(trial.finds),
        "doors": trial.doors,
        "false": int(trial.false_alarms),
        "rhat": worst,
    }


def _found(trial: _Trial, hidden: Sequence[str]) -> set[str]:
    rows = trial.practice.records
    return set(hidden) & {r.unit for r in rows if r.when >= MORNING and r.is_look and r.found == "yes"}


def _one_round(trial: _Trial, strategy: Strategy, sight: Sight, week: int) -> None:
    done: set[str] = set()
    order = strategy.order(sight, _scratch(trial.house, 1, week))
    for k in range(DOORS):
        if strategy.adapts and k:
            order = strategy.order(sight, _scratch(trial.house, 1, week))
        unit = next((u for u in order if u not in done), None)
        if unit is None:
            return
        done.add(unit)
        record = trial.knock(unit, sight.on)
        if strategy.adapts:
            sight = _after(trial.house, strategy, sight, record)

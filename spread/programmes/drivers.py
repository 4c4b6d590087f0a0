"""What drives the answer: one thing at a time set low and high, everything else and all luck kept."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from spread.decisions.view import View
from spread.posterior.dynamics import LEVELS, Dynamics, Floats
from spread.posterior.looks import with_odds
from spread.posterior.seeing import Odds
from spread.programmes import columns as c
from spread.programmes.begin import Begin, begin_of
from spread.programmes.books import books_of
from spread.programmes.columns import METHODS, TREATMENTS
from spread.programmes.figures import Figure, figure
from spread.programmes.futures import tables_of_runs, unprepared
from spread.programmes.money import Prices
from spread.programmes.programme import Programme
from spread.programmes.run import Progress, RunSettings, Simulated, simulate
from spread.programmes.tables import BRIEF, TRAPS, WHOLE_PROTOCOL, Tables, tables_of
from spread.programmes.told import DriverEnd
from spread.trade import biology, detection, minutes, treatment
from spread.trade import prices as price_facts
from spread.trade.pace import Pace
from spread.trade.registry import LOOKING
from spread.trade.registry import TREATMENTS as TREATMENT_ROWS
from spread.trade.sources import Sourced


@dataclass(frozen=True, slots=True)
class Driver:
    """What one thing does to the answer."""

    name: str  #: What was changed: a key of ``driver_names`` in ``spread.words.programmes``
    #: low, high, centre: The two values, and the middle of what the comparison draws it from
    low: DriverEnd
    high: DriverEnd
    centre: DriverEnd
    #: cost, bug_weeks: Figures of the runs with it low and with it high: of the programme, or, with a
    #: reference, of the programme less the reference
    cost: tuple[Figure, Figure]
    bug_weeks: tuple[Figure, Figure]

    @property
    def cost_swing(self) -> float:
        """Mean cost with it high less with it low."""
        return self.cost[1].mean - self.cost[0].mean

    @property
    def bug_swing(self) -> float:
        """Mean infested unit-weeks with it high less with it low."""
        return self.bug_weeks[1].mean - self.bug_weeks[0].mean


@dataclass(frozen=True, slots=True)
class Tornado:
    """What drives a programme's figures."""

    #: key, reference: The programme, and the one it is compared with (empty: its own figures)
    key: str
    reference: str
    #: cost, bug_weeks: As compared
    cost: Figure
    bug_weeks: Figure
    drivers: tuple[Driver, ...]  #: The largest swing in infested unit-weeks first
    #: runs, weeks: Of each case
    runs: int
    weeks: int


@dataclass(frozen=True, slots=True)
class Case:
    """A changed start or changed tables of every run, and what was changed."""

    to: DriverEnd
    begin: Begin
    tables: tuple[Tables, ...]


@dataclass(frozen=True, slots=True)
class _One:
    """The same for one run's tables, as the makers of cases change it."""

    to: DriverEnd
    begin: Begin
    tables: Tables
    odds: Odds  #: What the log taught of methods and of those who look


_NO_END = DriverEnd("central", "of-every-method")
_Maker = Callable[[Dynamics, _One, str], _One]


def tornado(
    view: View,
    programme: Programme,
    reference: Programme | None = None,
    settings: RunSettings | None = None,
    *,
    pace: Pace | None = None,
    prices: Prices | None = None,
    progress: Progress | None = None,
    stop: threading.Event | None = None,
) -> Tornado:
    """Set each driver to its low and high value, the others as compared, in the same futures.

    Rates of spread and introductions go to the 5 and 95 % points of the building's own posterior; all
    others to the low and high of their source (:mod:`spread.trade`).

    Parameters
    ----------
    view, settings, pace, prices, progress, stop
        As in :func:`spread.programmes.run.simulate` and :func:`spread.programmes.results.summarise`. A
        stop leaves out the drivers not done yet.
    programme, reference : Whose figures; with a reference, the difference between the two
    """
    settings = settings or RunSettings(runs=200)
    pace, prices = pace or Pace(), prices or Prices()
    programmes = [programme] if reference is None else [programme, reference]
    ran = set_to_ends(view, programmes, settings, pace=pace, progress=progress, stop=stop)
    drivers = [
        Driver(
            each.name, each.low[0], each.high[0], each.centre,
            *zip(_figures(*each.low[1:]), _figures(*each.high[1:]), strict=True),
        )
        for each in ran.at(prices)
    ]  # fmt: skip
    cost, bugs = _figures(ran.base, prices)
    drivers.sort(key=lambda d: -abs(d.bug_swing) if d.bug_swing else 1.0 / (1.0 + abs(d.cost_swing)))
    return Tornado(
        programme.key,
        reference.key if reference else "",
        cost,
        bugs,
        tuple(drivers),
        settings.runs,
        settings.weeks,
    )


@dataclass(frozen=True)
class Ran:
    """Programmes as compared, and with one thing after another at its ends: for any prices."""

    base: Simulated
    #: By driver: its centre, and for either end what it is set to and the runs there
    ends: tuple[tuple[str, DriverEnd, tuple[tuple[DriverEnd, Simulated], ...]], ...]

    def at(self, prices: Prices) -> Iterator[Ends]:
        """Yield every driver at its ends, prices and times among them; they need no run of their own."""
        for name, centre, (low, high) in self.ends:
            yield Ends(name, centre, (*low, prices), (*high, prices))
        for name, make in _PRICED:
            (low_to, low_prices), (high_to, high_prices) = make(prices, "low"), make(prices, "high")
            centre = make(prices, "central")[0]
            yield Ends(name, centre, (low_to, self.base, low_prices), (high_to, self.base, high_prices))


@dataclass(frozen=True)
class Ends:
    """One driver: its centre, and for either end what it is set to, the runs there and their prices."""

    name: str
    centre: DriverEnd
    low: tuple[DriverEnd, Simulated, Prices]
    high: tuple[DriverEnd, Simulated, Prices]


def set_to_ends(
    view: View,
    programmes: Sequence[Programme],
    settings: RunSettings,
    *,
    pace: Pace,
    progress: Progress | None = None,
    stop: threading.Event | None = None,
) -> Ran:
    """Run programmes as a comparison does, then with one thing after another at its ends in every run.

    All runs meet the same luck. A stop leaves out what is not done yet. Parameters as in :func:`tornado`.
    """
    begin = begin_of(view, runs=settings.runs, seed=settings.seed, pace=pace)
    tables = tables_of_runs(tables_of(view.dynamics, view.posterior.odds), begin, settings.seed)

    def made(make: _Maker, end: str) -> Case:
        """Change the tables of every run, each of those that they share once."""
        ones = {
            id(one): make(view.dynamics, _One(_NO_END, begin, one, view.posterior.odds), end)
            for one in tables
        }
        first = ones[id(tables[0])]
        return Case(first.to, first.begin, tuple(ones[id(one)].tables for one in tables))

    done = 0

    def run(case: Case) -> Simulated:
        nonlocal done
        done += 1
        if progress is not None:
            progress(min(1.0, done / (2 * len(_MAKERS) + 1)))
        # What a driver leaves alone was run as the base already.
        if case.begin is begin and all(a is b for a, b in zip(case.tables, tables, strict=True)):
            return base
        return simulate(
            view, programmes, settings, pace=pace, begin=case.begin, tables=case.tables, stop=stop
        )

    base = simulate(view, programmes, settings, pace=pace, begin=begin, tables=tables, stop=stop)
    found = []
    for name, make in _MAKERS:
        if stop is not None and stop.is_set():
            break
        low, high = made(make, "low"), made(make, "high")
        centre = made(make, "central").to
        found.append((name, centre, ((low.to, run(low)), (high.to, run(high)))))
    if progress is not None:
        progress(1.0)
    return Ran(base, tuple(found))


def _figures(simulated: Simulated, prices: Prices) -> tuple[Figure, Figure]:
    """Return money and infested unit-weeks of the first programme, less those of a second if there is one."""
    books = books_of(simulated.runs, prices, None)
    money = [books[runs.programme.key].compared for runs in simulated.runs]
    bugs = [runs.counts[:, c.BUG_WEEKS].astype(float) for runs in simulated.runs]
    if len(money) == 1:
        return figure(money[0]), figure(bugs[0])
    return figure(money[0] - money[1]), figure(bugs[0] - bugs[1])


def _end(number: Sourced, end: str) -> float:
    return float(getattr(number, end))


_QUANTILES = {"low": 0.05, "high": 0.95, "central": 0.5}


def _spread(dynamics: Dynamics, case: _One, end: str) -> _One:
    """Scale all routes and mixing so that a run's total is the posterior's 5 or 95 % point."""
    totals = case.begin.rates[:, 2:].sum(axis=1)
    to = float(np.quantile(totals, _QUANTILES[end]))
    rates = case.begin.rates.copy()
    rates[:, 1:] *= (to / totals)[:, None]
    at = DriverEnd(end, "times-the-mean", (float(to / totals.mean()),))
    return replace(case, to=at, begin=case.begin._replace(rates=rates))


def _brought_in(dynamics: Dynamics, case: _One, end: str) -> _One:
    to = float(np.quantile(case.begin.rates[:, 0], _QUANTILES[end]))
    rates = case.begin.rates.copy()
    rates[:, 0] = to
    return replace(case, to=DriverEnd(end, "a-unit-week", (to,)), begin=case.begin._replace(rates=rates))


def _growth(dynamics: Dynamics, case: _One, end: str) -> _One:
    per_day = _end(biology.GROWTH_PER_DAY, end)
    grown = np.stack([biology.growth_matrix(per_day), dynamics.growth[1]])
    tables = case.tables._replace(growth=grown, grow=np.cumsum(grown, axis=2))
    return replace(case, to=DriverEnd(end, "a-day", (per_day,)), tables=tables)


def _sensitivity(dynamics: Dynamics, case: _One, end: str) -> _One:
    found = case.tables.found.copy()
    for method, row in LOOKING.items():
        ends = np.array([0.0, *(min(_end(level, end), 0.99) for level in row.sensitivity)])
        # What the log taught of this building's looks moves the ends as it moves the middle.
        found[METHODS.index(method), 1:] = with_odds(ends, case.odds.of_next(method))[1:]
    return replace(case, to=DriverEnd(end, "of-every-method"), tables=_with_looks(dynamics, case, found))


def _false(dynamics: Dynamics, case: _One, end: str) -> _One:
    found = case.tables.found.copy()
    for method, row in LOOKING.items():
        found[METHODS.index(method), 0] = _end(row.false_find, end)
    return replace(case, to=DriverEnd(end, "of-every-method"), tables=_with_looks(dynamics, case, found))


def _with_looks(dynamics: Dynamics, case: _One, found: Floats) -> Tables:
    found[WHOLE_PROTOCOL] = 1.0 - (1.0 - found[BRIEF]) * (1.0 - found[TRAPS])
    fresh = tables_of(dynamics, found=found)
    # The firm goes on believing the central figures; only the truth moves.
    return case.tables._replace(found=fresh.found)


def effect_at(method: str, end: str) -> Floats:
    """Return what a treatment does with its elimination and its count reduction at their low or high ends.

    Shape (levels, levels); built as :func:`spread.trade.treatment.effect_matrix` builds the central one.
    """
    cut = -np.log(1.0 - _end(TREATMENT_ROWS[method].reduction, end))
    lower = [low for low, _ in biology.COUNT_CLASSES]
    upper = [*lower[1:], treatment.HEAVY_TYPICAL.central]
    matrix = np.eye(LEVELS)
    for level in range(1, LEVELS):
        gone = _end(TREATMENT_ROWS[method].elimination[level - 1], end)
        drop = 0.0 if level == 1 else min(1.0, cut / np.log(upper[level - 1] / lower[level - 1]))
        matrix[level] = 0.0
        matrix[level, level - 1] = (1.0 - gone) * drop
        matrix[level, 0] += gone
        matrix[level, level] = 1.0 - matrix[level].sum()
    return matrix


def _treatment(dynamics: Dynamics, case: _One, end: str) -> _One:
    effect = np.stack([treatment.over_units(effect_at(method, end)) for method in TREATMENTS])
    return replace(
        case, to=DriverEnd(end, "of-every-method"), tables=case.tables._replace(act=np.cumsum(effect, axis=2))
    )


def _preparation(dynamics: Dynamics, case: _One, end: str) -> _One:
    """Let a share of the treatment visits do nothing."""
    to = _end(minutes.NOT_PREPARED, end)
    own = case.begin.unprepared
    to = own if end == "central" else max(to, own)
    return replace(case, to=DriverEnd(end, "share", (to,)), tables=unprepared(case.tables, to, own))


def _turnover(dynamics: Dynamics, case: _One, end: str) -> _One:
    weeks = _end(minutes.STAY, end) / (minutes.STAY.central * case.begin.leave)
    return replace(case, to=DriverEnd(end, "weeks", (weeks,)), begin=case.begin._replace(leave=1.0 / weeks))


def _shut(dynamics: Dynamics, case: _One, end: str) -> _One:
    to = _end(minutes.NO_ACCESS, end)
    shut = np.minimum(case.begin.shut * (to / minutes.NO_ACCESS.central), 0.95)
    return replace(case, to=DriverEnd(end, "of-knocks", (to,)), begin=case.begin._replace(shut=shut))


def _refuses(dynamics: Dynamics, case: _One, end: str) -> _One:
    to = min(0.9, _end(minutes.REFUSES, end) * case.begin.refuses / minutes.REFUSES.central)
    return replace(case, to=DriverEnd(end, "share", (to,)), begin=case.begin._replace(refuses=to))


def _reports(dynamics: Dynamics, case: _One, end: str) -> _One:
    report = case.tables.report.copy()
    report[0] = [_end(number, end) for number in detection.REPORT_CHANCE]
    return replace(case, to=DriverEnd(end, "at-every-level"), tables=case.tables._replace(report=report))


def _hour(prices: Prices, end: str) -> tuple[DriverEnd, Prices]:
    hour = _end(price_facts.HOUR, end) * prices.hour / price_facts.HOUR.central
    return DriverEnd(end, "an-hour", (hour,), prices.currency), replace(prices, hour=hour)


def _treatment_minutes(prices: Prices, end: str) -> tuple[DriverEnd, Prices]:
    facts = price_facts.TREATMENT_MINUTES
    treat = {size: prices.treat[size] * _end(facts[size], end) / facts[size].central for size in facts}
    at = DriverEnd(end, "minutes", tuple(treat[size] for size in c.SIZES))
    return at, replace(prices, treat=treat)


_MAKERS: tuple[tuple[str, _Maker], ...] = (
    ("spread", _spread), ("brought-in", _brought_in), ("growth", _growth), ("sensitivity", _sensitivity),
    ("false-finds", _false), ("treatment", _treatment), ("preparation", _preparation), ("shut-doors", _shut),
    ("refusals", _refuses), ("turnover", _turnover), ("reports", _reports),
)  # fmt: skip
"""Every driver that needs runs of its own, and what sets it."""
_PRICED: tuple[tuple[str, Callable[[Prices, str], tuple[DriverEnd, Prices]]], ...] = (
    ("hour", _hour), ("treatment-minutes", _treatment_minutes),
)  # fmt: skip
"""Every driver that is only a price or a time."""

"""An accepted programme held to its forecast: where it stands, a departure and its likely reason, or no answer.

Every quantity and month has a score: how far the count lies from the middle of the forecast's runs, in their
own spread, on the scale of square roots (counts have one spread there). The largest score of a year so far is
held against the largest scores that the runs themselves reach in that whole year, so that a building that
goes as forecast is called departed in no more than :data:`ALPHA` of years, however many quantities and
months are looked at (Westfall and Young's largest statistic). Units infested are not counted but inferred:
their score is the mean over the draws of the posterior, which strays less than a count would.

*As promised* calms. It is said only where months, looks and work on record are enough, and where a departure
would have been seen: with half of the visits, or twice the finds, most runs would have been called departed.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from spread.decisions.month.change import LEAST, LOOKED
from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.programmes.accepted import INFESTED, PAID, Accepted
from spread.programmes.actual import Actual
from spread.trade.minutes import NOT_PREPARED

Verdict = Literal["departed", "as-promised", "unknown"]
Cause = Literal["access", "preparation", "arrivals", "treatment"]
TESTED = ("visits", "shut", "reports", "finds", "treatments", "move-ins", INFESTED)
"""Quantities of which a departure is told; the others follow from them."""
ALPHA = 0.08
"""Share of years in which a building that goes as forecast may be called departed (judgement)."""
YEAR = 12
"""Months that one such share is for; a year's counts begin anew."""
POWER = 0.80
"""Chance that a departure would have been seen, from which *as promised* may be said (usual in trials)."""
LEAST_MONTHS, LEAST_VISITS, LEAST_RUNS = 3, 20, 100
"""Months over, visits on record and runs of a forecast before *as promised* may be said (judgement)."""
WORSE = 0.10
"""Chance up to which more units may be infested than 95 % of the forecast (judgement)."""
SURE = 2.4
"""Score from which a cause is named: one in a hundred, as four are looked at (judgement)."""
LEAST_TRIED = 10
"""Visits, treatments or courses of which a share is told (judgement)."""
_LEAST_SPREAD = 0.5


@dataclass(frozen=True, slots=True)
class Place(Fact):
    """A quantity from the acceptance to the end of a month: what was promised, and what is."""

    quantity: str
    month: int
    #: low, median, high: 5, 50 and 95 % of the forecast
    low: float
    median: float
    high: float
    actual: float | None  #: Of units infested the middle; None where nobody can tell
    #: actual_low, actual_high: Of units infested alone: 90 % of what is known
    actual_low: float | None = None
    actual_high: float | None = None
    above: float | None = None  #: Chance that the actual is above the forecast, ties shared


@dataclass(frozen=True, slots=True)
class Departure(Fact):
    """A quantity that left its forecast, in the first month in which it did."""

    quantity: str
    more: bool
    month: int
    until: dt.date


@dataclass(frozen=True, slots=True)
class LikelyCause(Fact):
    """A rate that the programme assumed and that the log shows to be another."""

    cause: Cause
    assumed: float  #: Share or rate in the middle of the forecast
    actual: float
    of: int  #: Visits, treatments or courses that it is a share of; months for arrivals


@dataclass(frozen=True, slots=True)
class Held(Fact):
    """An accepted programme beside what came of it."""

    accepted: dt.date
    key: str
    name: str
    month: int  #: The last month that is over; 0 where none is
    months: int
    until: dt.date  #: Its last day
    units: int
    currency: str
    by_fees: bool
    places: tuple[Place, ...]  #: By quantity, up to the last month
    path: tuple[Place, ...]  #: Units infested by month, those to come without an actual
    departures: tuple[Departure, ...]
    causes: tuple[LikelyCause, ...]  #: What the log shows of a departure's reason, the likeliest first
    why_not: str  #: Why *as promised* is not said: see :func:`_lacking`; empty where it is
    seen: float  #: Chance that a departure would have been seen by now
    looked: int  #: Units looked at since
    needed: int  #: How many of them *as promised* asks for

    @property
    def verdict(self) -> Verdict:
        """``departed``, ``as-promised``, or ``unknown`` where nobody can tell yet."""
        return "departed" if self.departures else "unknown" if self.why_not else "as-promised"


@dataclass(frozen=True)
class _Year:
    """One year of a forecast: what its runs count, from its first day on."""

    first: int  #: Months before it
    draws: Mapping[str, Floats]  #: Shape (runs, months of the year), by quantity

    @classmethod
    def of(cls, accepted: Accepted, year: int) -> _Year:
        first = year * YEAR
        return cls(
            first,
            {
                name: since(accepted.draws[name].astype(np.float64), first, name)[:, first : first + YEAR]
                for name in TESTED
            },
        )

    @cached_property
    def limit(self) -> float:
        """The score that no more than :data:`ALPHA` of the runs reach in the year."""
        most = np.max([np.abs(self.scores(name, runs)).max(axis=1) for name, runs in self.draws.items()], 0)
        place = math.ceil((1.0 - ALPHA) * (len(most) + 1)) - 1
        return float(np.sort(most)[place]) if place < len(most) else math.inf

    def scores(self, name: str, counts: Floats) -> Floats:
        """Return how far counts of the first months lie from the middle, in spreads of the runs."""
        return score(self.draws[name][:, : counts.shape[-1]], counts)

    @cached_property
    def _found_by(self) -> tuple[Floats, Floats]:
        rng = np.random.default_rng(18)
        twice = self.draws["finds"] + self.draws["finds"][rng.permutation(len(self.draws["finds"]))]
        steps = np.diff(self.draws["visits"], axis=1, prepend=0.0).astype(np.int64)
        half = np.cumsum(rng.binomial(steps, 0.5), axis=1).astype(np.float64)
        return self.scores("finds", twice), self.scores("visits", half)

    def power(self, months: int) -> float:
        """Return how often half of the visits, or twice the finds, would have been seen; the rarer of both."""
        seen = [np.abs(scores[:, :months]).max(axis=1) > self.limit for scores in self._found_by]
        return float(min(one.mean() for one in seen))


def score(runs: Floats, counts: Floats) -> Floats:
    """Return how far counts lie from the middle of runs, in their spread; shape of ``counts``.

    ``runs``: shape (R, M); ``counts``: any shape that ends in M.
    """
    rooted, x = 2.0 * np.sqrt(runs + 0.375), 2.0 * np.sqrt(counts + 0.375)
    low, middle, high = np.quantile(rooted, (0.05, 0.5, 0.95), axis=0, method="inverted_cdf")
    wide = np.where(x > middle, high - middle, middle - low) / 1.645
    return np.asarray((x - middle) / np.maximum(wide, _LEAST_SPREAD))


def since(counts: Floats, first: int, name: str) -> Floats:
    """Return counts from the end of a month on; units infested are no sum and stay as they are."""
    return counts if name == INFESTED or not first else counts - counts[..., first - 1 : first]


def held_to(accepted: Accepted, actual: Actual, on: dt.date) -> Held:
    """Hold an accepted programme to its forecast; ``on``: the day by whose knowledge."""
    month = actual.months
    years = [_Year.of(accepted, year) for year in range(-(-month // YEAR))]
    enough = len(accepted.draws["visits"]) >= LEAST_RUNS
    departures = tuple(
        sorted(
            (found for year in years for found in _departures(accepted, actual, year)),
            key=lambda one: one.month,
        )
        if enough
        else ()
    )
    needed = max(min(LEAST, accepted.units), math.ceil(LOOKED * accepted.units))
    seen = years[-1].power(month - years[-1].first) if years and enough else 0.0
    path = tuple(_place(accepted, actual, INFESTED, each + 1) for each in range(len(accepted.ends)))
    places = tuple(_place(accepted, actual, name, month) for name in accepted.bands) if month else ()
    return Held(
        accepted=accepted.on, key=accepted.key, name=accepted.name, month=month, months=len(accepted.ends),
        until=accepted.day(month), units=accepted.units, currency=accepted.currency,
        by_fees=accepted.by_fees, places=places, path=path, departures=departures,
        causes=_causes(years[-1], actual) if departures else (),
        why_not=_lacking(accepted, actual, places, seen, needed), seen=seen, looked=actual.looked,
        needed=needed,
    )  # fmt: skip


def _departures(accepted: Accepted, actual: Actual, year: _Year) -> list[Departure]:
    found = []
    for name in TESTED:
        scores = _scores(actual, year, name)
        out = np.flatnonzero(np.nan_to_num(np.abs(scores)) > year.limit)
        if len(out):
            month = year.first + int(out[0]) + 1
            found.append(Departure(name, bool(scores[out[0]] > 0), month, accepted.day(month)))
    return found


def _scores(actual: Actual, year: _Year, name: str) -> Floats:
    """Return the score of each month of a year that is over; of units infested the mean over the draws."""
    last = min(actual.months, year.first + YEAR)
    if name != INFESTED:
        return year.scores(
            name, since(actual.counts[name].astype(np.float64), year.first, name)[year.first : last]
        )
    found = np.full(last - year.first, np.nan)
    for place, draws in enumerate(actual.infested[year.first : last]):
        if len(draws):
            runs = year.draws[INFESTED][:, place : place + 1]
            found[place] = actual.weights @ score(runs, draws[:, None].astype(np.float64))[:, 0]
    return found


def _place(accepted: Accepted, actual: Actual, name: str, month: int) -> Place:
    low, median, high = accepted.bands[name][month - 1]
    promised = (name, month, low, median, high)
    if month > actual.months:
        return Place(*promised, None)
    if name == PAID:
        return Place(*promised, actual.paid[month - 1])
    runs = accepted.draws[name][:, month - 1]
    if name != INFESTED:
        count = int(actual.counts[name][month - 1])
        return Place(*promised, float(count), above=_above(np.array([count]), np.ones(1), runs))
    if (band := actual.band(month)) is None:
        return Place(*promised, None)
    above = _above(actual.infested[month - 1], actual.weights, runs)
    return Place(*promised, float(band[1]), float(band[0]), float(band[2]), above)


def _above(draws: NDArray[np.int64], weights: Floats, runs: NDArray[np.int32]) -> float:
    """Return the chance that a draw is above a run of the forecast; of two that are equal half."""
    ranked = np.sort(runs)
    under = np.searchsorted(ranked, draws, side="left") + np.searchsorted(ranked, draws, side="right")
    return float(weights @ under / weights.sum() / (2.0 * len(runs)))


def _lacking(accepted: Accepted, actual: Actual, places: tuple[Place, ...], seen: float, needed: int) -> str:
    """Return what *as promised* lacks, or an empty text.

    ``runs``, ``early``, ``silent``, ``looks``, ``unsettled``, ``reach``: there is no ground yet; ``outside``:
    something lies outside of its 90 %; ``infested``: more units may be infested than promised; ``power``: a
    departure might not have been seen.
    """
    month = actual.months
    if len(accepted.draws["visits"]) < LEAST_RUNS:
        return "runs"
    if month < LEAST_MONTHS:
        return "early"
    visits = np.diff(actual.counts["visits"], prepend=0)
    if visits[-LEAST_MONTHS:].min() < 1 or actual.counts["visits"][-1] < LEAST_VISITS:
        return "silent"
    if actual.looked < needed:
        return "looks"
    if not actual.settled:
        return "unsettled"
    if not len(actual.infested[-1]):
        return "reach"
    most = accepted.bands[INFESTED][month - 1][2]
    if float(actual.weights[actual.infested[-1] > most].sum()) > WORSE * float(actual.weights.sum()):
        return "infested"
    if any(p.actual is not None and not p.low <= p.actual <= p.high for p in places if p.quantity in TESTED):
        return "outside"
    return "power" if seen < POWER else ""


def _causes(year: _Year, actual: Actual) -> tuple[LikelyCause, ...]:
    """Return the rates that are worse than assumed, by how far; only those that the log shows."""
    last = min(actual.months, year.first + YEAR)
    rng = np.random.default_rng(18)
    place = last - year.first - 1
    runs = {name: draws[:, place] for name, draws in year.draws.items()}

    def now(name: str) -> float:
        counts = actual.counts[name].astype(np.float64)
        return float(since(counts, year.first, name)[last - 1])

    found: list[tuple[float, LikelyCause]] = []

    def add(cause: Cause, count: float, of: float, usual: Floats, expected: Floats) -> None:
        """Name a cause where a count of so many lies far above what the runs expect of so many."""
        far = float(score(expected[:, None], np.array([count]))[0])
        if of >= LEAST_TRIED and far >= SURE:
            found.append((far, LikelyCause(cause, float(np.median(usual)), count / of, int(of))))

    visits = int(now("visits"))
    shares = runs["shut"] / np.maximum(runs["visits"], 1.0)
    add("access", now("shut"), visits, shares, rng.binomial(visits, np.minimum(shares, 1.0)).astype(float))
    ready, not_ready = (_in_year(counts, year.first, last) for counts in (actual.prepared, actual.unprepared))
    assumed = np.full(len(shares), NOT_PREPARED.central)
    add(
        "preparation",
        not_ready,
        ready + not_ready,
        assumed,
        rng.binomial(ready + not_ready, assumed).astype(float),
    )
    finds = now("finds")
    rates = np.maximum(runs["treatments"] - runs["finds"], 0.0) / np.maximum(runs["finds"], 1.0)
    add("treatment", max(now("treatments") - finds, 0.0), finds, rates, rates * finds)
    moves = runs["move-ins"]
    far = float(score(moves[:, None], np.array([now("move-ins")]))[0])
    if far >= SURE:
        months = last - year.first
        arrivals = LikelyCause("arrivals", float(np.median(moves)) / months, now("move-ins") / months, months)
        found.append((far, arrivals))
    return tuple(cause for _, cause in sorted(found, key=lambda one: -one[0]))


def _in_year(counts: NDArray[np.int64], first: int, last: int) -> int:
    return int(counts[last - 1] - (counts[first - 1] if first else 0)) if len(counts) >= last else 0

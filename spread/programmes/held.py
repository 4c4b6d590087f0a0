"""An accepted programme held to its forecast: where it stands, a departure and its likely reason.

Every quantity and month has a score: how far the count lies from the middle of the forecast's runs, in their
own spread, on the scale of square roots (where a Poisson count has a spread of one, the least that is taken).
The largest score of a year so far is held against the largest scores that the runs themselves reach in that
whole year, so that a building that goes as forecast is called departed in no more than :data:`ALPHA` of
years, however many quantities and months are looked at (Westfall and Young's largest statistic). Units
infested are not counted but inferred: their score is the mean over the draws of the posterior, which strays
less than a count would.

*As promised* calms. It is said only where months, looks and work on record are enough, and where a departure
would have been seen: with half of the visits, or three times the finds, most runs would be called departed.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from spread.decisions.month.change import LEAST, LOOKED
from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.programmes.accepted import INFESTED, KEPT_RUNS, PAID, Accepted
from spread.programmes.actual import Actual
from spread.trade.minutes import NOT_PREPARED

Verdict = Literal["departed", "as-promised", "unknown"]
Cause = Literal["access", "preparation", "arrivals", "treatment"]
TESTED = ("visits", "shut", "reports", "finds", "treatments", "move-ins", INFESTED)
COURSE = "course"
"""Quantities of which a departure is told, and treatment visits for each find; the rest follows from them."""
ONE_SIDED = ("shut", "move-ins")
"""Those of which only more is a departure: a log may leave them out."""
ALPHA = 0.07
"""Share of years in which a building that goes as forecast may be called departed (judgement)."""
YEAR = 12
"""Months that one such share is for; a year's counts begin anew."""
POWER = 0.80
"""Chance that a departure would have been seen, from which *as promised* may be said (usual in trials)."""
TIMES = 3
"""Times the finds of the forecast that must have been seen (judgement): fewer are within what is unknown."""
LEAST_MONTHS, LEAST_VISITS, LEAST_RUNS = 3, 20, 100
"""Months over, visits on record and runs of a forecast before *as promised* may be said (judgement)."""
WORSE = 0.10
"""Chance up to which more units may be infested than 95 % of the forecast (judgement)."""
SURE = 2.4
"""Score from which a cause is named: one in a hundred, as four are looked at (judgement)."""
UNREADY, UNREADY_SCORE = "unready", 2.4
"""Treatment visits to homes that were not ready, which no run counts: a departure from this score on against
the most that the trade's range allows (judgement)."""
LEAST_TRIED = 10
"""Visits, treatments or courses of which a share is told (judgement)."""
_LEAST_SPREAD = 1.0


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
        return cls(first, since({name: accepted.draws[name] for name in TESTED}, first, first + YEAR))

    @cached_property
    def rooted(self) -> Mapping[str, Floats]:
        """The runs on the scale of scores."""
        return rooted(self.draws)

    @cached_property
    def limit(self) -> float:
        """The score that no more than :data:`ALPHA` of the runs reach in the year."""
        scores = self.scores(self.draws)
        most = np.max([np.abs(each).max(axis=1) for each in scores.values()], axis=0)
        place = math.ceil((1.0 - ALPHA) * (len(most) + 1)) - 1
        return float(np.sort(most)[place]) if place < len(most) else math.inf

    def scores(self, counts: Mapping[str, Floats]) -> Mapping[str, Floats]:
        """Return how far counts of the first months lie from the middle, in spreads of the runs."""
        found = {
            name: score(self.rooted[name][:, : values.shape[-1]], values)
            for name, values in rooted(counts).items()
        }
        return {
            name: np.maximum(scores, 0.0) if name in ONE_SIDED else scores for name, scores in found.items()
        }

    @cached_property
    def _found_by(self) -> tuple[Floats, Floats]:
        rng, finds = np.random.default_rng(18), self.draws["finds"]
        more = sum((finds[rng.permutation(len(finds))] for _ in range(TIMES - 1)), finds)
        steps = np.maximum(np.diff(self.draws["visits"], axis=1, prepend=0.0), 0.0).astype(np.int64)
        half = np.cumsum(rng.binomial(steps, 0.5), axis=1).astype(np.float64)
        return self.scores({"finds": more})["finds"], self.scores({"visits": half})["visits"]

    def power(self, months: int) -> float:
        """Return how often half of the visits, or many times the finds, would be seen; the rarer one."""
        seen = [np.abs(scores[:, :months]).max(axis=1) > self.limit for scores in self._found_by]
        return float(min(one.mean() for one in seen))


def rooted(counts: Mapping[str, Floats]) -> dict[str, Floats]:
    """Return counts on the scale of scores, with treatment visits for each find where both are there."""
    found = {name: 2.0 * np.sqrt(values + 0.375) for name, values in counts.items()}
    if "treatments" in counts and "finds" in counts:
        found[COURSE] = 4.0 * np.log((counts["treatments"] + 2.0) / (counts["finds"] + 2.0))
    return found


def score(runs: Floats, values: Floats) -> Floats:
    """Return how far values lie from the middle of runs, in their spread; shape of ``values``.

    ``runs``, ``values``: on the scale of scores; shape (R, M), and any that ends in M.
    """
    low, middle, high = np.quantile(runs, (0.05, 0.5, 0.95), axis=0, method="inverted_cdf")
    wide = np.where(values > middle, high - middle, middle - low) / 1.645
    return np.asarray((values - middle) / np.maximum(wide, _LEAST_SPREAD))


def since(counts: Mapping[str, NDArray[Any]], first: int, last: int) -> dict[str, Floats]:
    """Return months of sums over months, counted from the first of them on.

    Units infested are no sum and stay as they are. ``first``: months before; ``last``: up to which month.
    """
    found = {}
    for name, values in counts.items():
        before = values[..., first - 1 : first] if first and name != INFESTED else 0
        found[name] = (values[..., first:last] - before).astype(np.float64)
    return found


def held_to(accepted: Accepted, actual: Actual, not_prepared: float = NOT_PREPARED.central) -> Held:
    """Hold an accepted programme to its forecast, as far as its months are over.

    ``not_prepared``: share of treatment visits that a forecast expects to find no room ready, 0 to 1.
    """
    month = actual.months
    years = [_Year.of(accepted, year) for year in range(-(-month // YEAR))]
    enough = len(accepted.draws["visits"]) >= LEAST_RUNS
    every = (_departures(accepted, actual, year, not_prepared) for year in years)
    found = [one for of_year in every for one in of_year] if enough else []
    departures = tuple(sorted(found, key=lambda one: one.month))
    needed = max(min(LEAST, accepted.units), math.ceil(LOOKED * accepted.units))
    seen = years[-1].power(month - years[-1].first) if years and enough else 0.0
    path = tuple(_place(accepted, actual, INFESTED, each + 1) for each in range(len(accepted.ends)))
    places = tuple(_place(accepted, actual, name, month) for name in accepted.bands) if month else ()
    return Held(
        accepted=accepted.on, key=accepted.key, name=accepted.name, month=month, months=len(accepted.ends),
        until=accepted.day(month), units=accepted.units, currency=accepted.currency,
        by_fees=accepted.by_fees, places=places, path=path, departures=departures,
        causes=_causes(years[-1], actual, not_prepared) if departures else (),
        why_not=_lacking(accepted, actual, places, seen, needed), seen=seen, looked=actual.looked,
        needed=needed,
    )  # fmt: skip


def _departures(accepted: Accepted, actual: Actual, year: _Year, not_prepared: float) -> list[Departure]:
    found = []
    for name, scores in _scores(actual, year).items():
        out = np.flatnonzero(np.nan_to_num(np.abs(scores)) > year.limit)
        if len(out):
            month = year.first + int(out[0]) + 1
            found.append(Departure(name, bool(scores[out[0]] > 0), month, accepted.day(month)))
    for month in range(year.first + 1, min(actual.months, year.first + YEAR) + 1):
        ready, unready = _readiness(actual, year.first, month)
        most = np.full(KEPT_RUNS, max(NOT_PREPARED.high, not_prepared))
        if ready + unready >= LEAST_TRIED and share_score(unready, ready + unready, most) > UNREADY_SCORE:
            found.append(Departure(UNREADY, more=True, month=month, until=accepted.day(month)))
            break
    return found


def share_score(count: int, of: int, shares: Floats) -> float:
    """Return how far a count of so many lies from what other shares make of as many."""
    drawn = np.random.default_rng(18).binomial(of, np.minimum(shares, 1.0)).astype(np.float64)
    values = rooted({"runs": drawn[:, None], "count": np.array([float(count)])})
    return float(score(values["runs"], values["count"])[0])


def _readiness(actual: Actual, first: int, last: int) -> tuple[int, int]:
    """Return the treatment visits of some months whose home was ready, and was not."""
    if len(actual.prepared) < last:
        return 0, 0
    ready, unready = (
        int(one[last - 1] - (one[first - 1] if first else 0)) for one in (actual.prepared, actual.unprepared)
    )
    return ready, unready


def _scores(actual: Actual, year: _Year) -> dict[str, Floats]:
    """Return the score of each month of a year that is over; of units infested the mean over the draws."""
    last = min(actual.months, year.first + YEAR)
    counts = {name: actual.counts[name] for name in TESTED if name != INFESTED}
    found = dict(year.scores(since(counts, year.first, last)))
    found[INFESTED] = np.full(last - year.first, np.nan)
    for place, draws in enumerate(actual.infested[year.first : last]):
        if len(draws):
            values = rooted({INFESTED: draws[:, None].astype(np.float64)})[INFESTED]
            runs = year.rooted[INFESTED][:, place : place + 1]
            found[INFESTED][place] = actual.weights @ score(runs, values)[:, 0] / actual.weights.sum()
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
    if len(accepted.draws["visits"]) < LEAST_RUNS or month < LEAST_MONTHS:
        return "early" if month < LEAST_MONTHS else "runs"
    visits, infested = actual.counts["visits"], actual.infested[-1]
    rare = visits[-1] < LEAST_VISITS or np.diff(visits, prepend=0)[-LEAST_MONTHS:].min() < 1
    most = accepted.bands[INFESTED][month - 1][2]
    worse = actual.weights[infested > most].sum() / actual.weights.sum() if len(infested) else 1.0
    tested = [place for place in places if place.quantity in TESTED and place.actual is not None]
    outside = any(
        (place.actual or 0.0) > place.high
        or ((place.actual or 0.0) < place.low and place.quantity not in ONE_SIDED)
        for place in tested
    )
    lacks = {
        "silent": rare, "looks": actual.looked < needed, "unsettled": not actual.settled,
        "reach": not len(infested), "infested": worse > WORSE, "outside": outside, "power": seen < POWER,
    }  # fmt: skip
    return next((name for name, lacking in lacks.items() if lacking), "")


def _causes(year: _Year, actual: Actual, not_prepared: float) -> tuple[LikelyCause, ...]:
    """Return the rates that are worse than assumed, by how far; only those that the log shows."""
    last = min(actual.months, year.first + YEAR)
    months = last - year.first
    runs = {name: draws[:, months - 1] for name, draws in year.draws.items()}
    counts = {name: actual.counts[name] for name in TESTED if name != INFESTED}
    now = {name: int(values[-1]) for name, values in since(counts, year.first, last).items()}
    far = {name: float(scores[-1]) for name, scores in _scores(actual, year).items()}

    shut = runs["shut"] / np.maximum(runs["visits"], 1.0)
    ready, unready = _readiness(actual, year.first, last)
    said = ready + unready
    assumed = np.full(len(shut), not_prepared)
    courses = runs["treatments"] / np.maximum(runs["finds"], 1.0)
    rows: tuple[tuple[Cause, float, Floats, int, int], ...] = (
        ("access", share_score(now["shut"], now["visits"], shut), shut, now["shut"], now["visits"]),
        ("preparation", share_score(unready, said, assumed), assumed, unready, said),
        ("treatment", far[COURSE], courses, now["treatments"], now["finds"]),
        ("arrivals", far["move-ins"], runs["move-ins"] / months, now["move-ins"], months),
    )
    least = {"arrivals": 1, "treatment": 3}
    found = [
        (away, LikelyCause(cause, float(np.median(usual)), count / of, of))
        for cause, away, usual, count, of in rows
        if away >= SURE and of >= least.get(cause, LEAST_TRIED)
    ]
    return tuple(cause for _, cause in sorted(found, key=lambda one: -one[0]))

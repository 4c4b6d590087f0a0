"""Searching for a programme: many candidates in the same futures, few runs first, more for the good ones."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from spread.decisions.view import View
from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.books import Books, books_of, course_price
from spread.programmes.choice import Chosen, choose
from spread.programmes.figures import Figure, Share, figure, share
from spread.programmes.money import Prices
from spread.programmes.pairs import Pair, pair_of
from spread.programmes.programme import Programme, Ranked, Ring, Survey
from spread.programmes.results import weeks_to_nil
from spread.programmes.run import Progress, Runs, RunSettings, Simulated, simulate
from spread.programmes.told import Candidate, DoorsAWeek, SurveyEvery, TreatedEvery
from spread.trade.pace import Pace

FIRST_SHARE = 0.25  #: Share of the runs that every candidate gets before the poor ones are left out
INTERVALS = (8, 13, 17, 26, 39, 52, 78, 104)  #: Weeks between surveys that are tried
CONFIRMED = 6  #: The best so many meet fresh futures
BATCHES = 3  #: At most so many times the runs, while their money cannot be told apart
FRESH = 7919  #: Step between the seeds of those futures
DOORS = (2, 4, 6, 8, 10, 12, 15, 20, 30, 40)  #: Ranked doors a week that are tried
TREATED = (1, 2, 3, 4)  #: Weeks from treatment visit to treatment visit that are tried
VARIED = 4  #: So many of the best by the first runs are tried with other treatments


@dataclass(frozen=True, slots=True)
class Goal:
    """What is asked of a programme."""

    chance: float = 0.0  #: Least chance of no unit being infested at some time; 0 asks for none
    by_week: int = 104  #: By when


@dataclass(frozen=True, slots=True)
class Point:
    """One candidate.

    Parameters
    ----------
    programme : The candidate
    cost, bug_weeks : Figures over the runs; money as :attr:`spread.programmes.books.Books.compared`
    paid : What it costs who pays for it, without the treatment of what is left at the end
    nil, nil_at_end : Chance of nil at some time by the goal's week, and at the end
    runs : How many runs the figures are of
    efficient : Whether no other candidate is both cheaper and has fewer infested unit-weeks, by the means
    reaches : Whether it reaches the goal: its share of runs is at least the chance asked for
    surely : Whether it still does two Monte Carlo errors lower
    """

    programme: Programme
    cost: Figure
    bug_weeks: Figure
    paid: Figure
    nil: Share
    nil_at_end: Share
    runs: int
    efficient: bool = False
    reaches: bool = False
    surely: bool = False


@dataclass(frozen=True, slots=True)
class Confirmed:
    """Which of the best candidates, by fresh futures that had no part in finding them."""

    chosen: Chosen
    pairs: tuple[Pair, ...]  #: The chosen one less each of the others that were run afresh
    runs: int  #: Fresh runs of each


@dataclass(frozen=True, slots=True)
class Search:
    """What a search found."""

    points: tuple[Point, ...]  #: Every candidate, the cheapest first
    best: Point | None  #: What is chosen of those that reach the goal; None if none does
    goal: Goal  #: As asked
    #: Other candidates that reach the goal and cannot be told from the best in money and infested unit-weeks
    rivals: tuple[Point, ...]
    #: Cheaper candidates whose chance is less than two Monte Carlo errors below the goal: they may reach it
    perhaps: tuple[Point, ...]
    confirmed: Confirmed | None = None  #: None if none reaches the goal, or the search was stopped before

    @property
    def frontier(self) -> tuple[Point, ...]:
        """Efficient candidates, the cheapest first."""
        return tuple(point for point in self.points if point.efficient)


def candidates(
    base: Programme, *, survey_methods: Sequence[str] = ("brief-visual", "protocol")
) -> list[Programme]:
    """Return combinations of ring, ranked doors and surveys around a programme's other settings.

    ``base``: its complaint rule, treatment, clearance and prices of notice are kept; ``survey_methods``: how
    surveys may look.
    """
    out = []
    for ring in (None, base.ring or Ring()):
        for doors in (0, 5, 10, 20):
            for weeks in (0, 52, 26, 13):
                for method in survey_methods if weeks else ("",):
                    out.append(with_parts(base, ring=ring, doors=doors, weeks=weeks, method=method))
    return out


def with_parts(base: Programme, *, ring: Ring | None, doors: int, weeks: int, method: str) -> Programme:
    """Return a programme with a ring or none, ranked doors a week (0: none) and a survey (0 weeks: none)."""
    ranked = replace(base.ranked or Ranked(), doors=doors, minutes=0.0) if doors else None
    survey = replace(base.survey or Survey(), every_weeks=weeks, method=method, times=0) if weeks else None
    key = f"ring{int(ring is not None)}-doors{doors}-survey{weeks}{'-' + method if weeks else ''}"
    made = Candidate(base.complaint is not None, ring is not None, doors, weeks, method if weeks else "")
    return replace(base, key=key, name="", made=made, words="", ring=ring, ranked=ranked, survey=survey)


def survey_intervals(base: Programme, intervals: Sequence[int] = INTERVALS) -> list[Programme]:
    """Return a programme with its survey (one by the protocol if it has none) at each interval in weeks."""
    survey = base.survey or Survey(method=c.PROTOCOL)
    return [
        replace(
            base,
            key=f"survey-every-{weeks}",
            name="",
            made=SurveyEvery(weeks),
            words="",
            survey=replace(survey, every_weeks=weeks, times=0),
        )
        for weeks in intervals
    ]


def weekly_doors(base: Programme, doors: Sequence[int] = DOORS) -> list[Programme]:
    """Return a programme with each number of ranked doors a week, and with none."""
    ranked = base.ranked or Ranked()
    none = replace(base, key="doors-0", name="", made=DoorsAWeek(0), words="", ranked=None)
    return [none] + [
        replace(
            base,
            key=f"doors-{k}",
            name="",
            made=DoorsAWeek(k),
            words="",
            ranked=replace(ranked, doors=k, minutes=0.0),
        )
        for k in doors
    ]


def treatments(base: Programme) -> list[Programme]:
    """Return a programme with every other treatment and time from visit to visit."""
    own = base.treatment
    found = []
    for method in c.TREATMENTS:
        for weeks in TREATED:
            if (method, weeks) == (own.method, own.every_weeks):
                continue
            treated = TreatedEvery(method, weeks)
            made = replace(base.made, treated=treated) if isinstance(base.made, Candidate) else treated
            found.append(
                replace(
                    base, key=f"{base.key}-{method}-{weeks}", name="", made=made, words="",
                    treatment=replace(own, method=method, every_weeks=weeks),
                )
            )  # fmt: skip
    return found


def search(
    view: View,
    tried: Sequence[Programme],
    goal: Goal,
    settings: RunSettings | None = None,
    *,
    pace: Pace | None = None,
    prices: Prices | None = None,
    vary: Callable[[Programme], list[Programme]] | None = None,
    progress: Progress | None = None,
    stop: threading.Event | None = None,
) -> Search:
    """Find the cheapest of many programmes that reaches a goal, and the frontier of cost and bug-weeks.

    All candidates get :data:`FIRST_SHARE` of the runs. Those that are neither near the frontier nor near the
    goal stay with that; the others get all runs. Whoever looks best among many was lucky too, so the best few
    then meet fresh futures, which alone decide. The same seed gives the same answer.

    Parameters
    ----------
    view, settings, pace, prices, progress, stop : As in :func:`spread.programmes.run.simulate`
    tried : Candidates with different keys
    vary
        What else the best few by the first runs are tried with, such as :func:`treatments`; they then go on
        with the others.
    goal
        What is asked; with ``chance`` 0 the best is the cheapest, a loss of infested unit-weeks included
        in the prices.
    """
    settings = settings or RunSettings()
    prices = prices or Prices()
    report = progress or (lambda share: None)
    few = replace(settings, runs=max(20, int(settings.runs * FIRST_SHARE)))
    begun = few.runs * (2 if vary else 1)
    share_first = begun / (begun + 2 * settings.runs)
    share_second = (begun + settings.runs) / (begun + 2 * settings.runs)

    def run(some: Sequence[Programme], settings: RunSettings, begins: float, ends: float) -> Simulated:
        return simulate(
            view,
            some,
            settings,
            pace=pace,
            progress=lambda done: report(begins + done * (ends - begins)),
            stop=stop,
        )

    first = run(tried, few, 0.0, share_first / (2 if vary else 1))
    course = course_price(first.runs, prices) if first.done else 0.0
    points = _points(first, prices, course, goal)
    if vary is not None and points and not (stop is not None and stop.is_set()):
        good = sorted(points.values(), key=lambda p: (not p.reaches, p.cost.mean, p.programme.key))[:VARIED]
        others = [other for point in good for other in vary(point.programme)]
        varied = run(others, few, share_first / 2, share_first)
        points |= _points(varied, prices, course, goal) if varied.done == first.done else {}
    promising = [p.programme for p in points.values() if _promises(p, list(points.values()), goal)]
    if not promising or (stop is not None and stop.is_set()):
        return _search(list(points.values()), goal, {}, {})
    more = run(promising, settings, share_first, share_second)
    if more.done < few.runs:
        return _search(list(points.values()), goal, {}, {})
    points |= _points(more, prices, course, goal)
    found = _search(list(points.values()), goal, *_arrays(more, prices, course))
    if found.best is None or (stop is not None and stop.is_set()):
        return found
    few_left = [found.best, *found.rivals, *_near(found)][:CONFIRMED]
    money: dict[str, list[Floats]] = {}
    bugs: dict[str, list[Floats]] = {}
    for batch in range(1, BATCHES + 1):
        fresh = replace(settings, seed=settings.seed + FRESH * batch)
        left = (1.0 - share_second) / BATCHES
        begins = share_second + (batch - 1) * left
        again = run([point.programme for point in few_left], fresh, begins, begins + left)
        if again.stopped:
            break
        for gathered, made in zip((money, bugs), _arrays(again, prices, course), strict=True):
            for key, row in made.items():
                gathered.setdefault(key, []).append(row)
        chosen = choose(_joined(money), _joined(bugs), loss=prices.loss)
        if not chosen.rivals and not chosen.ties:
            break
    report(1.0)
    return _confirmed(found, _joined(money), _joined(bugs), prices.loss) if money else found


def _joined(rows: Mapping[str, list[Floats]]) -> dict[str, Floats]:
    return {key: np.concatenate(each) for key, each in rows.items()}


def _arrays(
    simulated: Simulated, prices: Prices, course: float
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Return money and infested unit-weeks of every run, by key."""
    books = books_of(simulated.runs, prices, None, course=course)
    return (
        {key: each.compared for key, each in books.items()},
        {runs.programme.key: runs.counts[:, c.BUG_WEEKS].astype(float) for runs in simulated.runs},
    )


def _points(simulated: Simulated, prices: Prices, course: float, goal: Goal) -> dict[str, Point]:
    if not simulated.done:
        return {}
    books = books_of(simulated.runs, prices, None, course=course)
    return {runs.programme.key: _point(runs, books[runs.programme.key], goal) for runs in simulated.runs}


def _point(runs: Runs, books: Books, goal: Goal) -> Point:
    nil = share(weeks_to_nil(runs.infested) <= goal.by_week)
    return Point(
        programme=runs.programme,
        cost=figure(books.compared),
        bug_weeks=figure(runs.counts[:, c.BUG_WEEKS]),
        paid=figure(books.paid),
        nil=nil,
        nil_at_end=share(runs.infested[:, -1] == 0),
        runs=len(runs.counts),
        reaches=nil.chance >= goal.chance,
        surely=nil.chance - 2.0 * nil.error >= goal.chance,
    )


def _near(found: Search) -> list[Point]:
    """Return the next best that reach the goal, whom fresh futures may put first."""
    assert found.best is not None
    known = {found.best.programme.key, *(point.programme.key for point in found.rivals)}
    return [
        p for p in found.points if p.reaches and p.runs == found.best.runs and p.programme.key not in known
    ]


def _confirmed(found: Search, money: dict[str, Floats], bugs: dict[str, Floats], loss: float) -> Search:
    """Return the search with the winner of the fresh futures in front."""
    chosen = choose(money, bugs, loss=loss)
    by_key = {point.programme.key: point for point in found.points}
    pairs = tuple(pair_of(chosen.key, other, money, bugs) for other in money if other != chosen.key)
    return replace(
        found,
        best=by_key[chosen.key],
        rivals=tuple(by_key[key] for key in chosen.ties),
        confirmed=Confirmed(chosen, pairs, len(money[chosen.key])),
    )


def _promises(point: Point, points: Sequence[Point], goal: Goal) -> bool:
    """Whether a candidate may be on the frontier, or may be the cheapest that reaches the goal."""
    # Two errors of each figure in the candidate's favour; paired differences are smaller, so it is generous.
    cost = point.cost.mean - 2.0 * point.cost.error
    bugs = point.bug_weeks.mean - 2.0 * point.bug_weeks.error
    beaten = any(
        other.cost.mean < cost and other.bug_weeks.mean < bugs for other in points if other is not point
    )
    reaching = [p.cost.mean + 2.0 * p.cost.error for p in points if p.surely]
    may_reach = point.nil.chance + 2.0 * point.nil.error >= goal.chance
    return not beaten or (may_reach and (not reaching or cost <= min(reaching)))


def _search(
    points: list[Point], goal: Goal, money: Mapping[str, Floats], bugs: Mapping[str, Floats]
) -> Search:
    most = max((p.runs for p in points), default=0)
    points = [
        replace(
            p,
            efficient=not any(
                q.cost.mean <= p.cost.mean and q.bug_weeks.mean <= p.bug_weeks.mean
                for q in points
                if q is not p
            ),
        )
        for p in sorted(points, key=lambda p: (p.cost.mean, p.programme.key))
    ]
    full = {p.programme.key: p for p in points if p.reaches and p.runs == most}
    in_hand = {key: row for key, row in money.items() if key in full}
    chosen = choose(in_hand, bugs) if in_hand else None
    best = full[chosen.key] if chosen else next(iter(full.values()), None)
    perhaps = [
        p
        for p in points
        if not p.reaches
        and p.nil.chance + 2.0 * p.nil.error >= goal.chance
        and (best is None or p.cost.mean < best.cost.mean)
    ]
    rivals = tuple(full[key] for key in chosen.ties) if chosen else ()
    return Search(tuple(points), best, goal, rivals, tuple(perhaps))

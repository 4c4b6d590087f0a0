"""Searching for a programme: many candidates in the same futures, few runs first, more for the good ones."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace

from spread.decisions.view import View
from spread.programmes import columns as c
from spread.programmes.figures import Figure, Share, figure, share
from spread.programmes.money import Prices, costs
from spread.programmes.programme import Programme, Ranked, Ring, Survey
from spread.programmes.results import weeks_to_nil
from spread.programmes.run import Progress, Runs, RunSettings, Simulated, simulate
from spread.programmes.told import Candidate, DoorsAWeek, SurveyEvery
from spread.trade.pace import Pace

FIRST_SHARE = 0.25  #: Share of the runs that every candidate gets before the poor ones are left out
INTERVALS = (8, 13, 17, 26, 39, 52, 78, 104)  #: Weeks between surveys that are tried
DOORS = (2, 4, 6, 8, 10, 12, 15, 20, 30, 40)  #: Ranked doors a week that are tried


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
    cost, bug_weeks, hours_a_week
        Figures over the runs (the last without a band: the mean visits' hours are in the cost).
    nil : Chance of nil by the goal's week
    runs : How many runs the figures are of
    efficient : Whether no other candidate is both cheaper and has fewer infested unit-weeks, by the means
    reaches : Whether it reaches the goal: its share of runs is at least the chance asked for
    surely : Whether it still does two Monte Carlo errors lower
    """

    programme: Programme
    cost: Figure
    bug_weeks: Figure
    nil: Share
    runs: int
    efficient: bool = False
    reaches: bool = False
    surely: bool = False


@dataclass(frozen=True, slots=True)
class Search:
    """What a search found."""

    points: tuple[Point, ...]  #: Every candidate, the cheapest first
    best: Point | None  #: The cheapest that reaches the goal; None if none does
    goal: Goal  #: As asked
    #: Other candidates that reach the goal and whose mean cost is within two Monte Carlo errors of the
    #: best's: they cannot be told from it in cost
    rivals: tuple[Point, ...]
    #: Cheaper candidates whose chance is less than two Monte Carlo errors below the goal: they may reach it
    perhaps: tuple[Point, ...]

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


def search(
    view: View,
    tried: Sequence[Programme],
    goal: Goal,
    settings: RunSettings | None = None,
    *,
    pace: Pace | None = None,
    prices: Prices | None = None,
    progress: Progress | None = None,
    stop: threading.Event | None = None,
) -> Search:
    """Find the cheapest of many programmes that reaches a goal, and the frontier of cost and bug-weeks.

    All candidates get :data:`FIRST_SHARE` of the runs. Those that are neither near the frontier nor near the
    goal stay with that; the others get all runs. The same seed gives the same answer.

    Parameters
    ----------
    view, settings, pace, prices, progress, stop : As in :func:`spread.programmes.run.simulate`
    tried : Candidates with different keys
    goal
        What is asked; with ``chance`` 0 the best is the cheapest, a loss of infested unit-weeks included
        in the prices.
    """
    settings = settings or RunSettings()
    prices = prices or Prices()
    report = progress or (lambda share: None)
    few = replace(settings, runs=max(20, int(settings.runs * FIRST_SHARE)))
    share_first = few.runs / (few.runs + settings.runs)

    def run(some: Sequence[Programme], settings: RunSettings, begins: float, ends: float) -> Simulated:
        return simulate(
            view,
            some,
            settings,
            pace=pace,
            progress=lambda done: report(begins + done * (ends - begins)),
            stop=stop,
        )

    first = run(tried, few, 0.0, share_first)
    points = {runs.programme.key: _point(runs, prices, goal) for runs in first.runs if first.done}
    promising = [p.programme for p in points.values() if _promises(p, list(points.values()), goal)]
    if promising and not (stop is not None and stop.is_set()):
        more = run(promising, settings, share_first, 1.0)
        if more.done >= few.runs:
            points |= {runs.programme.key: _point(runs, prices, goal) for runs in more.runs}
    return _search(list(points.values()), goal)


def _point(runs: Runs, prices: Prices, goal: Goal) -> Point:
    nil = share(weeks_to_nil(runs.infested) <= goal.by_week)
    return Point(
        programme=runs.programme,
        cost=figure(costs(runs.counts, prices).sum(axis=1)),
        bug_weeks=figure(runs.counts[:, c.BUG_WEEKS]),
        nil=nil,
        runs=len(runs.counts),
        reaches=nil.chance >= goal.chance,
        surely=nil.chance - 2.0 * nil.error >= goal.chance,
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


def _search(points: list[Point], goal: Goal) -> Search:
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
    full = [p for p in points if p.reaches and p.runs == most]
    best = full[0] if full else None
    rivals = [
        p
        for p in full[1:]
        if p.cost.mean - full[0].cost.mean <= 2.0 * (p.cost.error**2 + full[0].cost.error ** 2) ** 0.5
    ]
    perhaps = [
        p
        for p in points
        if not p.reaches
        and p.nil.chance + 2.0 * p.nil.error >= goal.chance
        and (best is None or p.cost.mean < best.cost.mean)
    ]
    return Search(tuple(points), best, goal, tuple(rivals), tuple(perhaps))

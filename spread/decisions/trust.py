"""What the log taught of people and looks, and where it contradicts the model: facts before any list.

A list, a proposal or a chance rests on what is believed of who reports and who finds. Where the log says
otherwise, or holds what the model would hardly give, that is said first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from spread.decisions.departures import SILENCE, Departs, departures_of, told_of
from spread.decisions.doors.learned import SAME, Range, quantiles
from spread.decisions.grades.grades import OffPromise
from spread.decisions.shared_room import SharedRoom, shared_room_of
from spread.facts import Fact
from spread.posterior.checks import Check
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Floats
from spread.posterior.seeing import (
    BEGAN,
    FACTORS,
    FIRST_ODDS,
    HEAVY,
    LIGHT,
    NEVER,
    ODDS,
    OF_NOTHING,
    PEOPLE,
    RESIST,
    WIDTHS,
)
from spread.trade import detection, seeing
from spread.trade.methods import false_finds

SURE = 0.8
"""Probability from which a learned quantity is warned of (judgement)."""
HALF = 0.5
"""A readiness, or odds of a find, under this share of the usual is warned of (judgement)."""
MANY_NEVER, MANY_RESIST, MANY_FALSE = 0.35, 0.5, 0.3
"""Shares of units and of looks in clear units from which it is warned of (judgement)."""
SURPRISE = 3.0
"""Standard deviations from which a count of the log is called unexpected."""


@dataclass(frozen=True, slots=True)
class Trait(Fact):
    """One quantity of who reports, finds or resists, before and after the log.

    Parameters
    ----------
    kind
        ``reports-light``, ``reports-heavy``: weekly chance that a low (heavy) infestation is reported;
        ``reports-nothing``: that a clear unit is; ``never-report``, ``resist``, ``began``: shares of units;
        ``people``: how much people differ, as the standard deviation of log odds of a find; ``method``:
        chance that a method finds a low infestation; ``person``: factor on the odds of a find; ``alerts``:
        chance of a false alert.
    whose
        Method, person or team; empty otherwise.
    prior, posterior
        Points of each.
    overlap
        Shared area of prior and posterior, 0 to 1.
    learned
        Whether the overlap is under :data:`spread.decisions.doors.learned.SAME`.
    pooled
        Whether the prior is what the firm's other buildings showed of this person, which the firm turned on.
    """

    kind: str
    whose: str
    prior: Range
    posterior: Range
    overlap: float
    learned: bool
    pooled: bool = False


@dataclass(frozen=True, slots=True)
class LittleReported(Fact):
    """Infestations (``light`` or heavy) are reported far less than usual: by this factor, so surely."""

    light: bool
    factor: float
    sure: float


@dataclass(frozen=True, slots=True)
class ManyNeverReport(Fact):
    """More than :data:`MANY_NEVER` of units never report: this share, so surely."""

    share: float
    sure: float


@dataclass(frozen=True, slots=True)
class LittleFound(Fact):
    """A method or a person finds far less than usual: ``odds`` of the usual odds, so surely."""

    by_person: bool
    whose: str
    odds: float
    sure: float


@dataclass(frozen=True, slots=True)
class FalseAlerts(Fact):
    """A dog team alerts in clear units with this chance, above :data:`MANY_FALSE`, so surely."""

    team: str
    chance: float
    sure: float


@dataclass(frozen=True, slots=True)
class ManyResist(Fact):
    """Treatment does little in more than :data:`MANY_RESIST` of units: this share, so surely."""

    share: float
    sure: float


@dataclass(frozen=True, slots=True)
class Unexpected(Fact):
    """A count of the log that the model would hardly give.

    Parameters
    ----------
    kind, whose
        What is counted, as in :class:`spread.posterior.checks.Check`.
    seen, expected
        The count and its mean.
    trials
        What it is out of.
    """

    kind: str
    whose: str
    seen: int
    expected: float
    trials: int


Warned = (
    LittleReported
    | ManyNeverReport
    | LittleFound
    | FalseAlerts
    | ManyResist
    | SharedRoom
    | Unexpected
    | Departs
    | OffPromise
)


def traits_of(posterior: Posterior) -> tuple[Trait, ...]:
    """Return everything learned of who reports, finds and resists; empty where nothing was."""
    traits, names, g = posterior.traits, posterior.names, posterior.prior
    if traits is None or names is None or g is None:
        return ()
    w, draws = posterior.weights, traits.draws
    report = detection.report_chance()
    rows = [
        _on_grid(
            "reports-light", "", draws[:, LIGHT], w, FACTORS, np.exp(g.factor_prior[0]), scale=report[2]
        ),
        _on_grid(
            "reports-heavy", "", draws[:, HEAVY], w, FACTORS, np.exp(g.factor_prior[1]), scale=report[4]
        ),
        _on_grid(
            "reports-nothing", "", draws[:, OF_NOTHING], w, ODDS, np.exp(g.nothing_prior), scale=report[0]
        ),
        _share("never-report", draws[:, NEVER], w, g.shares[0]),
        _share("resist", draws[:, RESIST], w, g.shares[1]),
        _share("began", draws[:, BEGAN], w, g.shares[2]),
    ]
    place = FIRST_ODDS
    for k, method in enumerate(names.methods):
        low = detection.sensitivity(method)[2]
        prior = np.exp(g.method_prior[k])
        rows.append(_on_grid("method", method, draws[:, place], w, _shifted(low, ODDS), prior, odds=ODDS))
        place += 1
    if names.people:
        rows.append(_on_grid("people", "", draws[:, PEOPLE], w, WIDTHS, np.exp(g.width_prior)))
    person = np.exp(g.width_prior) @ np.exp(g.people_prior)
    for p, name in enumerate(names.people):
        before = np.exp(g.known_prior[p]) if g.is_known[p] else person
        row = _on_grid("person", name, draws[:, place], w, ODDS, before)
        rows.append(replace(row, pooled=bool(g.is_known[p])))
        place += 1
    false = _shifted(false_finds.ALERT.central, ODDS)
    for name in names.teams:
        rows.append(_on_grid("alerts", name, draws[:, place], w, false, np.exp(g.team_prior), odds=ODDS))
        place += 1
    return tuple(rows)


def warnings_of(posterior: Posterior) -> tuple[Warned, ...]:
    """Return where the log contradicts the model, what matters most first; empty where it does not."""
    room = shared_room_of(posterior)
    told = (room,) if room and room.learned else ()
    first = (*_learned_warnings(posterior), *told)
    said = {kind for one in first for kind in _same_as(one)}
    more = [one for one in told_of(departures_of(posterior)) if not {one.kind, one.kind + one.whose} & said]
    return (*first, *more, *_unexpected(posterior.checks))


def _same_as(fact: Warned) -> tuple[str, ...]:
    """Return the kinds of departures, with whose, of which a warning says as much already."""
    match fact:
        case LittleReported() | ManyNeverReport():
            return SILENCE
        case LittleFound():
            return ("looks", f"looks-by{fact.whose}")
        case FalseAlerts():
            return (f"alerts{fact.team}",)
        case ManyResist():
            return ("resist",)
        case SharedRoom():
            return ("room",)
    return ()


def _learned_warnings(posterior: Posterior) -> Iterator[Warned]:
    traits, names = posterior.traits, posterior.names
    if traits is None or names is None:
        return
    w, draws = posterior.weights, traits.draws

    def sure(flags: NDArray[np.bool_]) -> float:
        return float(w @ flags)

    many = sure(draws[:, NEVER] > MANY_NEVER)
    for place, light in ((HEAVY, False), (LIGHT, True)):
        # Against what everybody together reports: some never do, and the others the more.
        readiness = draws[:, place] * (1.0 - draws[:, NEVER])
        # Of light ones, many units that never report would only say the same again.
        if (chance := sure(readiness < HALF)) >= SURE and not (light and many >= SURE):
            yield LittleReported(light, _median(readiness, w), chance)
    if many >= SURE:
        yield ManyNeverReport(_median(draws[:, NEVER], w), many)
    methods = len(names.methods)
    for k, whose in enumerate((*names.methods, *names.people)):
        odds = draws[:, FIRST_ODDS + k]
        if (chance := sure(odds < HALF)) >= SURE:
            yield LittleFound(k >= methods, whose, _median(odds, w), chance)
    first = FIRST_ODDS + methods + len(names.people)
    for k, team in enumerate(names.teams):
        false = _shifted(false_finds.ALERT.central, draws[:, first + k])
        if (chance := sure(false > MANY_FALSE)) >= SURE:
            yield FalseAlerts(team, _median(false, w), chance)
    if (chance := sure(draws[:, RESIST] > MANY_RESIST)) >= SURE:
        yield ManyResist(_median(draws[:, RESIST], w), chance)


def _unexpected(checks: tuple[Check, ...]) -> Iterator[Unexpected]:
    """Return the most surprising count of each kind, where it is one."""
    for kind in dict.fromkeys(check.kind for check in checks):
        worst = max((check for check in checks if check.kind == kind), key=lambda one: abs(one.surprise))
        if abs(worst.surprise) >= SURPRISE:
            yield Unexpected(kind, worst.whose, round(worst.seen), worst.expected, worst.trials)


def _shifted(chance: float, odds: Floats) -> Floats:
    return np.asarray(odds * chance / (1.0 - chance + odds * chance))


def _median(values: Floats, w: Floats) -> float:
    return float(quantiles(values, w, (0.5,))[0])


def _points(values: Floats, w: Floats) -> Range:
    return Range(*(float(v) for v in quantiles(values, w, (0.05, 0.5, 0.95))))


def _on_grid(
    kind: str,
    whose: str,
    draws: Floats,
    w: Floats,
    values: Floats,
    prior: Floats,
    *,
    scale: float = 1.0,
    odds: Floats | None = None,
) -> Trait:
    """Compare draws from a grid with its prior; ``values`` are what the grid points mean."""
    grid = values if odds is None else odds
    place = np.abs(np.log(draws)[:, None] - np.log(grid)).argmin(axis=1)
    mass = np.bincount(place, weights=w, minlength=len(grid))
    shared = float(np.minimum(mass, prior).sum())
    before, after = _points(values * scale, prior / prior.sum()), _points(values[place] * scale, w)
    return Trait(kind, whose, before, after, shared, shared < SAME)


def _share(kind: str, draws: Floats, w: Floats, beta: Floats) -> Trait:
    """Compare draws of a share with its Beta prior, by stretches of equal prior mass."""
    prior = np.random.default_rng(1).beta(beta[0], beta[1], size=20_000)
    edges = np.quantile(prior, np.linspace(0.05, 0.95, 19))
    mass = np.bincount(np.searchsorted(edges, draws), weights=w, minlength=20)
    shared = float(np.minimum(mass, 0.05).sum())
    return Trait(kind, "", _points(prior, np.full(20_000, 5e-5)), _points(draws, w), shared, shared < SAME)


assert seeing.NEVER_REPORTS.central < MANY_NEVER, "what is usual is not warned of"
assert seeing.RESISTS.central < MANY_RESIST, "what is usual is not warned of"

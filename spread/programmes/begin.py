"""Where every run begins: the building today, with what is not known of it drawn anew for every run."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spread.contacts.relations import ring_around
from spread.decisions.doors.effort import opening_chances
from spread.decisions.view import View
from spread.posterior.dynamics import Dynamics, Floats, Network
from spread.programmes.programme import Ring
from spread.trade import minutes
from spread.trade.pace import Pace
from spread.trade.routes import TOUCHING
from spread.trade.rules import load_rules

Whole = NDArray[np.int64]
SHUT_CHOICES = 16  #: Steps in which a unit's unknown chance of a shut door is drawn
UNDER_WAY = ("infested", "under treatment", "clearing")
"""States of follow-up in which a course of treatment is under way."""


class Begin(NamedTuple):
    """The building at the start of every run; R runs, N units."""

    levels: NDArray[np.int8]  #: Shape (R, N): joint draws of the levels today
    rates: Floats  #: Shape (R, 2 + routes): brought in, mixing and the routes of the same draws
    #: indptr, indices, exposure: Contacts (:class:`spread.posterior.dynamics.Network`)
    indptr: Whole
    indices: Whole
    exposure: Floats
    #: vacant, empty_weeks: Shape (N,): whether a unit stands empty, and since how many weeks
    vacant: Whole
    empty_weeks: Whole
    #: case, case_due, case_visits, case_clean, case_heavy: Shape (N,): courses of treatment that are under
    #: way: whether, in which week the next visit is due, treatments so far, clean periods by the clearance
    #: rule, and whether it asks for those of a heavy unit
    case: Whole
    case_due: Whole
    case_visits: Whole
    case_clean: Whole
    case_heavy: Whole
    hold_until: Whole  #: Shape (N,): until when silence says nothing
    #: Shape (N + 1, choices): equally likely chances of a shut door; the last row is for people who move in
    shut: Floats
    belief: Floats  #: Shape (N, levels): what the firm takes for the chances today
    mean_rates: Floats  #: Shape (2 + routes,): what it takes for the rates
    refuses: float  #: Share of households that refuse every visit until they move
    leave: float  #: Chance a week that a household leaves
    relet: float  #: Chance a week that an empty unit is let
    unprepared: float  #: Share of treatment visits that do nothing because the unit was not prepared


def begin_of(view: View, *, runs: int, seed: int, pace: Pace | None = None) -> Begin:
    """Draw the starts of ``runs`` runs from the joint posterior of a building.

    Runs take the posterior's draws evenly in proportion to their weights (systematic resampling), in a
    shuffled order, so that the first runs of many are a fair sample too. Even sampling makes the Monte Carlo
    errors of the figures, which take the runs as independent, err on the high side.

    ``view``: the building on a day; ``runs``: how many; ``seed``: for which draws in which order, and the
    unknown chances of a shut door; ``pace``: the prior of a shut door, and the households; the trade's if
    None.
    """
    posterior = view.posterior
    rng = np.random.default_rng([seed, 6])
    places = (np.arange(runs) + rng.random()) / runs
    chosen = np.searchsorted(np.cumsum(posterior.weights), places).clip(0, len(posterior.draws) - 1)
    chosen = rng.permutation(chosen)
    mean = _as_rates(view.dynamics)
    rates = np.tile(mean, (runs, 1)) if posterior.rates is None else posterior.rates[chosen, : len(mean)]
    pace = pace or Pace()
    opens, people = opening_chances(view, pace), pace.households
    start = begin_from(
        view.network,
        levels=posterior.draws[chosen],
        rates=rates,
        mean_rates=mean,
        belief=posterior.levels,
        shut=_shut_choices(view, 1.0 - opens, pace, rng),
        refuses=people.refuses,
        leave=1.0 / people.stay_weeks,
        relet=1.0 / people.empty_weeks,
        unprepared=people.not_prepared,
    )
    return _with_courses(view, start)


def begin_from(
    network: Network,
    *,
    levels: NDArray[np.int8],
    rates: Floats,
    mean_rates: Floats,
    belief: Floats,
    shut: Floats | float = 0.2,
    refuses: float = minutes.REFUSES.central,
    leave: float = 1.0 / minutes.STAY.central,
    relet: float = 1.0 / minutes.EMPTY.central,
    unprepared: float = minutes.NOT_PREPARED.central,
) -> Begin:
    """Return the start of a building of which nobody keeps a log: no course under way, nobody moved out.

    ``levels``, ``rates``, ``mean_rates``, ``belief``: as in :class:`Begin`; ``shut``: as in :class:`Begin`,
    or one chance for all; ``refuses``, ``leave``, ``relet``, ``unprepared``: as in :class:`Begin`.
    """
    n = network.size
    zero = np.zeros(n, dtype=np.int64)
    if isinstance(shut, float | int):
        shut = np.full((n + 1, SHUT_CHOICES), float(shut))
    return Begin(
        levels=np.ascontiguousarray(levels, dtype=np.int8),
        rates=np.ascontiguousarray(rates),
        indptr=network.indptr,
        indices=network.indices,
        exposure=network.exposure,
        vacant=zero,
        empty_weeks=zero.copy(),
        case=zero.copy(),
        case_due=zero - 1,
        case_visits=zero.copy(),
        case_clean=zero.copy(),
        case_heavy=zero.copy(),
        hold_until=zero.copy(),
        shut=shut,
        belief=np.ascontiguousarray(belief),
        mean_rates=mean_rates,
        refuses=refuses,
        leave=leave,
        relet=relet,
        unprepared=unprepared,
    )


def _as_rates(dynamics: Dynamics) -> Floats:
    return np.array([dynamics.brought_in, dynamics.mixing, *dynamics.rates])


def _shut_choices(view: View, shut: Floats, pace: Pace, rng: np.random.Generator) -> Floats:
    """Return equally likely chances of a shut door for every unit, and for people not met yet."""
    prior = pace.no_access_visits
    out = np.empty((len(shut) + 1, SHUT_CHOICES))
    for i, usual in enumerate((*shut, pace.no_access)):
        unit = view.network.units[i] if i < len(shut) else ""
        met = sum(r.kind in ("inspection", "monitor", "treatment", "no-access") for r in view.log.of(unit))
        # An empty unit's chance is the office's key; whoever moves in is drawn from the last row.
        mean = min(max(float(usual), 1e-3), 0.99)
        weight = prior + (met if unit else 0)
        draws = np.sort(rng.beta(mean * weight, (1.0 - mean) * weight, 32 * SHUT_CHOICES))
        out[i] = draws[16::32][:SHUT_CHOICES]
    return out


def _with_courses(view: View, start: Begin) -> Begin:
    """Take over the courses that are under way and the units that stand empty."""
    for i, unit in enumerate(view.network.units):
        standing = view.standings[unit]
        if standing.vacant:
            left = [r.when for r in view.log.of(unit) if r.kind == "turnover" and r.when <= view.on]
            start.vacant[i] = 1
            start.empty_weeks[i] = (view.on - max(left)).days // 7
        touched = [
            r.when
            for r in (standing.last_find, standing.last_treatment, standing.last_report)
            if r is not None
        ]
        if touched:
            start.hold_until[i] = 8 - (view.on - max(touched)).days // 7
        followup = view.followups[unit]
        if followup.state not in UNDER_WAY:
            continue
        start.case[i] = 1
        treated, find = standing.last_treatment, standing.last_find
        untreated = treated is None or (find is not None and find.when > treated.when)
        start.case_visits[i] = 0 if untreated else 1
        start.case_clean[i] = 0 if untreated else followup.periods
        start.case_heavy[i] = followup.needed > view.clearance.periods
        last = (
            standing.last_look
            if treated is None or standing.last_look is None
            else max(standing.last_look, treated, key=lambda r: r.when)
        )
        weeks = (view.on - last.when).days // 7 if last is not None else 2
        start.case_due[i] = 0 if untreated else max(0, 2 - weeks)
    return start


def rings_of(view: View, ring: Ring | None) -> tuple[Whole, Whole]:
    """Return the rings of all units as compressed rows: ``indptr`` and ``indices``.

    Raises SpreadError for an unknown rule set.
    """
    letters, across, contiguous = _ring_rule(view, ring)
    rows: list[list[int]] = []
    for unit in view.network.units:
        around: Mapping[str, object] = {}
        if contiguous:
            around = {
                other: None for other, edges in view.graph.adj[unit].items() if not TOUCHING.isdisjoint(edges)
            }
        elif letters:
            around = ring_around(view.graph, unit, rule=letters, across=across)
        rows.append(sorted(view.network.index[other] for other in around))
    indptr = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.int64)
    return indptr, np.array([i for row in rows for i in row], dtype=np.int64)


def _ring_rule(view: View, ring: Ring | None) -> tuple[str, bool, bool]:
    """Return letters, across and whether every shared wall or floor counts."""
    if ring is None:
        return "", False, False
    if ring.rules == "building":
        return view.ring, view.across, False
    if ring.rules and set(ring.rules.upper()) <= set("LRUD"):
        return ring.rules.upper(), ring.across, False
    neighbours = load_rules(ring.rules).neighbours
    if neighbours is None or view.network.size < neighbours.least_units:
        return "", False, False
    return "LRUD", neighbours.across, neighbours.set == "CONTIGUOUS"

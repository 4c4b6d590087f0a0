"""Eighteen months of a demo building's life, drawn again until it holds what the demo is to show.

The hidden rates differ from building to building and from the package's central values, so the
package does not meet its own assumptions. Bugs, looks and treatments are those that the package assumed before
the joint fit to published buildings (:mod:`evidence.before`): the demos were made then, and are kept as they
are. There bugs multiply faster and are seen better than the package assumes now.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from evidence.parameters import BEFORE, dynamics_before, trade_of
from spread.posterior.dynamics import Dynamics, network_of
from spread.programmes.columns import METHODS, TREATMENTS
from spread.records.kinds import Record
from spread.worlds.practice import PracticeSettings, usual_practice
from spread.worlds.truth import Levels, Nature

LAST_DAY = dt.date(2026, 11, 20)
WEEKS = 78
UNRECORDED = 13
RATE_SPREAD = 0.4
"""Standard deviation, on the log scale, of each building's own rates around the central ones."""
START_PREVALENCE = 0.02
"""A quarter of a year before the log begins; what was brought in and spread since comes on top."""
SHARE_INFESTED = (0.06, 0.14)
"""Accepted at the end: about the 12.3 % of US low-income units (Wang et al. 2016, J Med Entomol
53:639) and below it."""
MISSED_SINCE = 4
"""Weeks that a missed infestation must have gone on since the look that missed it."""
TRIES = 500


@dataclass(frozen=True, slots=True)
class Scenario:
    """What the life of a demo building must hold.

    Parameters
    ----------
    source
        Unit that is infested from the start, whose people never report and are seldom in; it must
        be heavy at the end and not known. Empty: no such unit.
    missed_interception
        Whether a period of interceptors or a look must have said no in an infested unit that is
        infested still and not known.
    false_alert
        Whether a dog must have alerted in a clear unit.
    """

    source: str = ""
    missed_interception: bool = False
    false_alert: bool = False


@dataclass(frozen=True, slots=True)
class Life:
    """A log and its truth.

    Parameters
    ----------
    records
        The log.
    truth
        Shape (N, weeks): hidden levels.
    known
        Units under treatment or found and not treated yet at the end, by the log.
    missed, false_alerts
        Records of the two kinds that :class:`Scenario` names.
    tries
        How many lives were drawn before this one was kept.
    """

    records: tuple[Record, ...]
    truth: Levels
    known: tuple[str, ...]
    missed: tuple[Record, ...]
    false_alerts: tuple[Record, ...]
    tries: int


def live(graph: nx.MultiGraph, scenario: Scenario, seed: int) -> Life:
    """Return the first life, counted from ``seed``, that the scenario accepts.

    Raises
    ------
    RuntimeError
        When none of :data:`TRIES` is accepted.
    """
    network = network_of(graph)
    for attempt in range(TRIES):
        rng = np.random.default_rng([seed, attempt])
        dynamics = own_rates(rng)
        start = rng.choice(5, size=network.size, p=dynamics.start).astype(np.int8)
        hidden = frozenset({scenario.source} - {""})
        for unit in hidden:
            start[network.index[unit]] = 1
        records, truth = usual_practice(
            network,
            graph,
            dynamics,
            weeks=WEEKS,
            rng=rng,
            start_date=LAST_DAY - dt.timedelta(weeks=WEEKS - 1),
            settings=PracticeSettings(
                never_report=hidden,
                often_out=hidden,
                staying=hidden,
                unrecorded_weeks=UNRECORDED,
                spray_share=0.3,
                heat_after=5,
            ),
            start=start,
            nature=as_made(),
        )
        life = _read(records, truth, network.units, attempt + 1)
        if _accepted(life, scenario, network.index):
            return life
    raise RuntimeError(f"none of {TRIES} lives of seed {seed} held what the scenario asks for")


def own_rates(rng: np.random.Generator) -> Dynamics:
    """Return the dynamics before the fit with a building's own rates of spread and of bringing in."""
    central = dynamics_before(prevalence=START_PREVALENCE)
    factors = np.exp(RATE_SPREAD * rng.standard_normal(len(central.rates) + 2))
    return replace(
        central,
        rates=central.rates * factors[2:],
        brought_in=central.brought_in * float(factors[0]),
        mixing=central.mixing * float(factors[1]),
    )


def as_made() -> Nature:
    """Return looks, reports and treatments as they were before the fit."""
    old = trade_of(BEFORE)
    return Nature(
        find=lambda method, _: old.tables.found[METHODS.index(method)].copy(),
        report=lambda: old.tables.report[0],
        effect=lambda method: old.usual.effect[TREATMENTS.index(method)],
    )


def known_infested(records: Sequence[Record]) -> tuple[str, ...]:
    """Return the units that the log calls infested at its end.

    That is a find or a treatment, and since then not two clean looks. A dog's word alone is neither.
    """
    clean: dict[str, int] = {}
    for record in records:
        found = record.is_look and record.found == "yes" and record.method != "dog"
        if found or record.kind == "treatment":
            clean[record.unit] = 0
        elif record.is_look and record.found == "no" and record.method != "dog" and record.unit in clean:
            clean[record.unit] += 1
    return tuple(sorted(unit for unit, looks in clean.items() if looks < 2))


def _read(records: tuple[Record, ...], truth: Levels, units: tuple[str, ...], tries: int) -> Life:
    index = {unit: i for i, unit in enumerate(units)}
    first = LAST_DAY - dt.timedelta(weeks=WEEKS - 1, days=LAST_DAY.weekday())

    def since(record: Record) -> Levels:
        return truth[index[record.unit], (record.when - first).days // 7 :]

    known = known_infested(records)
    return Life(
        records=records,
        truth=truth,
        known=known,
        missed=tuple(
            r
            for r in records
            if r.is_look
            and r.found == "no"
            and r.method != "dog"
            and r.unit not in known
            and len(since(r)) > MISSED_SINCE
            and since(r).all()
        ),
        false_alerts=tuple(r for r in records if r.method == "dog" and r.found == "yes" and since(r)[0] == 0),
        tries=tries,
    )


def _accepted(life: Life, scenario: Scenario, index: dict[str, int]) -> bool:
    now = life.truth[:, -1]
    low, high = SHARE_INFESTED
    infested = {unit for unit, i in index.items() if now[i] > 0}
    if not low <= len(infested) / len(now) <= high:
        return False
    if not infested & set(life.known) or len(infested - set(life.known)) < 2:
        return False
    if scenario.source and (now[index[scenario.source]] < 4 or scenario.source in life.known):
        return False
    if scenario.missed_interception and not any(r.unit != scenario.source for r in life.missed):
        return False
    return bool(life.false_alerts) or not scenario.false_alert

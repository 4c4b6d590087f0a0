"""What a building does without the list, as its log shows: who else finds, and what treats."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence

import numpy as np

from spread.decisions.doors.benefit import COURSE, Usual, brief_find
from spread.decisions.standing import CLEAR_LOOKS, is_find
from spread.decisions.view import View
from spread.posterior.dynamics import LEVELS, Floats
from spread.posterior.seeing import HEAVY, LIGHT, RESIST
from spread.records.kinds import Record
from spread.trade import detection, seeing, treatment
from spread.trade.registry import HEARSAY, LOOKING

LEAST_WEEKS, MOST_WEEKS = 26, 52
"""Weeks of log over which habits are counted: what was done once in a short log is no habit (judgement)."""


def usual_of(view: View) -> Usual:
    """Return what finds and treats infestations in a building.

    Its people report as its log taught, and a brief look must confirm it. Looks that nothing called for
    (sweeps, rings, rounds) find by their methods at the rate at which a door had them, alike at every door.
    """
    posterior, log = view.posterior, view.log
    units = view.network.units
    since = view.on - dt.timedelta(weeks=MOST_WEEKS)
    told = [log.worked_out(unit, view.on, habits, since) for unit in units]
    begun = min((row.when for row in log.current[:1]), default=view.on)
    weeks = min(MOST_WEEKS, max(LEAST_WEEKS, (view.on - begun).days / 7))
    looks = sum((finds for finds, _ in told), np.zeros(LEVELS)) / (weeks * len(units))

    report, resists = np.tile(detection.report_chance(), (len(units), 1)), seeing.RESISTS.central
    if posterior.traits is not None:
        traits = posterior.traits
        light, heavy, resists = traits.draws[:, [LIGHT, HEAVY, RESIST]].mean(axis=0)
        report *= np.array([1.0, light, light, heavy, heavy])
        report *= (1.0 - traits.never * (1.0 - seeing.NEVER_FACTOR))[:, None]
    treated = Counter([COURSE, *(method for _, methods in told for method in methods)])
    effects = (number * treatment.effect_matrix(method) for method, number in treated.items())
    effect = sum(effects, np.zeros((LEVELS, LEVELS))) / treated.total()
    return Usual(np.minimum(report * brief_find() + looks, 1.0), treatment.over_units(effect, resists))


def habits(rows: Sequence[Record], since: dt.date) -> tuple[Floats, tuple[str, ...]]:
    """Return what a unit's uncalled looks add up to, and the methods of its treatments, from a day on.

    Returned: the sum of their chances to find something, by level, shape (levels,); a dog's is that of an
    alert that a look confirms. A look after a report, an alert, a find or a treatment was called for.

    ``rows``: the unit's current records, newest last.
    """
    finds, treated = np.zeros(LEVELS), []
    called, clean = False, CLEAR_LOOKS
    for row in rows:
        if row.is_complaint:
            called = True
        elif row.kind == "treatment":
            clean = 0
            if row.when >= since:
                treated.append(row.method)
        elif row.is_look:
            confirm = LOOKING[row.method].confirmed_by
            if row.when >= since and not called and clean >= CLEAR_LOOKS and row.method not in HEARSAY:
                finds += detection.sensitivity(row.method, row.days) * (brief_find() if confirm else 1.0)
            called = bool(confirm) and row.found == "yes"
            clean = 0 if is_find(row) else clean + (row.found == "no")
    return finds, tuple(treated)

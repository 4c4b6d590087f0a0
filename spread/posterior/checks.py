"""The log held against what the model expects of it: posterior predictive checks.

For joint paths taken from the chains, each count of the log (complaints of a quarter, finds of a method, of a
person, after a complaint, after an alert, beside a find, and grades) is compared with its expectation and
variance given that path. What the paths were fitted to they also explain, so these checks are mild: what they
call out does not fit (Gelman, Meng & Stern 1996, Statistica Sinica 6:733-807, from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spread.posterior.arrays import Levels
from spread.posterior.dynamics import LEVELS, Floats, Network
from spread.posterior.looks import GRADE_OF_NOTHING
from spread.posterior.seeing import FIRST_ODDS, HEAVY, LIGHT, OF_NOTHING, REPORTED, SILENT, Names, Seeing
from spread.trade import detection
from spread.trade.seeing import NEVER_FACTOR

QUARTER = 13
"""Weeks of a quarter, counted back from the last week."""
AFTER = 3
"""Weeks within which a look answers a complaint or an alert."""
BESIDE = 13
"""Weeks that a find next door counts for."""


class Check(NamedTuple):
    """One count of the log and what was expected.

    Parameters
    ----------
    kind
        ``complaints``, ``method``, ``person``, ``after-complaint``, ``after-alert``, ``beside-find`` or
        ``grade``.
    whose
        The method or the person; for complaints the week after the quarter, counted from the window's first.
    seen
        The count.
    expected, spread
        Its mean and standard deviation over paths and chance.
    trials
        Looks, or weeks, that it is out of.
    """

    kind: str
    whose: str
    seen: float
    expected: float
    spread: float
    trials: int

    @property
    def surprise(self) -> float:
        """Standard deviations from what was expected, on the square-root scale that makes small counts fair.

        Anscombe 1948, Biometrika 35:246-254, from memory; scaled where the spread is not a Poisson count's.
        """
        off = 2.0 * (np.sqrt(self.seen + 0.375) - np.sqrt(self.expected + 0.375))
        return float(off * np.sqrt(self.expected) / max(self.spread, 1e-9))


class Counts(NamedTuple):
    """What is counted: looks by group, and the unit-weeks of each quarter."""

    groups: tuple[tuple[str, str, NDArray[np.bool_]], ...]
    quarters: tuple[tuple[str, slice], ...]


def counts_of(g: Seeing, names: Names, network: Network) -> Counts:
    """Return what of a log is counted.

    Parameters
    ----------
    g, names
        The log as the steps read it.
    network
        Contacts.
    """
    unit, week, found = g.look_unit, g.look_week, g.look_found
    groups = [("method", name, g.look_method == k) for k, name in enumerate(names.methods)]
    groups += [("person", name, g.look_who == k) for k, name in enumerate(names.people)]
    weeks = g.silence.shape[1]
    reported = _held(g.silence == REPORTED, AFTER)
    alerts, finds = np.zeros((2, *g.silence.shape), dtype=bool)
    alerts[unit[found & (g.look_team >= 0)], week[found & (g.look_team >= 0)]] = True
    finds[unit[found & (g.look_team < 0)], week[found & (g.look_team < 0)]] = True
    beside = np.zeros_like(finds)
    for i in range(network.size):
        near = network.indices[network.indptr[i] : network.indptr[i + 1]]
        beside[i] = finds[near].any(axis=0)
    beside = np.pad(_held(beside, BESIDE), ((0, 0), (1, 0)))[:, :weeks]
    dog = g.look_team >= 0
    groups.append(("after-complaint", "", reported[unit, week] & ~dog))
    groups.append(("after-alert", "", _held(alerts, AFTER)[unit, week] & ~dog))
    groups.append(("beside-find", "", beside[unit, week] & ~dog))
    ends = range(weeks, 0, -QUARTER)
    quarters = [(str(end), slice(max(0, end - QUARTER), end)) for end in ends]
    return Counts(tuple(groups), tuple(quarters))


def _held(flags: NDArray[np.bool_], weeks: int) -> NDArray[np.bool_]:
    """Return where a flag was up in this week or one of so many before."""
    held = flags.copy()
    for back in range(1, weeks + 1):
        held[:, back:] |= flags[:, :-back]
    return held


def expectations(g: Seeing, counts: Counts, x: Levels, tail: Floats) -> Floats:
    """Return mean and variance of every count given one path and its parameters, shape (counts, 2).

    Parameters
    ----------
    g, counts
        What is counted.
    x
        Shape (N, T).
    tail
        As in :mod:`spread.posterior.seeing`.
    """
    n = len(x)
    methods = len(g.method_prior)
    level = x[g.look_unit, g.look_week]
    odds = tail[FIRST_ODDS + g.look_method]
    odds = np.where(g.look_who >= 0, odds * tail[FIRST_ODDS + methods + g.look_who], odds)
    false = np.where(g.look_team >= 0, tail[FIRST_ODDS + methods + g.people + g.look_team], 1.0)
    odds = np.where(level == 0, false, odds)
    chance = g.look_chance[np.arange(len(level)), level]
    found = odds * chance / (1.0 - chance + odds * chance)
    found = (1.0 - g.look_copied[:, 0]) * found + g.look_copied.prod(axis=1)
    rows = [(found[mask].sum(), (found * (1.0 - found))[mask].sum()) for _, _, mask in counts.groups]
    graded = g.look_grade >= 0
    high = np.concatenate([[GRADE_OF_NOTHING[2:].sum()], detection.GRADE_GIVEN_LEVEL[:, 2:].sum(axis=1)])
    p = high[level[graded]]
    rows.append((p.sum(), (p * (1.0 - p)).sum()))
    factor = np.array([tail[OF_NOTHING], tail[LIGHT], tail[LIGHT], tail[HEAVY], tail[HEAVY]])
    report = (g.report * factor)[x]
    report = np.where((tail[-2 * n : -n] > 0)[:, None] & (x > 0), report * NEVER_FACTOR, report)
    report = np.where(g.silence > 0, np.minimum(report, 0.9), 0.0)
    rows += [(report[:, span].sum(), (report * (1.0 - report))[:, span].sum()) for _, span in counts.quarters]
    return np.array(rows, dtype=np.float64)


def checks_of(g: Seeing, counts: Counts, drawn: Floats) -> tuple[Check, ...]:
    """Return every count of the log against what was expected.

    Parameters
    ----------
    g, counts
        What is counted.
    drawn
        Shape (paths, counts, 2), of :func:`expectations`.
    """
    mean = drawn[:, :, 0].mean(axis=0)
    spread = np.sqrt(drawn[:, :, 1].mean(axis=0) + drawn[:, :, 0].var(axis=0))
    rows = [
        (kind, whose, float(g.look_found[mask].sum()), int(mask.sum())) for kind, whose, mask in counts.groups
    ]
    rows.append(("grade", "", float((g.look_grade >= 2).sum()), int((g.look_grade >= 0).sum())))
    for name, span in counts.quarters:
        silence = g.silence[:, span]
        rows.append(("complaints", name, float((silence == REPORTED).sum()), int((silence >= SILENT).sum())))
    return tuple(
        Check(kind, whose, seen, float(mean[k]), float(spread[k]), trials)
        for k, (kind, whose, seen, trials) in enumerate(rows)
        if trials
    )


assert LEVELS == 5, "readiness to report is written out for five levels"

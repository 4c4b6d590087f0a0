"""How well a look finds bugs, how often it cries wolf, and how often residents report."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np

from spread.errors import SpreadError
from spread.trade.arrays import FloatArray, centrals
from spread.trade.methods import false_finds
from spread.trade.methods.rows import Look, Monitor
from spread.trade.registry import LOOKING, MONITORS
from spread.trade.sources import Sourced, judged, sourced_row

_W16 = "Wang et al. 2016, J Med Entomol 53:639"

_CEILING = 0.99


def sensitivity(method: str, days: float | None = None) -> FloatArray:
    """Return the chance that a method finds something, by true level.

    Raises SpreadError for an unknown method or a period that is not longer than nothing.

    Returned: shape (5,), in the order of the levels; 0 for clear (see :func:`false_positive`).

    Parameters
    ----------
    method : One of :data:`spread.trade.registry.LOOKING`
    days
        Length of a monitor period; None is the nominal one. Between lengths the hazard of a first catch
        is constant: ``1 - (1 - s) ** (days / nominal)``, capped. Ignored for a look.
    """
    row = _row(method)
    found = centrals(row.sensitivity)
    if isinstance(row, Monitor):
        period = row.nominal_days if days is None else float(days)
        if not period > 0:
            raise SpreadError(
                f"A monitor period of {days} days; expected more than 0; write how long it stood."
            )
        found = 1.0 - (1.0 - found) ** (period / row.nominal_days)
        found = np.minimum(found, np.array(row.caps))
    return np.concatenate(([0.0], np.minimum(found, _CEILING)))


def _row(method: str) -> Look:
    if method not in LOOKING:
        raise SpreadError(f"The method {method!r} is not known; expected one of {', '.join(LOOKING)}.")
    return LOOKING[method]


FALSE_POSITIVE = MappingProxyType(
    {
        "seen": false_finds.SEEN,
        "caught": false_finds.CAUGHT,
        "signs": false_finds.SIGNS,
        "old signs": false_finds.OLD_SIGNS,
        "dead": false_finds.DEAD,
        "alert": false_finds.ALERT,
        "bites": false_finds.BITES,
        "said": false_finds.SAID,
    }
)
"""Chance of a positive in a clear unit, by what was accepted as positive."""


def _evidence_kind(sign: str, method: str, treated_before: bool) -> str:
    if sign in ("live", "eggs"):
        return "caught" if method in MONITORS else "seen"
    if sign in ("skins", "stains"):
        return "old signs" if treated_before else "signs"
    return sign


def false_positive(method: str, evidence: frozenset[str], treated_before: bool) -> float:
    """Return the chance that a clear unit gives this positive: one minus the specificity.

    The strongest evidence named decides. A word at an interview is never better than hearsay.

    Raises SpreadError for an unknown method or an unknown word of evidence.

    Parameters
    ----------
    method : One of :data:`spread.trade.registry.LOOKING`
    evidence
        Any of live, eggs, skins, stains, dead, alert, bites; empty takes the method's usual rule (a live
        bug seen, a bug caught, the dog's alert, the resident's word).
    treated_before : Whether the unit was treated earlier, so that skins and stains may be old
    """
    row = _row(method)
    unknown = sorted(evidence - {"live", "eggs", "skins", "stains", "dead", "alert", "bites"})
    if unknown:
        raise SpreadError(
            f"The evidence {', '.join(unknown)!r} is not known; expected live, eggs, skins, ... ."
        )
    if not evidence:
        return row.false_find.central
    kinds = [_evidence_kind(sign, method, treated_before) for sign in evidence]
    chance = min(FALSE_POSITIVE[kind].central for kind in kinds)
    return max(chance, row.false_find.central) if row.hearsay else chance


SAME_DAY = judged(
    0.8,
    0.5,
    0.95,
    "share of looks that repeat the answer before",
    "judgement: nothing has moved within the day, and what could not be reached cannot be reached again",
)
"""How surely a look repeats another of the same day, unit and sense."""
SAME_PERSON = judged(
    0.4,
    0.1,
    0.7,
    "share of looks that repeat the answer before",
    "judgement: one person looks in the same places; no study of repeated looks was found",
)
"""How surely a look repeats another by the same person within :data:`SAME_PERSON_DAYS`."""
SAME_PERSON_DAYS = 14

UNSURE = sourced_row(
    (0.05, 0.10, 0.10, 0.10, 0.10),
    (0.02, 0.02, 0.02, 0.02, 0.02),
    (0.09, 0.30, 0.30, 0.30, 0.30),
    unit="chance of an unsure answer",
    source="judgement; only dead bugs in 2 and 9 % of units: Vail and Chandler 2017, ICUP abstract 1471",
    confidence="C",
    kind="judged",
)


def unsure_chance() -> FloatArray:
    """Return the chance that a look ends unsure, by true level, shape (5,)."""
    return centrals(UNSURE)


SIGNS_ONLY = sourced_row(
    (0.70, 0.50, 0.25, 0.10),
    (0.40, 0.25, 0.10, 0.02),
    (0.90, 0.75, 0.50, 0.30),
    unit="chance, given a find written down item by item",
    source=(
        "judgement: live bugs are hard to see at a low level (NPMA Best Management Practices 2016, 9.3); "
        "a third of finds pooled, as only dead bugs in 2 of 10 and 9 of 20 units with any in monitors "
        "(Vail and Chandler 2017, Int. Conf. Urban Pests 1471)"
    ),
    confidence="C",
    kind="judged",
)
"""Chance that a find shows signs but no live bug and no viable egg, by true level: trace to heavy."""


def signs_only_chance() -> FloatArray:
    """Return the chance that a find shows signs only, by true level from trace to heavy, shape (4,)."""
    return centrals(SIGNS_ONLY)


GRADE_GIVEN_LEVEL: FloatArray = np.array(
    [[0.85, 0.12, 0.025, 0.005], [0.35, 0.52, 0.11, 0.02], [0.10, 0.30, 0.48, 0.12], [0.03, 0.12, 0.30, 0.55]]
)
"""Chance of each reported grade (columns trace to heavy) given the true level (rows trace to heavy) and
a find. Judgement, confidence C: graders see part of the bugs, so they count too few more often than
too many."""
GRADE_GIVEN_LEVEL.flags.writeable = False

_NOTICING = (
    "joint fit of 2026 (docs/evidence.md), factors on half of the noticing chances 0.02, 0.05 and 0.10; the "
    "range is judgement"
)
REPORT_CHANCE = (
    Sourced(
        0.0005, 0.0002, 0.0014, "chance per week",
        "15 of 22 inspected reports confirmed (Wu et al. 2014, doi 10.4269/ajtmh.13-0714), against true "
        "reports at 5 % of units infested; the high end is at 12.3 %", "C",
    ),
    *sourced_row(
        (0.0053, 0.011, 0.028, 0.057),
        (0.0011, 0.0033, 0.011, 0.023),
        (0.011, 0.022, 0.056, 0.11),
        unit="chance per week",
        source=_NOTICING,
        confidence="C",
        kind="fitted",
    ),
)  # fmt: skip


def report_chance() -> FloatArray:
    """Return the weekly chance that an occupied unit's resident reports bugs, by true level, shape (5,)."""
    return centrals(REPORT_CHANCE)


VACANT_REPORT_CHANCE = sourced_row(
    (0.00001, 0.0001, 0.0002, 0.0005, 0.001),
    (0.0, 0.0, 0.0, 0.0, 0.0),
    (0.0001, 0.0005, 0.001, 0.002, 0.005),
    unit="chance per week",
    source="judgement: only staff or a neighbour can report an empty unit",
    confidence="C",
    kind="judged",
)


def vacant_report_chance() -> FloatArray:
    """Return the weekly chance that a vacant unit is reported, by true level, shape (5,)."""
    return centrals(VACANT_REPORT_CHANCE)


BITES_ONLY_FACTOR = judged(
    4.0, 2.0, 8.0, "multiplier", "judgement: many other things bite or itch (doi 10.4269/ajtmh.12-0493)"
)
LIVE_FACTOR = judged(0.2, 0.05, 0.5, "multiplier", "judgement: a bug in hand is seldom mistaken")


def report_false_factor(evidence: frozenset[str]) -> float:
    """Return by what to multiply a clear unit's chance of a report, given what the report names.

    ``evidence``: words of evidence of the report; empty when it names none.
    """
    if "live" in evidence:
        return LIVE_FACTOR.central
    return BITES_ONLY_FACTOR.central if evidence == {"bites"} else 1.0


LIKELIHOOD_FLOOR = 0.002
"""Least likelihood that any record is given at any level. Logs hold wrong door numbers, wrong days and
mixed-up samples, about two in a thousand (judgement, confidence C); and with it records that
contradict one another never make the posterior undefined."""

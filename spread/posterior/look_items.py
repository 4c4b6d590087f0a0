"""What the items of a look add to its likelihood: where a bug was, what was only a sign, which traps stood.

A look without items is read as before, from its words alone. Items say more, because whoever wrote
them looked at each and wrote down what was there:

- signs without a live bug or viable egg are likelier the fewer bugs there are
  (:data:`~spread.trade.detection.SIGNS_ONLY`); in a clear unit they are a false positive of their own
  kind, more often so where the unit was treated before;
- a live bug in a trap is a catch, a little more often a stray than one seen where bugs rest;
- a trap that was displaced or missing caught nothing because it was not there (common practice, no
  source): a clean period counts for the share of traps that stood.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spread.posterior.dynamics import Floats
from spread.records.kinds import Finding, Record
from spread.trade import detection
from spread.trade.registry import BY_EYE, HEARSAY, MONITORS

TRAPS = {row.item: key for key, row in MONITORS.items() if row.item}
TRAP_ITEMS = tuple(TRAPS)  #: Items of the room sheet that are traps
GONE = ("displaced", "missing")  #: States of a trap that did not stand
ACTIVE = frozenset({"live", "eggs"})


def false_positive(record: Record, treated_before: bool) -> float:
    """Return the chance that a clear unit gives what the items show: that of the strongest item.

    Falls back on the words of the record where the items name no sign.
    """
    chances = [
        detection.false_positive(_method_at(one, record.method), one.evidence, treated_before)
        for one in record.items
        if one.evidence
    ]
    words = detection.false_positive(record.method, record.evidence, treated_before)
    return min(chances) if chances else words


def _method_at(one: Finding, method: str) -> str:
    """Return what found the signs at one item: a trap catches whoever looks into it, and however."""
    in_trap = method not in MONITORS and method not in HEARSAY
    return TRAPS.get(one.item, method) if in_trap else method


def signs_factor(record: Record) -> Floats:
    """Return P(only signs, or a live bug or egg as well | find, level), shape (levels,); 1 for clear.

    1 at every level for other methods than a visual look, and where the items name no sign that could
    tell: an alert, a bite.
    """
    if record.method not in BY_EYE:
        return np.ones(len(detection.signs_only_chance()) + 1)
    signs = frozenset().union(*(one.evidence for one in record.items))
    alone = np.concatenate(([0.0], detection.signs_only_chance()))
    if signs & ACTIVE:
        return 1.0 - alone
    if signs & {"skins", "stains", "dead"}:
        alone[0] = 1.0
        return alone
    return np.ones(len(alone))


def standing_share(items: Sequence[Finding]) -> float:
    """Return the share of the listed traps that stood through the period; 1 where none is listed."""
    traps = [one for one in items if one.item in TRAP_ITEMS]
    if not traps:
        return 1.0
    return sum(one.state not in GONE for one in traps) / len(traps)

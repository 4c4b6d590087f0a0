"""From what was seen in a room to a level, with the facts behind it; the technician has the last word.

Count classes: trace 1-3 live bugs or one cluster of signs, low 4-12, moderate 13-50, heavy more
(:data:`spread.trade.biology.COUNT_CLASSES`), the count being bugs seen and those caught in 14 days.
What a sign says about now (NPMA Best Management Practices 2016, 9.3-9.4): a live bug or a viable egg
is an infestation; cast skins and stains are past or present, and are taken for present only where the
unit was never treated; a dead bug, a bite or a dog's alert decides nothing.
"""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from spread.errors import Problem, told
from spread.facts import Fact
from spread.records.items import bugs_counted, signs_of
from spread.records.kinds import Finding, Record
from spread.records.sense import meant
from spread.trade import biology

ACTIVE = ("live", "eggs")  #: Signs of bugs that live there now
OLD = ("skins", "stains")  #: Signs of bugs that live there or lived there
LIGHT_LIMIT = 30
"""Fewest bugs that a trial no longer called a light infestation (Singh et al. 2013,
doi 10.3390/insects4040731)."""


@dataclass(frozen=True, slots=True)
class Proposal(Fact):
    """What findings amount to, and what they are."""

    found: str  #: ``yes``, ``no`` or ``unsure``, for the record
    level: str  #: Proposed level; empty where nothing decides one
    bugs: int  #: Live bugs counted, caught ones included; at least so many
    signs: frozenset[str]  #: Every sign seen
    items: int  #: Items looked at
    counted: int = 0  #: Live bugs that somebody counted, caught ones included
    #: uncounted, eggs: Items with live bugs that nobody counted, and items with viable eggs and no live bug
    uncounted: int = 0
    eggs: int = 0
    #: Items with skins or stains, one each, where no live bug and no viable egg was seen
    clusters: tuple[str, ...] = ()
    treated_on: dt.date | None = None  #: The last treatment before this look; None for a unit never treated


def propose_level(
    items: Sequence[Finding], *, treated_on: dt.date | None = None, caught: int = 0
) -> Proposal:
    """Return the level that findings propose.

    A live bug that nobody counted counts as one, and so does an item with viable eggs and no live bug.
    Signs of skins and stains make a trace, more than one cluster of them a low (judgement); in a unit
    that was treated they make none, because they may be left from before.

    ``items``: what was seen, item by item; ``treated_on``: the last treatment before this look; None for a
    unit never treated; ``caught``: live bugs in traps of the last 14 days that the items do not list.
    """
    signs, looked = signs_of(items), len(items)
    counted = (bugs_counted(items) or 0) + caught
    uncounted = sum("live" in one.evidence and (one.count is None or one.stage == "eggs") for one in items)
    eggs = sum("eggs" in one.evidence and "live" not in one.evidence for one in items)
    if bugs := counted + uncounted + eggs:
        level = biology.LEVEL_NAMES[biology.level_of_count(bugs)]
        return Proposal("yes", level, bugs, signs, looked, counted, uncounted, eggs)
    clusters = tuple(one.item for one in items if one.evidence & frozenset(OLD))
    if clusters and treated_on is None:
        level = "trace" if len(clusters) == 1 else "low"
        return Proposal("yes", level, 0, signs, looked, clusters=clusters)
    found = "unsure" if signs else "no"
    return Proposal(found, "", 0, signs, looked, clusters=clusters, treated_on=treated_on)


def propose_for(
    items: Sequence[Finding], records: Sequence[Record], when: dt.date, *, caught: int | None = None
) -> Proposal:
    """Return the level that findings of a day propose in a unit with this past.

    Parameters
    ----------
    items : What was seen that day
    records : The unit's current records, in any order
    when
        The day of the look. Treatments before it count, and so do bugs caught in monitor periods that
        ended in the 14 days before it.
    caught : Bugs caught, in place of those of the records
    """
    treatments = [row.when for row in records if row.kind == "treatment" and row.when < when]
    if caught is None:
        last = max(treatments, default=dt.date.min)
        caught = sum(
            row.count or 0
            for row in records
            if row.kind == "monitor" and row.found == "yes"
            and dt.timedelta(0) <= when - row.when <= dt.timedelta(days=14) and row.when > last
            and (not row.evidence or row.evidence & frozenset(ACTIVE))
        )  # fmt: skip
    return propose_level(items, treated_on=max(treatments, default=None), caught=caught)


def strange_items(
    items: Sequence[Finding], codes: Collection[str], *, file: str = "new row"
) -> list[Problem]:
    """Return a problem for every item that the room sheet does not have.

    ``items``: findings as written down; ``codes``: codes of the room sheet; ``file``: how messages name where
    they stand.
    """
    problems = []
    for code in dict.fromkeys(one.item for one in items if one.item not in codes):
        near = difflib.get_close_matches(code, codes, n=1)
        fix = meant(near) if near else told("use a code of the room sheet (spread room)")
        what = told("the room sheet has no item {item}", item=repr(code))
        problems.append(Problem(file, told("field {name}", name="'items'"), what, fix))
    return problems

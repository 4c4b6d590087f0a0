"""From what was seen in a room to a level, with the reason in words; the technician has the last word.

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

from spread.errors import Problem
from spread.records.items import bugs_counted, signs_of
from spread.records.kinds import Finding, Record
from spread.records.words import EVIDENCE_WORDS
from spread.trade import biology
from spread.weeks import speak_date

ACTIVE = ("live", "eggs")
"""Signs of bugs that live there now."""
OLD = ("skins", "stains")
"""Signs of bugs that live there or lived there."""
LIGHT_LIMIT = 30
"""Fewest bugs that a trial no longer called a light infestation (Singh et al. 2013,
doi 10.3390/insects4040731)."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What findings amount to.

    Parameters
    ----------
    found
        ``yes``, ``no`` or ``unsure``, for the record.
    level
        Proposed level; empty where nothing decides one.
    bugs
        Live bugs counted, caught ones included; at least so many.
    signs
        Every sign seen.
    words
        Why, in a sentence or two.
    """

    found: str
    level: str
    bugs: int
    signs: frozenset[str]
    words: str


def propose_level(
    items: Sequence[Finding], *, treated_on: dt.date | None = None, caught: int = 0
) -> Proposal:
    """Return the level that findings propose.

    A live bug that nobody counted counts as one, and so does an item with viable eggs and no live bug.
    Signs of skins and stains make a trace, more than one cluster of them a low (judgement); in a unit
    that was treated they make none, because they may be left from before.

    Parameters
    ----------
    items
        What was seen, item by item.
    treated_on
        The last treatment before this look; None for a unit never treated.
    caught
        Live bugs in traps of the last 14 days that the items do not list.
    """
    signs = signs_of(items)
    counted = bugs_counted(items) or 0
    uncounted = sum("live" in one.evidence and (one.count is None or one.stage == "eggs") for one in items)
    eggs = sum("eggs" in one.evidence and "live" not in one.evidence for one in items)
    bugs = counted + uncounted + caught
    if bugs or eggs:
        return _active(bugs, eggs, counted + caught, signs)
    clusters = [one for one in items if one.evidence & frozenset(OLD)]
    if clusters:
        return _old(clusters, treated_on, signs)
    looked = f"{len(items)} item{'' if len(items) == 1 else 's'}"
    if signs:
        return Proposal(
            "unsure", "", 0, signs,
            f"Only {_signs(signs)}: that decides nothing. Look for live bugs and eggs, or set traps.",
        )  # fmt: skip
    return Proposal("no", "", 0, signs, f"Nothing seen at {looked}; one look does not clear a unit.")


def _active(bugs: int, eggs: int, counted: int, signs: frozenset[str]) -> Proposal:
    number = bugs + eggs
    level = biology.LEVEL_NAMES[biology.level_of_count(number)]
    low, high = biology.COUNT_CLASSES[biology.LEVEL_NAMES.index(level) - 1]
    span = f"more than {low - 1}" if high is None else f"{low} to {high}"
    parts = [] if not counted else [f"{counted} live bug{'' if counted == 1 else 's'} counted"]
    if bugs > counted:
        rest = bugs - counted
        parts.append(f"live bugs not counted at {rest} item{'' if rest == 1 else 's'}")
    if eggs:
        parts.append(f"viable eggs at {eggs} item{'' if eggs == 1 else 's'}")
    words = f"{' and '.join(parts)}: {level} is {span}."
    words = words[0].upper() + words[1:]
    if bugs > counted or eggs:
        words += " What was not counted is taken as one each, so it may be more."
    if level == "moderate":
        side = "fewer" if number < LIGHT_LIMIT else "not fewer"
        words += f" One trial calls fewer than {LIGHT_LIMIT} a light infestation; here it is {side}."
    return Proposal("yes", level, number, signs, words)


def _old(clusters: Sequence[Finding], treated_on: dt.date | None, signs: frozenset[str]) -> Proposal:
    where = ", ".join(dict.fromkeys(one.item.replace("-", " ") for one in clusters))
    seen = f"No live bug and no viable egg, but {_signs(signs)} at {where}"
    if treated_on is not None:
        return Proposal(
            "unsure", "", 0, signs,
            f"{seen}. The unit was treated on {speak_date(treated_on)}, so they may be old: past or "
            "present. They count for less than live bugs and propose no level; look for live bugs and "
            "eggs, wipe the spots away so that new ones show, and check the traps.",
        )  # fmt: skip
    level = "trace" if len(clusters) == 1 else "low"
    many = "one cluster of signs" if len(clusters) == 1 else f"{len(clusters)} clusters of signs"
    return Proposal(
        "yes", level, 0, signs,
        f"{seen}. The unit was never treated, so they are taken for present: {many}, {level}.",
    )  # fmt: skip


def _signs(signs: Collection[str]) -> str:
    return " and ".join(EVIDENCE_WORDS[sign] for sign in EVIDENCE_WORDS if sign in signs)


def propose_for(
    items: Sequence[Finding], records: Sequence[Record], when: dt.date, *, caught: int | None = None
) -> Proposal:
    """Return the level that findings of a day propose in a unit with this past.

    Parameters
    ----------
    items
        What was seen that day.
    records
        The unit's current records, in any order.
    when
        The day of the look. Treatments before it count, and so do bugs caught in monitor periods that
        ended in the 14 days before it.
    caught
        Bugs caught, in place of those of the records.
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

    Parameters
    ----------
    items
        Findings as written down.
    codes
        Codes of the room sheet.
    file
        How messages name where they stand.
    """
    problems = []
    for code in dict.fromkeys(one.item for one in items if one.item not in codes):
        near = difflib.get_close_matches(code, codes, n=1)
        fix = f"write {near[0]!r} if that is meant" if near else "use a code of the room sheet (spread room)"
        problems.append(Problem(file, "field 'items'", f"the room sheet has no item {code!r}", fix))
    return problems

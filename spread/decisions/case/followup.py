"""From a find to the end of the watch: where each unit stands, what clearance lacks, when to come back.

Cleared asks for both: the records of the clearance rule, and the model's chance at or below a threshold on
the day. What neither a record nor a chance can say is that no bug is left: "cleared" means that the rule of
the house was met.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from spread.decisions.case.clearance import Count, Lack, count_of
from spread.decisions.case.visits import Visit, visit_after
from spread.decisions.standing import Standing, standing_of
from spread.decisions.words import as_percent, joined, number_words
from spread.records.kinds import Record
from spread.trade.clearance import NEVER, ClearanceRule
from spread.weeks import speak_date

__all__ = (
    "IN_FOLLOWUP",
    "NEVER",
    "STATES",
    "FollowUp",
    "followup_data",
    "followup_of",
)

STATES = ("looked-for", "infested", "under treatment", "clearing", "not cleared", "cleared", "watch over")
"""States of a unit. It goes through them in this order, save that ``not cleared`` is where a unit ends that
had two clear looks and no monitor period: it is a door to look at again and has no visit window."""
IN_FOLLOWUP = ("infested", "under treatment", "clearing", "cleared")
"""States in which somebody has to come again."""


@dataclass(frozen=True, slots=True)
class FollowUp:
    """Where one unit is between a find and the end of the watch.

    Parameters
    ----------
    unit
        Unit code.
    state
        One of :data:`STATES`.
    title
        The state with its figures, such as ``clearing (2 of 3)``.
    words
        Sentences: where it stands, what it lacks, when to come. They can be shown as they are.
    since, since_words
        The last sign, from which everything is counted; None and empty where nothing was ever known.
    periods, needed
        Clean monitor periods since then, and how many are asked for.
    looks, looks_needed
        Clean looks by eye, and how many are asked for.
    chance, threshold
        The model's chance on the day, and the most that clearance allows.
    lacks
        What clearance still asks for; empty when cleared, and where nothing is known.
    notes
        What was not counted, and why.
    met_on
        The day from which the records have all that the rule asks for, or None.
    watch_until
        Last day of the watch, or None.
    visit
        The next visit, or None.
    """

    unit: str
    state: str
    title: str
    words: tuple[str, ...]
    since: dt.date | None
    since_words: str
    periods: int
    needed: int
    looks: int
    looks_needed: int
    chance: float
    threshold: float
    lacks: tuple[Lack, ...]
    notes: tuple[str, ...]
    met_on: dt.date | None
    watch_until: dt.date | None
    visit: Visit | None

    @property
    def status(self) -> str:
        """What the unit is on the lists: ``treat``, ``revisit`` or ``look``.

        Every list, count and round goes by this one. A unit is to be revisited while it is treated and on
        its way to clearance, and when a visit of the watch is due; it is a door to look at otherwise.
        """
        if self.state == "infested":
            return "treat"
        if self.state in ("under treatment", "clearing"):
            return "revisit"
        watched = self.state == "cleared" and self.visit is not None and self.visit.status != "coming"
        return "revisit" if watched else "look"


def followup_of(
    records: Sequence[Record],
    unit: str,
    on: dt.date,
    chance: float,
    rule: ClearanceRule | None = None,
    *,
    settled: bool = True,
) -> FollowUp:
    """Return where a unit is between a find and the end of the watch.

    Parameters
    ----------
    records
        The unit's current records (``log.of(unit)``), in any order; those after ``on`` are left out.
    unit
        Unit code.
    on
        The day.
    chance
        The model's chance of infestation on that day.
    rule
        The clearance rule; the default one if None.
    settled
        Whether the chains of the fit agree; a chance that is not settled clears nothing.
    """
    rule = rule or ClearanceRule()
    rows = [r for r in records if r.when <= on]
    standing = standing_of(rows, on)
    count = count_of(rows, on, rule)
    if count is None:
        return _looked_for(unit, standing, chance, rule)
    lacks = (*count.lacks, *_chance_lacks(chance, rule, settled))
    until = None if count.met_on is None else _months_later(count.met_on, rule.watch_months)
    state = _state(rows, standing, count, lacks, until, on, rule)
    visit = (
        None
        if state == "looked-for" and not count.lacks
        else visit_after(count, state, rows, on, rule, until)
    )
    made = FollowUp(
        unit=unit,
        state=state,
        title=_title(state, count, until),
        words=(),
        since=count.since,
        since_words=count.since_words,
        periods=len(count.periods),
        needed=count.needed,
        looks=len(count.looks),
        looks_needed=rule.looks,
        chance=chance,
        threshold=rule.chance,
        lacks=lacks,
        notes=count.notes,
        met_on=count.met_on,
        watch_until=until if state in ("cleared", "watch over") else None,
        visit=visit,
    )
    return replace(made, words=_words(made, count, standing, rule))


def followup_data(one: FollowUp) -> dict[str, Any]:
    """Return a follow-up ready for JSON: days as text."""
    return {key: _plain(value) for key, value in asdict(one).items()}


def _plain(value: Any) -> Any:  # noqa: ANN401
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    return [_plain(part) for part in value] if isinstance(value, tuple | list) else value


def _state(
    rows: Sequence[Record],
    standing: Standing,
    count: Count,
    lacks: Sequence[Lack],
    until: dt.date | None,
    on: dt.date,
    rule: ClearanceRule,
) -> str:
    if standing.status == "treat":
        return "infested"
    over = until is not None and on > until
    if not lacks:
        return "watch over" if over else "cleared"
    if over or (not count.periods and _closed_before(rows, count, rule)):
        # A follow-up that was closed once is not opened again by a chance that crept up: that is what
        # the list of doors is for. A new sign opens it, and asks for a look first.
        return "looked-for"
    if count.periods:
        return "clearing"
    # Without monitors a unit cannot be cleared; after two clear looks it is looked at as any other door,
    # and no window runs that nobody means to keep.
    return "not cleared" if standing.status == "look" else "under treatment"


def _closed_before(rows: Sequence[Record], count: Count, rule: ClearanceRule) -> bool:
    """Return whether the records had met the rule before the sign from which the count began anew."""
    if count.sign in ("find", "treatment"):
        return False
    before = count.since - dt.timedelta(days=1)
    earlier = count_of(rows, before, rule)
    return earlier is not None and earlier.met_on is not None


def _chance_lacks(chance: float, rule: ClearanceRule, settled: bool) -> tuple[Lack, ...]:
    if not settled:
        return (Lack("figures", "a chance that is settled: the chains of the fit do not agree yet"),)
    if chance <= rule.chance:
        return ()
    now, most = as_percent(chance, 1), as_percent(rule.chance, 1)
    return (Lack("chance", f"a chance of {most} or less (the model says {now})"),)


def _looked_for(unit: str, standing: Standing, chance: float, rule: ClearanceRule) -> FollowUp:
    words = ["No find and no treatment is on record, so there is nothing to follow up."]
    if standing.last_look is not None:
        words.append("That does not say that it is clear.")
    return FollowUp(
        unit=unit,
        state="looked-for",
        title="looked-for",
        words=tuple(words),
        since=None,
        since_words="",
        periods=0,
        needed=rule.periods,
        looks=0,
        looks_needed=rule.looks,
        chance=chance,
        threshold=rule.chance,
        lacks=(),
        notes=(),
        met_on=None,
        watch_until=None,
        visit=None,
    )


def _title(state: str, count: Count, until: dt.date | None) -> str:
    if state == "clearing":
        return f"clearing ({min(len(count.periods), count.needed)} of {count.needed})"
    if state == "not cleared":
        return "not cleared, a door to look at"
    if state == "cleared" and until is not None:
        return f"cleared, watch until {speak_date(until)}"
    return state


def _words(one: FollowUp, count: Count, standing: Standing, rule: ClearanceRule) -> tuple[str, ...]:
    words = [_first(one, count, standing.clear_since)]
    if count.why_more:
        more = number_words(count.needed)
        words.append(f"It takes {more} clean periods and not {number_words(rule.periods)}: {count.why_more}.")
    if one.lacks and one.state != "looked-for":
        words.append(f"To be cleared it still lacks {joined([lack.words for lack in one.lacks])}.")
    if standing.vacant and one.state in IN_FOLLOWUP:
        words.append("It stands empty, which clears nothing: bugs wait for months.")
    if one.visit is not None:
        words.append(_visit_words(one.visit))
    return tuple(words)


def _first(one: FollowUp, count: Count, clear: int) -> str:
    have = f"{number_words(one.periods)} clean period{'' if one.periods == 1 else 's'}"
    eyes = f"{number_words(one.looks)} clean look{'' if one.looks == 1 else 's'} by eye"
    since = (
        f"Since {count.since_words}: {one.periods} of {one.needed} clean periods and "
        f"{one.looks} of {one.looks_needed} clean looks by eye."
    )
    if one.state in ("cleared", "watch over") and one.met_on and one.watch_until:
        told = f"Cleared by the rule of the house: {have} and {eyes} since {count.since_words}, "
        told += f"all on record by {speak_date(one.met_on)}, and a chance of {as_percent(one.chance, 1)}."
        end = "The watch ended" if one.state == "watch over" else "The watch runs until"
        return f"{told} {end} {speak_date(one.watch_until)}."
    if one.state == "infested" and count.found_on:
        return f"Known infested: found {speak_date(count.found_on)} and not treated since."
    if one.state == "looked-for" and one.met_on is not None:
        told = f"The records closed its follow-up on {speak_date(one.met_on)}, and the watch is over."
        chance = f"Its chance of {as_percent(one.chance, 1)} is above {as_percent(one.threshold)}"
        return f"{told} {chance}, so it is a door to look at like any other."
    if one.state == "looked-for":
        return f"It had all that the records need; {count.since_words} opens it again, so look first. {since}"
    if one.state == "not cleared":
        told = f"The log has {number_words(clear)} clear looks a fortnight apart, so it is a door to look at"
        return f"{told} like any other. That is not the same as cleared. {since}"
    return since


def _visit_words(visit: Visit) -> str:
    window = f"{speak_date(visit.earliest)} to {speak_date(visit.latest)}, best {speak_date(visit.target)}"
    late = {"overdue": "Overdue", "due": "Due now", "coming": "Next visit"}[visit.status]
    return f"{late}: {window}. {visit.words}"


def _months_later(day: dt.date, months: int) -> dt.date:
    """Return the same day of the month some months later, or the month's last day."""
    total = day.month - 1 + months
    year, month = day.year + total // 12, total % 12 + 1
    return dt.date(year, month, min(day.day, calendar.monthrange(year, month)[1]))

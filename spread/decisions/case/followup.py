"""From a find to the end of the watch: where each unit stands, what clearance lacks, when to come back.

Cleared asks for both: the records of the clearance rule, and the model's chance at or below a threshold on
the day. What neither a record nor a chance can say is that no bug is left: "cleared" means that the rule of
the house was met.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from spread.decisions.case.case import Case, case_of
from spread.decisions.case.clearance import Count, Lack, NotCounted, Sign, count_of
from spread.decisions.case.visits import STATUSES, Visit, is_visit, no_later, visit_after
from spread.decisions.standing import Standing, standing_of
from spread.facts import Fact
from spread.records.kinds import TRAP_STEPS, Record
from spread.trade.clearance import NEVER, ClearanceRule

__all__ = ("IN_FOLLOWUP", "NEVER", "STATES", "FollowUp", "followup_of")

STATES = ("looked-for", "infested", "under treatment", "clearing", "not cleared", "cleared", "watch over")
"""States of a unit. It goes through them in this order, save that ``not cleared`` is where a unit ends that
had two clear looks and no monitor period: it is a door to look at again and has no visit window."""
IN_FOLLOWUP = ("infested", "under treatment", "clearing", "cleared")
"""States in which somebody has to come again."""


@dataclass(frozen=True, slots=True)
class FollowUp(Fact):
    """Where one unit is between a find and the end of the watch."""

    unit: str  #: Unit code
    state: str  #: One of :data:`STATES`
    sign: Sign | None  #: The last sign, from which everything is counted; None where nothing was ever known
    looked_at: bool  #: Whether any look is on record
    vacant: bool  #: Whether the unit stands empty
    found_on: dt.date | None  #: The day of the last find, or None
    #: periods, needed, usual_periods: Clean monitor periods since the sign, how many are asked for, and how
    #: many usually are
    periods: int
    needed: int
    usual_periods: int
    why_more: tuple[str, ...]  #: Why more than the usual: ``heavy``, ``displaced``
    clear_looks: int  #: Clear looks a fortnight apart since the last find or treatment
    #: looks, looks_needed: Clean looks by eye, and how many are asked for
    looks: int
    looks_needed: int
    #: chance, threshold: The model's chance on the day, and the most that clearance allows
    chance: float
    threshold: float
    lacks: tuple[Lack, ...]  #: What clearance still asks for; empty when cleared, and where nothing is known
    notes: tuple[NotCounted, ...]  #: What was not counted
    met_on: dt.date | None  #: The day from which the records have all that the rule asks for, or None
    watch_until: dt.date | None  #: Last day of the watch, or None
    visit: Visit | None  #: The next visit, or None
    case: Case  #: Everything on record of it, with its dates and proof, and who must act

    @property
    def since(self) -> dt.date | None:
        """The day of the last sign; None where nothing was ever known."""
        return None if self.sign is None else self.sign.day

    @property
    def status(self) -> str:
        """What the unit is on the lists: ``treat``, ``revisit`` or ``look``.

        Every list, count and round goes by this one. A unit is to be revisited while it is treated and on
        its way to clearance, and when a visit of the watch is due, also where a sign has come since; it is a
        door to look at otherwise.
        """
        if self.state == "infested":
            return "treat"
        if self.state in ("under treatment", "clearing"):
            return "revisit"
        visit = self.visit
        if visit is None or visit.status == "coming":
            return "look"
        # A sign after clearance asks for a look; what was due before it stays due.
        kept = self.state == "looked-for" and (visit.before is not None or visit.kind == "next-visit")
        return "revisit" if self.state == "cleared" or kept else "look"


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
    records : The unit's current records (``log.of(unit)``), in any order; those after ``on`` are left out
    chance : The model's chance of infestation on that day
    rule : The clearance rule; the default one if None
    settled : Whether the chains of the fit agree; a chance that is not settled clears nothing
    """
    rule = rule or ClearanceRule()
    told = by_records(records, unit, on, rule, low=settled and chance <= rule.chance)
    return with_chance(told, chance, settled=settled)


def by_records(
    records: Sequence[Record], unit: str, on: dt.date, rule: ClearanceRule, *, low: bool
) -> FollowUp:
    """Return a follow-up that still lacks its chance (:func:`with_chance`).

    A visit that is owed stays owed, by the same day or an earlier one, whatever is written down that is no
    visit: a report after a late revisit leaves it late.

    Parameters
    ----------
    records, unit, on, rule
        As in :func:`followup_of`.
    low
        Whether the model's chance is settled and no more than clearance allows.
    """
    rows = sorted((r for r in records if r.when <= on), key=lambda r: (r.when, r.id))
    told = _by_rows(rows, unit, on, rule, low=low)
    seen = max((row.when for row in rows if is_visit(row)), default=None)
    if told.sign is None or seen is None:
        return told
    later = [row for row in rows if row.when >= seen and not is_visit(row) and _may_tell(row)]
    visit = told.visit
    for number in range(len(later)):
        gone = {row.id for row in later[number:]}
        earlier = _by_rows([row for row in rows if row.id not in gone], unit, on, rule, low=low)
        owed = earlier.visit
        if owed is not None:
            visit = owed if visit is None else no_later(visit, owed, on)
            if visit.before is None and earlier.status == "revisit" and told.state == "looked-for":
                visit = replace(visit, before=owed)  # it was on the lists already, and stays there
    return replace(told, visit=visit)


def _may_tell(row: Record) -> bool:
    """Whether a row that is no visit can change what a unit has towards clearance."""
    return row.is_complaint or row.is_look or row.method in TRAP_STEPS


def _by_rows(rows: Sequence[Record], unit: str, on: dt.date, rule: ClearanceRule, *, low: bool) -> FollowUp:
    """Return the follow-up by these rows alone, all of them up to the day."""
    standing = standing_of(rows, on)
    count, case = count_of(rows, on, rule), case_of(rows, unit, on, rule)
    if count is None:
        return _never(case, standing, rule)
    until = None if count.met_on is None else _months_later(count.met_on, rule.watch_months)
    state = _state(rows, standing, count, until, on, rule, lacks=bool(count.lacks) or not low)
    visit = (
        None
        if state == "looked-for" and not count.lacks
        else visit_after(count, state, rows, on, rule, until)
    )
    return FollowUp(
        unit=unit,
        state=state,
        sign=count.sign,
        looked_at=standing.last_look is not None,
        vacant=standing.vacant,
        found_on=count.found_on,
        periods=len(count.periods),
        needed=count.needed,
        usual_periods=rule.periods,
        why_more=count.why_more,
        clear_looks=standing.clear_since,
        looks=len(count.looks),
        looks_needed=rule.looks,
        chance=1.0,
        threshold=rule.chance,
        lacks=count.lacks,
        notes=count.notes,
        met_on=count.met_on,
        watch_until=until if state in ("cleared", "watch over") else None,
        visit=visit,
        case=case,
    )


def with_chance(told: FollowUp, chance: float, *, settled: bool) -> FollowUp:
    """Return a follow-up with the model's chance in it, and with what clearance lacks because of it."""
    lacks = told.lacks
    if told.sign is not None:
        lacks = (*lacks, *_chance_lacks(chance, told.threshold, settled))
    return replace(told, chance=chance, lacks=lacks)


def _never(case: Case, standing: Standing, rule: ClearanceRule) -> FollowUp:
    """Return the follow-up of a unit where nothing was ever found or treated."""
    return FollowUp(
        unit=case.unit,
        state="looked-for",
        sign=None,
        looked_at=standing.last_look is not None,
        vacant=standing.vacant,
        found_on=None,
        periods=0,
        needed=rule.periods,
        usual_periods=rule.periods,
        why_more=(),
        clear_looks=0,
        looks=0,
        looks_needed=rule.looks,
        chance=1.0,
        threshold=rule.chance,
        lacks=(),
        notes=(),
        met_on=None,
        watch_until=None,
        visit=None,
        case=case,
    )


def _state(
    rows: Sequence[Record],
    standing: Standing,
    count: Count,
    until: dt.date | None,
    on: dt.date,
    rule: ClearanceRule,
    *,
    lacks: bool,
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
    # and no window runs that nobody means to keep. Where monitors were read, somebody means to: a sign that
    # sets their periods back ends no follow-up.
    read = any(
        row.kind == "monitor" and row.method in rule.monitors for row in _since_treated(rows, standing)
    )
    return "under treatment" if read or standing.status != "look" else "not cleared"


def _since_treated(rows: Sequence[Record], standing: Standing) -> list[Record]:
    """Return the rows since the last find or treatment."""
    marks = [row.when for row in (standing.last_find, standing.last_treatment) if row is not None]
    return [row for row in rows if row.when > max(marks)]


def _closed_before(rows: Sequence[Record], count: Count, rule: ClearanceRule) -> bool:
    """Return whether the records had met the rule before the sign from which the count began anew."""
    if count.sign.kind in ("find", "treatment"):
        return False
    before = count.since - dt.timedelta(days=1)
    earlier = count_of(rows, before, rule)
    return earlier is not None and earlier.met_on is not None


def _chance_lacks(chance: float, most: float, settled: bool) -> tuple[Lack, ...]:
    if not settled:
        return (Lack("figures"),)
    return () if chance <= most else (Lack("chance", chance=chance, most=most),)


def _months_later(day: dt.date, months: int) -> dt.date:
    """Return the same day of the month some months later, or the month's last day."""
    total = day.month - 1 + months
    year, month = day.year + total // 12, total % 12 + 1
    return dt.date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def revisits(found: Iterable[FollowUp]) -> dict[str, list[tuple[FollowUp, Visit]]]:
    """Return the units to revisit with their visits, by its status; the earliest day to aim for first.

    The one place that the plan, the week, the rounds and the lists go by.
    """
    groups: dict[str, list[tuple[FollowUp, Visit]]] = {status: [] for status in STATUSES}
    for one in found:
        if one.status == "revisit" and one.visit is not None:
            groups[one.visit.status].append((one, one.visit))
    for group in groups.values():
        group.sort(key=lambda pair: (pair[1].target, pair[0].unit))
    return groups

"""The case of a unit: complaint, looks, treatments, notices and clearance as one thing, and who must act.

Whatever is said of a unit to anybody is said from its case and never from its last row: a last look that
could not tell says nothing about the bugs that were found before it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from spread.decisions.case.clearance import EPISODE_DAYS, count_of
from spread.decisions.case.failing import Failing, failing_of
from spread.decisions.case.visits import is_visit
from spread.decisions.standing import Standing, is_find, old_signs, standing_of, untreated_since
from spread.facts import Fact
from spread.records.kinds import Record, said_by
from spread.records.looked import seen_as
from spread.trade.clearance import ClearanceRule
from spread.trade.registry import BY_EYE, HEARSAY

STAGES = ("none", "asked", "infested", "open", "closed")
"""Where a case stands by its records: nothing was ever known; a sign that nobody has looked after; found
and not treated; treated, or found and looked at since, and not cleared; the records have all that the
clearance rule asks for."""


@dataclass(frozen=True, slots=True)
class Proof(Fact):
    """A row that proves something of a case: its day and id."""

    when: dt.date
    row: str


@dataclass(frozen=True, slots=True)
class Act(Fact):
    """What has to be done next, and by whom.

    Parameters
    ----------
    who
        ``office``, ``technician`` or ``firm``.
    what
        ``acknowledge``, ``look``, ``treat``, ``follow-up`` or ``watch``.
    since
        The day from which it is owed.
    """

    who: str
    what: str
    since: dt.date


@dataclass(frozen=True, slots=True)
class Case(Fact):
    """Everything that the records of a unit say of bed bugs in it on a day.

    Parameters
    ----------
    unit, on
        Unit code and day.
    stage
        One of :data:`STAGES`.
    opened
        The first sign of the case that is open; None where none is.
    complaint, find, treatment
        The latest of each.
    look
        The latest look that says something; a resident's word and a clean look without the sleeping places
        say nothing.
    outcome
        What that look found: ``find``, ``no``, ``unsure``; or empty.
    treatments
        Treatments since the first find of the case.
    acknowledged, entry_notice, result_notice
        The rows that say so, since the case was opened, or since the last look; None where there are none.
    periods, looks, needed_periods, needed_looks
        What clearance has, and asks for.
    acts
        Who must act.
    failing
        What does not work in its treatment; None where nothing says so, and in a closed case.
    """

    unit: str
    on: dt.date
    stage: str
    opened: dt.date | None
    complaint: Proof | None
    find: Proof | None
    treatment: Proof | None
    look: Proof | None
    outcome: str
    treatments: int
    acknowledged: Proof | None
    entry_notice: Proof | None
    result_notice: Proof | None
    periods: int
    looks: int
    needed_periods: int
    needed_looks: int
    acts: tuple[Act, ...]
    failing: Failing | None = None

    @property
    def calm(self) -> bool:
        """Whether nothing on record speaks of bugs: only then may a text say that none are known of."""
        return self.stage in ("none", "closed")


def case_of(records: Sequence[Record], unit: str, on: dt.date, rule: ClearanceRule | None = None) -> Case:
    """Return the case of a unit.

    Parameters
    ----------
    records
        The unit's current records, in any order.
    unit, on
        Unit code and day; later records are left out.
    rule
        The clearance rule; the default one if None.
    """
    rule = rule or ClearanceRule()
    rows = sorted((r for r in records if r.when <= on), key=lambda r: (r.when, r.id))
    standing, count = standing_of(rows, on), count_of(rows, on, rule)
    look, failing = _last_look(rows), failing_of(rows, on)
    stage = _stage(
        rows, standing, met=count is not None and count.met_on is not None, known=count is not None
    )
    signs = [
        r
        for r in rows
        if r.is_complaint or (r.is_look and r.found in ("yes", "unsure")) or r.kind == "treatment"
    ]
    opened = _opened(signs, stage)
    since = [r for r in rows if opened is not None and r.when >= opened]
    after_look = [r for r in rows if look is not None and r.when >= look.when]
    return Case(
        unit=unit,
        on=on,
        stage=stage,
        opened=opened,
        complaint=_proof(standing.last_report),
        find=_proof(standing.last_find),
        treatment=_proof(standing.last_treatment),
        look=_proof(look),
        outcome=""
        if look is None
        else "find"
        if is_find(look) and look.id not in old_signs(rows)
        else "no"
        if look.found == "no"
        else "unsure",
        treatments=sum(r.kind == "treatment" for r in since),
        acknowledged=_said(since, "acknowledged"),
        entry_notice=_said(since, "entry-notice"),
        result_notice=_said(after_look, "result-notice"),
        periods=0 if count is None else len(count.periods),
        looks=0 if count is None else len(count.looks),
        needed_periods=rule.periods if count is None else count.needed,
        needed_looks=rule.looks,
        acts=tuple(_acts(stage, rows, standing, look, on)),
        failing=failing if stage in ("infested", "open") else None,
    )


def _proof(row: Record | None) -> Proof | None:
    return None if row is None else Proof(row.when, row.id)


def _said(rows: Sequence[Record], what: str) -> Proof | None:
    return _proof(next((row for row in reversed(rows) if said_by(row) == what), None))


def _last_look(rows: Sequence[Record]) -> Record | None:
    """Return the newest look that says something; of one day the one that found most."""
    looks = [r for r in rows if r.is_look and r.method not in HEARSAY and seen_as(r)]
    return max(looks, key=lambda r: (r.when, is_find(r), r.found != "no", r.id), default=None)


def _stage(rows: Sequence[Record], standing: Standing, *, met: bool, known: bool) -> str:
    if standing.status == "treat":
        return "infested"
    if known and not met:
        # A sign after the records had closed a case opens it again: the count begins anew with it.
        return "open"
    return "asked" if _unanswered(rows, standing) else "closed" if known else "none"


def _unanswered(rows: Sequence[Record], standing: Standing) -> Record | None:
    """Return the last report, alert or unsure look that no clean look by eye has come after."""
    unsure = next((r for r in reversed(rows) if r.is_look and r.found == "unsure"), None)
    signs = [r for r in (standing.last_report, standing.last_alert, unsure) if r is not None]
    last = max(signs, key=lambda r: r.when, default=None)
    if last is None:
        return None
    clean = (
        r for r in rows if r.is_look and r.found == "no" and r.method in BY_EYE and seen_as(r) and not r.was
    )
    return None if any(r.when > last.when for r in clean) else last


def _first_unanswered(rows: Sequence[Record], sign: Record) -> Record:
    """Return the first sign that waits for a look: before it stands a clean look by eye, or nothing."""
    earlier = [r for r in rows if r.when < sign.when]
    before = _unanswered(earlier, standing_of(earlier, sign.when))
    return sign if before is None else _first_unanswered(rows, before)


def _opened(signs: Sequence[Record], stage: str) -> dt.date | None:
    """Return the first sign of the open case: those before it lie more than a year back."""
    if stage in ("none", "closed") or not signs:
        return None
    first = signs[-1].when
    for row in reversed(signs):
        if (first - row.when).days > EPISODE_DAYS:
            break
        first = row.when
    return first


def _acts(
    stage: str, rows: Sequence[Record], standing: Standing, look: Record | None, on: dt.date
) -> list[Act]:
    """Return who must act, each since the first row that asked for it: a second one puts nothing off."""
    acts = []
    told = [
        r.when
        for r in rows
        if said_by(r) in ("acknowledged", "contact") or r.is_look or r.kind == "treatment"
    ]
    reports = [r.when for r in rows if r.is_complaint]
    if waiting := [day for day in reports if not any(one >= day for one in told)]:
        acts.append(Act("office", "acknowledge", waiting[0]))
    if stage == "infested" and standing.last_find is not None:
        acts.append(Act("firm", "treat", untreated_since(rows, standing.last_find).when))
    elif stage == "open":
        acts.append(Act("technician", "follow-up", max(r.when for r in rows if is_visit(r))))
    elif stage == "asked" and (sign := _unanswered(rows, standing)) is not None:
        acts.append(Act("technician", "look", _first_unanswered(rows, sign).when))
    elif stage == "closed":
        acts.append(Act("technician", "watch", look.when if look else on))
    return acts

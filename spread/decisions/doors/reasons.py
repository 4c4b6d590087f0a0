"""What speaks for a unit being infested, the weightiest first; and what its chance rests on."""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_left
from collections.abc import Sequence

from spread.contacts.relations import ways_between
from spread.decisions.doors.sources import SourceShare, attribution_of
from spread.decisions.doors.told import (
    Alerted,
    AlertedThere,
    Elsewhere,
    Found,
    FoundBefore,
    FoundThere,
    FromContact,
    LastLook,
    ManySides,
    MovedIn,
    NoAccess,
    NoContacts,
    NoLook,
    Reported,
    ReportedThere,
    StandsEmpty,
    Story,
    Sure,
    SuspectedThere,
    Treated,
    TreatedBefore,
    TreatedThere,
    Untreated,
)
from spread.decisions.standing import Standing, is_find, standing_of
from spread.decisions.view import View
from spread.facts import Fact
from spread.posterior.looks import last_looks, shared_miss, with_odds
from spread.posterior.seeing import Odds
from spread.records.kinds import Record
from spread.trade import detection
from spread.trade.biology import LEVEL_NAMES
from spread.trade.registry import HEARSAY, LOOKING

RECENT_DAYS = 182  #: Reports and move-ins older than this are history, not reasons
A_FIFTH = 0.20  #: A contact with this share of the attribution is always named (judgement, no source)
NAMED_FROM = 0.10
"""A smaller contact is named from this share on, if it has signs of its own (judgement, no source)."""
MOST = 4
SIGNS = ("live", "eggs", "skins", "stains", "dead")
PROVES_NOTHING = ("dead", "bites", "alert", "skins", "stains")

WELL_LOOKED_AT = 0.35
"""A unit is well looked at when its looks together would miss a low infestation with at most this
chance: one thorough look or two brief ones (judgement)."""


def how_sure(view: View, unit: str) -> Sure:
    """Return what a unit's chance rests on, which is how far to trust it.

    A chance says itself how likely; this says how much the unit's own records carry it: the looks of the
    last half year since its last find or treatment, weighed by what they would have missed. None of it
    says that a unit is clear.

    Returned: ``unsettled`` (the chains disagree), ``find``, ``treated`` (not looked at since), ``looked``
    (well), ``little``, ``report``, or ``neighbours`` (nothing else; ``nothing`` where there are none).
    """
    if not view.posterior.diagnostics.good:
        return "unsettled"
    standing = view.standings[unit]
    if standing.status == "treat":
        return "find"
    marks = [r.when for r in (standing.last_find, standing.last_treatment) if r is not None]
    since = max([view.on - dt.timedelta(days=RECENT_DAYS), *marks])
    after = max(marks, default=dt.date.min)
    by_looks = view.log.worked_out(unit, view.on, _by_looks, since, after, view.posterior.odds)
    if by_looks is not None:
        return by_looks
    if standing.status == "revisit":
        return "treated"
    if standing.last_report is not None and standing.last_report.when >= since:
        return "report"
    return "neighbours" if view.graph.adj[unit] else "nothing"


def _by_looks(rows: Sequence[Record], since: dt.date, after: dt.date, odds: Odds) -> Sure | None:
    """Return what looks that came upon nothing carry: begun on or after one day, ended after another.

    A look that repeats the one before it counts for as much less, and a person who misses much too.
    """
    looks = [
        r
        for r in rows
        if r.is_look
        and r.found == "no"
        and r.method not in HEARSAY
        and r.began >= since
        and r.when > after
        and not r.was
    ]
    if not looks:
        return None
    before = last_looks(rows)
    missed = math.prod(_misses(look, odds, before.get(look.id)) for look in looks)
    return "looked" if missed <= WELL_LOOKED_AT else "little"


def _misses(look: Record, odds: Odds, last: Record | None = None) -> float:
    """Return the chance that a look misses a low infestation, given that the one before it found nothing."""
    found = with_odds(detection.sensitivity(look.method, look.days), odds.of_record(look)[0])
    share = 0.0 if last is None else shared_miss(last, look)
    return 1.0 - (1.0 - share) * float(found[LEVEL_NAMES.index("low")])


def reasons_for(view: View, unit: str) -> tuple[Fact, ...]:
    """Return one to four reasons, the weightiest first.

    The contact with the largest share of the unit's attribution is among them where it has a fifth, also
    when it is clear now: the shares are those that ``why`` shows.
    """
    standing = view.standings[unit]
    origin, second = _origin(view, unit)
    if standing.status != "look":
        contacts = [reason for reason in (*origin, *second) if isinstance(reason, FromContact)]
        own = [*_known(view, standing), *_signs(view, standing)]
        return tuple([*own[: MOST - 1], *contacts, *own[MOST - 1 :]][:MOST])
    own = [*_signs(view, standing), *_earlier(view, standing)]
    reasons = [*own[:2], *origin, *own[2:], *_last_look(view, standing), *_access(standing)]
    if standing.vacant:
        reasons.append(StandsEmpty())
    return tuple([*reasons, *_moved_in(view, standing), *second][:MOST])


def _known(view: View, standing: Standing) -> list[Fact]:
    find, treated = standing.last_find, standing.last_treatment
    told: list[Fact] = []
    if find is not None:
        told.append(Found(_days(view, find), find.level, find.method, _signs_in(find, SIGNS)))
    if standing.status == "treat" or treated is None:
        return [*told, Untreated()]
    same_day = find is not None and find.when == treated.when
    return [*told, Treated(_days(view, treated), treated.method, same_day, standing.clear_since)]


def _signs(view: View, standing: Standing) -> list[Fact]:
    """Return what was reported or noted and never confirmed."""
    told: list[Fact] = []
    find, look = standing.last_find, standing.last_look
    report, alert = standing.last_report, standing.last_alert
    if report and (find is None or find.when < report.when) and _days(view, report) <= RECENT_DAYS:
        told.append(Reported(_days(view, report), look is None or look.when < report.when))
    still_last = alert and look and look.when <= alert.when
    if alert and still_last and (find is None or find.when < alert.when):
        told.append(Alerted(_days(view, alert), alert.method, _signs_in(alert, PROVES_NOTHING)))
    return told


def _signs_in(record: Record, signs: Sequence[str]) -> tuple[str, ...]:
    return tuple(sign for sign in signs if sign in record.evidence)


MOST_SIDES = 3
"""Contacts that are named where none stands out."""


def _earlier(view: View, standing: Standing) -> list[Fact]:
    """Return what a unit went through before it came back to the doors to look at."""
    find, treated = standing.last_find, standing.last_treatment
    if find is not None:
        return [FoundBefore(_days(view, find), find.level, standing.clear_since)]
    return [] if treated is None else [TreatedBefore(_days(view, treated), standing.clear_since)]


def _origin(view: View, unit: str) -> tuple[list[Fact], list[Fact]]:
    """Return where the unit's bugs come from by its attribution, one or two reasons, and a second contact."""
    if not view.graph.adj[unit]:
        return [NoContacts()], []
    told = attribution_of(view, unit)
    most = told.sources[0]
    named = [share for share in told.sources if share.unit and _is_named(view, share)]
    contacts: list[Fact] = [_from_contact(view, unit, share) for share in named[:2]]
    if not most.unit:
        elsewhere = Elsewhere(most.route, most.share, most.of, not contacts, most.since)
        if named and named[0].share >= A_FIFTH:
            return [contacts[0], elsewhere], contacts[1:]
        return [elsewhere], contacts
    if contacts:
        return contacts[:1], contacts[1:]
    sides = [share for share in told.sources if share.unit]
    first = tuple(dict.fromkeys(share.unit for share in sides))[:MOST_SIDES]
    return [ManySides(most.share, most.of, sum(share.share for share in sides), first)], []


def _is_named(view: View, share: SourceShare) -> bool:
    return share.share >= A_FIFTH or (share.share >= NAMED_FROM and _has_signs(view.standings[share.unit]))


def _has_signs(standing: Standing) -> bool:
    look = standing.last_look
    signs = (standing.last_find, standing.last_treatment, standing.last_report, standing.last_alert)
    return any(signs) or (look is not None and look.found == "unsure")


def _from_contact(view: View, unit: str, share: SourceShare) -> FromContact:
    way = ways_between(view.graph, unit, share.unit)[share.route]
    return FromContact(share.unit, way, share.share, share.of, _story(view, share.unit))


def _story(view: View, contact: str) -> Story:
    """Return what is known of a contact: the infestation it has or had before all else."""
    standing = view.standings[contact]
    chance = float(view.posterior.chance[view.network.index[contact]])
    find, treated, look = standing.last_find, standing.last_treatment, standing.last_look
    report, alert = standing.last_report, standing.last_alert
    looking = standing.status == "look"
    newest = max((r.when for r in (find, treated) if r), default=dt.date.min)
    if looking and report and report.when > newest and _days(view, report) <= RECENT_DAYS:
        return ReportedThere(_days(view, report), chance)
    if looking and alert and alert == look and LOOKING[alert.method].confirmed_by and alert.when > newest:
        return AlertedThere(_days(view, alert), alert.method, chance)
    if find is not None:
        return _infestation(view, contact, standing, chance if looking else None)
    if treated is not None:
        return TreatedThere(_days(view, treated), standing.clear_since)
    return SuspectedThere(chance, _days(view, look) if look else None, look.found if look else "")


def _infestation(view: View, contact: str, standing: Standing, chance: float | None) -> FoundThere:
    """Return the last infestation of a contact: its heaviest find, and how often it was treated since."""
    last = standing.last_find
    assert last is not None
    told, treatments = last, list[Record]()
    if standing.status != "treat":
        told, treatments = view.log.worked_out(contact, view.on, _heaviest)
    treated = treatments[-1] if treatments else None
    return FoundThere(
        days=_days(view, told),
        level=told.level,
        again_days=_days(view, last) if last.when != told.when else None,
        treatments=len(treatments),
        treated_days=_days(view, treated) if treated else None,
        same_day=len(treatments) == 1 and treatments[0].when == told.when,
        clear_looks=standing.clear_since,
        chance=chance,
    )


def _heaviness(find: Record) -> int:
    """Return how heavy a find was, by level; one without a level weighs least."""
    return LEVEL_NAMES.index(find.level) if find.level else 0


def _heaviest(rows: Sequence[Record]) -> tuple[Record, list[Record]]:
    """Return the heaviest find of a unit's last infestation, and the treatments since."""
    course = _course(rows)
    find = max(filter(is_find, course), key=_heaviness)
    return find, [row for row in course if row.kind == "treatment" and row.when >= find.when]


def _course(rows: Sequence[Record]) -> list[Record]:
    """Return of a unit's records those from the first find of its last infestation on.

    A new infestation begins with a find in a unit that stood among the doors to look at.
    """
    marks = [row for row in rows if is_find(row) or row.kind == "treatment"]
    begins = dt.date.min
    for find in filter(is_find, reversed(marks)):
        before = find.when - dt.timedelta(days=1)
        last = bisect_left(marks, find.when, key=_day) - 1
        # Whether it stood among the doors to look at turns on what came since the last find or treatment.
        since = bisect_left(rows, marks[last].when, key=_day) if last >= 0 else len(rows)
        if standing_of(rows[since : bisect_left(rows, find.when, key=_day)], before).status == "look":
            begins = find.when
            break
    return [row for row in rows if row.when >= begins]


def _day(row: Record) -> dt.date:
    return row.when


def _last_look(view: View, standing: Standing) -> list[Fact]:
    look = standing.last_look
    if look is None:
        return [NoLook()]
    if look.found == "unsure":
        return [LastLook(_days(view, look), look.method, None)]
    if look.found != "no":
        return []
    return [LastLook(_days(view, look), look.method, _misses(look, view.posterior.odds))]


def _access(standing: Standing) -> list[Fact]:
    return [NoAccess(standing.shut)] if standing.shut else []


def _moved_in(view: View, standing: Standing) -> list[Fact]:
    if standing.moved_in is None or (view.on - standing.moved_in).days > RECENT_DAYS:
        return []
    return [MovedIn((view.on - standing.moved_in).days)]


def _days(view: View, record: Record) -> int:
    return (view.on - record.when).days

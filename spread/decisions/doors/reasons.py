"""Reasons in plain words: what speaks for a unit being infested, the weightiest first."""

from __future__ import annotations

import datetime as dt
import math

from spread.contacts.words import relation
from spread.decisions.standing import Standing
from spread.decisions.view import View
from spread.decisions.words import as_percent, number_words
from spread.records.kinds import Record
from spread.records.words import EVIDENCE_WORDS, METHOD_WORDS
from spread.trade import detection
from spread.trade.biology import LEVEL_NAMES
from spread.trade.registry import HEARSAY, LOOKING
from spread.weeks import speak_ago

RECENT_DAYS = 182
"""Reports and move-ins older than this are history, not reasons."""
NAMED_FROM = 0.10
"""A contact with signs of its own is named from this chance on (judgement, no source)."""
NAMED_ANYWAY = 0.20
"""A contact that is suspected by its neighbours alone is named from this chance on (judgement, no source)."""

WELL_LOOKED_AT = 0.35
"""A unit is well looked at when its looks together would miss a low infestation with at most this
chance: one thorough look or two brief ones (judgement)."""


def how_sure(view: View, unit: str) -> str:
    """Return in a few words what a unit's chance rests on, which is how far to trust it.

    A chance says itself how likely; these words say how much the unit's own records carry it:
    the looks of the last half year since its last find or treatment, weighed by what they would
    have missed. None of them says that a unit is clear.

    Returns
    -------
    str
        ``figures not settled yet`` (the chains disagree), ``a find to go on``,
        ``not looked at since the treatment``, ``well looked at``, ``little to go on``,
        ``a report to go on``, or ``nothing but neighbours to go on`` (``nothing to go on``
        where there are none).
    """
    if not view.posterior.diagnostics.good:
        return "figures not settled yet"
    standing = view.standings[unit]
    if standing.status == "treat":
        return "a find to go on"
    marks = [r.when for r in (standing.last_find, standing.last_treatment) if r is not None]
    since = max([view.on - dt.timedelta(days=RECENT_DAYS), *marks])
    looks = [
        r for r in view.log.of(unit) if _weighs(r, since, view.on) and (not marks or r.when > max(marks))
    ]
    missed = math.prod(
        1.0 - float(detection.sensitivity(r.method, r.days)[LEVEL_NAMES.index("low")]) for r in looks
    )
    report = standing.last_report
    if looks:
        return "well looked at" if missed <= WELL_LOOKED_AT else "little to go on"
    if standing.status == "revisit":
        return "not looked at since the treatment"
    if report is not None and report.when >= since:
        return "a report to go on"
    return "nothing but neighbours to go on" if view.graph.adj[unit] else "nothing to go on"


def _weighs(record: Record, since: dt.date, on: dt.date) -> bool:
    """Return whether a record is a look between two days that came upon nothing."""
    tells = record.is_look and record.found == "no" and record.method not in HEARSAY
    return tells and since <= record.began and record.when <= on


def reasons_for(view: View, unit: str) -> tuple[str, ...]:
    """Return one to four sentences on a unit, the weightiest first.

    Parameters
    ----------
    view
        What is known.
    unit
        Unit code.
    """
    standing = view.standings[unit]
    contacts = _contacts(view, unit)
    if standing.status != "look":
        return (_known(view, standing) + _signs(view, standing) + contacts)[:4]
    sentences = _signs(view, standing) + _earlier(view, standing)
    sentences += contacts[:1] or (_no_contact(view, unit),)
    sentences += _last_look(view, standing) + _access(standing)
    if standing.vacant:
        sentences += ("It stands empty, which clears nothing: bugs wait for months.",)
    return (sentences + _moved_in(view, standing) + contacts[1:])[:4]


def _known(view: View, standing: Standing) -> tuple[str, ...]:
    find, treated = standing.last_find, standing.last_treatment
    parts = []
    if find is not None:
        how = LOOKING[find.method].how
        parts.append(f"{_upper(_infestation(find))} was found {_ago(view, find)} {how}{_signs_of(find)}.")
    if standing.status == "treat" or treated is None:
        parts.append("Not treated since.")
    else:
        parts.append(
            f"Treated {_treated(view, standing)} ({METHOD_WORDS[treated.method].lower()}); "
            f"{_clear_looks(standing)} since."
        )
    return tuple(parts)


def _signs(view: View, standing: Standing) -> tuple[str, ...]:
    """Return what was reported or noted and never confirmed."""
    sentences = []
    find, look = standing.last_find, standing.last_look
    report, alert = standing.last_report, standing.last_alert
    open_report = report and (find is None or find.when < report.when)
    if report and open_report and _days(view, report) <= RECENT_DAYS:
        unseen = look is None or look.when < report.when
        sentences.append(
            f"Bugs were reported there {_ago(view, report)}"
            + (" and nobody has looked since." if unseen else ".")
        )
    still_last = alert and look and look.when <= alert.when
    if alert and still_last and (find is None or find.when < alert.when):
        sentences.append(_alert(view, alert))
    return tuple(sentences)


def _alert(view: View, alert: Record) -> str:
    if LOOKING[alert.method].alert:
        said = _upper(LOOKING[alert.method].alert)
        return f"{said} {_ago(view, alert)}; nobody has confirmed it."
    signs = " and ".join(EVIDENCE_WORDS[s] for s in ("dead", "bites", "alert") if s in alert.evidence)
    return f"The last look, {_ago(view, alert)}, came upon {signs} and nothing more, which confirms nothing."


def _earlier(view: View, standing: Standing) -> tuple[str, ...]:
    """Return what a unit went through before it came back to the doors to look at."""
    find = standing.last_find
    if find is not None:
        found = f"{_upper(_infestation(find))} was found there {_ago(view, find)}"
        return (f"{found}; {_clear_looks(standing)} since.",)
    if standing.last_treatment is not None:
        return (f"It was treated {_ago(view, standing.last_treatment)}; {_clear_looks(standing)} since.",)
    return ()


def _contacts(view: View, unit: str) -> tuple[str, ...]:
    """Return a sentence on each of the two contacts that press most upon a unit, if any stands out."""
    by_contact, building_wide, brought_in = view.pressure_on(unit)
    totals: dict[str, float] = {}
    for (contact, _), hazard in by_contact.items():
        totals[contact] = totals.get(contact, 0.0) + hazard
    total = sum(totals.values()) + building_wide + brought_in
    chance = view.posterior.chance
    index = view.network.index

    def stands_out(contact: str) -> bool:
        if view.standings[contact].status != "look":
            return totals[contact] > 0.03 * total
        # A contact that is only suspected because of this unit is no reason for it.
        least = NAMED_FROM if _has_signs(view.standings[contact]) else NAMED_ANYWAY
        likely = float(chance[index[contact]]) >= max(least, float(chance[index[unit]]))
        return likely and totals[contact] > 0.08 * total

    strong = [contact for contact in sorted(totals, key=lambda c: -totals[c]) if stands_out(contact)]
    return tuple(
        f"{_relation(view, unit, contact)} {contact}, {_state(view, contact)}." for contact in strong[:2]
    )


def _has_signs(standing: Standing) -> bool:
    look = standing.last_look
    signs = (standing.last_find, standing.last_treatment, standing.last_report, standing.last_alert)
    return any(signs) or (look is not None and look.found == "unsure")


def _no_contact(view: View, unit: str) -> str:
    if not view.graph.adj[unit]:
        return "The plan shows no contact with another unit; what people bring in remains."
    by_contact, building_wide, brought_in = view.pressure_on(unit)
    if brought_in >= 0.5 * (sum(by_contact.values()) + building_wide + brought_in):
        return "No contact stands out as a source; what people bring in weighs most."
    return "No contact stands out as a source; the pressure comes from many sides."


def _relation(view: View, unit: str, contact: str) -> str:
    by_contact, _, _ = view.pressure_on(unit)
    route, words = max(
        relation(view.graph, unit, contact), key=lambda pair: by_contact.get((contact, pair[0]), 0.0)
    )
    return _upper(on_riser(words) if route == "riser" else words)


def on_riser(words: str) -> str:
    """Return the words of a shared riser so that a sentence can go on with them."""
    return f"on the {words}"


def _state(view: View, contact: str) -> str:
    standing = view.standings[contact]
    if standing.status == "look":
        return _suspicion(view, standing, contact)
    find = standing.last_find
    if find is None:
        return f"which was treated {_treated(view, standing)} and has had {_clear_looks(standing)} since"
    found = f"where {_infestation(find)} was found {_ago(view, find)}"
    if standing.status == "treat":
        return f"{found} and not treated since"
    return f"{found} and treated {_treated(view, standing)}"


def _suspicion(view: View, standing: Standing, contact: str) -> str:
    find, look = standing.last_find, standing.last_look
    report, alert = standing.last_report, standing.last_alert
    chance = as_percent(float(view.posterior.chance[view.network.index[contact]]))
    if report and _days(view, report) <= RECENT_DAYS:
        return f"where bugs were reported {_ago(view, report)} (chance now {chance})"
    if alert and alert == look and LOOKING[alert.method].confirmed_by:
        return f"where {LOOKING[alert.method].alert} {_ago(view, alert)} (chance now {chance})"
    if find is not None:
        return f"where {_infestation(find)} was found {_ago(view, find)} (chance now {chance})"
    if look is None:
        return f"where the chance is {chance} and no look is on record"
    said = {"no": "found nothing", "unsure": "could not tell"}.get(look.found)
    return f"where the chance is {chance}" + (f"; the last look, {_ago(view, look)}, {said}" if said else "")


def _moved_in(view: View, standing: Standing) -> tuple[str, ...]:
    if standing.moved_in is None or (view.on - standing.moved_in).days > RECENT_DAYS:
        return ()
    return (f"Somebody moved in {speak_ago((view.on - standing.moved_in).days)}.",)


def _last_look(view: View, standing: Standing) -> tuple[str, ...]:
    look = standing.last_look
    if look is None:
        return ("No look at it is on record.",)
    start = f"The last look, {_ago(view, look)} ({METHOD_WORDS[look.method].lower()}), "
    if look.found == "unsure":
        return (f"{start}could not tell.",)
    if look.found != "no":
        return ()
    missed = 1.0 - detection.sensitivity(look.method, look.days)[LEVEL_NAMES.index("low")]
    return (f"{start}found nothing; it would miss about {as_percent(missed)} of low infestations.",)


def _access(standing: Standing) -> tuple[str, ...]:
    if standing.shut == 0:
        return ()
    return (
        ("There was no access last time.",)
        if standing.shut == 1
        else (f"There was no access the last {standing.shut} times.",)
    )


def _clear_looks(standing: Standing) -> str:
    count = standing.clear_since
    return "no clear look" if count == 0 else f"{number_words(count)} clear look{'s' if count > 1 else ''}"


def _treated(view: View, standing: Standing) -> str:
    """Return when a unit was treated, after words that told when the find was."""
    find, treated = standing.last_find, standing.last_treatment
    if treated is None:
        return "never"
    return "the same day" if find is not None and find.when == treated.when else _ago(view, treated)


def _infestation(find: Record) -> str:
    return f"a {find.level} infestation" if find.level else "an infestation"


def _signs_of(record: Record) -> str:
    names = [
        EVIDENCE_WORDS[sign] + (" bugs" if sign == "live" else "")
        for sign in ("live", "eggs", "skins", "stains", "dead")
        if sign in record.evidence
    ]
    return f" ({', '.join(names)})" if names else ""


def _upper(words: str) -> str:
    return words[0].upper() + words[1:]


def _ago(view: View, record: Record) -> str:
    return speak_ago(_days(view, record))


def _days(view: View, record: Record) -> int:
    return (view.on - record.when).days

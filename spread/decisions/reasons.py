"""Reasons in plain words: what speaks for a unit being infested, the weightiest first."""

from __future__ import annotations

from spread.contacts.words import relation
from spread.decisions.standing import Standing
from spread.decisions.view import View
from spread.records.kinds import Record
from spread.records.words import EVIDENCE_WORDS, METHOD_WORDS
from spread.trade import detection
from spread.trade.biology import LEVEL_NAMES
from spread.weeks import speak_ago

RECENT_DAYS = 182
"""Reports and move-ins older than this are history, not reasons."""


def how_sure(chance: float, *, trusted: bool = True) -> str:
    """Return a plain word for how sure a chance is.

    ``very sure`` means that one unit in twenty or fewer would surprise us, ``fairly sure`` one
    in five; a fit whose chains disagree is never more than ``unsure``.
    """
    doubt = min(chance, 1.0 - chance)
    if not trusted or doubt > 0.20:
        return "unsure"
    return "very sure" if doubt <= 0.05 else "fairly sure"


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
    if standing.status != "look":
        return _known(view, standing)
    sentences = _signs(view, standing) + _earlier(view, standing)
    sentences += _nearest(view, unit) + _moved_in(view, standing)
    sentences += _last_look(view, standing) + _access(standing)
    if standing.vacant:
        sentences += ("It stands empty, which clears nothing: bugs wait for months.",)
    return sentences[:4]


def _known(view: View, standing: Standing) -> tuple[str, ...]:
    past = _past(view, standing, signs=True)
    return (past[0].upper() + past[1:] + ".",)


def _signs(view: View, standing: Standing) -> tuple[str, ...]:
    sentences = []
    look, report, alert = standing.last_look, standing.last_report, standing.last_alert
    if report and _recent(view, report):
        seen = look is not None and look.when >= report.when
        tail = "" if seen else " and nobody has looked since"
        sentences.append(f"Bugs were reported there {_ago(view, report)}{tail}.")
    if alert and _recent(view, alert) and (look is None or look.when <= alert.when):
        who = {"dog": "A dog alerted", "interview": "The resident spoke of bugs"}.get(
            alert.method, f"Doubtful signs{_signs_of(alert)} were seen"
        )
        sentences.append(f"{who} {_ago(view, alert)}; nobody has confirmed it.")
    if look and look.found == "unsure" and _recent(view, look):
        sentences.append(f"The last look, {_ago(view, look)}, could not tell.")
    return tuple(sentences)


def _earlier(view: View, standing: Standing) -> tuple[str, ...]:
    """Say that the unit was infested before: some treatments leave a few bugs behind."""
    find = standing.last_find
    if find is None or (view.on - find.when).days > 2 * RECENT_DAYS:
        return ()
    return (f"It was {_past(view, standing, signs=True)}.",)


def _past(view: View, standing: Standing, *, signs: bool = False) -> str:
    """Return the find and what followed, such as ``found low 3 months ago, treated since``."""
    find, treated = standing.last_find, standing.last_treatment
    parts = []
    if find is not None:
        parts.append(f"found {find.level or 'infested'}{_signs_of(find) if signs else ''} {_ago(view, find)}")
    if treated is None or (find and treated.when < find.when):
        parts.append("not treated since")
    else:
        parts.append(f"treated {_ago(view, treated)}")
        if standing.clear_since:
            number = {1: "one", 2: "two", 3: "three"}.get(standing.clear_since, str(standing.clear_since))
            looks = f"{number} clear look{'' if standing.clear_since == 1 else 's'}"
            parts.append(f"{looks} since")
    return ", ".join(parts)


def _nearest(view: View, unit: str) -> tuple[str, ...]:
    by_contact, building_wide, brought_in = view.pressure_on(unit)
    totals: dict[str, float] = {}
    for (contact, _), hazard in by_contact.items():
        totals[contact] = totals.get(contact, 0.0) + hazard
    total = sum(totals.values()) + building_wide + brought_in
    chance = view.posterior.chance
    index = view.network.index
    # A contact that is only suspected because of this unit is no reason for it.
    strong = [
        contact
        for contact in sorted(totals, key=lambda c: -totals[c])
        if totals[contact] > 0.08 * total
        and (_was_found(view, contact) or chance[index[contact]] >= chance[index[unit]])
    ][:2]
    if not strong:
        return ("No contact of it looks infested; what remains is what people bring in.",)
    return tuple(
        f"{_relation(view, unit, contact)} {contact}, {_state(view, contact)}." for contact in strong
    )


def _relation(view: View, unit: str, contact: str) -> str:
    by_contact, _, _ = view.pressure_on(unit)
    routes = sorted(
        relation(view.graph, unit, contact), key=lambda pair: -by_contact.get((contact, pair[0]), 0.0)
    )
    words = routes[0][1]
    return words[0].upper() + words[1:]


def _was_found(view: View, unit: str) -> bool:
    standing = view.standings[unit]
    return standing.status != "look" or (standing.last_find is not None and _recent(view, standing.last_find))


def _state(view: View, contact: str) -> str:
    standing = view.standings[contact]
    chance = float(view.posterior.chance[view.network.index[contact]])
    if _was_found(view, contact):
        return _past(view, standing)
    if standing.last_report and _recent(view, standing.last_report):
        return f"which was reported {_ago(view, standing.last_report)} (chance {chance:.0%})"
    return f"itself at {chance:.0%} though nothing was found there lately"


def _moved_in(view: View, standing: Standing) -> tuple[str, ...]:
    if standing.moved_in is None or (view.on - standing.moved_in).days > RECENT_DAYS:
        return ()
    return (f"Somebody moved in {speak_ago((view.on - standing.moved_in).days)}.",)


def _last_look(view: View, standing: Standing) -> tuple[str, ...]:
    look = standing.last_look
    if look is None:
        return ("No look at it is on record.",)
    if look.found != "no":
        return ()
    missed = 1.0 - detection.sensitivity(look.method, look.days)[LEVEL_NAMES.index("low")]
    return (
        f"Nothing found {_ago(view, look)} ({METHOD_WORDS[look.method].lower()}), "
        f"which misses about {missed:.0%} of low infestations.",
    )


def _access(standing: Standing) -> tuple[str, ...]:
    if standing.shut == 0:
        return ()
    return ("Nobody opened last time.",) if standing.shut == 1 else (f"Nobody opened {standing.shut} times.",)


def _signs_of(record: Record) -> str:
    names = [
        EVIDENCE_WORDS[sign]
        for sign in ("live", "eggs", "skins", "stains", "dead")
        if sign in record.evidence
    ]
    return f" ({', '.join(names)})" if names else ""


def _ago(view: View, record: Record) -> str:
    return speak_ago(_days(view, record))


def _recent(view: View, record: Record) -> bool:
    return _days(view, record) <= RECENT_DAYS


def _days(view: View, record: Record) -> int:
    return (view.on - record.when).days

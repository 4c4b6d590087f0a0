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
    """Return two to four sentences on a unit, the weightiest first.

    Parameters
    ----------
    view
        What is known.
    unit
        Unit code.
    """
    standing = view.standings[unit]
    if standing.status != "look":
        return _known(view, standing) + _nearest(view, unit)
    sentences = _signs(view, standing) + _nearest(view, unit) + _moved_in(view, standing)
    sentences += _last_look(view, standing) + _access(standing)
    if standing.vacant:
        sentences += ("It stands empty, which clears nothing: bugs wait for months.",)
    return sentences[:4]


def _known(view: View, standing: Standing) -> tuple[str, ...]:
    find, treated = standing.last_find, standing.last_treatment
    parts = []
    if find is not None:
        parts.append(
            f"Found {_level(find)}{_signs_of(find)} {_ago(view, find)} ({METHOD_WORDS[find.method].lower()})."
        )
    if treated is None or (find is not None and treated.when < find.when):
        parts.append("Not treated since.")
    else:
        looks = {0: "no clear look", 1: "one clear look"}.get(
            standing.clear_since, f"{standing.clear_since} clear looks"
        )
        parts.append(
            f"Treated {_ago(view, treated)} ({METHOD_WORDS[treated.method].lower()}); {looks} since."
        )
    return tuple(parts)


def _signs(view: View, standing: Standing) -> tuple[str, ...]:
    sentences = []
    look, report, alert = standing.last_look, standing.last_report, standing.last_alert
    if report and _days(view, report) <= RECENT_DAYS and (look is None or look.when < report.when):
        sentences.append(f"Bugs were reported there {_ago(view, report)} and nobody has looked since.")
    if alert and _days(view, alert) <= RECENT_DAYS and (look is None or look.when <= alert.when):
        who = {"dog": "A dog alerted", "interview": "The resident spoke of bugs"}.get(
            alert.method, f"Doubtful signs{_signs_of(alert)} were seen"
        )
        sentences.append(f"{who} {_ago(view, alert)}; nobody has confirmed it.")
    if look and look.found == "unsure" and _days(view, look) <= RECENT_DAYS:
        sentences.append(f"The last look, {_ago(view, look)}, could not tell.")
    return tuple(sentences)


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
        and (view.standings[contact].status != "look" or chance[index[contact]] >= chance[index[unit]])
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


def _state(view: View, contact: str) -> str:
    standing = view.standings[contact]
    chance = float(view.posterior.chance[view.network.index[contact]])
    if standing.status != "look" and standing.last_find is not None:
        find = f"found {_level(standing.last_find)} {_ago(view, standing.last_find)}"
        if standing.status == "revisit" and standing.last_treatment is not None:
            return f"{find}, treated {_ago(view, standing.last_treatment)}"
        return f"{find}, not treated since"
    if standing.status == "revisit":
        return "treated and not yet through its clear looks"
    if standing.last_report and _days(view, standing.last_report) <= RECENT_DAYS:
        return f"which was reported {_ago(view, standing.last_report)} (chance {chance:.0%})"
    return f"itself at {chance:.0%} though nothing was found there"


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


def _level(find: Record) -> str:
    return find.level or "infested"


def _signs_of(record: Record) -> str:
    names = [
        EVIDENCE_WORDS[sign]
        for sign in ("live", "eggs", "skins", "stains", "dead")
        if sign in record.evidence
    ]
    return f" ({', '.join(names)})" if names else ""


def _ago(view: View, record: Record) -> str:
    return speak_ago(_days(view, record))


def _days(view: View, record: Record) -> int:
    return (view.on - record.when).days

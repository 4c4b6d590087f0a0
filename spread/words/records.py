"""A row of the log in plain words. No row says that a unit is free."""

from __future__ import annotations

from collections.abc import Sequence

from spread.plain import harmless
from spread.records.kinds import Finding, Record
from spread.trade.registry import LOOKING
from spread.words.terms import level_name, method_name, outcome_name, place_name, sign_name
from spread.words.voice import Voice

FEW_ITEMS = 4
"""Items of the room that a line names at most."""
LONGEST_NOTE = 120
SIGNS = ("live", "eggs", "skins", "stains", "dead", "alert", "bites")
"""Signs in the order in which they are said."""


def describe(record: Record, voice: Voice) -> str:
    """Return what a row says, such as ``Brief look: found, low, live + stains``."""
    if record.kind == "note" and record.note.strip():
        told = (
            voice.text("{what}: {note}", what=heading(record, voice), note=_short(record.note))
            if record.method
            else voice.text("Note: {note}", note=_short(record.note))
        )
    else:
        told = ": ".join(filter(None, (heading(record, voice), outcome_words(record, voice))))
        told = "; ".join(filter(None, (told, items_words(record, voice))))
    if record.supersedes:
        return voice.text("{row} (corrects an earlier row)", row=told)
    return told


def kind_name(kind: str, voice: Voice) -> str:
    """Return what a kind of row is called."""
    names = {
        "report": voice.text("Report"),
        "inspection": voice.text("Inspection"),
        "monitor": voice.text("Monitor read"),
        "treatment": voice.text("Treatment"),
        "no-access": voice.text("No access"),
        "turnover": voice.text("Turnover"),
        "note": voice.text("Note"),
    }
    return names[kind]


def heading(record: Record, voice: Voice) -> str:
    """Return what was done, such as ``Interceptors for 14 days``, and in which home if it is another now."""
    told = _heading(record, voice)
    if not record.was:
        return told
    return voice.text("{row} (of {unit}, as the home was then)", row=told, unit=record.was)


def _heading(record: Record, voice: Voice) -> str:
    if record.kind == "report":
        said = outcome_words(record, voice)
        return voice.text("Report") if said else voice.text("Report of bed bugs")
    if record.kind == "turnover" and not record.method:
        return voice.text("Moved out and in on one day")
    name = method_name(record.method, voice) if record.method else kind_name(record.kind, voice)
    if not record.is_look or record.days is None:
        return name
    return voice.many("{look} for {number} day", "{look} for {number} days", record.days, look=name)


def outcome_words(record: Record, voice: Voice) -> str:
    """Return what came of it, such as ``found, low, live + stains``; or nothing."""
    return ", ".join(_outcome(record, voice))


def items_words(record: Record, voice: Voice) -> str:
    """Return what was seen or left where in the room, such as ``at headboard (12)``; or nothing."""
    return _as_left(record, voice) if record.kind == "treatment" else _at_items(record, voice)


def _outcome(record: Record, voice: Voice) -> list[str]:
    if not record.is_look and record.kind != "report":
        return []
    told = [level_name(record.level, voice)] if record.level else []
    if record.count is not None and (record.count or record.found == "yes"):
        told.append(voice.many("{number} bug counted", "{number} bugs counted", record.count))
    alerted = record.found == "yes" or (record.found == "unsure" and "alert" in record.evidence)
    way = LOOKING.get(record.method)
    if way is not None and way.confirmed_by and alerted and record.evidence <= {way.usual_sign}:
        first = ", ".join([sign_name(way.usual_sign, voice), *told])
        return [voice.text("{alert} (not yet confirmed)", alert=first)]
    signs = [sign_name(sign, voice) for sign in SIGNS if sign in record.evidence]
    told += [" + ".join(signs)] if signs else []
    if record.kind == "report":
        return [voice.text("nothing seen"), *told] if record.found == "no" else told
    return [_found(record, voice), *told]


def _found(record: Record, voice: Voice) -> str:
    if record.found == "unsure":
        return voice.text("not sure")
    return outcome_name(record.method, record.found == "yes", voice)


def _at_items(record: Record, voice: Voice) -> str:
    """Return where in the room signs were seen, such as ``at headboard (12), nightstand``."""
    seen = [one for one in record.items if one.evidence]
    told = _few(
        [_item(one.item, voice) + ("" if one.count is None else f" ({one.count})") for one in seen], voice
    )
    return voice.text("at {items}", items=told) if told else ""


def _left(one: Finding, voice: Voice) -> dict[str, str]:
    return {"item": _item(one.item, voice), "state": voice.term("state", one.state)}


def _as_left(record: Record, voice: Voice) -> str:
    """Return how a treatment left things, such as ``encasement intact at bed 1``."""
    return _few(
        [
            voice.text("{item} {state} at {place}", place=place_name(one.place, voice), **_left(one, voice))
            if one.place
            else voice.text("{item} {state}", **_left(one, voice))
            for one in record.items
        ],
        voice,
    )


def _item(item: str, voice: Voice) -> str:
    return voice.term("item", item.replace("-", " "))


def _few(parts: Sequence[str], voice: Voice) -> str:
    listed, more = ", ".join(parts[:FEW_ITEMS]), len(parts) - FEW_ITEMS
    if more <= 0:
        return listed
    return voice.text("{items} and {number} more", items=listed, number=voice.number(more))


def _short(note: str) -> str:
    words = harmless(" ".join(note.split()))
    return words if len(words) <= LONGEST_NOTE else words[: LONGEST_NOTE - 1].rstrip() + "…"

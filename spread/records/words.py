"""A row of the log in plain words."""

from __future__ import annotations

from spread.records.kinds import Record
from spread.trade.registry import LOOKING, TREATMENTS

METHOD_WORDS = {
    **{key: row.name for key, row in LOOKING.items()},
    **{key: row.name for key, row in TREATMENTS.items()},
    "moved-out": "Moved out",
    "moved-in": "Moved in",
    "nobody-home": "Nobody home",
    "refused": "Refused",
}
"""What each method is called on screens and in lists."""

EVIDENCE_WORDS = {
    "live": "live",
    "eggs": "eggs",
    "skins": "cast skins",
    "stains": "stains",
    "dead": "dead bugs",
    "alert": "alert",
    "bites": "bites",
}
"""What each sign is called."""

_FEW_ITEMS = 4
"""Items of the room that a line names at most."""


def describe(record: Record) -> str:
    """Return what a row says, such as ``Brief look: found, low, live + stains``.

    A look that found nothing is said to have found nothing; no row says that a unit is free.
    """
    text = _describe(record) + _at_items(record)
    return f"{text} (corrects an earlier row)" if record.supersedes else text


def _describe(record: Record) -> str:
    if record.kind == "report":
        return _with_finds("Report", record)
    if record.is_look:
        return _with_finds(METHOD_WORDS[record.method] + _period(record.days), record)
    if record.kind == "note":
        return f"Note: {_short(record.note)}" if record.note.strip() else "Note"
    bare = {"no-access": "No access", "turnover": "Moved out and in on one day"}
    return METHOD_WORDS[record.method] if record.method else bare[record.kind]


def _at_items(record: Record) -> str:
    """Return where in the room signs were seen, such as ``; at headboard (12), nightstand``."""
    if record.kind == "treatment":
        return _as_left(record)
    seen = [one for one in record.items if one.evidence]
    words = [
        one.item.replace("-", " ") + ("" if one.count is None else f" ({one.count})")
        for one in seen[:_FEW_ITEMS]
    ]
    more = len(seen) - len(words)
    if not words:
        return ""
    return f"; at {', '.join(words)}" + (f" and {more} more" if more else "")


def _as_left(record: Record) -> str:
    """Return how a treatment left things, such as ``; encasement intact at bed 1``."""
    words = [
        f"{one.item.replace('-', ' ')} {one.state}" + (f" at {one.place}" if one.place else "")
        for one in record.items[:_FEW_ITEMS]
    ]
    more = len(record.items) - len(words)
    return f"; {', '.join(words)}" + (f" and {more} more" if more else "") if words else ""


def _period(days: int | None) -> str:
    if days is None:
        return ""
    return " for 1 day" if days == 1 else f" for {days} days"


def _with_finds(name: str, record: Record) -> str:
    signs = [word for key, word in EVIDENCE_WORDS.items() if key in record.evidence]
    told = [record.level] if record.level else []
    if record.count is not None and (record.count or record.found == "yes"):
        told.append(f"{record.count} bug{'' if record.count == 1 else 's'} counted")
    alerted = record.found == "yes" or (record.found == "unsure" and "alert" in record.evidence)
    way = LOOKING.get(record.method)
    if way is not None and way.confirmed_by and alerted and record.evidence <= {way.usual_sign}:
        return f"{name}: {', '.join([EVIDENCE_WORDS[way.usual_sign], *told])} (not yet confirmed)"
    if signs:
        told.append(" + ".join(signs))
    if record.kind == "report":
        if record.found == "no":
            return f"{name}: {', '.join(['nothing seen', *told])}"
        return f"{name}: {', '.join(told)}" if told else "Report of bed bugs"
    return f"{name}: {', '.join([_found_words(record), *told])}"


def _found_words(record: Record) -> str:
    way = LOOKING[record.method]
    if record.found == "unsure":
        return "not sure"
    return way.not_found if record.found == "no" else way.found


def _short(note: str, length: int = 120) -> str:
    words = " ".join(note.split())
    return words if len(words) <= length else words[: length - 1].rstrip() + "…"

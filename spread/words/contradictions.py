"""Records that do not go together, in words."""

from __future__ import annotations

from typing import Any

from spread.decisions.doors import contradictions as facts
from spread.facts import as_json
from spread.words.reasons import clear_looks, infestation
from spread.words.records import kind_name
from spread.words.saying import say
from spread.words.terms import level_name, method_name
from spread.words.voice import ENGLISH, Voice, upper

HARDLY = 1e-3


@say.register
def _(fact: facts.Noted, voice: Voice) -> str:
    named = fact.is_look or fact.kind == "turnover"
    name = (method_name(fact.method, voice) if named else kind_name(fact.kind, voice)).lower()
    day = voice.day(fact.when)
    if fact.is_look and fact.found == "no":
        return voice.text("{record} {day}, nothing found", record=name, day=day)
    if fact.is_look and fact.found == "yes":
        return voice.text("{record} {day}, found", record=name, day=day)
    return f"{name} {day}"


@say.register
def _(fact: facts.Doubt, voice: Voice) -> str:
    what = fact.what
    records = "; ".join(say(record, voice) for record in fact.records)
    if isinstance(what, facts.Repeated):
        return voice.text(
            "Rows that say the same but for id and note ({records}): they count once. If they were two, "
            "write down who did each.",
            records=records,
        )
    if isinstance(what, facts.ClearAndFind):
        return _clear_and_find(what, records, voice)
    if isinstance(what, facts.FindThenClear):
        return voice.many(
            "A find by a thorough look and a clear look {number} day later with no treatment between "
            "({records}): bugs do not leave by themselves so soon.",
            "A find by a thorough look and a clear look {number} days later with no treatment between "
            "({records}): bugs do not leave by themselves so soon.",
            what.days,
            records=records,
        )
    if isinstance(what, facts.ReportWhileEmpty):
        return voice.text(
            "A report from a unit that stands empty by the log ({records}): a move-in may be missing, or the "
            "report belongs to another unit.",
            records=records,
        )
    if isinstance(what, facts.TreatedUnfound):
        return voice.text(
            "A treatment of a unit where no find is on record ({records}): it may be a precaution, or the "
            "find was not written down.",
            records=records,
        )
    return voice.text(
        "Monitors that stood from {day} across a treatment ({records}): what they caught tells neither of "
        "before nor of after.",
        day=voice.day(what.began),
        records=records,
    )


def _clear_and_find(what: facts.ClearAndFind, records: str, voice: Voice) -> str:
    if what.missed >= HARDLY:
        often = voice.text("about one time in {number}", number=voice.count(round(1.0 / what.missed)))
    else:
        often = voice.text("less than one time in 1000")
    told = voice.text(
        "{looks} and {find} within a week ({records}): {infestation} is missed like that {often}.",
        looks=clear_looks(what.looks, voice),
        find=voice.text("a {level} find", level=level_name(what.level, voice))
        if what.level
        else voice.text("a find"),
        infestation=infestation(what.level or "low", voice),
        often=often,
        records=records,
    )
    return upper(told)


def doubt_data(doubt: facts.Doubt) -> dict[str, Any]:
    """Return a doubt ready for JSON, with its words in English."""
    return {
        "unit": doubt.unit,
        "kind": doubt.kind,
        "words": say(doubt, ENGLISH),
        "dates": list(doubt.dates),
        "rows": list(doubt.rows),
        "what": as_json(doubt.what),
    }

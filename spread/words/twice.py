"""Doors that several people answered on one day, in words."""

from __future__ import annotations

from spread.decisions.round.twice import AnsweredTwice
from spread.records.kinds import Record
from spread.words.records import describe
from spread.words.saying import say
from spread.words.voice import Voice


@say.register
def _(fact: AnsweredTwice, voice: Voice) -> str:
    told = {"unit": fact.unit, "day": voice.day(fact.when)}
    answers = "; ".join(answer_words(row, voice) for row in fact.rows)
    if fact.differ:
        return voice.text(
            "{unit} has different answers of {day} ({answers}). All are kept. Whoever was wrong takes theirs "
            "back; if nobody was, look again.",
            answers=answers,
            **told,
        )
    return voice.text(
        "{unit} was answered more than once on {day} ({answers}). All are kept. If it was one visit, take "
        "one of them back.",
        answers=answers,
        **told,
    )


def answer_words(row: Record, voice: Voice) -> str:
    """Return an answer at a door and whose it is, such as ``T1: brief look: nothing found``."""
    if not row.by:
        return describe(row, voice)
    return voice.text("{who}: {answer}", who=row.by, answer=describe(row, voice))

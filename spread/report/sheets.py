"""Sheets for the round: one page a door, with where, why, how likely, what to bring and room to write.

The week's list is :func:`spread.report.week.week_document`.
"""

from __future__ import annotations

from collections.abc import Sequence

from spread.decisions.case.followup import NEVER
from spread.decisions.doors.ranking import DoorRow
from spread.report import document as doc
from spread.report.chance_map import where_picture
from spread.session import Session
from spread.trade.registry import LOOKING
from spread.words import ENGLISH, Voice, say
from spread.words.access import rule_words
from spread.words.doors import because_words, reason_words, sure_words
from spread.words.paper import of_100
from spread.words.relations import places
from spread.words.terms import method_name

MOST_REASONS = 3


def door_sheets(
    session: Session, units: Sequence[str], method: str = "", voice: Voice = ENGLISH
) -> doc.Document:
    """Return one document with a page for each of some doors, in the order given.

    ``units``: unit codes, at least one. ``method``: how they will be looked at; the building's usual way if
    empty. ``voice``: the language and measure of whoever carries them. Raises SpreadError if the building has
    no such unit.
    """
    rows = {row.unit: row for row in session.doors()}
    method = method or session.method
    blocks: list[doc.Block] = []
    for number, unit in enumerate(units):
        session.why(unit)  # says it if there is no such unit
        blocks += [doc.PageBreak()] if number else []
        blocks += _door(session, rows[unit], method, voice)
    title = (
        voice.text("Door sheet, unit {unit}", unit=units[0])
        if len(units) == 1
        else voice.text("Door sheets, {number} units", number=len(units))
    )
    return doc.Document(
        title,
        tuple(blocks),
        made_on=session.on,
        language=voice.language,
        building=session.plan.name,
        footer=voice.text("For staff. Units, never people. A low chance clears no unit."),
    )


def next_units(session: Session, most: int) -> tuple[str, ...]:
    """Return the next doors to look at by rank, and behind them those that a rule or a duty asks for."""
    looks = [row for row in session.doors() if row.status == "look"]
    return tuple(row.unit for row in looks if row.rank <= most or row.mandatory)


def bring_words(method: str, voice: Voice) -> str:
    """Return what to bring for a way of looking (common practice, no source)."""
    return ", ".join(voice.term("bring", thing) for thing in LOOKING[method].bring)


def _door(session: Session, row: DoorRow, method: str, voice: Voice) -> list[doc.Block]:
    unit, text = session.plan.units[row.unit], voice.text
    leaving = text("Look over yourself and your bag before you go to the next door.")
    reasons: tuple[doc.Text, ...] = reason_words(row.reasons[:MOST_REASONS], voice)
    facts: list[tuple[str, doc.Text]] = [
        # Sheets are parted and carried about, so each says where and of which day it is.
        (
            text("Where"),
            text(
                "{building}, unit {unit}, floor {floors}",
                building=session.plan.name, unit=row.unit, floors=voice.joined(list(unit.parts)),
            ),
        ),
        (text("As of"), voice.long_day(session.on)),
        (
            text("Chance"),
            (
                doc.Strong(voice.percent(row.chance)),
                f": {of_100(row.chance, voice)}; {sure_words(row.sure, voice)}",
            ),
        ),
        (text("How"), method_name(method, voice).lower()),
        (text("Bring"), bring_words(method, voice)),
    ]  # fmt: skip
    facts += [
        (text("Access"), rule_words(rule, voice))
        for rule in session.building.settings.access
        if rule.unit == row.unit
    ]
    if row.duty is not None:
        facts.append((text("Asked for"), f"{say(row.duty, voice)}; {because_words(row.duty, voice)}"))
    elif row.ring:
        facts.append((text("Asked for"), text("the ring: {places}", places=places(row.ring, voice))))
    return [
        doc.Heading(text("Unit {unit}", unit=row.unit)),
        doc.Facts(tuple(facts)),
        where_picture(session.plan, row.unit, voice),
        doc.Heading(text("Why"), 2),
        doc.Numbered(reasons),
        doc.Heading(text("What happened"), 2),
        doc.Bullets(
            (
                text("Nobody opened"),
                text("Refused"),
                text("Looked, nothing found"),
                text("Found: say where, what and how many"),
            ),
            ticks=True,
        ),
        doc.Fill((text("Where, what, how many; which rooms could not be seen"),), lines=4),
        doc.Fill((text("Time in"), text("Time out"), text("Crew")), side_by_side=True),
        doc.Caution(f"{voice.term('line', NEVER)} {leaving}"),
    ]

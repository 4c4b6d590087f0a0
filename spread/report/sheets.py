"""Sheets for the round: one page a door, with where, why, how likely, what to bring and room to write.

The week's list is :func:`spread.report.week.week_document`.
"""

from __future__ import annotations

from collections.abc import Sequence

from spread.decisions.case.followup import NEVER
from spread.decisions.doors.ranking import DoorRow
from spread.decisions.words import as_percent
from spread.plan.access import AccessRule, clock_of
from spread.records.words import METHOD_WORDS
from spread.report.chance_map import where_picture
from spread.report.document import (
    Block,
    Bullets,
    Caution,
    Document,
    Facts,
    Fill,
    Heading,
    Numbered,
    PageBreak,
    Strong,
    Text,
)
from spread.report.languages import day_in_words
from spread.session import Session
from spread.trade.registry import LOOKING
from spread.words import ENGLISH, say
from spread.words.doors import because_words, reason_words, sure_words
from spread.words.relations import places

MOST_REASONS = 3
BRING = {key: ", ".join(row.bring) for key, row in LOOKING.items()}
"""What to bring for each way of looking (common practice, no source)."""
ON_LEAVING = "Look over yourself and your bag before you go to the next door."
FOOTER = "For staff. Units, never people. A low chance clears no unit."


def door_sheets(session: Session, units: Sequence[str], method: str = "") -> Document:
    """Return one document with a page for each of some doors, in the order given.

    Parameters
    ----------
    session
        An open building.
    units
        Unit codes, at least one.
    method
        How they will be looked at; the building's usual way if empty.

    Raises
    ------
    SpreadError
        If the building has no such unit.

    Examples
    --------
    A sheet of your own is a document made of the same blocks:

    >>> import datetime as dt
    >>> sheet = Document(
    ...     "Treatment plan, unit 304",
    ...     (
    ...         Facts((("Level", "moderate"), ("Minutes", "120 to 240"))),
    ...         Heading("In this order"),
    ...         Numbered(("Vacuum the bed.", ("Steam slowly, ", Strong("never near an outlet"), "."))),
    ...         Caution("Follow the label of every product; this plan states no dose."),
    ...         Fill(("Technician", "Date"), side_by_side=True),
    ...     ),
    ...     made_on=dt.date(2026, 11, 20),
    ... )
    >>> sheet.blocks[1].text
    'In this order'
    """
    rows = {row.unit: row for row in session.doors()}
    method = method or session.method
    blocks: list[Block] = []
    for number, unit in enumerate(units):
        session.why(unit)  # says it if there is no such unit
        blocks += [PageBreak()] if number else []
        blocks += _door(session, rows[unit], method)
    title = f"Door sheet, unit {units[0]}" if len(units) == 1 else f"Door sheets, {len(units)} units"
    return Document(title, tuple(blocks), made_on=session.on, building=session.plan.name, footer=FOOTER)


def next_units(session: Session, most: int) -> tuple[str, ...]:
    """Return the next doors to look at by rank, and behind them those that a rule or a duty asks for."""
    looks = [row for row in session.doors() if row.status == "look"]
    return tuple(row.unit for row in looks if row.rank <= most or row.mandatory)


def chance_in_words(chance: float) -> str:
    """Return a chance as people count: ``about 34 of 100 such units have bed bugs``."""
    of_100 = round(100 * chance)
    if of_100 < 1:
        return "fewer than 1 of 100 such units have bed bugs"
    if of_100 > 99:
        return "more than 99 of 100 such units have bed bugs"
    return f"about {of_100} of 100 such units {'has' if of_100 == 1 else 'have'} bed bugs"


def _door(session: Session, row: DoorRow, method: str) -> list[Block]:
    unit = session.plan.units[row.unit]
    reasons: tuple[Text, ...] = reason_words(row.reasons[:MOST_REASONS], ENGLISH)
    facts: list[tuple[str, Text]] = [
        # Sheets are parted and carried about, so each says where and of which day it is.
        ("Where", f"{session.plan.name}, unit {row.unit}, floor {' and '.join(unit.parts)}"),
        ("As of", day_in_words(session.on, "en")),
        (
            "Chance",
            (
                Strong(as_percent(row.chance)),
                f": {chance_in_words(row.chance)}; {sure_words(row.sure, ENGLISH)}",
            ),
        ),
        ("How", METHOD_WORDS[method].lower()),
        ("Bring", BRING[method]),
    ]
    facts += [
        ("Access", words) for rule in session.building.settings.access if (words := _access(rule, row.unit))
    ]
    if row.duty is not None:
        facts.append(("Asked for", f"{say(row.duty, ENGLISH)}; {because_words(row.duty, ENGLISH)}"))
    elif row.ring:
        facts.append(("Asked for", f"the ring: {places(row.ring, ENGLISH)}"))
    return [
        Heading(f"Unit {row.unit}"),
        Facts(tuple(facts)),
        where_picture(session.plan, row.unit),
        Heading("Why", 2),
        Numbered(reasons),
        Heading("What happened", 2),
        Bullets(
            ("Nobody opened", "Refused", "Looked, nothing found", "Found: say where, what and how many"),
            ticks=True,
        ),
        Fill(("Where, what, how many; which rooms could not be seen",), lines=5),
        Fill(("Time in", "Time out", "Crew"), side_by_side=True),
        Caution(f"{NEVER} {ON_LEAVING}"),
    ]


def _access(rule: AccessRule, unit: str) -> str:
    """Return the words of an access rule of this unit, or nothing."""
    if rule.unit != unit:
        return ""
    if rule.do_not_enter:
        return "do not enter" + (f": {rule.why}" if rule.why else "")
    days = f" on {', '.join(rule.days)}" if rule.days else ""
    why = f" ({rule.why})" if rule.why else ""
    return f"{clock_of(rule.opens)} to {clock_of(rule.closes)}{days}{why}"

"""The week of a building as one printable document: what is late, due and undated, doors, a round."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from spread.contacts.distances import Distances, distances_of
from spread.decisions.case.followup import NEVER
from spread.decisions.doors.ranking import DoorRow
from spread.decisions.duties.owed import duties
from spread.decisions.round.asked import plan_asked_round
from spread.decisions.round.parts import NINE, Round, RoundSettings
from spread.decisions.trust import Warned
from spread.decisions.week import Owed, Week, week_ahead
from spread.plan.access import clock_of
from spread.report.document import Block, Caution, Document, Heading, Paragraph, Sources, Strong, Table
from spread.report.duties_text import rules_line
from spread.session import Session
from spread.trade.rule_set import ALWAYS_SAY, RuleSet
from spread.trade.rules import load_rules
from spread.words import ENGLISH, Voice
from spread.words.doors import asked_words, reason_text
from spread.words.round import no_door, rounds_head, stop_why
from spread.words.trust import warning_words
from spread.words.week import Line, line

NEXT_DOORS = 12
"""Doors of the list that are shown; those that a rule asks for are shown whatever their rank."""
NOT_ADVICE = "Check your local code; not legal advice."


@dataclass(frozen=True, slots=True)
class Asked:
    """What the proposed round may take."""

    minutes: float = 240.0
    technicians: int = 1
    begins: int = NINE


@dataclass(frozen=True, slots=True)
class WeekView:
    """Everything on the list of a week.

    ``week``: duties, notices and visits by day. ``rules``: the rule set they come from. ``doors``: the next
    doors. ``round``: a proposed round for the first day. ``bare``: whether the log is empty, so that nothing
    can be due yet. ``warnings``: where the log contradicts the model that the chances rest on.
    """

    week: Week
    rules: RuleSet
    doors: tuple[DoorRow, ...]
    round: Round
    bare: bool
    warnings: tuple[Warned, ...] = ()


def week_view(session: Session, asked: Asked | None = None, distances: Distances | None = None) -> WeekView:
    """Gather the week of an open building.

    ``asked``: what the proposed round may take. ``distances``: walks of the plan, if they are known already.
    Raises SettingsError with every problem of ``asked``.
    """
    view, own = session.view, session.building.settings
    asked = asked or Asked()
    rules = load_rules(own.rules, session.building.folder)
    week = week_ahead(
        duties(view.log, view.graph, rules, session.on),
        view.followups.values(),
        session.on,
        lambda unit: view.network.index[unit],
    )
    planned = plan_asked_round(
        view,
        session.plan,
        distances or distances_of(session.plan),
        RoundSettings(
            minutes=asked.minutes,
            technicians=asked.technicians,
            begins=asked.begins,
            method=session.method,
            order=own.order,
            pace=own.pace,
            access=own.access,
            seed=view.posterior.seed,
        ),
        session.open_looks(),
    )
    doors = [row for row in session.doors() if row.status == "look"]
    listed = tuple(row for row in doors if row.rank <= NEXT_DOORS or row.mandatory)
    return WeekView(week, rules, listed, planned, not view.log.rows, session.warnings())


def promise_week(session: Session, shown: WeekView) -> None:
    """Keep what the week's list and its round promise."""
    rows = {row.unit: row for row in session.doors()}
    units = dict.fromkeys([*(row.unit for row in shown.doors), *shown.round.units])
    session.promise("week", [rows[unit] for unit in units])


def next_steps(shown: WeekView, voice: Voice) -> tuple[str, ...]:
    """Return what to do where there is nothing to list; nothing otherwise."""
    week = shown.week
    if shown.bare:
        return (
            voice.text("The log of this building is empty, so nothing can be due yet."),
            voice.text(
                "Record the first report or look on the plan page, or bring in a list of records with the "
                "command spread import."
            ),
            voice.text("Until then the next doors below go by the building alone."),
        )
    if not week.empty:
        return ()
    later = week.later and voice.text(" {number} fall due later.", number=week.later)
    return (
        voice.text("Nothing is late or due this week.") + (later or ""),
        voice.text("Use the time for the next doors below: a find before a complaint spares weeks."),
    )


def headings(voice: Voice) -> dict[str, str]:
    """Return the headings that the document and the page share."""
    return {
        "week": voice.text("This week"),
        "late": voice.text("Late"),
        "undated": voice.text("Owed, without a date in the rule"),
        "doors": voice.text("Next doors"),
        "no_doors": voice.text("No unit is left to look at."),
    }


def day_title(day: dt.date, today: dt.date, voice: Voice) -> str:
    """Return the heading of a day."""
    return voice.text("Today, {day}", day=voice.day(day)) if day == today else voice.day(day)


def week_document(shown: WeekView, session: Session, voice: Voice = ENGLISH) -> Document:
    """Return the week as a printable document."""
    week, heads = shown.week, headings(voice)

    def lines(owed: Sequence[Owed]) -> list[Line]:
        return [line(one, week.on, voice) for one in owed]

    heading = voice.text("Warning")
    blocks: list[Block] = [
        Paragraph((Strong(f"{heading}: "), told)) for told in warning_words(shown.warnings, voice)
    ]
    blocks += [Paragraph(step) for step in next_steps(shown, voice)]
    if week.late:
        blocks += [Heading(heads["late"]), _table(lines(week.late), voice, by=True)]
    for day, owed in week.days:
        if owed:
            blocks += [Heading(day_title(day, week.on, voice)), _table(lines(owed), voice)]
    if week.undated:
        blocks += [Heading(heads["undated"]), _table(lines(week.undated), voice)]
    if week.later and not week.empty:
        more = voice.text("{number} more fall due after this week.", number=week.later)
        blocks.append(Paragraph(more, small=True))
    blocks += _doors(shown.doors, heads, voice)
    blocks += _round(shown.round, voice)
    told = lines([*week.late, *(one for _, day in week.days for one in day), *week.undated])
    blocks += [
        Caution(f"{voice.term('law', ALWAYS_SAY)} {voice.term('law', NEVER)}", voice.term("law", NOT_ADVICE)),
        Sources(
            (
                rules_line(shown.rules, voice),
                *dict.fromkeys(f"{one.title}: {one.rule}" for one in told if one.rule),
            )
        ),
    ]
    return Document(
        title=heads["week"],
        subtitle=voice.text("From {day}", day=voice.day(week.on)),
        blocks=tuple(blocks),
        made_on=session.on,
        language=voice.language,
        building=session.plan.name,
        footer=voice.text("For staff. Units, never people."),
    )


def _table(lines: Sequence[Line], voice: Voice, *, by: bool = False) -> Table:
    def by_when(one: Line) -> str:
        return voice.text(", by {day}", day=one.by) if by and one.by else ""

    rows = [
        (
            Strong(unit.unit),
            (Strong(one.title), by_when(one)),
            "; ".join(filter(None, [unit.why, unit.state])),
        )
        for one in lines
        for unit in one.units
    ]
    head = (voice.text("Unit"), voice.text("What"), voice.text("Why"))
    return Table(head, tuple(rows), widths=(0.12, 0.3, 0.58), ticks=True)


def _doors(doors: Sequence[DoorRow], heads: Mapping[str, str], voice: Voice) -> list[Block]:
    if not doors:
        return [Heading(heads["doors"]), Paragraph(heads["no_doors"])]
    rows = [
        (
            str(row.rank),
            Strong(row.unit),
            voice.percent(row.chance),
            asked_words(row, voice),
            reason_text(row.reasons, voice),
        )
        for row in doors
    ]
    text = voice.text
    head = (text("Rank"), text("Unit"), text("Chance"), text("Asked for"), text("Why"))
    return [
        Heading(heads["doors"]),
        Table(
            head,
            tuple(rows),
            align=("right", "left", "right", "left", "left"),
            widths=(0.07, 0.1, 0.09, 0.2, 0.54),
            small=True,
        ),
    ]


def _round(planned: Round, voice: Voice) -> list[Block]:
    title = Heading(voice.text("A round for today"))
    if not planned.units:
        return [title, Paragraph(no_door(planned, voice))]
    blocks: list[Block] = [title, Paragraph(rounds_head(planned, voice))]
    for path in planned.paths:
        rows = tuple(
            (clock_of(planned.begins + stop.begin), Strong(stop.unit), stop.floor, stop_why(stop, voice))
            for stop in path.stops
        )
        if rows:
            caption = voice.text(
                "Technician {number}, from {start}", number=path.technician, start=path.start
            )
            head = (voice.text("Time"), voice.text("Unit"), voice.text("Floor"), voice.text("Why"))
            blocks.append(Table(head, rows, caption=caption, widths=(0.12, 0.12, 0.12, 0.64), ticks=True))
    return blocks

"""The week of a building as one printable document: what is late, due and undated, doors, a round."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from spread.contacts.distances import Distances, distances_of
from spread.decisions.case.followup import NEVER
from spread.decisions.doors.ranking import DoorRow
from spread.decisions.duties.owed import duties
from spread.decisions.round.making import MOST_MINUTES, MOST_TECHNICIANS
from spread.decisions.round.parts import NINE, RoundSettings
from spread.decisions.trust import Warned
from spread.decisions.week.ahead import DAYS, Owed, Week, week_ahead
from spread.decisions.week.doors import doors_of
from spread.decisions.week.plan import WeekPlan, WeekSettings, plan_week
from spread.errors import SettingsError
from spread.plan.access import clock_of
from spread.report.document import Block, Caution, Document, Heading, Paragraph, Sources, Strong, Table
from spread.report.duties_text import rules_line
from spread.session import Session
from spread.trade.crew import HOURS, Technician, crew_of
from spread.trade.rule_set import ALWAYS_SAY, NOT_ADVICE, RuleSet
from spread.words import ENGLISH, Voice, say
from spread.words.doors import asked_words, reason_text
from spread.words.plan_week import door_why
from spread.words.trust import warning_words
from spread.words.week import Line, line

NEXT_DOORS = 12
"""Doors of the list that are shown; those that a rule asks for are shown whatever their rank."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the planned days may take."""

    minutes: float | None = None  #: Minutes a day of each; those of the settings if None
    technicians: int | None = None  #: How many go; those of the settings if None
    begins: int = NINE  #: Minutes after midnight

    def crew(self, own: Sequence[Technician]) -> tuple[Technician, ...]:
        """Return who goes: the technicians of the settings, unless a number or hours are asked for."""
        if self.minutes is None and self.technicians is None and own:
            return tuple(own)
        hours = HOURS if self.minutes is None else self.minutes / 60.0
        return crew_of(self.technicians or max(1, len(own)), hours)


@dataclass(frozen=True, slots=True)
class WeekView:
    """Everything on the list of a week.

    ``week``: duties, notices and visits by day. ``rules``: the rule set they come from. ``doors``: the next
    doors. ``plan``: who goes where on which day. ``bare``: whether the log is empty, so that nothing
    can be due yet. ``warnings``: where the log contradicts the model that the chances rest on.
    """

    week: Week
    rules: RuleSet
    doors: tuple[DoorRow, ...]
    plan: WeekPlan
    bare: bool
    warnings: tuple[Warned, ...] = ()

    @property
    def units(self) -> tuple[str, ...]:
        """The doors of today's round."""
        return next((one.round.units for one in self.plan.days if one.day == self.week.on), ())


def week_view(session: Session, asked: Asked | None = None, distances: Distances | None = None) -> WeekView:
    """Gather the week of an open building.

    ``asked``: what the proposed round may take. ``distances``: walks of the plan, if they are known already.
    Raises SettingsError with every problem of ``asked``.
    """
    view, rules = session.view, session.rules
    owed = duties(view.log, view.graph, rules, session.on)
    week = week_ahead(owed, view.followups.values(), session.on, lambda unit: view.network.index[unit])
    settings = week_settings(session, asked or Asked())
    doors = doors_of(
        view,
        session.building.settings,
        session.entries(),
        session.open_looks(),
        owed,
        session.on + dt.timedelta(days=DAYS - 1),
        method=session.method,
    )
    planned = plan_week(view, session.plan, distances or distances_of(session.plan), doors, settings)
    ranked = [row for row in session.doors() if row.status == "look"]
    listed = tuple(row for row in ranked if row.rank <= NEXT_DOORS or row.mandatory)
    return WeekView(week, rules, listed, planned, not view.log.rows, session.warnings())


def week_settings(session: Session, asked: Asked) -> WeekSettings:
    """Return what the week of an open building may take.

    Raises SettingsError for hours or numbers of technicians that no day has.
    """
    own = session.building.settings
    if asked.minutes is not None and not 0 < asked.minutes <= MOST_MINUTES:
        what = f"it is {asked.minutes:g}, expected more than 0 and at most {MOST_MINUTES} minutes"
        fix = "give the time that each technician has, such as 240"
        raise SettingsError.at("The week", "minutes", what, fix)
    if asked.technicians is not None and not 1 <= asked.technicians <= MOST_TECHNICIANS:
        what = f"it is {asked.technicians}, expected 1 to {MOST_TECHNICIANS}"
        raise SettingsError.at("The week", "technicians", what, "say how many go")
    return WeekSettings(
        crew=asked.crew(own.technicians),
        begins=asked.begins,
        moved=session.moved,
        access=own.access,
        round=RoundSettings(
            method=session.method, order=own.order, pace=own.pace, seed=session.view.posterior.seed
        ),
    )


def promise_week(session: Session, shown: WeekView) -> None:
    """Keep what the week's list and its round promise."""
    rows = {row.unit: row for row in session.doors()}
    units = dict.fromkeys([*(row.unit for row in shown.doors), *shown.units])
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
    blocks += _plan(shown, session, voice)
    told = lines([*week.late, *(one for _, day in week.days for one in day), *week.undated])
    blocks += [
        Caution(
            f"{voice.term('law', ALWAYS_SAY)} {voice.term('line', NEVER)}", voice.term("law", NOT_ADVICE)
        ),
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


def listed_reasons(session: Session, voice: Voice) -> dict[str, str]:
    """Return the first reason of every unit on the list, which is said where nothing else asks for it."""
    return {row.unit: reason_text(row.reasons[:1], voice) for row in session.doors()}


def _plan(shown: WeekView, session: Session, voice: Voice) -> list[Block]:
    week, text = shown.plan, voice.text
    blocks: list[Block] = []
    reasons = listed_reasons(session, voice)
    for one in week.days:
        if not one.round.units:
            continue
        blocks.append(Heading(text("Round of {day}", day=voice.day(one.day))))
        for code, path in zip(one.technicians, one.round.paths, strict=True):
            rows = tuple(
                (
                    clock_of(one.round.begins + stop.begin),
                    Strong(stop.unit),
                    stop.floor,
                    door_why(week.doors[stop.unit], reasons[stop.unit], voice),
                    "" if week.doors[stop.unit].entry.lawful_on(one.day) else text("notice to give"),
                )
                for stop in path.stops
            )
            if rows:
                caption = text("Technician {code}, from {start}", code=code, start=path.start)
                head = (text("Time"), text("Unit"), text("Floor"), text("Why"), text("Before"))
                widths = (0.1, 0.1, 0.1, 0.52, 0.18)
                blocks.append(Table(head, rows, caption=caption, widths=widths, ticks=True, small=True))
    if week.waits:
        blocks.append(Heading(text("On no day of this week")))
        told = tuple((Strong(", ".join(units)), why) for why, units in waiting(week, voice))
        blocks.append(Table((text("Units"), text("Waits for")), told, widths=(0.4, 0.6), small=True))
    return blocks


def waiting(week: WeekPlan, voice: Voice) -> list[tuple[str, list[str]]]:
    """Return what doors on no day wait for, each once with its units."""
    found: dict[str, list[str]] = {}
    for one in week.waits:
        found.setdefault(say(one, voice), []).append(one.door.unit)
    return list(found.items())

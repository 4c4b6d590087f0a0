"""The week of a building as one printable document: what is late, due and undated, doors, a round."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from spread.contacts.distances import Distances, distances_of
from spread.decisions.case.followup import NEVER
from spread.decisions.doors.ranking import DoorRow
from spread.decisions.duties.owed import duties
from spread.decisions.round.asked import plan_asked_round
from spread.decisions.round.parts import NINE, Round, RoundSettings
from spread.decisions.week import Owed, Week, week_ahead
from spread.decisions.words import as_percent
from spread.plan.access import clock_of
from spread.report.document import Block, Caution, Document, Heading, Paragraph, Sources, Strong, Table
from spread.session import Session
from spread.trade.rule_set import ALWAYS_SAY, RuleSet
from spread.trade.rules import load_rules
from spread.weeks import speak_date
from spread.words import ENGLISH
from spread.words.doors import asked_words, reason_text
from spread.words.musts import must_words

NEXT_DOORS = 12
"""Doors of the list that are shown; those that a rule asks for are shown whatever their rank."""
NOT_ADVICE = "Check your local code; not legal advice."
NO_ROUND = "No door needs a visit in this time."


@dataclass(frozen=True, slots=True)
class Asked:
    """What the proposed round may take."""

    minutes: float = 240.0
    technicians: int = 1
    begins: int = NINE


@dataclass(frozen=True, slots=True)
class WeekView:
    """Everything on the list of a week.

    Parameters
    ----------
    week
        Duties, notices and visits by day.
    rules
        The rule set they come from.
    doors
        The next doors.
    round
        A proposed round for the first day.
    next_steps
        What to do where there is nothing to list; empty otherwise.
    """

    week: Week
    rules: RuleSet
    doors: tuple[DoorRow, ...]
    round: Round
    next_steps: tuple[str, ...]


def week_view(session: Session, asked: Asked | None = None, distances: Distances | None = None) -> WeekView:
    """Gather the week of an open building.

    Parameters
    ----------
    session
        An open building.
    asked
        What the proposed round may take.
    distances
        Walks of the plan, if they are known already.

    Raises
    ------
    SettingsError
        With every problem of ``asked``.
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
            pace=own.pace,
            access=own.access,
            seed=view.posterior.seed,
        ),
        session.open_looks(),
    )
    doors = [row for row in session.doors() if row.status == "look"]
    listed = tuple(row for row in doors if row.rank <= NEXT_DOORS or row.mandatory)
    return WeekView(week, rules, listed, planned, _next_steps(session, week))


def _next_steps(session: Session, week: Week) -> tuple[str, ...]:
    if not session.view.log.rows:
        return (
            "The log of this building is empty, so nothing can be due yet.",
            "Record the first report or look on the plan page, or bring in a list of records with "
            "the command spread import.",
            "Until then the next doors below go by the building alone.",
        )
    if week.empty:
        later = f" {week.later} fall due later." if week.later else ""
        return (
            f"Nothing is late or due this week.{later}",
            "Use the time for the next doors below: a find before a complaint spares weeks.",
        )
    return ()


def week_document(shown: WeekView, session: Session) -> Document:
    """Return the week as a printable document."""
    week = shown.week
    blocks: list[Block] = [Paragraph(step) for step in shown.next_steps]
    if week.late:
        blocks += [Heading("Late"), _table(week.late, by=True)]
    for day, owed in week.days:
        if owed:
            blocks += [Heading(day_title(day == week.on, speak_date(day))), _table(owed)]
    if week.undated:
        blocks += [Heading("Owed, without a date in the rule"), _table(week.undated)]
    if week.later and not week.empty:
        blocks.append(Paragraph(f"{week.later} more fall due after this week.", small=True))
    blocks += _doors(shown.doors)
    blocks += _round(shown.round)
    rules = shown.rules
    blocks += [
        Caution(f"{ALWAYS_SAY} {NEVER}", NOT_ADVICE),
        Sources(
            (f"Rules: {rules.title} ({rules.authority}; {rules.text}; {rules.text_date}).", *_rules(week))
        ),
    ]
    return Document(
        title="This week",
        subtitle=f"From {speak_date(week.on)}",
        blocks=tuple(blocks),
        made_on=session.on,
        building=session.plan.name,
        footer="For staff. Units, never people.",
    )


def day_title(today: bool, words: str) -> str:
    """Return the heading of a day."""
    return f"Today, {words}" if today else words


def rounds_head(planned: Round) -> str:
    """Return what a proposed round takes and is expected to find."""
    count = len(planned.units)
    return (
        f"{count} door{'' if count == 1 else 's'}, about {planned.finds:.2f} new finds expected, done about "
        f"{clock_of(planned.begins + planned.finish)}. From likely clear to infested, to limit carry-over; "
        "plan again after each answer."
    )


def _table(owed: Sequence[Owed], *, by: bool = False) -> Table:
    rows = [
        (
            Strong(unit.unit),
            (Strong(line.title), f", by {line.by}" if by and line.by else ""),
            "; ".join(filter(None, [unit.why, unit.state])),
        )
        for line in owed
        for unit in line.units
    ]
    return Table(("Unit", "What", "Why"), tuple(rows), widths=(0.12, 0.3, 0.58), ticks=True)


def _rules(week: Week) -> Iterator[str]:
    lines: Iterable[Owed] = (*week.late, *(one for _, day in week.days for one in day), *week.undated)
    yield from dict.fromkeys(f"{line.title}: {line.rule}" for line in lines if line.rule)


def _doors(doors: Sequence[DoorRow]) -> list[Block]:
    if not doors:
        return [Heading("Next doors"), Paragraph("No unit is left to look at.")]
    rows = [
        (
            str(row.rank),
            Strong(row.unit),
            as_percent(row.chance),
            asked_words(row, ENGLISH),
            reason_text(row.reasons, ENGLISH),
        )
        for row in doors
    ]
    return [
        Heading("Next doors"),
        Table(
            ("Rank", "Unit", "Chance", "Asked for", "Why"),
            tuple(rows),
            align=("right", "left", "right", "left", "left"),
            widths=(0.07, 0.1, 0.09, 0.2, 0.54),
            small=True,
        ),
    ]


def _round(planned: Round) -> list[Block]:
    if not planned.units:
        return [Heading("A round for today"), Paragraph(planned.words or NO_ROUND)]
    blocks: list[Block] = [Heading("A round for today"), Paragraph(rounds_head(planned))]
    for path in planned.paths:
        rows = tuple(
            (
                clock_of(planned.begins + stop.begin),
                Strong(stop.unit),
                stop.floor,
                must_words(stop.must, ENGLISH) or reason_text(stop.why[:1], ENGLISH),
            )
            for stop in path.stops
        )
        if rows:
            caption = f"Technician {path.technician}, from {path.start}"
            head, widths = ("Time", "Unit", "Floor", "Why"), (0.12, 0.12, 0.12, 0.64)
            blocks.append(Table(head, rows, caption=caption, widths=widths, ticks=True))
    return blocks

"""The owner's month: one page that says what was done, whether it is getting better, and what comes next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spread.decisions.month.change import path_between
from spread.decisions.month.month import AHEAD_DAYS, Month, last_month
from spread.decisions.past import PastWeek
from spread.facts import as_json
from spread.programmes.money import PRICES_FILE, read_prices
from spread.programmes.spent import Spent, budget_of, spent
from spread.records.repeats import repeats
from spread.report import document as doc
from spread.report.charts import Path, band_panels
from spread.report.held import HeldView, held_blocks, held_data, held_text, held_view
from spread.report.lines import folded
from spread.session import Session
from spread.words import ENGLISH, Voice, say
from spread.words.month import ground, other_than_said, promised_words
from spread.words.trust import warning_words, warnings_data

MOST_UNITS = 12
"""Codes of a row that the page names; it has to stay one page."""
BANDS = ("low", "lower", "median", "upper", "high")
WEEKS = 26
"""Weeks that the picture goes back before the period."""


@dataclass(frozen=True, slots=True)
class MonthView:
    """The facts of a period, with what the work cost; None where the building has no prices of its own."""

    month: Month
    spent: Spent | None
    held: HeldView | None = None  #: The accepted programme; None where none was


def month_view(session: Session, since: dt.date | None = None, until: dt.date | None = None) -> MonthView:
    """Gather a period of an open building; the last whole month where no day is named.

    Raises SettingsError where the days are no period of the past, or ``prices.toml`` cannot be read.
    """
    first, last = last_month(session.on)
    since, until = (
        since or (until.replace(day=1) if until else first),
        until or (session.on if since else last),
    )
    month = session.month(since, until)
    own, settings, held = session.building.folder / PRICES_FILE, session.building.settings, held_view(session)
    if not own.is_file():
        return MonthView(month, None, held)
    prices, log = read_prices(own, pace=settings.pace), session.view.log
    again = repeats(log.current)
    rows = [row for row in log.current if row.id not in again and row.when <= session.on]
    budget = budget_of(settings.budget or None, since, until)
    return MonthView(month, spent(rows, prices, since, until, budget), held)


def rows_of(month: Month, voice: Voice, *, board: bool = False) -> list[tuple[str, str, str]]:
    """Return the table of a period: what, in how many units, and which; the last empty in a board's copy."""
    done, ahead = month.done, month.ahead
    ways = {
        "looks": voice.joined([say(one, voice) for one in done.looks]),
        "treatments": voice.joined([say(one, voice) for one in done.treatments]),
    }
    table: list[tuple[str, Sequence[str], str]] = [
        (voice.text("Looked at"), done.looked, ways["looks"]),
        (voice.text("Reported by somebody"), done.reported, ""),
        (voice.text("Bugs found"), done.found, ""),
        (voice.text("of these, not known of before"), done.new, ""),
        (voice.text("Treated"), done.treated, ways["treatments"]),
        (voice.text("Cleared by the rule of the house"), done.cleared, ""),
        (voice.text("Refused, and not entered since"), done.refused, ""),
        (voice.text("Nobody opened, and not entered since"), done.shut, ""),
        (voice.text("Found or treated, and not yet cleared"), ahead.open, ""),
        (voice.text("Next: to treat"), ahead.treat, ""),
        (voice.text("Next: visit overdue"), ahead.late, ""),
        (voice.text("Next: visit due within {days} days", days=AHEAD_DAYS), ahead.visits, ""),
    ]
    return [
        (what, voice.number(len(units)), ways or ("" if board else few(units, voice)))
        for what, units, ways in table
    ]


def few(units: Sequence[str], voice: Voice) -> str:
    """Return the first codes of a row, and how many more there are."""
    named, more = ", ".join(units[:MOST_UNITS]), len(units) - MOST_UNITS
    return voice.text("{units} and {number} more", units=named, number=more) if more > 0 else named


def headline(month: Month, voice: Voice) -> str:
    """Return the answer to the question that an owner asks."""
    if month.change is None:
        return voice.text(
            "It cannot be told whether it is better or worse: the log does not reach back so far."
        )
    return say(month.change, voice)


def reasons(shown: MonthView, voice: Voice, *, board: bool = False) -> Iterator[str]:
    """Yield what the answer rests on, where today's knowledge differs from what was said, and what moved."""
    month = shown.month
    change = month.change
    if change is None:
        return
    yield ground(change, voice)
    for said, known in ((month.said_then, change.then), (month.said_at_end, change.now)):
        if said is not None and (told := other_than_said(said, known, voice)):
            yield told
    if month.shifts and not board:
        moved = voice.joined([say(one, voice) for one in month.shifts])
        yield voice.text("What moved most: {units}.", units=moved)


def counts_of(month: Month, voice: Voice) -> list[tuple[str, str, str]]:
    """Return both days with the number infested, as known today and as said then."""
    change = month.change
    if change is None:
        return []
    nothing = voice.text("not kept")
    return [
        (
            voice.day(known.day),
            say(known, voice),
            nothing
            if said is None
            else voice.text("{median} ({low} to {high})", median=said.median, low=said.low, high=said.high),
        )
        for known, said in ((change.then, month.said_then), (change.now, month.said_at_end))
    ]


def title_of(month: Month, voice: Voice) -> str:
    """Return the period as a title."""
    return voice.text("From {since} to {until}", since=voice.day(month.since), until=voice.day(month.until))


def month_document(
    session: Session, shown: MonthView, voice: Voice = ENGLISH, *, board: bool = False
) -> doc.Document:
    """Return the page; ``board``: a copy that names no unit."""
    month, text = shown.month, voice.text
    blocks: list[doc.Block] = [doc.Paragraph((doc.Strong(headline(month, voice)),))]
    blocks += [doc.Paragraph(told) for told in reasons(shown, voice, board=board)]
    warned = [] if board else warning_words(session.warnings(), voice)
    blocks += [doc.Paragraph((doc.Strong(f"{text('Warning')}: "), told)) for told in warned]
    if board and session.warnings():
        blocks.append(
            doc.Paragraph(
                text("Warning: the log speaks against the model in places; the staff’s copy says where.")
            )
        )
    if counts := counts_of(month, voice):
        head = (
            text("Units infested, of {units}", units=month.units),
            text("By what is known today"),
            text("As said then"),
        )
        blocks.append(doc.Table(head, tuple(counts), widths=(0.3, 0.42, 0.28), whole=True))
    if picture := _picture(session, month, voice):
        blocks.append(picture)
    head = (text("What"), text("Units"), text("Which, or how"))
    blocks.append(
        doc.Table(
            head, tuple(rows_of(month, voice, board=board)), ("left", "right", "left"),
            widths=(0.36, 0.1, 0.54), small=True,
        )
    )  # fmt: skip
    blocks.append(
        doc.Facts(
            (
                (text("Promised and found"), promised_words(month.promised, voice)),
                (text("Money"), money_words(shown, voice)),
            )
        )
    )
    blocks.append(doc.Caution(caution(voice)))
    if shown.held is not None:
        blocks += held_blocks(shown.held, voice)
    return doc.Document(
        text("How it stands"),
        tuple(blocks),
        made_on=session.on,
        subtitle=title_of(month, voice),
        language=voice.language,
        building=session.plan.name,
        footer=text("Decision support, not a guarantee.")
        if board
        else text("For staff. Units, never people."),
        dense=True,
        most_pages=1,
    )


def caution(voice: Voice) -> str:
    """Return what has to be said under such figures."""
    return voice.text(
        "A low chance clears no unit, and “cleared” means that the rule of the house was met, not that no "
        "bug is left. The number infested is worked out, not counted."
    )


def money_words(shown: MonthView, voice: Voice) -> str:
    """Return what the work cost; without prices of the building's own, that nobody said."""
    if shown.spent is not None:
        return say(shown.spent, voice)
    return voice.text("The building has no prices of its own on file, so no money is told.")


def path_of(session: Session, month: Month) -> tuple[PastWeek, ...]:
    """Return the weeks from half a year before a period to its end."""
    return path_between(session.view, month.since - dt.timedelta(weeks=WEEKS), month.until)


def _picture(session: Session, month: Month, voice: Voice) -> doc.Picture | None:
    weeks = path_of(session, month)
    if len(weeks) < 2:
        return None
    days = [dt.date.fromisoformat(week.monday) for week in weeks]
    points = np.array([[getattr(w, name) for w in weeks] for name in BANDS], dtype=np.float64)
    along = voice.text("weeks from {first} to {last}", first=voice.day(days[0]), last=voice.day(days[-1]))
    name = voice.text("Units infested, by what is known today")
    svg = band_panels([Path(name, points)], upright="", along=along)
    ends = [voice.text("{median} ({low} to {high})", median=int(p[2]), low=int(p[0]), high=int(p[4]))
            for p in (points[:, 0], points[:, -1])]  # fmt: skip
    alt = voice.text("From {first} in the first week to {last} in the last.", first=ends[0], last=ends[1])
    return doc.Picture(svg, alt, width=0.62)


def month_text(session: Session, shown: MonthView, voice: Voice = ENGLISH, *, board: bool = False) -> str:
    """Return the same as text."""
    month = shown.month
    lines = [f"{session.plan.name}: {title_of(month, voice)}", "", folded(headline(month, voice))]
    lines += [folded(told, "- ") for told in reasons(shown, voice, board=board)]
    if not board:
        lines += [
            folded(f"{voice.text('Warning')}: {told}") for told in warning_words(session.warnings(), voice)
        ]
    then = voice.text("said then: {said}", said="{said}")
    lines += [
        "",
        *(f"{day}: {known}; {then.format(said=said)}" for day, known, said in counts_of(month, voice)),
        "",
    ]
    rows = rows_of(month, voice, board=board)
    wide = max(len(what) for what, _, _ in rows) + 2
    lines += [
        folded(f"{what:<{wide}}{number:>5}  {which}".rstrip(), rest=" " * (wide + 7))
        for what, number, which in rows
    ]
    told = (promised_words(month.promised, voice), money_words(shown, voice), caution(voice))
    held = ["", *held_text(shown.held, voice)] if shown.held is not None else []
    return "\n".join([*lines, "", *(folded(sentence) for sentence in told), *held])


def month_data(session: Session, shown: MonthView, *, board: bool = False) -> dict[str, Any]:
    """Return the same ready for JSON: the facts, and their words in English; a board's copy has no units."""
    month = shown.month
    facts: dict[str, Any] = as_json(month)  # type: ignore[assignment]
    if board:
        facts = _without_units(facts)
    told: dict[str, Any] = facts | {
        "building": session.plan.name,
        "verdict": month.change.verdict if month.change else "unknown",
        "spent": as_json(shown.spent) if shown.spent else None,
        "held": held_data(shown.held) if shown.held else None,
        "words": [
            headline(month, ENGLISH), *reasons(shown, ENGLISH, board=board),
            promised_words(month.promised, ENGLISH), money_words(shown, ENGLISH),
        ],
    }  # fmt: skip
    return told if board else told | {"warnings": warnings_data(session.warnings())}


def _without_units(told: dict[str, Any]) -> dict[str, Any]:
    """Return facts with numbers of units in place of their codes, and none of single units."""

    def numbers(part: dict[str, Any]) -> dict[str, Any]:
        tallies = {key: [numbers(one) for one in part[key]] for key in ("looks", "treatments") if key in part}
        lists = {key: len(value) for key, value in part.items() if isinstance(value, list)}
        return part | lists | tallies

    shown = {key: part for key, part in told.items() if key != "shifts"}
    return shown | {key: numbers(told[key]) for key in ("done", "ahead")}

"""How good a building's lists were so far, in words and tables: ``spread grades`` and the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from spread.decisions.grades.grades import ENOUGH, Band, Grades, ListDay, Sum, grades_of, off_promise
from spread.decisions.grades.matching import HORIZON, OTHER_METHOD, OVERTAKEN, UNDECIDED, UNLISTED
from spread.facts import as_json
from spread.report.lines import folded
from spread.words import ENGLISH, Voice, say
from spread.words.terms import method_name
from spread.words.trust import warnings_data

if TYPE_CHECKING:
    import datetime as dt

    from spread.building import Building

LATEST = 12
"""Days that the text shows, the latest ones."""


def verdict_words(grades: Grades, voice: Voice) -> str:
    """Return the one sentence that matters: what was promised and made, and whether anybody can tell."""
    whole = grades.whole
    if not grades.lists:
        return voice.text(
            "Not yet gradable: no list is kept yet. From now on every list is: of the next doors, of the "
            "plan page, of a round and of the week."
        )
    if not whole.looks:
        return voice.text("Not yet gradable: 0 looks. No look has followed a list that named its unit.")
    if not grades.enough:
        return voice.many(
            "Not yet gradable: {number} look, {promised} finds promised and {made} made. With fewer than "
            "{enough} nobody can tell chance from a fault.",
            "Not yet gradable: {number} looks, {promised} finds promised and {made} made. With fewer than "
            "{enough} nobody can tell chance from a fault.",
            whole.looks,
            promised=voice.number(whole.promised, 1),
            made=voice.number(whole.made),
            enough=ENOUGH,
        )
    if (off := off_promise(grades)) is not None:
        return say(off, voice)
    return voice.text(
        "In {looks} looks {promised} finds were promised (95 % sure: {low} to {high}) and {made} were made: "
        "the lists kept their promises as far as these looks can tell, no finer than that interval.",
        **_figures(whole, voice),
    )


def _figures(whole: Sum, voice: Voice) -> dict[str, str]:
    return {
        "looks": voice.number(whole.looks),
        "promised": voice.number(whole.promised, 1),
        "low": voice.number(whole.low),
        "high": voice.number(whole.high),
        "made": voice.number(whole.made),
    }


def score_words(grades: Grades, voice: Voice) -> tuple[str, ...]:
    """Return the scores in sentences; nothing where there are too few looks for any."""
    if not grades.enough or grades.brier is None or grades.log_score is None or grades.reference is None:
        return ()
    lines = [
        voice.text(
            "Brier score (mean squared distance of promise and find; 0 is best): {score}. Always saying the "
            "share that was found, which nobody knows beforehand, gives {reference}.",
            score=voice.number(grades.brier, 4),
            reference=voice.number(grades.reference, 4),
        ),
        voice.text("Skill against that: {skill}; above 0 the lists tell units apart.",
                   skill=voice.number(grades.skill, 2))
        if grades.skill is not None
        else voice.text("No skill can be worked out: every look ended alike."),
        voice.text("Log score (mean surprise; 0 is best): {score}.", score=voice.number(grades.log_score, 3)),
        voice.text(
            "The 90 % interval of the finds of a day’s lists held what was made on {covered} of {days} days; "
            "{expected} were to be expected, for the interval of a small count holds more than 90 %.",
            covered=grades.covered,
            days=len(grades.days),
            expected=voice.number(grades.expected, 1),
        ),
    ]  # fmt: skip
    return tuple(lines)


def scope_words(grades: Grades, voice: Voice) -> tuple[str, ...]:
    """Return what the grade covers and what it cannot: the rule, who was looked at, what is left out."""
    lines = [
        voice.text(
            "A look grades the last list before it that named its unit and its method, up to {days} days "
            "earlier, unless something else was recorded of the unit in between.",
            days=HORIZON,
        ),
        voice.text(
            "Only units that were looked at are graded, and they were not chosen by chance: {looked} of "
            "{units} units that were on a list. Nothing is known of the others, and a low chance clears "
            "no unit.",
            looked=grades.looked,
            units=grades.units,
        ),
    ]
    why = {
        UNLISTED: voice.text("no list before them named the unit"),
        OTHER_METHOD: voice.text("the lists were for another method"),
        OVERTAKEN: voice.text("something else was recorded in between"),
        UNDECIDED: voice.text("they ended unsure or left the sleeping places out"),
    }
    if grades.left:
        told = voice.joined([f"{number} ({why[key]})" for key, number in sorted(grades.left.items())])
        lines.append(voice.text("Looks that grade nothing: {told}.", told=told))
    if len(grades.methods) > 0:
        lines.append(
            voice.text("The intervals take looks as independent; those of one building hang together a bit.")
        )
    return tuple(lines)


def trouble_words(grades: Grades, voice: Voice) -> tuple[str, ...]:
    """Return what is the matter with the lists that are kept; nothing where all is well."""
    lines = []
    if not grades.can_keep:
        lines.append(
            voice.text(
                "Lists cannot be kept here, so those made now will never be graded: the folder or the office "
                "cannot be written."
            )
        )
    if grades.unread:
        lines.append(
            voice.many(
                "{number} line of the kept lists cannot be read or was changed by somebody; a list that "
                "cannot be read is left out.",
                "{number} lines of the kept lists cannot be read or were changed by somebody; a list that "
                "cannot be read is left out.",
                grades.unread,
            )
        )
    return tuple(lines)


def sum_row(name: str, one: Sum, voice: Voice) -> list[str]:
    """Return a row of a table: name, looks, made, promised, interval."""
    ends = voice.text("{low} to {high}", low=one.low, high=one.high)
    return [name, voice.number(one.looks), voice.number(one.made), voice.number(one.promised, 1), ends]


def band_name(band: Band, voice: Voice) -> str:
    """Return what a band of chances is called."""
    least, most = (voice.number(100.0 * edge) for edge in (band.least, band.most))
    return voice.text("{least} to {most} %", least=least, most=most)


def day_row(day: ListDay, voice: Voice) -> list[str]:
    """Return the row of one day's lists."""
    ends = voice.text("{low} to {high}", low=day.low, high=day.high)
    figures = [voice.number(day.looks), voice.number(day.made), voice.number(day.promised, 1), ends]
    return [voice.day(day.day), *figures]


def heads(first: str, share: str, voice: Voice) -> list[str]:
    """Return the headings of such tables."""
    sure = voice.text("{share} interval", share=share)
    return [first, voice.text("Looks"), voice.text("Made"), voice.text("Promised"), sure]


def grades_text(building: Building, on: dt.date, voice: Voice = ENGLISH) -> str:
    """Return the grade of a building's lists as text."""
    grades = grades_of(building.store.promises, building.store.log, on)
    title = voice.text("what its lists promised, and what was found")
    lines = [f"{building.name}, {voice.day(on)}: {title}", "", folded(verdict_words(grades, voice))]
    if grades.since is not None:
        kept = voice.many(
            "{number} list is kept, since {day}.", "{number} lists are kept, since {day}.", grades.lists,
            day=voice.day(grades.since),
        )  # fmt: skip
        lines += ["", folded(kept)]
    told = (*score_words(grades, voice), *scope_words(grades, voice), *trouble_words(grades, voice))
    lines += [folded(sentence, "- ") for sentence in told]
    if grades.enough:
        by_band = [sum_row(band_name(band, voice), band.looks, voice) for band in grades.bands]
        by_method = [sum_row(method_name(one.name, voice), one, voice) for one in grades.methods]
        lines += _table(heads(voice.text("Promised chance"), voice.per_cent("95"), voice), by_band)
        lines += _table(heads(voice.text("Method"), voice.per_cent("95"), voice), by_method)
    if grades.days:
        by_day = [day_row(day, voice) for day in grades.days[-LATEST:]]
        lines += _table(heads(voice.text("Lists of"), voice.per_cent("90"), voice), by_day)
    return "\n".join(lines)


def grades_data(building: Building, on: dt.date) -> dict[str, Any]:
    """Return the same ready for JSON: the facts, and their words in English."""
    grades = grades_of(building.store.promises, building.store.log, on)
    off = off_promise(grades)
    facts: dict[str, Any] = as_json(grades)  # type: ignore[assignment]
    return facts | {
        "building": building.name,
        "gradable": grades.enough,
        "words": [
            verdict_words(grades, ENGLISH), *score_words(grades, ENGLISH), *scope_words(grades, ENGLISH),
            *trouble_words(grades, ENGLISH),
        ],
        "warnings": warnings_data([off] if off else []),
    }  # fmt: skip


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    wide = max(len(row[0]) for row in (head, *rows)) + 2
    return ["", *(f"{row[0]:<{wide}}" + "".join(f"{cell:>14}" for cell in row[1:]) for row in (head, *rows))]

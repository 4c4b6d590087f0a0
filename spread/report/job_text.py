"""The record of a visit as text, as data and as a page to file: what a firm keeps of a day behind a door."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from spread.decisions.case.job import JobRecord
from spread.facts import as_json
from spread.records.kinds import Done, Job, Record
from spread.records.photographs import Photograph
from spread.report import document as doc
from spread.report.lines import folded
from spread.report.photographs import picture_of
from spread.trade import treating
from spread.words import say
from spread.words.job import (
    circumstances,
    heat_words,
    looked_words,
    next_words,
    opened_choice,
    product_name,
    step_name,
    told_words,
    treated_words,
)
from spread.words.records import describe
from spread.words.voice import ENGLISH, Voice, upper

Photographs = Callable[[str], Photograph | None]
"""Gives a photograph by its name, or nothing where it is not kept here."""


def job_text(building: str, record: JobRecord, voice: Voice = ENGLISH) -> str:
    """Return the record as plain text."""
    return "\n".join(_lines(building, record, voice))


def _lines(building: str, record: JobRecord, voice: Voice) -> Iterator[str]:
    where = {"unit": record.unit, "building": building, "day": voice.day(record.on)}
    yield voice.text("{unit} in {building}, record of the visit of {day}", **where)
    for title, told in _facts(record, voice):
        yield folded(f"{title}: {told}", "", "  ")
    for title, lines in _parts(record, voice):
        yield ""
        yield title
        yield from (folded(line, "  - ", "    ") for line in lines)
    yield ""
    yield folded(_amounts(voice), "", "")
    yield folded(_nothing_cleared(voice), "", "")


def job_data(building: str, record: JobRecord, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return the record ready for JSON: the facts, and the sentences as they are said."""
    return {
        "building": building,
        "unit": record.unit,
        "on": record.on.isoformat(),
        "by": list(record.by),
        "said": [[title, list(lines)] for title, lines in _parts(record, voice)],
        "facts": as_json(record),
    }


def job_document(
    building: str, record: JobRecord, voice: Voice = ENGLISH, photographs: Photographs = lambda _: None
) -> doc.Document:
    """Return the record as a page to file and to sign.

    ``photographs``: gives the pictures that rows name; one that is not kept here is named and left out.
    """
    blocks: list[doc.Block] = [doc.Facts(tuple(_facts(record, voice)))]
    for row in record.treated:
        if row.job and (row.job.done or row.job.left):
            blocks += [doc.Heading(voice.text("Steps of the plan")), _steps(row.job, voice)]
    undone = voice.text("Left undone")  # on paper the table of steps says it
    for title, lines in _parts(record, voice):
        if title != undone:
            blocks += [doc.Heading(title), doc.Bullets(tuple(lines))]
    blocks.append(doc.Caution(_amounts(voice), title=voice.text("The label decides")))
    if record.treated:
        blocks.append(doc.Heading(voice.text("The resident must not")))
        blocks.append(doc.Bullets(tuple(voice.term("line", one.text) for one in treating.MUST_NOT)))
    blocks += _pictures(record, voice, photographs)
    blocks += _signatures(record, voice, photographs)
    blocks.append(doc.Paragraph(_nothing_cleared(voice), small=True))
    signed = any(job.signature or job.code for job in _jobs(record))
    by = (voice.text("Technician"), *(() if signed else (voice.text("Let in by"),)))
    blocks.append(doc.Fill(by, side_by_side=True))
    return doc.Document(
        voice.text("Record of a visit, unit {unit}", unit=record.unit),
        tuple(blocks),
        made_on=record.on,
        language=voice.language,
        building=building,
        footer=voice.text("What was done and found, as it was written down. It clears no unit."),
    )


def _facts(record: JobRecord, voice: Voice) -> Iterator[tuple[str, str]]:
    yield voice.text("Day"), voice.day(record.on)
    yield voice.text("Written down by"), ", ".join(record.by) or voice.text("nobody signed")
    for job in _jobs(record):
        yield from circumstances(job, voice)


def _jobs(record: JobRecord) -> tuple[Job, ...]:
    return tuple(row.job for row in record.treated if row.job)


def _parts(record: JobRecord, voice: Voice) -> Iterator[tuple[str, list[str]]]:
    """Yield what the record says, under titles; a part without a line is left out."""
    jobs = _jobs(record)
    parts = (
        (voice.text("Found"), [looked_words(row, voice) for row in record.looks]),
        (voice.text("Treated"), [treated_words(row, voice) for row in record.treated]),
        (voice.text("Heat"), [line for job in jobs for line in heat_words(job, voice)]),
        (voice.text("Left undone"), [step_name(one, voice) for job in jobs for one in job.left]),
        (voice.text("Products"), [product_name(one, voice) for job in jobs for one in job.products]),
        (voice.text("Traps"), [describe(row, voice) for row in record.traps]),
        (voice.text("Besides"), [describe(row, voice) for row in record.others]),
        (voice.text("The resident"), [told_words(record, voice)]),
        (voice.text("Still lacking to be cleared"), [f"{upper(say(one, voice))}." for one in record.lacks]),
        (voice.text("Next visit"), [next_words(record, voice)]),
    )
    yield from ((title, lines) for title, lines in parts if lines)


def _steps(job: Job, voice: Voice) -> doc.Table:
    done, left = voice.text("done"), doc.Strong(voice.text("left undone"))
    rows: list[tuple[doc.Text, ...]] = [(step_name(one, voice), done) for one in job.done]
    rows += [(step_name(one, voice), (left,)) for one in job.left]
    return doc.Table((voice.text("Step"), voice.text("How it was left")), tuple(rows), widths=(3, 1))


def _pictures(record: JobRecord, voice: Voice, photographs: Photographs) -> list[doc.Block]:
    if not record.photographs:
        return []
    shown: list[doc.Block] = [doc.Heading(voice.text("Photographs"))]
    lost = []
    for row in (*record.looks, *record.treated):
        for one in row.items:
            kept = photographs(one.photo) if one.photo else None
            if kept is not None:
                shown.append(picture_of(kept, _of(row, one.item, one.place, voice)))
            elif one.photo:
                lost.append(one.photo)
    if lost:
        shown.append(doc.Paragraph(_not_here(lost, voice), small=True))
    return shown


def _signatures(record: JobRecord, voice: Voice, photographs: Photographs) -> list[doc.Block]:
    """Return what was drawn by who let in, each with who that was; never a name."""
    shown: list[doc.Block] = []
    for job in _jobs(record):
        kept = photographs(job.signature) if job.signature else None
        who = opened_choice(job.opened, voice) if job.opened else voice.text("nobody wrote who")
        words = voice.text("Signature of who let in: {who}, {day}", who=who, day=voice.day(record.on))
        if kept is not None:
            shown.append(replace(picture_of(kept, words), width=0.4))
        elif job.signature:
            shown.append(doc.Paragraph(f"{words}: {_not_here([job.signature], voice)}", small=True))
    return shown


def _not_here(names: list[str], voice: Voice) -> str:
    return voice.text("Not kept here: {files}.", files=", ".join(names))


def _of(row: Record, item: str, place: str, voice: Voice) -> str:
    return f"{step_name(Done(item, place), voice)}, {voice.day(row.when)}"


def _amounts(voice: Voice) -> str:
    return voice.text(
        "How much of a product goes where, what to wear and when the home may be entered again is as its "
        "label says; it is not part of this record."
    )


def _nothing_cleared(voice: Voice) -> str:
    return voice.text(
        "A record of a visit clears no unit: that takes the looks and periods of the follow-up, and time."
    )

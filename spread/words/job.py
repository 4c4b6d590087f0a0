"""The record of a visit in words: what was done, found, left undone and told. It clears nothing."""

from __future__ import annotations

from collections.abc import Iterator

from spread.decisions.case.job import JobRecord
from spread.records.kinds import Done, Job, Product, Record
from spread.trade.probes import probes_credit
from spread.words.credit import degrees, never_clears
from spread.words.followup import visit_kind
from spread.words.records import describe
from spread.words.room import item_name
from spread.words.saying import say
from spread.words.terms import place_name
from spread.words.voice import Voice, upper


def step_name(step: Done, voice: Voice) -> str:
    """Return a step as ``Mattress, bed 1``."""
    name = upper(item_name(step.item, voice))
    return f"{name}, {place_name(step.place, voice)}" if step.place else name


def product_name(one: Product, voice: Voice) -> str:
    """Return a product with its registration number, or that none was written down."""
    number = one.registration or voice.text("not written down")
    return voice.text("{name} (registration number {number})", name=one.name, number=number)


def prepared_choice(word: str, voice: Voice) -> str:
    """Return how far a home was prepared."""
    return {
        "yes": voice.text("Prepared"),
        "partly": voice.text("Partly"),
        "no": voice.text("Not prepared"),
    }[word]


def pets_choice(word: str, voice: Voice) -> str:
    """Return where the animals were."""
    return {
        "none": voice.text("No pets"),
        "away": voice.text("Pets kept away"),
        "present": voice.text("Pets in the room"),
    }[word]


def opened_choice(word: str, voice: Voice) -> str:
    """Return who let in; never a name."""
    return {
        "resident": voice.text("The resident"),
        "staff": voice.text("Staff of the building"),
        "key": voice.text("Own key"),
    }[word]


def circumstances(job: Job, voice: Voice) -> Iterator[tuple[str, str]]:
    """Yield how the home was found, as pairs of a title and what was written; only what was."""
    if job.window:
        yield voice.text("Hours promised"), job.window
    if job.opened:
        yield voice.text("Let in by"), opened_choice(job.opened, voice)
    if job.code:
        yield voice.text("Code of who let in"), job.code
    if job.signature:
        yield voice.text("Signature of who let in"), voice.text("drawn on the phone")
    if job.prepared:
        yield voice.text("Preparation"), prepared_choice(job.prepared, voice)
    if job.celsius is not None:
        yield voice.text("Rooms"), degrees(job.celsius, voice)
    if job.pets:
        yield voice.text("Pets"), pets_choice(job.pets, voice)


def heat_words(job: Job, voice: Voice) -> tuple[str, ...]:
    """Return whether heat is credited by the probes of a job, and what that is worth; empty without them."""
    if not job.heat:
        return ()
    probes = {one.place: one.readings for one in job.heat}
    credit = probes_credit(probes, rooms=job.rooms or 1)
    place, (minute, celsius) = min(
        ((one.place, max(one.readings, key=lambda read: read[1])) for one in job.heat),
        key=lambda pair: pair[1][1],
    )
    coldest = voice.text(
        "{number} probes in {rooms}; the coldest, {place}, was at most {celsius} C at minute {minute}.",
        number=voice.number(len(job.heat)),
        rooms=voice.many("{number} room", "{number} rooms", job.rooms or 1),
        place=place,
        celsius=voice.number(celsius, 1),
        minute=voice.number(minute),
    )
    return say(credit, voice), coldest, never_clears(voice)


def treated_words(one: Record, voice: Voice) -> str:
    """Return a treatment in a sentence, with how much of its plan was done."""
    name = describe(one, voice)
    if one.job is None or not (one.job.done or one.job.left):
        return voice.text("{method}. No step was written down.", method=name)
    done, planned = len(one.job.done), len(one.job.done) + len(one.job.left)
    if not one.job.left:
        return voice.many(
            "{method}. The one step of the plan was done.",
            "{method}. All {number} steps of the plan were done.",
            planned,
            method=name,
        )
    return voice.text(
        "{method}. {done} of {planned} steps of the plan were done.", method=name, done=done, planned=planned
    )


def looked_words(row: Record, voice: Voice) -> str:
    """Return a look of the day: what was found and at how many items."""
    told = describe(row, voice)
    nothing = sum(not one.evidence for one in row.items)
    if row.kind != "inspection" or not nothing:
        return f"{told}."
    seen = voice.many("Nothing was seen at {number} item.", "Nothing was seen at {number} items.", nothing)
    return f"{told}. {seen}"


def told_words(record: JobRecord, voice: Voice) -> str:
    """Return whether the resident was given the result."""
    if record.told:
        return voice.text("The notice of the result was given to the resident.")
    return voice.text("No row says that the resident was given the result.")


def next_words(record: JobRecord, voice: Voice) -> str:
    """Return when to come again; never that nobody has to."""
    if record.visit is None:
        return voice.text("The rows of this unit ask for no day of their own; the list of doors goes on.")
    visit = record.visit
    return voice.text(
        "{kind}: {first} to {last}, best {best}. {why}",
        kind=upper(visit_kind(visit.kind, voice)),
        first=voice.day(visit.earliest),
        last=voice.day(visit.latest),
        best=voice.day(visit.target),
        why=say(visit, voice),
    )

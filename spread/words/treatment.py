"""The plan of a treatment visit in words: why each step, what to bring, what to beware of; never a dose."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from spread.decisions.case import treatment as facts
from spread.decisions.case.materials import Material
from spread.facts import as_json
from spread.records.words import EVIDENCE_WORDS
from spread.trade import treating
from spread.trade.development import COOLEST_KNOWN
from spread.trade.sources import COMMON_PRACTICE, Line
from spread.trade.treating import MattressSize
from spread.words.credit import counts_for, hold_name, hold_rows
from spread.words.room import item_in, source_words
from spread.words.saying import say
from spread.words.terms import level_name, place_name, sign_name
from spread.words.voice import ENGLISH, Voice


@say.register
def _(fact: facts.Basis, voice: Voice) -> str:
    day = voice.day(fact.day) if fact.day else ""
    if fact.kind == "count":
        count = fact.count or 0
        return voice.many("{number} bug counted on {day}", "{number} bugs counted on {day}", count, day=day)
    return {
        "given": voice.text("the level was given by hand"),
        "find": voice.text("the find of {day}", day=day),
        "none": voice.text("the find has no level, so low is taken"),
    }[fact.kind]


@say.register
def _(fact: facts.SignsSeen, voice: Voice) -> str:
    one = fact.seen
    told = [" + ".join(sign_name(sign, voice) for sign in EVIDENCE_WORDS if sign in one.evidence)]
    if one.count is not None:
        told.append(voice.many("{number} counted", "{number} counted", one.count))
    if one.stage and one.stage not in one.evidence:
        told.append(voice.term("stage", one.stage))
    if one.metres is not None:
        digits = next(
            places for places in (0, 1, 2) if places == 2 or one.metres == round(one.metres, places)
        )
        told.append(voice.text("{distance} from the bed", distance=voice.distance(one.metres, digits)))
    return voice.text("Seen: {signs}.", signs=", ".join(told))


@say.register
def _(fact: facts.UsualPlace, voice: Voice) -> str:
    if fact.group == "bed":
        if fact.looked:
            return voice.text("Nothing seen there; it is where bugs are first.")
        return voice.text("It is where bugs are first.")
    level = level_name(fact.level, voice)
    if fact.looked:
        return voice.text("Nothing seen there; usual at a {level} level.", level=level)
    return voice.text("Usual at a {level} level.", level=level)


@say.register
def _(fact: facts.GoesOnLast, voice: Voice) -> str:
    if not fact.worn:
        return voice.text("Goes on at the end.")
    states = []
    for one in fact.worn:
        state = voice.term("state", one.state)
        place = place_name(one.place, voice)
        states.append(voice.text("{state} at {place}", state=state, place=place) if place else state)
    return voice.text("Was {states}: replace or put right.", states=voice.joined(states))


@say.register
def _(fact: facts.Unplanned, voice: Voice) -> str:
    return {
        "items": voice.text(
            "Not on the room sheet, so nothing is planned for it: {items}.", items=", ".join(fact.items)
        ),
        "no-items": voice.text(
            "No items are on record: usual places are planned; look at each before you treat it."
        ),
        "no-sizes": voice.text(
            "The sizes of the beds are not known: measure width, length and depth before ordering."
        ),
    }[fact.kind]


@say.register
def _(fact: Material, voice: Voice) -> str:
    """Say what it is for, or how it was counted."""
    if fact.counted:
        return voice.text("one under every support, counted")
    sizes = (
        voice.text(
            "{count} {size} {inches}, depth as measured",
            count=voice.number(count), size=voice.term("size", size.name.lower()),
            inches=size_words(size, voice),
        )
        for size, count in fact.beds
    )  # fmt: skip
    return "; ".join(sizes) or _material(fact, voice)[1]


def material_name(fact: Material, voice: Voice) -> str:
    """Return what a material is called."""
    return _material(fact, voice)[0]


def _material(fact: Material, voice: Voice) -> tuple[str, str]:
    """Return what a material is called, and what it is for as far as nothing was counted or measured."""
    measure = voice.text("measure first: width, length and depth")
    legs = voice.text("one under every support, as common frames have; count them there")
    carried = voice.text("for bedding, clothes and what is carried out")
    closed = voice.text("one for this unit, closed and out of the building at the end")
    dust, heavy = (
        voice.text("one a person wherever dust is used"),
        voice.text("one set a person in a heavy unit"),
    )
    return {
        "interceptors": (voice.text("Interceptors"), legs),
        "mattress": (voice.text("Encasement, mattress"), measure),
        "box-spring": (voice.text("Encasement, box spring"), measure),
        "bags": (voice.text("Bags that close"), carried),
        "vacuum-bag": (voice.text("Vacuum bag"), closed),
        "respirators": (voice.text("Respirators, N95 or better"), dust),
        "coveralls": (voice.text("Coveralls and shoe covers"), heavy),
    }[fact.kind]


def size_words(size: MattressSize, voice: Voice) -> str:
    """Return ``60 x 80 in (1.52 x 2.03 m)``: covers are sold by inches, and metres stand beside them."""
    (wide, long), (w, m) = size.inches, size.metres
    return voice.text(
        "{wide} x {long} in ({w} x {m} m)",
        wide=voice.number(wide), long=voice.number(long), w=voice.number(w, 2), m=voice.number(m, 2),
    )  # fmt: skip


def product_words(plan: facts.TreatmentPlan, voice: Voice) -> str:
    """Return what trials say of a product at the level of a plan."""
    if plan.product_added:
        return voice.text(
            "Above {number} bugs the trial added a labelled product to the same work. Many bugs resist "
            "pyrethroids; as the label says.",
            number=treating.PRODUCT_FROM,
        )
    return voice.text(
        "Up to {number} bugs, steam, vacuum, encasements and interceptors alone were as fast in a trial; a "
        "product is not needed to begin with.",
        number=treating.PRODUCT_FROM,
    )


def minutes_words(plan: facts.TreatmentPlan, voice: Voice) -> str:
    """Return how long the visit takes, with its range and where that is from."""
    m = plan.minutes
    return voice.text(
        "About {minutes} minutes ({low} to {high}; {source}).",
        minutes=voice.number(m.central), low=voice.number(m.low), high=voice.number(m.high),
        source=source_words(m.source, voice),
    )  # fmt: skip


def visit_words(plan: facts.TreatmentPlan, voice: Voice) -> str:
    """Return when to come back."""
    days = plan.visit
    said = voice.text(
        "Come back {earliest} to {latest} days after the treatment, best on day {target}, never later than "
        "day {limit}. The treatment itself is recorded with spread record.",
        earliest=days.earliest, latest=days.latest, target=days.target, limit=days.limit,
    )  # fmt: skip
    if days.hatched:
        return said
    cool = voice.text(
        "The rooms are cooler than {least} C, and nobody knows when the last eggs hatch there: a clean look "
        "counts for nothing until the home was treated in warm rooms.",
        least=f"{COOLEST_KNOWN:g}",
    )
    return f"{said} {cool}"


def plan_data(plan: facts.TreatmentPlan, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return a plan said in a voice, part by part and ready for JSON, and its facts."""
    steps = [_step(step, voice) for step in plan.steps]
    days, common = plan.visit, source_words(COMMON_PRACTICE, voice)
    product = {"text": product_words(plan, voice), "source": plan.product_source, "topic": ""}
    return {
        "unit": plan.unit,
        "on": plan.on.isoformat(),
        "level": plan.level,
        "basis": say(plan.basis, voice),
        "minutes": asdict(plan.minutes),
        "product_words": product,
        "steps": steps,
        "tools": list(dict.fromkeys(tool for step in steps for tool in step["tools"])),
        "materials": [
            {"name": material_name(it, voice), "count": it.count, "words": say(it, voice), "source": common}
            for it in plan.materials
        ],
        "prepare": [_line(line, voice) for line in plan.prepare],
        "must_not": [_line(line, voice) for line in plan.must_not],
        "cautions": [_line(line, voice) for line in plan.cautions],
        "label": _line(treating.LABEL, voice),
        "visit": {key: getattr(days, key) for key in ("earliest", "target", "latest", "limit", "source")},
        "notes": [say(note, voice) for note in plan.notes],
        "failing": say(plan.failing, voice) if plan.failing else "",
        "credit": [
            {**asdict(row), "name": hold_name(row, voice), "of": counts_for(row, voice)}
            for row in hold_rows()
        ],
        "facts": as_json(plan),
    }


def _step(step: facts.Step, voice: Voice) -> dict[str, Any]:
    row = item_in(step.row, voice)
    return {
        "item": row.code,
        "name": row.name,
        "place": step.place,
        "ring": step.ring,
        "why": say(step.why, voice),
        "do": row.treat,
        "product": row.product,
        "caution": row.caution,
        "tools": list(row.tools),
        "source": f"{row.source} ({row.confidence})" if row.confidence else row.source,
    }


def _line(line: Line, voice: Voice) -> dict[str, str]:
    topic = line.topic and voice.term("topic", line.topic)
    return {"text": voice.term("line", line.text), "source": source_words(line.source, voice), "topic": topic}


def plan_terms() -> Iterator[tuple[str, str]]:
    """Yield context and word of all that stands in tables of :mod:`spread.trade` and is said here."""
    for line in (
        *treating.PREPARE,
        *treating.MUST_NOT,
        *treating.CAUTIONS,
        treating.LABEL,
        treating.VACUUM_BAG,
    ):
        yield "line", line.text
        yield "topic", line.topic
        yield "source", line.source
    for one in treating.MINUTES.values():
        yield "source", one.source
    for size in treating.SIZES.values():
        yield "size", size.name.lower()
    for row in hold_rows():
        yield "hold", row.name

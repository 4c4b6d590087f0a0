"""The plan of a treatment visit as text, as data and as a page to print."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from spread.decisions.case.treatment import TreatmentPlan
from spread.report import document as doc
from spread.report.lines import folded
from spread.words.terms import level_name, place_name
from spread.words.treatment import minutes_words, plan_data, visit_words
from spread.words.voice import ENGLISH, Voice


def treat_text(building: str, plan: TreatmentPlan, voice: Voice = ENGLISH) -> str:
    """Return the plan as plain text."""
    told = plan_data(plan, voice)
    where = {"unit": plan.unit, "building": building, "day": voice.day(plan.on)}
    level = {"level": level_name(plan.level, voice), "basis": told["basis"]}
    stands = voice.text("Level {level} ({basis}).", **level)
    lines = [
        voice.text("{unit} in {building}, treatment plan, {day}", **where),
        _wrap(f"{stands} {minutes_words(plan, voice)}", ""),
        _wrap(told["product_words"]["text"], ""),
        "",
        voice.text("Steps, in order"),
    ]
    for number, step in enumerate(told["steps"], start=1):
        lines += [f"{number:>3}. {_name(step, voice)}", _wrap(f"{step['why']} {step['do']}")]
        lines.append(_wrap(voice.text("Product: {product}", product=_lower(step["product"]))))
        lines.append(_wrap(voice.text("Care: {caution}", caution=step["caution"])))
    tools = voice.text("Tools: {tools}.", tools=", ".join(told["tools"]))
    lines += ["", voice.text("Bring"), _wrap(tools)]
    lines += [_wrap(words, "  - ") for words in _materials(told)]
    for title, part in (
        (voice.text("The resident prepares"), told["prepare"]),
        (voice.text("The resident must not"), told["must_not"]),
        (voice.text("Care"), (*told["cautions"], told["label"])),
    ):
        lines += ["", title, *(_wrap(_topical(line, "text"), "  - ") for line in part)]
    lines += ["", _counts(voice)]
    for row in told["credit"]:
        lines.append(
            _wrap(voice.text("{hold}: counts for {what}.", hold=row["name"], what=row["of"]), "  - ")
        )
    lines += ["", _wrap(visit_words(plan, voice), "")]
    lines += [_wrap(voice.text("Note: {note}", note=note), "") for note in told["notes"]]
    lines += ["", voice.text("Sources"), *(_wrap(source, "  - ") for source in _sources(told))]
    return "\n".join(lines)


def treat_data(building: str, plan: TreatmentPlan) -> dict[str, Any]:
    """Return the plan ready for JSON."""
    return {"building": building, **plan_data(plan)}


def treat_document(building: str, plan: TreatmentPlan, voice: Voice = ENGLISH) -> doc.Document:
    """Return the plan as a page to print, for the technician."""
    told = plan_data(plan, voice)
    level = {"level": level_name(plan.level, voice), "basis": told["basis"]}
    steps = tuple(
        ((doc.Strong(_name(step, voice)),), *(step[key] for key in ("why", "do", "product", "caution")))
        for step in told["steps"]
    )
    care, prepares = voice.text("Care"), voice.text("The resident prepares")
    blocks: tuple[doc.Block, ...] = (
        doc.Facts(
            (
                (voice.text("Level"), voice.text("{level} ({basis})", **level)),
                (voice.text("Time"), minutes_words(plan, voice)),
                (voice.text("Tools"), ", ".join(told["tools"])),
                (voice.text("Come back"), visit_words(plan, voice)),
            )
        ),
        doc.Paragraph(told["product_words"]["text"]),
        doc.Caution(told["label"]["text"], title=voice.text("The label decides")),
        doc.Table(
            (voice.text("Item"), voice.text("Why"), voice.text("Do"), voice.text("Product"), care),
            steps,
            widths=(1.3, 1.6, 2.4, 1.5, 1.8),
            small=True,
            ticks=True,
        ),
        doc.Heading(voice.text("Bring")),
        doc.Bullets(tuple(_materials(told)), ticks=True),
        doc.Heading(care),
        doc.Bullets(tuple((doc.Strong(f"{line['topic']}. "), line["text"]) for line in told["cautions"])),
        doc.Heading(prepares),
        doc.Bullets(tuple(line["text"] for line in told["prepare"])),
        doc.Heading(voice.text("The resident must not")),
        doc.Bullets(tuple(line["text"] for line in told["must_not"])),
        doc.Heading(voice.text("What counts as done")),
        doc.Paragraph(f"{_counts(voice)}.", small=True),
        doc.Table(
            (voice.text("Hold"), voice.text("Counts for")),
            tuple((row["name"], row["of"]) for row in told["credit"]),
            small=True,
        ),
        *(doc.Paragraph(note, small=True) for note in told["notes"]),
        doc.Sources(tuple(_sources(told))),
    )
    return doc.Document(
        voice.text("Treatment plan, unit {unit}", unit=plan.unit),
        blocks,
        made_on=plan.on,
        language=voice.language,
        building=building,
        footer=voice.text("A plan and no prescription: label, licence and local code come first."),
    )


def _counts(voice: Voice) -> str:
    return voice.text(
        "What counts as done, where it was measured (coldest probe decides, nothing between the rows)"
    )


def _materials(told: Mapping[str, Any]) -> Iterable[str]:
    """Yield what to bring, a line each."""
    for one in told["materials"]:
        many = "" if one["count"] is None else f"{one['count']} x "
        yield f"{many}{one['name']}: {one['words']}"


def _name(step: Mapping[str, Any], voice: Voice) -> str:
    return f"{step['name']}, {place_name(step['place'], voice)}" if step["place"] else step["name"]


def _topical(line: Mapping[str, str], part: str) -> str:
    return f"{line['topic']}: {line[part]}" if line["topic"] else line[part]


def _sources(told: Mapping[str, Any]) -> Iterable[str]:
    """Return where all of it is from, once each."""
    lines = [told["product_words"], told["label"], *told["cautions"], *told["prepare"], *told["must_not"]]
    rows = [*told["steps"], *told["materials"], *told["credit"], told["visit"]]
    return dict.fromkeys([*(_topical(line, "source") for line in lines), *(row["source"] for row in rows)])


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _wrap(text: str, lead: str = "     ") -> str:
    return folded(text, lead)

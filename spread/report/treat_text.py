"""The plan of a treatment visit as text, as data and as a page to print."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from spread.decisions.case.treatment import Step, TreatmentPlan
from spread.report.document import (
    Block,
    Bullets,
    Caution,
    Document,
    Facts,
    Heading,
    Paragraph,
    Sources,
    Strong,
    Table,
)
from spread.trade.holds import COLD, HEAT, LAUNDRY, STEAM, Row
from spread.trade.sources import Line
from spread.weeks import speak_date

WIDTH = 100
COUNTS = "What counts as done, where it was measured (coldest probe decides, nothing between the rows)"


def treat_text(building: str, plan: TreatmentPlan) -> str:
    """Return the plan as plain text."""
    lines = [
        f"{plan.unit} in {building}, treatment plan, {speak_date(plan.on)}",
        _wrap(f"Level {plan.level} ({plan.basis}). {minutes_words(plan)}", ""),
        _wrap(plan.product_words.text, ""),
        "",
        "Steps, in order",
    ]
    for number, step in enumerate(plan.steps, start=1):
        lines.append(f"{number:>3}. {_name(step)}")
        lines += [_wrap(f"{step.why} {step.do}"), _wrap(f"Product: {_lower(step.product)}")]
        lines.append(_wrap(f"Care: {step.caution}"))
    lines += ["", "Bring", _wrap(f"Tools: {', '.join(plan.tools)}.")]
    lines += [_wrap(words, "  - ") for words in material_words(plan)]
    for title, part in (
        ("The resident prepares", plan.prepare),
        ("The resident must not", plan.must_not),
        ("Care", (*plan.cautions, plan.label)),
    ):
        lines += ["", title, *(_wrap(_line(line), "  - ") for line in part)]
    lines += ["", COUNTS, *(_wrap(_credit(row), "  - ") for row in credit_rows())]
    lines += ["", _wrap(visit_words(plan), "")]
    lines += [_wrap(f"Note: {note}", "") for note in plan.notes]
    lines += ["", "Sources", *(_wrap(source, "  - ") for source in dict.fromkeys(_sources(plan)))]
    return "\n".join(lines)


def treat_data(building: str, plan: TreatmentPlan) -> dict[str, Any]:
    """Return the plan ready for JSON."""
    return {
        "building": building,
        **asdict(plan),
        "on": plan.on.isoformat(),
        "visit": {
            key: getattr(plan.visit, key) for key in ("earliest", "target", "latest", "limit", "source")
        },
        "credit": [{**asdict(row), "of": _of(row)} for row in credit_rows()],
    }


def treat_document(building: str, plan: TreatmentPlan) -> Document:
    """Return the plan as a page to print, for the technician."""
    blocks: tuple[Block, ...] = (
        Facts(
            (
                ("Level", f"{plan.level} ({plan.basis})"),
                ("Time", minutes_words(plan)),
                ("Tools", ", ".join(plan.tools)),
                ("Come back", visit_words(plan)),
            )
        ),
        Paragraph(plan.product_words.text),
        Caution(plan.label.text, title="The label decides"),
        Table(
            ("Item", "Why", "Do", "Product", "Care"),
            tuple(
                ((Strong(_name(step)),), step.why, step.do, step.product, step.caution) for step in plan.steps
            ),
            widths=(1.3, 1.6, 2.4, 1.5, 1.8),
            small=True,
            ticks=True,
        ),
        Heading("Bring"),
        Bullets(material_words(plan), ticks=True),
        Heading("Care"),
        Bullets(tuple((Strong(f"{line.topic}. "), line.text) for line in plan.cautions)),
        Heading("The resident prepares"),
        Bullets(tuple(line.text for line in plan.prepare)),
        Heading("The resident must not"),
        Bullets(tuple(line.text for line in plan.must_not)),
        Heading("What counts as done"),
        Paragraph(f"{COUNTS}.", small=True),
        Table(
            ("Hold", "Counts for"),
            tuple((row.name, _of(row)) for row in credit_rows()),
            small=True,
        ),
        *(Paragraph(note, small=True) for note in plan.notes),
        Sources(tuple(dict.fromkeys(_sources(plan)))),
    )
    return Document(
        f"Treatment plan, unit {plan.unit}",
        blocks,
        made_on=plan.on,
        building=building,
        footer="A plan and no prescription: label, licence and local code come first.",
    )


def minutes_words(plan: TreatmentPlan) -> str:
    """Return how long the visit takes, with its range and where that is from."""
    m = plan.minutes
    return f"About {m.central:g} minutes ({m.low:g} to {m.high:g}; {m.source})."


def visit_words(plan: TreatmentPlan) -> str:
    """Return when to come back."""
    days = plan.visit
    return (
        f"Come back {days.earliest} to {days.latest} days after the treatment, best on day {days.target}, "
        f"never later than day {days.limit}. The treatment itself is recorded with spread record."
    )


def material_words(plan: TreatmentPlan) -> tuple[str, ...]:
    """Return what to bring, a line each."""
    return tuple(
        f"{'' if one.count is None else f'{one.count} x '}{one.name}: {one.words}" for one in plan.materials
    )


def credit_rows() -> tuple[Row, ...]:
    """Return every row of the tables of heat, cold, laundry and steam."""
    return (*HEAT, *COLD, *(row for rows in LAUNDRY.values() for row in rows), STEAM)


def _of(row: Row) -> str:
    if not row.credited:
        return "nothing: eggs live"
    if row is STEAM:
        return "a pass well done; some nymphs and adults live"
    return "all stages, eggs too" if row.stages == "all" else "adults only, not eggs"


def _credit(row: Row) -> str:
    return f"{row.name}: counts for {_of(row)}."


def _name(step: Step) -> str:
    return f"{step.name}, {step.place}" if step.place else step.name


def _line(line: Line) -> str:
    return f"{line.topic}: {line.text}" if line.topic else line.text


def _sources(plan: TreatmentPlan) -> Iterable[str]:
    for line in (plan.product_words, plan.label, *plan.cautions, *plan.prepare, *plan.must_not):
        yield f"{line.topic}: {line.source}" if line.topic else line.source
    for step in plan.steps:
        yield step.source
    yield from (one.source for one in plan.materials)
    yield from (row.source for row in credit_rows())
    yield plan.visit.source


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _wrap(text: str, lead: str = "     ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead))

"""The proposal for a building: how it stands, programmes side by side, and what the chosen one would mean.

Every figure has its band, and where the bands of two programmes overlap it is said in words.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from spread.decisions.duties.owed import Duty, duties
from spread.programmes.schedule import calendar, standing_work, visits_by_quarter
from spread.programmes.told import pace_known
from spread.records.repeats import repeats
from spread.report import document as doc
from spread.report.chance_map import fitting_width, floors_by_chance, sheet_of_floors
from spread.report.duties_text import group
from spread.report.own_words import FIRM_FILE
from spread.report.proposal_programmes import Offer, effort, side_by_side
from spread.session import Session
from spread.trade.rule_set import ALWAYS_SAY
from spread.trade.rules import load_rules
from spread.weeks import monday_of, speak_date, week_of
from spread.words import ENGLISH, say
from spread.words.duties import step_name
from spread.words.trust import warning_words
from spread.words.voice import upper

MOST_FLOORS = 4
"""Floors drawn; a tower's others are told in words."""
HIGHEST_MAP = 0.72
"""Height of the maps as a share of the page's width, so that all that is said of today fits one page."""
MOST_WHOLE = 12
"""Rows of a table that is kept on one page."""
KIND_WORDS = {
    "report": ("report by residents or staff", "reports by residents or staff"),
    "inspection": ("look", "looks"),
    "monitor": ("monitor period", "monitor periods"),
    "treatment": ("treatment", "treatments"),
    "no-access": ("visit without access", "visits without access"),
}
SOURCES = (
    "Spread between units: Wang et al. 2010 (doi 10.1603/ME09188, from memory); Cooper, Wang and Singh 2015.",
    "Detection, visits and cost of building-wide surveys: Wang et al. 2016; programmes over a year: Wang et "
    "al. 2018 and 2019.",
    "Treatment: Wang et al. 2012, 2014; Singh et al. 2013; Abbar et al. 2020. What one visit ends is judged "
    "from these trials.",
    "Prices and minutes: the firm's own where a prices.toml is given, else central values, most judged.",
)


def proposal(session: Session, offer: Offer) -> doc.Document:
    """Return the proposal of a programme for an open building."""
    chosen = offer.comparison.of(offer.chosen)
    blocks: list[doc.Block] = [
        *_today(session, offer),
        doc.PageBreak(),
        *side_by_side(offer),
        *effort(offer),
        *_schedule(session, offer),
        *_duties(session),
        # Whoever signs has what residents do, the limits and the cautions on the same page. Three programmes
        # fill the pages before so that a break would leave one of them almost empty.
        *(() if len(offer.programmes) == 3 else (doc.PageBreak(),)),
        *_residents(),
        *_limits(session, offer),
    ]
    return doc.Document(
        "Proposal: a bed bug programme",
        tuple(blocks),
        made_on=session.on,
        subtitle=chosen.name,
        building=session.plan.name,
        footer="Decision support, not a guarantee. Labels, local codes and licensed practice come first.",
    )


def _today(session: Session, offer: Offer) -> Iterator[doc.Block]:
    firm = offer.firm
    said = [part for part in (firm.contact, firm.phone, firm.email, firm.licence) if part]
    yield doc.Facts(
        (
            ("From", firm.name or f"(no firm named: write one into {FIRM_FILE})"),
            *((("Contact", ", ".join(said)),) if said else ()),
            ("For", f"{session.plan.name}: {_many(len(session.plan.units), 'unit')} on "
                    f"{_many(len(session.plan.floors), 'floor')}"),
        )
    )  # fmt: skip
    if firm.note:
        yield doc.Paragraph(firm.note)
    yield doc.Heading("The building today")
    low, middle, high = session.view.posterior.infested_count()
    yield doc.Paragraph(
        (
            "Most likely ",
            doc.Strong(f"{middle} of {len(session.plan.units)} units"),
            f" are infested today; nine chances in ten that it is between {low} and {high}. The plan shows "
            "the chance for each unit. A low chance clears no unit.",
        )
    )
    for told in warning_words(session.warnings(), ENGLISH):
        yield doc.Paragraph((doc.Strong("Warning. "), told))
    chances = session.chances()
    ranked = list(floors_by_chance(session.plan, chances))
    shown = [floor for floor in session.plan.floors if floor in ranked[:MOST_FLOORS]]
    box = sheet_of_floors(session.plan, shown, chances, 2 if len(shown) > 1 else 1)
    top = sorted(chances, key=lambda unit: -chances[unit])[:10]
    alt = "Plans by floor with each unit's chance. Highest: " + ", ".join(
        f"{unit} {ENGLISH.percent(chances[unit])}" for unit in top
    )
    left = len(ranked) - len(shown)
    rest = [chances[unit.id] for f in ranked[MOST_FLOORS:] for unit in session.plan.on_floor(f)]
    more = (
        f" Drawn are the floors where most is expected; on the others the highest chance is "
        f"{ENGLISH.percent(max(rest))}."
        if left > 0 and rest
        else ""
    )
    yield doc.Picture(
        box,
        alt,
        f"Chance that a unit is infested on {speak_date(session.on)}.{more}",
        fitting_width(box, 0.92, HIGHEST_MAP),
    )
    yield doc.Heading("What we know, and how")
    rows, again = session.view.log.current, repeats(session.view.log.current)
    kinds = Counter(row.kind for row in rows if row.when <= session.on and row.id not in again)
    yield doc.Bullets(
        (
            f"The building's log: {log_words(kinds) or 'nothing yet'}.",
            "A model of how bed bugs pass through walls, floors, pipes and hallways reads the log. It weighs "
            "how often each kind of look misses them, and gives each unit a chance.",
            session.view.posterior.diagnostics.words
            if not session.view.posterior.diagnostics.good
            else "How sure: the calculation was run from different starts, and the answers agree. Of a "
            "hundred units at 30 %, about thirty should prove infested if the model is right.",
        )
    )


def _schedule(session: Session, offer: Offer) -> Iterator[doc.Block]:
    programme = next(each for each in offer.programmes if each.key == offer.chosen)
    planned = calendar(programme, session.on, offer.comparison.weeks)
    yield doc.Heading(f"Schedule: {programme.name}")
    yield doc.Bullets(tuple(say(work, ENGLISH) for work in standing_work(programme)))
    if planned:
        yield doc.Table(
            ("From", "Until", "What"),
            tuple((speak_date(p.first), speak_date(p.last), say(p.what, ENGLISH)) for p in planned[:12]),
            widths=(0.24, 0.24, 0.52),
            whole=True,
        )
    monday = monday_of(week_of(session.on) + 1)
    quarters = visits_by_quarter(offer.comparison, offer.chosen)
    bands = [
        (monday + dt.timedelta(weeks=13 * place), monday + dt.timedelta(weeks=13 * place + 13, days=-3))
        for place in range(len(quarters))
    ]
    yield doc.Table(
        ("From", "Until at most", "Doors stood at, mean of the runs"),
        tuple(
            (speak_date(first), speak_date(last), f"{count:,.0f}")
            for (first, last), count in zip(bands, quarters, strict=True)
        ),
        ("left", "left", "left"),
        widths=(0.24, 0.24, 0.52),
        caption="Work by quarter, reports and follow-up included",
        small=True,
        whole=len(bands) <= MOST_WHOLE,
    )


def _duties(session: Session) -> Iterator[doc.Block]:
    building = session.building
    rules = load_rules(building.settings.rules, building.folder)
    owed = [d for d in duties(building.log, building.contacts, rules, session.on) if d.status != "done"]
    yield doc.Heading("Duties under the rules")
    yield doc.Paragraph(f"Rules: {rules.title} ({rules.authority}; {rules.text_date}).")
    if owed:
        yield doc.Bullets(tuple(_owed(session.on, owed)))
    else:
        yield doc.Paragraph("Nothing is due now by what is on record.")
    followed = session.view.followups
    open_ = [
        unit for unit, each in followed.items() if each.state in ("infested", "under treatment", "clearing")
    ]
    if open_:
        yield doc.Paragraph(f"Not yet cleared after a find, to be visited again: {', '.join(open_)}.")
    yield doc.Paragraph(ALWAYS_SAY, small=True)


def _owed(on: dt.date, owed: Sequence[Duty]) -> Iterator[str]:
    words = {
        "overdue": "overdue",
        "cannot": "still owed, nobody could get in",
        "week": "due this week",
        "later": "due later",
        "undated": "no date in the rule",
    }
    for status, some in group(owed, on).items():
        steps: dict[str, list[str]] = {}
        for duty in some:
            steps.setdefault(duty.step, []).append(duty.unit)
        for step, units in steps.items():
            many = f" and {len(units) - 12} more" if len(units) > 12 else ""
            what = f"{upper(step_name(step, ENGLISH))} ({words.get(status, status)})"
            yield f"{what}: {', '.join(units[:12])}{many}."


def _residents() -> Iterator[doc.Block]:
    yield doc.Heading("What residents are asked to do")
    yield doc.Bullets(
        (
            "Let the technician in on the day of the notice, and make room so that beds and sofas can be "
            "reached. Whoever cannot do this tells the office; no reason is asked for.",
            "Leave beds, bedding and other things where they are: moving them moves bugs. Furniture is not "
            "thrown out before asking.",
            "Use no foggers and no sprays of one's own, no alcohol, gas or flames.",
            "Tell the office at once when a bug is seen. Neighbours are not told who reported.",
            "Before a treatment, follow the sheet on how to get ready that comes with its notice.",
        )
    )


def _limits(session: Session, offer: Offer) -> Iterator[doc.Block]:
    yield doc.Heading("Limits and cautions")
    yield doc.Bullets(
        (
            "No programme promises nil: bugs are brought in anew, and every way of looking misses some.",
            "The bands hold what is not known of the building and chance. How well looks and treatments "
            "work, and prices, are held at central values.",
            "A unit is called cleared only by monitor periods and looks that were clean, and a low chance "
            "together; never because it is empty, after one look or on a dog's silence.",
            say(pace_known(), ENGLISH),
            f"Seed {session.view.posterior.seed}; the same seed repeats every figure.",
        )
    )
    yield doc.Caution(
        "Steam, heat, dust, electricity and pesticides can hurt people. The label, local codes and licensed "
        "practice decide; this document states no dose."
    )
    yield doc.Fill(("For the owner", "For the firm", "Date"), side_by_side=True)
    yield doc.Sources(SOURCES)


def log_words(kinds: Mapping[str, int]) -> str:
    """Return how many rows of each kind a log has: ``1 treatment, 2 visits without access``."""
    return ", ".join(
        f"{kinds[kind]} {one if kinds[kind] == 1 else many}"
        for kind, (one, many) in KIND_WORDS.items()
        if kinds.get(kind)
    )


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"

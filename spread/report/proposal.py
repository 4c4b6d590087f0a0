"""The proposal for a building: a first page that can be signed, then what it rests on.

The first page is for a person who has two minutes: the verdict, the price, what would make it wrong, and the
signatures. Everything it says is a fact of :mod:`spread.programmes`; nothing is worked out here.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import chain

from spread.decisions.duties.owed import duties
from spread.programmes.fees import Fees
from spread.programmes.published import published
from spread.programmes.results import Outcome
from spread.programmes.schedule import Planned, calendar, crew_months, standing_work
from spread.records.repeats import repeats
from spread.report import document as doc
from spread.report.chance_map import fitting_width, floors_by_chance, sheet_of_floors
from spread.report.duties_text import group
from spread.report.proposal_programmes import Offer, curves, on_the_first_page, side_by_side
from spread.session import Session
from spread.trade.rule_set import ALWAYS_SAY
from spread.words import ENGLISH, Voice, say
from spread.words.choice import against_rows, aside_lines, called, headline, names_of, nil_line
from spread.words.duties import step_name
from spread.words.flips import flip_lines, pace_lines
from spread.words.offer import comes_to, fee_rows, guarantee_lines, money, term_line
from spread.words.published import published_rows, trials_line
from spread.words.trust import warning_words
from spread.words.voice import upper

MOST_PAGES = 4
MOST_FLOORS = 4
"""Floors drawn; a tower's others are told in words."""
HIGHEST_MAP = 0.62
"""Height of the maps as a share of the page's width."""
TWO_CURVES = 0.66
"""Width of the curves on a first page without a price, as a share of the page's."""
BESIDE = 3
"""Months beside each other in the table of the work."""
DAYS_OF_A_MONTH, MOST_PLANNED = 31, 3
"""How far the first page looks ahead, and how much of what is planned it names."""
MOST_UNITS = 8
"""Units named for a duty; the rest are counted."""


def proposal(session: Session, offer: Offer, voice: Voice = ENGLISH) -> doc.Document:
    """Return the proposal of a programme for an open building, in a person's language.

    With ``offer.board`` no unit is named and no plan drawn: a copy for a board.
    """
    chosen = offer.comparison.of(offer.choice.proposed)
    blocks: list[doc.Block] = [
        *_first(session, offer, voice),
        *_building(session, offer, voice),
        *_schedule(session, offer, voice),
        *side_by_side(offer, voice),
        *_parts(session, offer, voice),
        *_beside_published(voice),
        *_limits(session, voice),
    ]
    return doc.Document(
        voice.text("Proposal: a bed bug programme"),
        tuple(blocks),
        made_on=session.on,
        subtitle=called(chosen.name, voice),
        language=voice.language,
        building=session.plan.name,
        footer=voice.text(
            "Decision support, not a guarantee. Labels, local codes and licensed practice come first."
        ),
        most_pages=MOST_PAGES,
    )


def _first(session: Session, offer: Offer, voice: Voice) -> Iterator[doc.Block]:
    """Return the page that is signed: who, what, for how much, how sure."""
    firm, choice = offer.firm, offer.choice
    said = [part for part in (firm.contact, firm.phone, firm.email, firm.licence) if part]
    size = voice.text(
        "{name}: {units} on {floors}",
        name=session.plan.name,
        units=voice.many("{number} unit", "{number} units", len(session.plan.units)),
        floors=voice.many("{number} floor", "{number} floors", len(session.plan.floors)),
    )
    yield doc.Facts(
        (
            *(((voice.text("From"), firm.name),) if firm.name else ()),
            *(((voice.text("Contact"), ", ".join(said)),) if said else ()),
            (voice.text("For"), size),
        )
    )
    if firm.note:
        yield doc.Paragraph(firm.note)
    names = names_of(offer.comparison, voice)
    yield doc.Heading(voice.text("In short"))
    yield doc.Bullets(
        (
            (doc.Strong(_infested(session, voice)), " ", voice.text("A low chance clears no unit.")),
            " ".join(headline(choice, names, voice)),
            *(
                f"{title}: {words}."
                for one, (title, words) in zip(
                    choice.against, against_rows(choice, names, voice), strict=True
                )
                if on_the_first_page(one)
            ),
            nil_line(choice, voice),
            *aside_lines(choice, names, voice),
            *(() if choice.looking is None else (say(choice.looking, voice),)),
        )
    )
    warnings = warning_words(session.warnings(), voice)
    for told in warnings:
        yield doc.Paragraph((doc.Strong(voice.text("Warning.")), " ", told))
    yield from _price(offer, voice)
    yield doc.Heading(voice.text("What would make this wrong"))
    if offer.flips is not None:
        currency = offer.comparison.currency
        # A warning and the signatures stand on this page, whatever else does.
        short = bool(warnings) and offer.fees is not None
        lines = flip_lines(offer.flips, names, currency, voice, short=short)
    else:
        lines = [voice.text("What would turn the verdict was not worked out for this copy.")]
    yield doc.Bullets((*lines, *pace_lines(choice, voice)))
    yield doc.Paragraph(
        voice.text("Without a price filled in, a signature here orders nothing.")
        if offer.fees is None
        else voice.text(
            "Signing agrees to the programme, the fees and the terms of this document, and to no figure of "
            "the simulation."
        ),
        small=True,
    )
    yield doc.Fill(
        (voice.text("For the owner"), voice.text("For the firm"), voice.text("Date")), side_by_side=True
    )
    if offer.fees is None:
        yield from _this_month(session, offer, voice)
        yield curves(offer, _two(offer), voice, TWO_CURVES)


def _two(offer: Offer) -> list[Outcome]:
    """Return the programme of today and the proposed one; with another where that is today's."""
    outcomes, proposed = offer.comparison.outcomes, offer.comparison.of(offer.choice.proposed)
    others = [each for each in outcomes if each.key != proposed.key]
    return [next((each for each in others if each.key == offer.choice.now), others[0]), proposed]


def _this_month(session: Session, offer: Offer, voice: Voice) -> Iterator[doc.Block]:
    """Return what begins at once: the first month's work, what is planned in it, and the owner's part."""
    programme = next(each for each in offer.programmes if each.key == offer.choice.proposed)
    months = crew_months(offer.comparison, programme.key, session.on)
    # On the last days of a month nothing is left to do in it: the next one is said then.
    first = next((month for month in months if round(month.visits)), months[0])
    until = session.on + dt.timedelta(days=DAYS_OF_A_MONTH)
    planned = calendar(programme, session.on, offer.comparison.weeks)
    yield doc.Heading(voice.text("What to do this month"))
    yield doc.Bullets(
        (
            voice.text(
                "The firm: about {visits} visits in {month}, {days} crew-days.",
                visits=voice.number(first.visits),
                month=voice.month(first.first),
                days=voice.number(first.crew_days, 1),
            ),
            *(_planned(each, voice) for each in planned[:MOST_PLANNED] if each.first <= until),
            voice.text(
                "The owner: deliver notices of entry in time, have empty units opened, and tell the firm at "
                "once of reports and moves."
            ),
        )
    )


def _planned(each: Planned, voice: Voice) -> str:
    return voice.text(
        "{first} to {last}: {what}.",
        first=voice.day(each.first),
        last=voice.day(each.last),
        what=say(each.what, voice),
    )


def _infested(session: Session, voice: Voice) -> str:
    low, middle, high = session.view.posterior.infested_count()
    return voice.text(
        "Most likely {middle} of {units} units are infested today; nine chances in ten that it is between "
        "{low} and {high}.",
        middle=middle,
        units=len(session.plan.units),
        low=low,
        high=high,
    )


def _price(offer: Offer, voice: Voice) -> Iterator[doc.Block]:
    comparison, fees = offer.comparison, offer.fees
    outcome, currency = comparison.of(offer.choice.proposed), comparison.currency
    yield doc.Heading(voice.text("Price"))
    if fees is None:
        yield doc.Paragraph(
            voice.text(
                "No fee is filled in yet, so there is no price. The work as planned costs the firm about "
                "{amount}. {prices}",
                amount=comes_to(outcome, comparison.weeks, currency, voice),
                prices=say(comparison.basis, voice),
            )
        )
        return
    year = voice.text("prices of {year}", year=offer.terms.year) if offer.terms.year else ""
    yield doc.Table(
        (voice.text("What is paid for"), ", ".join(filter(None, [currency, year]))),
        fee_rows(fees, currency, voice),
        ("left", "right"),
        widths=(0.7, 0.3),
        small=True,
        whole=True,
    )
    yield doc.Bullets(
        (
            voice.text(
                "In the simulated futures that comes to {amount}.",
                amount=comes_to(outcome, comparison.weeks, currency, voice),
            ),
            term_line(fees, voice),
            " ".join(guarantee_lines(fees, outcome, currency, voice)),
            *_losses(offer, voice),
        )
    )


def _losses(offer: Offer, voice: Voice) -> Iterator[str]:
    loss = offer.comparison.of(offer.choice.proposed).figures["loss"]
    if loss.mean > 0.0:
        yield voice.text(
            "Your own losses by infested units, at {each} an infested unit-week as you named it, come to "
            "{mean} on average; they are in no price here.",
            each=money(offer.choice.loss, offer.choice.currency, voice),
            mean=money(round(loss.mean), offer.choice.currency, voice),
        )


def _building(session: Session, offer: Offer, voice: Voice) -> Iterator[doc.Block]:
    yield doc.Heading(voice.text("The building today"))
    chances = session.chances()
    ranked = list(floors_by_chance(session.plan, chances))
    if offer.board:
        yield doc.Table(
            (voice.text("Floor"), voice.text("Units"), voice.text("Infested units expected")),
            tuple(
                (
                    floor,
                    str(len(session.plan.on_floor(floor))),
                    voice.number(sum(chances.get(u.id, 0.0) for u in session.plan.on_floor(floor)), 1),
                )
                for floor in session.plan.floors
            ),
            widths=(0.3, 0.2, 0.5),
            small=True,
        )
    else:
        shown = [floor for floor in session.plan.floors if floor in ranked[:MOST_FLOORS]]
        columns = 1 if len(shown) == 1 else 2
        box = sheet_of_floors(session.plan, shown, chances, columns, voice)
        top = sorted(chances, key=lambda unit: -chances[unit])[:10]
        alt = voice.text(
            "Plans by floor with each unit's chance. Highest: {units}.",
            units=voice.joined([f"{unit} {voice.percent(chances[unit])}" for unit in top]),
        )
        rest = [chances[unit.id] for f in ranked[MOST_FLOORS:] for unit in session.plan.on_floor(f)]
        more = (
            voice.text(
                "Drawn are the floors where most is expected; on the others the highest chance is {chance}.",
                chance=voice.percent(max(rest)),
            )
            if rest
            else ""
        )
        caption = voice.text("Chance that a unit is infested on {day}.", day=voice.day(session.on))
        yield doc.Picture(
            box, alt, " ".join(filter(None, [caption, more])), fitting_width(box, 0.92, HIGHEST_MAP)
        )
    yield doc.Heading(voice.text("What we know, and how"))
    rows, again = session.view.log.current, repeats(session.view.log.current)
    kinds = Counter(row.kind for row in rows if row.when <= session.on and row.id not in again)
    yield doc.Bullets(
        (
            voice.text(
                "The building's log: {rows}.", rows=log_words(kinds, voice) or voice.text("nothing yet")
            ),
            voice.text(
                "A model of how bed bugs pass through walls, floors, pipes and hallways reads the log, "
                "weighs "
                "how often each kind of look misses them, and gives each unit a chance."
            ),
            voice.text(
                "How sure: the calculation was run from different starts, and the answers agree. Of a "
                "hundred "
                "units at 30 %, about thirty should prove infested if the model is right."
            )
            if session.view.posterior.diagnostics.good
            else voice.text(
                "How sure: the calculation was run from different starts, and the answers do not agree as "
                "well as they should; take every figure here as rough."
            ),
        )
    )


def _schedule(session: Session, offer: Offer, voice: Voice) -> Iterator[doc.Block]:
    programme = next(each for each in offer.programmes if each.key == offer.choice.proposed)
    planned = calendar(programme, session.on, offer.comparison.weeks)
    yield doc.Heading(voice.text("Schedule"))
    yield doc.Bullets(
        (
            *(say(work, voice) for work in standing_work(programme)),
            *(_planned(each, voice) for each in planned[:6]),
        )
    )
    months = crew_months(offer.comparison, programme.key, session.on)
    high = -(-len(months) // BESIDE)
    cells = [
        (voice.month(month.first), voice.number(month.visits), voice.number(month.crew_days, 1))
        for month in months
    ]
    cells += [("", "", "")] * (BESIDE * high - len(cells))
    head = (voice.text("Month"), voice.text("Visits"), voice.text("Crew-days"))
    yield doc.Table(
        head * BESIDE,
        tuple(tuple(chain(*cells[row::high])) for row in range(high)),
        ("left", "right", "right") * BESIDE,
        widths=(0.14, 0.08, 0.11) * BESIDE,
        caption=voice.text(
            "Work by month, mean of the futures, reports and follow-up included; a crew-day is up to {hours} "
            "hours at doors by {people}, and a trip",
            hours=voice.significant(offer.comparison.day_hours, 3),
            people=voice.many("one technician", "{number} technicians", round(offer.comparison.crew)),
        ),
        small=True,
        whole=True,
    )


def _parts(session: Session, offer: Offer, voice: Voice) -> Iterator[doc.Block]:
    """Return what each side does and what ends it."""
    terms = offer.terms
    yield doc.Heading(voice.text("Who does what"))
    yield doc.Bullets(
        (
            *terms.scope,
            voice.text(
                "The owner has notices of entry delivered in time, has empty units opened, and tells the "
                "firm "
                "at once of reports, moves and work inside walls."
            ),
            voice.text("Nobody else treats for bed bugs meanwhile: what two hands do, nobody can follow up."),
            *terms.owner,
            voice.text(
                "Residents let the technician in, make room around beds and sofas, use no sprays, foggers, "
                "alcohol or heat of their own, move nothing out, and tell the office of bugs at once. "
                "Whoever "
                "cannot prepare says so; no reason is asked for."
            ),
        )
    )
    yield doc.Heading(voice.text("What ends it"))
    yield doc.Bullets(tuple(_ending(offer.fees, terms.ends, voice)))
    yield doc.Heading(voice.text("Duties under the rules"))
    yield doc.Bullets(tuple(_duties(session, offer, voice)))
    yield doc.Paragraph(voice.term("law", ALWAYS_SAY), small=True)


def _ending(fees: Fees | None, own: tuple[str, ...], voice: Voice) -> Iterator[str]:
    if fees is None:  # else the first page has term and notice
        yield voice.text("Term and notice are to be agreed with the price.")
    yield voice.text(
        "The programme does not end because no bug was seen for a while. A unit is called cleared only by "
        "monitor periods and looks that were clean, and a low chance together; never because it is empty, "
        "after one look or on a dog's silence."
    )
    yield from own


def _duties(session: Session, offer: Offer, voice: Voice) -> Iterator[str]:
    building = session.building
    rules = session.rules
    owed = [d for d in duties(building.log, building.contacts, rules, session.on) if d.status != "done"]
    yield voice.text(
        "Rules: {title} ({authority}; {date}).",
        title=voice.term("law", rules.title),
        authority=voice.term("law", rules.authority),
        date=voice.term("law", rules.text_date),
    )
    if not owed:
        yield voice.text("Nothing is due now by what is on record.")
    words = {
        "overdue": voice.text("overdue"),
        "cannot": voice.text("still owed, nobody could get in"),
        "week": voice.text("due this week"),
        "later": voice.text("due later"),
        "undated": voice.text("no date in the rule"),
    }
    for status, some in group(owed, session.on).items():
        steps: dict[str, list[str]] = {}
        for duty in some:
            steps.setdefault(duty.step, []).append(duty.unit)
        for step, units in steps.items():
            what = f"{upper(step_name(step, voice))} ({words.get(status, status)})"
            yield f"{what}: {_some(units, offer, voice)}."
    open_ = [
        unit
        for unit, each in session.view.followups.items()
        if each.state in ("infested", "under treatment", "clearing")
    ]
    if open_:
        told = _some(open_, offer, voice)
        yield voice.text("Not yet cleared after a find, to be visited again: {units}.", units=told)


def _some(units: list[str], offer: Offer, voice: Voice) -> str:
    """Return units by their codes, or on a copy for a board how many they are."""
    if offer.board:
        return voice.many("{number} unit", "{number} units", len(units))
    if len(units) <= MOST_UNITS:
        return voice.joined(units)
    left = voice.many("{number} more", "{number} more", len(units) - MOST_UNITS)
    return voice.joined([", ".join(units[:MOST_UNITS]), left])


def _beside_published(voice: Voice) -> Iterator[doc.Block]:
    """Return what the simulation gives for published programmes, met or missed."""
    yield doc.Heading(voice.text("Published programmes in the same simulation"))
    yield doc.Table(
        (
            voice.text("As published"),
            voice.text("Published"),
            voice.text("Simulated (nine tenths of the runs)"),
            voice.text("What was accepted beforehand"),
        ),
        published_rows(published(), voice),
        ("left", "right", "right", "right"),
        widths=(0.46, 0.16, 0.22, 0.16),
        small=True,
        whole=True,
    )
    yield doc.Paragraph(trials_line(published(), voice), small=True)


def _limits(session: Session, voice: Voice) -> Iterator[doc.Block]:
    yield doc.Heading(voice.text("Limits and cautions"))
    # In one frame, which is not parted: on a last page of its own it would be read alone.
    yield doc.Caution(
        " ".join(
            (
                voice.text(
                    "No programme promises nil: bugs are brought in anew, and every way of looking misses "
                    "some."
                ),
                voice.text(
                    "The bands hold what is not known of the building, how fast bugs spread and grow, how "
                    "well looks and treatments work, and chance. Prices and minutes are held."
                ),
                voice.text(
                    "Steam, heat, dust, electricity and pesticides can hurt people. The label, local codes "
                    "and licensed practice decide; this document states no dose."
                ),
            )
        )
    )
    fitted = voice.text(
        "Spread, looks, treatments and programmes: one set of numbers fitted to published buildings, among "
        "them Wang et al. 2010, 2012, 2014, 2016, 2018 and 2019; Cooper, Wang and Singh 2015; Singh et al. "
        "2013; Abbar et al. 2020."
    )
    seed = voice.text("Seed {seed}: the same seed repeats every figure.", seed=session.view.posterior.seed)
    yield doc.Sources((f"{fitted} {seed}",))


def log_words(kinds: Mapping[str, int], voice: Voice = ENGLISH) -> str:
    """Return how many rows of each kind a log has: ``1 treatment, 2 visits without access``."""
    said = {
        "report": voice.many(
            "{number} report by residents or staff", "{number} reports by residents or staff",
            kinds.get("report", 0),
        ),
        "inspection": voice.many("{number} look", "{number} looks", kinds.get("inspection", 0)),
        "monitor": voice.many("{number} monitor period", "{number} monitor periods", kinds.get("monitor", 0)),
        "treatment": voice.many("{number} treatment", "{number} treatments", kinds.get("treatment", 0)),
        "no-access": voice.many(
            "{number} visit without access", "{number} visits without access", kinds.get("no-access", 0)
        ),
    }  # fmt: skip
    return ", ".join(words for kind, words in said.items() if kinds.get(kind))

"""The part of a proposal on programmes: bugs, money and hours side by side, and what can be told apart."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from spread.programmes.figures import Figure, Share
from spread.programmes.pairs import Pair
from spread.programmes.programme import Programme
from spread.programmes.results import Comparison
from spread.report.charts import Bar, Path, band_panels, whiskers
from spread.report.document import Block, Bullets, Heading, Paragraph, Picture, Strong, Table
from spread.report.firm import Firm
from spread.report.programmes_text import SURVEY_NOTE, as_number, as_share, even_words

ROWS = (
    ("Infested unit-weeks", "infested unit-weeks"),
    ("Units newly infested", "new units infested"),
    ("Infested at the end", "infested at the end"),
    ("Visits", "visits"),
    ("Technician hours", "hours"),
    ("Cost", "cost"),
    ("Cost, and treating what is left", "cost with what is left"),
)
PLUS_MINUS, HELD = "\N{PLUS-MINUS SIGN}", "\N{NO-BREAK SPACE}"
"""Held is a space at which no line breaks."""
KIND_WORDS = {
    "doors": "Knocking at doors",
    "looks": "Looks and monitors",
    "surveys": "Surveys of all units",
    "treatment": "Treatment",
    "office": "Reports and notices",
    "travel": "Travel",
    "loss": "Owner's loss",
}


@dataclass(frozen=True, slots=True)
class Offer:
    """What a proposal is made of.

    Parameters
    ----------
    comparison
        Programmes side by side.
    programmes
        The same, in the same order.
    chosen
        Key of the one proposed.
    firm
        Who proposes.
    own_prices
        Whether the prices are the firm's own.
    """

    comparison: Comparison
    programmes: tuple[Programme, ...]
    chosen: str
    firm: Firm
    own_prices: bool


def side_by_side(offer: Offer) -> Iterator[Block]:
    """Return the pictures, the table and the words on what can be told apart."""
    comparison = offer.comparison
    yield Heading("Programmes side by side")
    yield Bullets(tuple((Strong(f"{each.name}. "), each.words) for each in comparison.outcomes if each.words))
    yield Paragraph(
        f"Each programme was simulated {comparison.runs:,} times over {comparison.weeks} weeks, from what "
        "may be true of the building today and in the same futures for all. The dark line is the middle of "
        "the runs; half of them lie in the inner band and nine tenths in the outer one."
    )
    panels = [Path(outcome.name, outcome.infested) for outcome in comparison.outcomes]
    alt = "Units infested over time: " + "; ".join(
        f"{o.name}: from {o.infested[2, 0]:.0f} to {o.infested[2, -1]:.0f} in the middle of the runs"
        for o in comparison.outcomes
    )
    yield Picture(band_panels(panels, upright="units infested", along="weeks from today"), alt, "", 0.9)
    yield _table(comparison)
    yield Heading("Can they be told apart?", 2)
    yield Bullets(tuple(_verdicts(offer)))
    yield Paragraph(
        "Differences are taken within the same future and given with the band of nine tenths of the runs; a "
        "minus is less than in the programme it is held against. "
        "Below 90 of 100 futures we do not call a winner. Where the bands in the table overlap, two "
        f"programmes may turn out alike or the other way round. {PLUS_MINUS} is the standard error of "
        f"{comparison.runs:,} simulated runs; four times the runs halve it.",
        small=True,
    )


def _verdicts(offer: Offer) -> Iterator[str]:
    comparison = offer.comparison
    others = [each.key for each in comparison.outcomes if each.key != comparison.reference]
    pairs = [(key, comparison.reference) for key in others]
    if offer.chosen in others:
        pairs += [(offer.chosen, key) for key in others if key != offer.chosen]
    for a, b in pairs:
        yield f"{comparison.of(a).name} against {comparison.of(b).name}: " + _verdict(
            comparison.pair(a, b), comparison.currency
        )


def _verdict(pair: Pair, currency: str) -> str:
    """Return in words how one programme does against another, both differences with their bands."""
    bugs, cost = pair.bug_weeks, pair.cost
    fewer, cheaper = _of_100(pair.fewer_bugs), _of_100(pair.cheaper)
    clear = "" if not pair.bug_verdict.startswith("cannot") else "they cannot be told apart in bugs: "
    said = f"{clear}fewer infested unit-weeks in {fewer} futures (difference {_difference(bugs)})"
    clear = "" if not pair.cost_verdict.startswith("cannot") else "they cannot be told apart in cost: "
    return f"{said}; {clear}cheaper in {cheaper} (difference {currency} {_difference(cost)})."


def _difference(figure: Figure) -> str:
    """Return a difference with its band and, where runs were enough to tell it, its simulation error."""
    error = f" {PLUS_MINUS} {figure.median_error:,.0f}" if math.isfinite(figure.median_error) else ""
    return f"{_signed(figure.median)}{error}; {_signed(figure.low90)} to {_signed(figure.high90)}"


def _signed(value: float) -> str:
    whole = round(value)
    return f"{whole:+,d}".replace("-", "\N{MINUS SIGN}") if whole else "0"


def _of_100(share: Share) -> str:
    """Return a share of the futures with its simulation error; never all or none unless each run said so."""
    count = round(100 * share.chance)
    if count in (0, 100) and share.chance not in (0.0, 1.0):
        return "fewer than 1 of 100" if count == 0 else "more than 99 of 100"
    return f"{count} {PLUS_MINUS} {as_number(round(100 * share.error))} of 100"


def _table(comparison: Comparison) -> Table:
    def cell(name: str, figure: Figure) -> str:
        money = f"{comparison.currency}{HELD}" if name.startswith("cost") else ""
        return money + with_error(figure)

    body = [
        (label, *(cell(name, outcome.figures[name]) for outcome in comparison.outcomes))
        for label, name in ROWS
    ]
    body.append(
        (
            f"No unit infested at some time by week {comparison.by_week}",
            *(as_share(outcome.nil_by).replace("+-", PLUS_MINUS) for outcome in comparison.outcomes),
        )
    )
    return Table(
        ("", *(outcome.name for outcome in comparison.outcomes)),
        tuple(body),
        widths=_widths(comparison),
        caption=f"Middle of the runs {PLUS_MINUS} its simulation error (where nine tenths of the runs lie)",
        small=True,
        whole=True,
    )


def _widths(comparison: Comparison) -> tuple[float, ...]:
    return (0.22, *(0.78 / len(comparison.outcomes) for _ in comparison.outcomes))


def effort(offer: Offer) -> Iterator[Block]:
    """Return cost and hours as pictures, cost by kind, and where money turns the answer."""
    comparison = offer.comparison
    yield Heading("Cost and effort")
    for name, words in (("cost", f"cost in {comparison.currency}"), ("hours", "technician hours")):
        bars = [Bar(outcome.name, outcome.figures[name]) for outcome in comparison.outcomes]
        alt = f"{words}: " + "; ".join(f"{bar.name} {with_error(bar.figure)}" for bar in bars)
        yield Picture(whiskers(bars, along=f"{words} over {comparison.weeks} weeks"), alt, "", 0.8)
    yield Paragraph(
        "The dot is the middle of the runs, the thick bar half of them, the thin line nine tenths.",
        small=True,
    )
    kinds = [kind for kind in KIND_WORDS if any(o.cost_by_kind[kind].mean > 0 for o in comparison.outcomes)]
    yield Table(
        ("", *(outcome.name for outcome in comparison.outcomes)),
        (
            *(
                (KIND_WORDS[kind], *(with_error(o.cost_by_kind[kind]) for o in comparison.outcomes))
                for kind in kinds
            ),
            ("All", *(with_error(o.figures["cost"]) for o in comparison.outcomes)),
        ),
        widths=_widths(comparison),
        caption=f"Where the money goes, {comparison.currency}; middles of parts need not add up",
        small=True,
        whole=True,
    )
    yield Bullets(tuple(line for even in comparison.break_even for line in even_words(even, comparison)))
    yield Paragraph(
        "Prices are the firm's own."
        if offer.own_prices
        else "Prices are central values, most of them judged, and not an offer.",
        small=True,
    )
    if any(outcome.hours_by_kind["surveys"].mean > 0 for outcome in comparison.outcomes):
        yield Paragraph(SURVEY_NOTE.replace("\n", " "), small=True)


def with_error(figure: Figure) -> str:
    """Return a figure's median with its simulation error, and the ends of its 90 % band.

    Its spaces hold, but for the one between, so that a narrow column breaks there.
    """
    ends = f"({as_number(figure.low90)} to {as_number(figure.high90)})".replace(" ", HELD)
    middle = as_number(figure.median)
    if figure.low90 == figure.high90:
        return middle
    if math.isfinite(figure.median_error):
        middle += f"{HELD}{PLUS_MINUS}{HELD}{as_number(figure.median_error)}"
    return f"{middle} {ends}"

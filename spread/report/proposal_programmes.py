"""The part of a proposal on programmes: bugs, money and hours side by side, and what can be told apart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from spread.programmes.figures import Figure
from spread.programmes.programme import Programme
from spread.programmes.results import Comparison
from spread.report.charts import Bar, Path, band_panels, whiskers
from spread.report.document import Block, Bullets, Heading, Paragraph, Picture, Strong, Table
from spread.report.own_words import Firm
from spread.words import ENGLISH, Voice
from spread.words import figures as f
from spread.words.choice import duel, even_lines
from spread.words.programmes import cost_names, figure_names, nil_by, survey_note

ROWS = (
    "infested unit-weeks", "new-units", "infested-at-end", "visits", "hours", "cost",
    "cost-with-rest",
)  # fmt: skip
"""Figures of the table, in order."""
HELD = "\N{NO-BREAK SPACE}"
"""A space at which no line breaks."""


@dataclass(frozen=True, slots=True)
class Offer:
    """What a proposal is made of.

    ``comparison``: programmes side by side. ``programmes``: the same, in the same order. ``chosen``: key of
    the one proposed. ``firm``: who proposes. ``own_prices``: whether the prices are the firm's own.
    """

    comparison: Comparison
    programmes: tuple[Programme, ...]
    chosen: str
    firm: Firm
    own_prices: bool


def side_by_side(offer: Offer, voice: Voice = ENGLISH) -> Iterator[Block]:
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
    yield _table(comparison, voice)
    yield Heading("Can they be told apart?", 2)
    yield Bullets(tuple(_verdicts(offer, voice)))
    yield Paragraph(
        "Differences are taken within the same future and given with the band of nine tenths of the runs; a "
        "minus is less than in the programme it is held against. "
        "Below 90 of 100 futures we do not call a winner. Where the bands in the table overlap, two "
        f"programmes may turn out alike or the other way round. {f.PLUS_MINUS} is the standard error of "
        f"{comparison.runs:,} simulated runs; four times the runs halve it.",
        small=True,
    )


def _verdicts(offer: Offer, voice: Voice) -> Iterator[str]:
    comparison = offer.comparison
    others = [each.key for each in comparison.outcomes if each.key != comparison.reference]
    pairs = [(key, comparison.reference) for key in others]
    if offer.chosen in others:
        pairs += [(offer.chosen, key) for key in others if key != offer.chosen]
    for a, b in pairs:
        title, bugs, cost = duel(comparison, comparison.pair(b, a), voice)
        yield f"{title}: {bugs} {cost}"


def _table(comparison: Comparison, voice: Voice) -> Table:
    names, money = figure_names(voice), f"{comparison.currency}{HELD}"
    body = [
        (
            names[name],
            *(
                (money if name.startswith("cost") else "") + with_error(outcome.figures[name], voice)
                for outcome in comparison.outcomes
            ),
        )
        for name in ROWS
    ]
    nil = (f.share_with_error(outcome.nil_by, voice) for outcome in comparison.outcomes)
    body.append((nil_by(comparison, voice), *nil))
    return Table(
        ("", *(outcome.name for outcome in comparison.outcomes)),
        tuple(body),
        widths=_widths(comparison),
        caption=voice.text("Middle of the runs ± its simulation error (where nine tenths of the runs lie)"),
        small=True,
        whole=True,
    )


def _widths(comparison: Comparison) -> tuple[float, ...]:
    return (0.22, *(0.78 / len(comparison.outcomes) for _ in comparison.outcomes))


def effort(offer: Offer, voice: Voice = ENGLISH) -> Iterator[Block]:
    """Return cost and hours as pictures, cost by kind, and where money turns the answer."""
    comparison = offer.comparison
    yield Heading("Cost and effort")
    for name, words in (("cost", f"cost in {comparison.currency}"), ("hours", "technician hours")):
        bars = [Bar(outcome.name, outcome.figures[name]) for outcome in comparison.outcomes]
        alt = f"{words}: " + "; ".join(f"{bar.name} {with_error(bar.figure, voice)}" for bar in bars)
        yield Picture(whiskers(bars, along=f"{words} over {comparison.weeks} weeks"), alt, "", 0.8)
    yield Paragraph(
        "The dot is the middle of the runs, the thick bar half of them, the thin line nine tenths.",
        small=True,
    )
    kinds = cost_names(voice)
    spent = [kind for kind in kinds if any(o.cost_by_kind[kind].mean > 0 for o in comparison.outcomes)]
    yield Table(
        ("", *(outcome.name for outcome in comparison.outcomes)),
        (
            *(
                (kinds[kind], *(with_error(o.cost_by_kind[kind], voice) for o in comparison.outcomes))
                for kind in spent
            ),
            ("All", *(with_error(o.figures["cost"], voice) for o in comparison.outcomes)),
        ),
        widths=_widths(comparison),
        caption=f"Where the money goes, {comparison.currency}; middles of parts need not add up",
        small=True,
        whole=True,
    )
    yield Bullets(
        tuple(line for even in comparison.break_even for line in even_lines(even, comparison, voice))
    )
    yield Paragraph(
        "Prices are the firm's own."
        if offer.own_prices
        else "Prices are central values, most of them judged, and not an offer.",
        small=True,
    )
    if note := survey_note(comparison, voice):
        yield Paragraph(note, small=True)


def with_error(figure: Figure, voice: Voice = ENGLISH) -> str:
    """Return a figure's median with its simulation error, and the ends of its 90 % band.

    Its spaces hold, but for the one between, so that a narrow column breaks there.
    """
    middle = f.number(figure.median, voice)
    if figure.low90 == figure.high90:
        return middle
    parts = [" ".join(filter(None, [middle, f.error(figure, voice)])), f"({f.band(figure, voice)})"]
    return " ".join(part.replace(" ", HELD) for part in parts)

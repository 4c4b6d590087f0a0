"""The part of a proposal on programmes side by side, and how the proposed one compares."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from spread.programmes.choice import Against, Choice
from spread.programmes.fees import Fees
from spread.programmes.figures import Figure
from spread.programmes.flips import Flips
from spread.programmes.offer import Terms
from spread.programmes.programme import Programme
from spread.programmes.results import Comparison, Outcome
from spread.report.charts import Path, band_panels
from spread.report.document import Block, Bullets, Heading, Paragraph, Picture, Strong, Table
from spread.report.own_words import Firm
from spread.words import ENGLISH, Voice
from spread.words import figures as f
from spread.words.choice import against_rows, called, even_lines, names_of
from spread.words.programmes import figure_names, nil_at_end, nil_by, survey_note

ROWS = ("infested unit-weeks", "new-units", "infested-at-end", "visits")
"""Figures of the table that are no money, in order."""
HELD = "\N{NO-BREAK SPACE}"
"""A space at which no line breaks."""


@dataclass(frozen=True, slots=True)
class Offer:
    """What a proposal is made of.

    ``comparison``: programmes side by side. ``programmes``: the same, in the same order, as they ran.
    ``choice``: the verdict, with the programme that is proposed. ``firm``: who proposes. ``terms``: fees and
    the firm's own sentences. ``flips``: what would turn the verdict; None if not worked out. ``board``:
    whether it is a copy that names no unit.
    """

    comparison: Comparison
    programmes: tuple[Programme, ...]
    choice: Choice
    firm: Firm = field(default_factory=Firm)
    terms: Terms = field(default_factory=Terms)
    flips: Flips | None = None
    board: bool = False

    @property
    def fees(self) -> Fees | None:
        """What the owner pays by; None where nothing is asked yet."""
        return self.comparison.fees


def on_the_first_page(one: Against) -> bool:
    """Whether the first page says a comparison already: with doing as now, and with waiting three months."""
    return one.what == "now" or (one.what == "wait" and one.months == 3)


def side_by_side(offer: Offer, voice: Voice = ENGLISH) -> Iterator[Block]:
    """Return the pictures, the table and the words on how the proposed programme compares."""
    comparison, names = offer.comparison, names_of(offer.comparison, voice)
    yield Heading(voice.text("Programmes side by side"))
    yield Bullets(
        tuple(
            (Strong(f"{names[each.key]}. "), called(each.words, voice))
            for each in comparison.outcomes
            if each.words
        )
    )
    yield curves(offer, comparison.outcomes, voice, 0.54)
    yield _table(offer, voice)
    yield Heading(voice.text("How the proposed one compares"), 2)
    rows = zip(offer.choice.against, against_rows(offer.choice, names, voice), strict=True)
    yield Bullets(tuple(f"{title}: {words}." for one, (title, words) in rows if not on_the_first_page(one)))
    evens = [line for even in comparison.break_even for line in even_lines(even, comparison, voice)]
    if evens:
        yield Heading(voice.text("What more money buys"), 2)
        yield Bullets(tuple(evens))
    yield Paragraph(
        voice.text(
            "Differences are taken within the same future, the treatment of what is left at the end counted. "
            "In brackets: where the mean of endlessly many futures would lie, nineteen times of twenty. "
            "Where "
            "that holds nothing at all, two programmes cannot be told apart."
        ),
        small=True,
    )
    if note := survey_note(comparison, voice):
        yield Paragraph(note, small=True)


def curves(offer: Offer, outcomes: Sequence[Outcome], voice: Voice, width: float) -> Picture:
    """Return the units infested over time under some programmes, on one scale."""
    names, comparison = names_of(offer.comparison, voice), offer.comparison
    panels = [Path(names[outcome.key], outcome.infested) for outcome in outcomes]
    alt = voice.text(
        "Units infested over time: {programmes}.",
        programmes="; ".join(
            voice.text(
                "{name}: from {now} to {then} in the middle of the runs",
                name=names[o.key],
                now=f.number(o.infested[2, 0], voice),
                then=f.number(o.infested[2, -1], voice),
            )
            for o in outcomes
        ),
    )
    along = voice.text("weeks from today")
    return Picture(
        band_panels(panels, upright=voice.text("units infested"), along=along),
        alt,
        voice.text(
            "Each programme in the same {runs} futures over {weeks} weeks. Dark line: the middle; inner "
            "band: half of them; outer band: nine tenths.",
            runs=voice.number(comparison.runs),
            weeks=comparison.weeks,
        ),
        width,
    )


def _table(offer: Offer, voice: Voice) -> Table:
    comparison = offer.comparison
    names, currency = figure_names(voice), f"{comparison.currency}{HELD}"
    # An owner sees what an owner pays; what the work costs the firm is the firm's own affair.
    money = ("bill", "cost-with-rest") if offer.fees is not None else ("cost", "cost-with-rest")
    losses = ("loss",) if offer.choice.loss else ()
    body = [
        (
            names[name],
            *(
                (currency if name in (*money, *losses) else "") + with_error(outcome.figures[name], voice)
                for outcome in comparison.outcomes
            ),
        )
        for name in (*ROWS, *money, *losses)
    ]
    body.append((nil_by(comparison, voice), *(f.share(o.nil_by, voice) for o in comparison.outcomes)))
    body.append((nil_at_end(voice), *(f.share(o.nil_at_end, voice) for o in comparison.outcomes)))
    called_ = names_of(comparison, voice)
    return Table(
        ("", *(called_[outcome.key] for outcome in comparison.outcomes)),
        tuple(body),
        widths=(0.22, *(0.78 / len(comparison.outcomes) for _ in comparison.outcomes)),
        caption=voice.text("Middle of the runs ± its simulation error (where nine tenths of the runs lie)"),
        small=True,
        whole=True,
    )


def with_error(figure: Figure, voice: Voice = ENGLISH) -> str:
    """Return a figure's median with its simulation error, and the ends of its 90 % band.

    Its spaces hold, but for the one between, so that a narrow column breaks there.
    """
    middle = f.number(figure.median, voice)
    if figure.low90 == figure.high90:
        return middle
    parts = [" ".join(filter(None, [middle, f.error(figure, voice)])), f"({f.band(figure, voice)})"]
    return " ".join(part.replace(" ", HELD) for part in parts)

"""The section of the owner's month on an accepted programme: its forecast beside what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from spread.facts import as_json
from spread.report import document as doc
from spread.report.charts import Spans, beside_panel
from spread.report.lines import folded
from spread.session import Session
from spread.words import ENGLISH, Voice, say

if TYPE_CHECKING:
    from spread.programmes.accepted import Accepted
    from spread.programmes.held import Held


@dataclass(frozen=True)
class HeldView:
    """The accepted programme that holds, held to its forecast, and the last new forecast if there is one."""

    accepted: Accepted
    held: Held
    newest: Accepted | None
    earlier: tuple[Accepted, ...]  #: Programmes accepted before it


def held_view(session: Session) -> HeldView | None:
    """Hold the accepted programme of a building to its forecast; None where none was accepted."""
    texts = session.building.store.programmes
    if not texts.all():
        return None  # the kernel of the forecasts is loaded where there is one
    from spread.programmes.accepted import accepted_in, newest_forecast, standing  # noqa: PLC0415
    from spread.programmes.actual import actual_of  # noqa: PLC0415
    from spread.programmes.held import held_to  # noqa: PLC0415

    kept = [one for one in accepted_in(texts) if one.on <= session.on]
    accepted = standing(kept)
    if accepted is None:
        return None
    pace = session.building.settings.pace
    held = held_to(accepted, actual_of(session.view, accepted), pace.households.not_prepared)
    earlier = tuple(one for one in kept if not one.renews and one.id != accepted.id)
    return HeldView(accepted, held, newest_forecast(kept, accepted), earlier)


def held_lines(shown: HeldView, voice: Voice) -> list[str]:
    """Return what is said of it, after the answer."""
    from spread.words.held import renewed_line, why_lines  # noqa: PLC0415

    lines = [*why_lines(shown.held, voice), say(shown.accepted, voice)]
    if shown.newest is not None:
        lines.append(renewed_line(shown.newest, voice))
    if shown.earlier:
        days = voice.joined([voice.day(one.on) for one in shown.earlier])
        lines.append(voice.text("Accepted before, and kept: {days}.", days=days))
    return lines


def held_blocks(shown: HeldView, voice: Voice) -> list[doc.Block]:
    """Return the section, which begins a sheet of its own; it names no unit."""
    from spread.words.held import heads, rows  # noqa: PLC0415

    blocks: list[doc.Block] = [
        doc.PageBreak(),
        doc.Heading(title(voice), 2),
        doc.Paragraph((doc.Strong(say(shown.held, voice)),)),
        *map(doc.Paragraph, held_lines(shown, voice)),
    ]
    if shown.held.places:
        head, body = heads(shown.held, voice), tuple(rows(shown.held, voice))
        blocks.append(
            doc.Table(head, body, ("left", "right", "right"), widths=(0.46, 0.22, 0.32), whole=True)
        )
    return [*blocks, _picture(shown, voice)]


def title(voice: Voice) -> str:
    """Return the heading of the section."""
    return voice.text("Held to the accepted programme")


def spans_of(shown: HeldView) -> tuple[Spans, Spans | None, Spans]:
    """Return units infested by day: as promised, as in the last new forecast, and as known today."""
    return (
        _forecast(shown.accepted),
        _forecast(shown.newest) if shown.newest is not None else None,
        tuple(
            (shown.accepted.day(p.month), p.actual_low or 0.0, p.actual, p.actual_high or 0.0)
            for p in shown.held.path
            if p.actual is not None
        ),
    )


def _forecast(accepted: Accepted) -> Spans:
    bands = accepted.bands["infested"]
    return tuple((accepted.day(month), *band) for month, band in enumerate(bands, start=1))


def _picture(shown: HeldView, voice: Voice) -> doc.Picture:
    promised, newest, known = spans_of(shown)
    names = names_of(shown, voice)
    low, middle, high = promised[-1][1:]
    alt = voice.text(
        "Promised for the end: {median} ({low} to {high}).", median=voice.number(middle),
        low=voice.number(low), high=voice.number(high),
    )  # fmt: skip
    upright = voice.text("Units infested")
    svg = beside_panel(promised, newest, known, names=names, upright=upright, day=voice.month)
    return doc.Picture(svg, alt, width=0.9)


def names_of(shown: HeldView, voice: Voice) -> tuple[str, str, str]:
    """Return what the promised band, that of the new forecast, and the marks are called."""
    newest = voice.day(shown.newest.on) if shown.newest is not None else ""
    return (
        voice.text("promised on {day} (90 %)", day=voice.day(shown.accepted.on)),
        voice.text("new forecast of {day} (90 %)", day=newest),
        voice.text("as known today (90 %)"),
    )


def held_text(shown: HeldView, voice: Voice) -> list[str]:
    """Return the section as lines."""
    from spread.words.held import heads, rows  # noqa: PLC0415

    said = [folded(line, "- ") for line in held_lines(shown, voice)]
    lines = [title(voice), folded(say(shown.held, voice)), *said]
    if shown.held.places:
        table = [heads(shown.held, voice), *rows(shown.held, voice)]
        wide = [max(len(row[column]) for row in table) for column in (0, 1)]
        lines += ["", *(f"{a:<{wide[0]}}  {b:>{wide[1]}}  {z}".rstrip() for a, b, z in table)]
    return lines


def held_data(shown: HeldView) -> dict[str, Any]:
    """Return the section ready for JSON."""
    newest = shown.newest
    facts: dict[str, Any] = as_json(shown.held)  # type: ignore[assignment]
    return facts | {
        "verdict": shown.held.verdict,
        "accepted_id": shown.accepted.id,
        "nil_by": shown.accepted.nil_by,
        "nil_at_end": shown.accepted.nil_at_end,
        "seed": shown.accepted.seed,
        "newest": None if newest is None else {"on": newest.on.isoformat(), "infested": _bands(newest)},
        "earlier": [{"on": one.on.isoformat(), "key": one.key} for one in shown.earlier],
        "words": [say(shown.held, ENGLISH), *held_lines(shown, ENGLISH)],
    }


def accepted_data(accepted: Accepted) -> dict[str, Any]:
    """Return what was kept ready for JSON: figures by month, without the single futures."""
    named = ("id", "key", "name", "renews", "by", "seed", "version", "log", "units", "runs", "ends", "bands")
    told = {name: getattr(accepted, name) for name in (*named, "nil_by", "nil_at_end", "currency", "by_fees")}
    return told | {"on": accepted.on.isoformat(), "words": say(accepted, ENGLISH)}


def _bands(accepted: Accepted) -> list[list[float]]:
    return [list(band) for band in accepted.bands["infested"]]

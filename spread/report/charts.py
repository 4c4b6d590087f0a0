"""Charts for documents as plain SVG: paths with bands.

One hue from light to dark with dark letters, so that they read in any kind of colour vision and in grey.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from spread.posterior.dynamics import Floats

INK, SOFT, GRID = "#22313a", "#52616a", "#d5dcdf"
OUTER, INNER, LINE = "#cfe3ea", "#8fbccb", "#17566b"
PANEL_WIDE, PANEL_HIGH = 330.0, 190.0


@dataclass(frozen=True, slots=True)
class Path:
    """One panel of :func:`band_panels`.

    ``name``: its title. ``bands``: shape (5, W + 1): 5, 25, 50, 75 and 95 % points by week.
    """

    name: str
    bands: Floats


def band_panels(paths: Sequence[Path], *, upright: str, along: str) -> str:
    """Draw a panel a path, two beside each other, all on one scale.

    ``paths``: at least one. ``upright``, ``along``: words for the two axes. Returns an ``<svg>`` element.
    """
    top = max(1.0, *(float(path.bands[4].max()) for path in paths))
    step = tick_step(top)
    top = step * math.ceil(top / step)
    columns = min(2, len(paths))
    rows = math.ceil(len(paths) / columns)
    wide, high = columns * PANEL_WIDE, rows * PANEL_HIGH + 20
    parts = [_text(4, 12, upright, 11, SOFT)]
    for place, path in enumerate(paths):
        parts += _panel(
            path, place % columns * PANEL_WIDE, place // columns * PANEL_HIGH + 16, top, step, along
        )
    return _svg(wide, high, "\n".join(parts))


def _panel(path: Path, left: float, above: float, top: float, step: float, along: str) -> list[str]:
    x0, x1, y0, y1 = left + 34, left + PANEL_WIDE - 14, above + PANEL_HIGH - 34, above + 24
    weeks = path.bands.shape[1] - 1

    def at(week: int, value: float) -> str:
        return f"{x0 + (x1 - x0) * week / max(1, weeks):.1f},{y0 - (y0 - y1) * value / top:.1f}"

    def area(low: int, high: int, fill: str) -> str:
        there = [at(week, float(path.bands[high, week])) for week in range(weeks + 1)]
        back = [at(week, float(path.bands[low, week])) for week in range(weeks, -1, -1)]
        return f'<polygon points="{" ".join(there + back)}" fill="{fill}"/>'

    parts = [_text(x0, above + 14, path.name, 12, INK, strong=True)]
    value = 0.0
    while value <= top + 1e-9:
        y = y0 - (y0 - y1) * value / top
        parts.append(f'<path d="M{x0:.1f} {y:.1f}H{x1:.1f}" stroke="{GRID}" stroke-width="0.8"/>')
        parts.append(_text(x0 - 5, y + 3.5, f"{value:g}", 10, SOFT, anchor="end"))
        value += step
    parts += [area(0, 4, OUTER), area(1, 3, INNER)]
    median = " ".join(at(week, float(path.bands[2, week])) for week in range(weeks + 1))
    parts.append(f'<polyline points="{median}" fill="none" stroke="{LINE}" stroke-width="2"/>')
    every = 26 if weeks > 60 else 13 if weeks > 26 else max(1, weeks // 2)
    for week in range(0, weeks + 1, every):
        x = x0 + (x1 - x0) * week / max(1, weeks)
        parts.append(f'<path d="M{x:.1f} {y0:.1f}v4" stroke="{SOFT}" stroke-width="0.8"/>')
        parts.append(_text(x, y0 + 15, str(week), 10, SOFT, anchor="middle"))
    parts.append(_text(x1, y0 + 28, along, 10, SOFT, anchor="end"))
    return parts


Spans = Sequence[tuple[dt.date, float, float, float]]
"""Low, middle and high by day."""


def beside_panel(
    promised: Spans,
    newest: Spans | None,
    known: Spans,
    *,
    names: tuple[str, str, str],
    upright: str,
    day: Callable[[dt.date], str],
) -> str:
    """Draw what was promised as a band, a newer forecast as two dashed ends, and what is known as marks.

    ``names``: of the three, for the key; ``upright``: words for the axis; ``day``: says a day. Returns an
    ``<svg>`` element.
    """
    all_spans = [*promised, *(newest or ()), *known]
    first, last = min(s[0] for s in all_spans), max(s[0] for s in all_spans)
    top = max(1.0, *(high for *_, high in all_spans))
    step = tick_step(top)
    top = step * math.ceil(top / step)
    x0, x1, y0, y1 = 40.0, 640.0, 230.0, 44.0

    def at(when: dt.date, value: float) -> tuple[float, float]:
        along = (when - first).days / max(1, (last - first).days)
        return x0 + 12 + (x1 - x0 - 24) * along, y0 - (y0 - y1) * value / top

    def line(spans: Spans, place: int) -> str:
        return " ".join("{:.1f},{:.1f}".format(*at(when, ends[place - 1])) for when, *ends in spans)

    parts, value = [_text(4, 32, upright, 11, SOFT)], 0.0
    while value <= top + 1e-9:
        y = y0 - (y0 - y1) * value / top
        parts.append(f'<path d="M{x0} {y:.1f}H{x1}" stroke="{GRID}" stroke-width="0.8"/>')
        parts.append(_text(x0 - 5, y + 3.5, f"{value:g}", 10, SOFT, anchor="end"))
        value += step
    parts.append(f'<polygon points="{line(promised, 3)} {line(promised[::-1], 1)}" fill="{OUTER}"/>')
    drawn = [(promised, 2, f'stroke="{LINE}" stroke-width="2"')]
    dashed = f'stroke="{INK}" stroke-width="1.3" stroke-dasharray='
    if newest:
        drawn += [(newest, 1, f'{dashed}"2 3"'), (newest, 3, f'{dashed}"2 3"'), (newest, 2, f'{dashed}"6 3"')]
    parts += [f'<polyline points="{line(spans, place)}" fill="none" {how}/>' for spans, place, how in drawn]
    for when, low, middle, high in known:
        (x, bottom), (_, up), (_, y) = at(when, low), at(when, high), at(when, middle)
        parts.append(f'<path d="M{x:.1f} {bottom:.1f}V{up:.1f}" stroke="{INK}" stroke-width="1.4"/>')
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{INK}"/>')
    days = sorted({span[0] for span in promised})
    for when in days[:: max(1, math.ceil(len(days) / 6))]:
        parts.append(_text(at(when, 0)[0], y0 + 16, day(when), 10, SOFT, anchor="middle"))
    marks = [
        f'<rect x="{{x}}" y="8" width="16" height="8" fill="{OUTER}" stroke="{LINE}"/>',
        f'<path d="M{{x}} 12h16" {dashed}"6 3"/>',
        f'<circle cx="{{x}}" cy="12" r="4" fill="{INK}"/>',
    ]
    x = x0
    for name, mark, there in zip(names, marks, (True, bool(newest), bool(known)), strict=True):
        if there:
            parts += [mark.format(x=f"{x:.0f}"), _text(x + 22, 16, name, 10.5, INK)]
            x += 40 + 5.6 * len(name)
    return _svg(x1 + 20, y0 + 26, "\n".join(parts))


@dataclass(frozen=True, slots=True)
class Ranked:
    """One bar of :func:`bars`: its name, value, the ends of its interval, and its colour."""

    name: str
    value: float
    low: float
    high: float
    fill: str


def bars(panels: Mapping[str, Sequence[Ranked]], *, title: str, words: str) -> str:
    """Draw a panel of bars with their intervals under each other, all on one scale.

    ``panels``: bars by the heading of their panel; at least one bar in all. ``title``, ``words``: what the
    chart is, and how to read it, for those who cannot see it.
    """
    x0, wide, bar, gap = 290.0, 360.0, 16.0, 6.0
    most = max(each.high for rows in panels.values() for each in rows)
    parts, top = [f"<title>{escape(title)}</title><desc>{escape(words)}</desc>"], 20.0
    for heading, rows in panels.items():
        bottom = top + 34 + len(rows) * (bar + gap)
        parts.append(_text(x0, top + 14, heading, 12, INK, strong=True))
        for tick in range(int(most) + 1):
            x = x0 + wide * tick / most
            parts.append(f'<path d="M{x:.1f} {top + 26:.1f}V{bottom:.1f}" stroke="{GRID}"/>')
            parts.append(_text(x, bottom + 14, str(tick), 12, INK, anchor="middle"))
        for place, each in enumerate(rows):
            y = top + 32 + place * (bar + gap) + bar / 2
            end, low, high = (x0 + wide * value / most for value in (each.value, each.low, each.high))
            parts += [
                _text(x0 - 8, y + 4, each.name, 12, INK, anchor="end"),
                f'<path d="M{x0:.1f} {y:.1f}H{end:.1f}" stroke="{each.fill}" stroke-width="{bar:.0f}"/>',
                f'<path d="M{low:.1f} {y:.1f}H{high:.1f}" stroke="{INK}" stroke-width="1.5"/>',
                _text(high + 6, y + 4, f"{each.value:.2f}", 12, INK),
            ]
        top = bottom + 40
    return _svg(x0 + wide + 90, top, "\n".join(parts))


def tick_step(top: float) -> float:
    """Return a round step that cuts 0 to ``top`` into three to seven parts."""
    rough = top / 5
    size = 10.0 ** math.floor(math.log10(rough))
    return next(size * m for m in (1, 2, 5, 10) if size * m >= rough * 0.8)


def _text(
    x: float, y: float, words: str, size: float, fill: str, *, anchor: str = "start", strong: bool = False
) -> str:
    weight = ' font-weight="600"' if strong else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{fill}" text-anchor="{anchor}"{weight}>'
        f"{escape(words)}</text>"
    )


def _svg(wide: float, high: float, inside: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {high:.0f}" width="{wide:.0f}" '
        f'height="{high:.0f}" font-family="system-ui, sans-serif">\n'
        f'<rect width="{wide:.0f}" height="{high:.0f}" fill="#ffffff"/>\n{inside}\n</svg>\n'
    )

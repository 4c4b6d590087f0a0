"""One chart of the first doors: finds by strategy with their intervals, as an SVG file."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from html import escape

from benchmarks.figures_of import Doors, mean_of

LEFT, BAR, GAP, WIDE, RIGHT = 290, 16, 6, 360, 90
INK, GRID, RULE, OURS, BOUND = "#222222", "#d8d8d8", "#8a8f98", "#1f6fb2", "#c9b37e"


def _colour(name: str, rules: Collection[str]) -> str:
    if name in rules:
        return RULE
    return OURS if name.startswith("our") and "true rates" not in name else BOUND


def chart(doors: Mapping[str, Doors], titles: Mapping[str, str], rules: Collection[str]) -> str:
    """Return the chart.

    Parameters
    ----------
    doors
        First doors by past.
    titles
        Words for each past.
    rules
        Strategies that go by records alone, drawn grey.
    """
    names = next(iter(doors.values())).names
    figures = {past: {name: mean_of(each.of(name)) for name in names} for past, each in doors.items()}
    most = max(figure.high for each in figures.values() for figure in each.values())
    height_of_one = 44 + len(names) * (BAR + GAP) + 30
    width, height = LEFT + WIDE + RIGHT, 20 + len(doors) * height_of_one
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        'font-family="sans-serif" font-size="12">',
        "<title>Finds in the first 15 doors by strategy</title>",
        "<desc>Grey: rules that go by records alone. Blue: ours with learned rates. Sand: bounds that are "
        "told the truth. Lines: 95 % intervals over worlds.</desc>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
    ]
    top = 20
    for past, each in figures.items():
        worlds = len(doors[past].lines)
        parts.append(
            f'<text x="{LEFT}" y="{top + 14}" font-weight="bold" fill="{INK}">Finds in 15 doors, '
            f"{escape(titles[past])} ({worlds} worlds)</text>"
        )
        bottom = top + 34 + len(names) * (BAR + GAP)
        for tick in range(int(most) + 1):
            x = LEFT + WIDE * tick / most
            parts.append(f'<line x1="{x:.1f}" y1="{top + 26}" x2="{x:.1f}" y2="{bottom}" stroke="{GRID}"/>')
            parts.append(
                f'<text x="{x:.1f}" y="{bottom + 14}" text-anchor="middle" fill="{INK}">{tick}</text>'
            )
        for k, (name, figure) in enumerate(each.items()):
            y = top + 32 + k * (BAR + GAP)
            middle = y + BAR / 2
            ends = [LEFT + WIDE * v / most for v in (figure.value, figure.low, figure.high)]
            parts += [
                f'<text x="{LEFT - 8}" y="{middle + 4}" text-anchor="end" fill="{INK}">{escape(name)}</text>',
                f'<rect x="{LEFT}" y="{y}" width="{ends[0] - LEFT:.1f}" height="{BAR}" '
                f'fill="{_colour(name, rules)}"/>',
                f'<line x1="{ends[1]:.1f}" y1="{middle}" x2="{ends[2]:.1f}" y2="{middle}" stroke="{INK}" '
                'stroke-width="1.5"/>',
                f'<text x="{ends[2] + 6:.1f}" y="{middle + 4}" fill="{INK}">{figure.value:.2f}</text>',
            ]
        top += height_of_one
    return "\n".join([*parts, "</svg>"]) + "\n"

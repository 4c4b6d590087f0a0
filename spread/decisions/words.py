"""Figures as people read them: the one rule for percentages."""

from __future__ import annotations


def as_percent(chance: float, digits: int = 0) -> str:
    """Return a chance as a percentage; never 0% or 100%, which nobody can know.

    ``chance``: 0 to 1; ``digits``: digits after the point.

    Examples
    --------
    >>> as_percent(0.337), as_percent(0.0004), as_percent(0.9996)
    ('34%', '<1%', '>99%')
    >>> as_percent(0.0004, 1), as_percent(0.337, 1)
    ('<0.1%', '33.7%')
    """
    least = 10.0**-digits
    shown = round(100.0 * chance, digits)
    if shown < least:
        return f"<{least:.{digits}f}%"
    if shown > 100.0 - least:
        return f">{100.0 - least:.{digits}f}%"
    return f"{shown:.{digits}f}%"

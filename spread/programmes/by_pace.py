"""Whether the answer turns with a building's pace: two programmes in slow, middling and fast futures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.books import books_of
from spread.programmes.fees import Fees
from spread.programmes.figures import Share
from spread.programmes.money import Prices
from spread.programmes.pairs import beats
from spread.programmes.run import Simulated

CLEAR = 2.0
"""Monte Carlo errors by which a share of futures must lie off one half to take a side (judgement)."""
Turn = Literal["flips", "holds", "even"]
"""Whether slow and fast futures take opposite sides, all take one side, or neither is clear."""


@dataclass(frozen=True, slots=True)
class ByPace(Fact):
    """How often programme ``a`` has less of something than ``b``, by thirds of the building's plausible pace.

    The pace of a future is the total of its rates of spread; what else is not known of it goes with that.
    """

    a: str  #: Its name
    b: str
    of: Literal["cost", "bugs"]
    futures: tuple[int, int, int]  #: Slowest third first, as all that follows
    less: tuple[Share, Share, Share]  #: Shares of the futures; a draw counts half
    paces: tuple[float, float]  #: Between the thirds, against the middle future
    turn: Turn


def by_pace(
    simulated: Simulated, prices: Prices, a: str, b: str, fees: Fees | None = None
) -> tuple[ByPace, ByPace] | None:
    """Return how ``a`` does against ``b`` by pace, in money and in infested unit-weeks.

    ``simulated``: the runs; ``prices``: what things cost; ``a``, ``b``: keys of programmes; ``fees``: what
    the owner pays by, as in the verdict. None where fewer than three runs are done, or all have one pace.
    """
    pace = simulated.pace[: simulated.done]
    if len(pace) < 3 or np.ptp(pace) == 0.0:
        return None
    ends = np.quantile(pace, [1 / 3, 2 / 3])
    which = np.searchsorted(ends, pace)
    one, other = simulated.of(a), simulated.of(b)
    books = books_of(simulated.runs, prices, fees)  # the money of the verdict
    money = books[a].compared - books[b].compared
    bugs = (one.counts[:, c.BUG_WEEKS] - other.counts[:, c.BUG_WEEKS]).astype(float)
    between = (float(ends[0] / np.median(pace)), float(ends[1] / np.median(pace)))

    def in_thirds(difference: Floats, of: Literal["cost", "bugs"]) -> ByPace:
        thirds = [difference[which == third] for third in range(3)]
        slow, middle, fast = (beats(third) for third in thirds)
        names, sizes = (
            (one.programme.name, other.programme.name),
            (len(thirds[0]), len(thirds[1]), len(thirds[2])),
        )
        return ByPace(*names, of, sizes, (slow, middle, fast), between, turn_of((slow, middle, fast)))

    return in_thirds(money, "cost"), in_thirds(bugs, "bugs")


def turn_of(thirds: Sequence[Share]) -> Turn:
    """Return whether shares of futures take opposite sides of one half, one side, or no clear one."""
    sides = {
        "neither" if abs(each.chance - 0.5) <= CLEAR * each.error else "less" if each.chance > 0.5 else "more"
        for each in thirds
    }
    if {"less", "more"} <= sides:
        return "flips"
    return "even" if "neither" in sides else "holds"

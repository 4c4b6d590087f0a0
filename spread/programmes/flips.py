"""What would turn the verdict: each driver, and up to where the chosen programme stays the chosen one."""

from __future__ import annotations

from dataclasses import dataclass, replace

from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.books import books_of
from spread.programmes.choice import MATTERS, choose
from spread.programmes.drivers import Ends, Ran
from spread.programmes.fees import Fees
from spread.programmes.figures import figure
from spread.programmes.money import Prices
from spread.programmes.pairs import verdict_of
from spread.programmes.run import Simulated
from spread.programmes.told import DriverEnd

FLIP_RUNS = 60
"""Runs of each case where nobody asks for a number: there are two for each driver, of every programme."""


@dataclass(frozen=True, slots=True)
class Turn(Fact):
    """Where on the way to an end of a driver another programme would be chosen."""

    at: DriverEnd  #: About there, between runs at the centre and at the end
    to: str  #: Key of what would be chosen at the end


@dataclass(frozen=True, slots=True)
class Flip(Fact):
    """One driver: how far its ends move the verdict, and where that turns."""

    name: str  #: A key of ``driver_names`` in ``spread.words.programmes``
    #: low, high: The ends that were tried
    low: DriverEnd
    high: DriverEnd
    #: below, above: Where the verdict turns on the way to each end; None where it holds all the way
    below: Turn | None
    above: Turn | None
    #: money, bugs: The most that an end moves the mean difference between the chosen and its rival
    money: float
    bugs: float

    @property
    def turns(self) -> bool:
        """Whether the verdict turns anywhere within what was tried."""
        return self.below is not None or self.above is not None


@dataclass(frozen=True, slots=True)
class Flips(Fact):
    """What would turn the verdict on some programmes."""

    chosen: str  #: The programme that the verdict chose or the firm proposes
    rival: str  #: What it is held against in :attr:`Flip.money`: what is done now, or else the next best
    by_money: tuple[Flip, ...]  #: Those that turn the verdict first, then by how far money moves
    runs: int  #: Of each case

    @property
    def by_bugs(self) -> tuple[Flip, ...]:
        """The same, by how far infested unit-weeks move."""
        return tuple(sorted(self.by_money, key=lambda flip: (not flip.turns, -flip.bugs)))


def flips(ran: Ran, *, chosen: str, now: str, prices: Prices, fees: Fees | None = None) -> Flips:
    """Return whether another programme is surely better where a driver is at one of its ends.

    ``ran``: at least two programmes (:func:`spread.programmes.drivers.set_to_ends`); ``chosen``: key of the
    one that stands; ``now``: key of what is done today. Others as in
    :func:`spread.programmes.results.summarise`.
    """
    base = _arrays(ran.base, prices, fees)
    money = base[0]
    others = sorted((key for key in money if key != chosen), key=lambda key: money[key].mean())
    rival = now if now != chosen else others[0]
    made = [_flip(each, chosen, rival, now, fees, base) for each in ran.at(prices)]
    made.sort(key=lambda flip: (not flip.turns, -flip.money))
    return Flips(chosen, rival, tuple(made), ran.base.done)


_Arrays = tuple[dict[str, Floats], dict[str, Floats]]


def _arrays(simulated: Simulated, prices: Prices, fees: Fees | None) -> _Arrays:
    books = books_of(simulated.runs, prices, fees)
    return (
        {key: each.compared for key, each in books.items()},
        {runs.programme.key: runs.counts[:, c.BUG_WEEKS].astype(float) for runs in simulated.runs},
    )


def _flip(ends: Ends, chosen: str, rival: str, now: str, fees: Fees | None, base: _Arrays) -> Flip:
    turns: list[Turn | None] = []
    moved: tuple[list[float], list[float]] = ([], [])
    for to, simulated, prices in (ends.low, ends.high):
        there = _arrays(simulated, prices, fees)
        for place in (0, 1):
            difference = there[place][chosen] - there[place][rival]
            moved[place].append(abs(float((difference - base[place][chosen] + base[place][rival]).mean())))
        loss = prices.loss
        other = choose(*there, now=now, loss=loss).key
        # A programme that these runs put before the chosen one anyway is nothing that the driver did.
        turned = _beats(there, other, chosen, loss) and not _beats(base, other, chosen, loss)
        at = _between(ends.centre, to, _share(base, there, chosen, other, loss)) if turned else None
        turns.append(None if at is None else Turn(at, other))
    return Flip(ends.name, ends.low[0], ends.high[0], turns[0], turns[1], max(moved[0]), max(moved[1]))


def _beats(at: _Arrays, other: str, chosen: str, loss: float) -> bool:
    """Whether another is surely better by enough to matter: in money, or as cheap with fewer bugs."""
    if other == chosen:
        return False
    for place in ("money", "bugs"):
        a, b = (_weighed(at, key, loss) if place == "money" else at[1][key] for key in (chosen, other))
        told = figure(a - b)
        if verdict_of(told) == "more" and told.mean > MATTERS * abs(float(a.mean())):
            return True
        if verdict_of(told) == "fewer":
            return False
    return False


def _weighed(at: _Arrays, key: str, loss: float) -> Floats:
    return at[0][key] + loss * at[1][key]


def _share(base: _Arrays, there: _Arrays, chosen: str, other: str, loss: float) -> float:
    """Return how far on the way to an end the two stand alike in what decided there, by interpolation."""
    weighed = [tuple(_weighed(at, key, loss) for key in (chosen, other)) for at in (base, there)]
    # Where money does not tell them apart at the end, their infested unit-weeks did.
    by_money = verdict_of(figure(weighed[1][0] - weighed[1][1])) == "more"
    pairs = weighed if by_money else [(bugs[chosen], bugs[other]) for _, bugs in (base, there)]
    here, end = (float((a - b).mean()) for a, b in pairs)
    return min(1.0, max(0.0, -here / (end - here))) if end != here else 1.0


def _between(centre: DriverEnd, end: DriverEnd, share: float) -> DriverEnd:
    """Return what a driver is at a share of the way from its centre to an end."""
    if not end.values:
        return replace(end, share=share)
    values = tuple(a + share * (b - a) for a, b in zip(centre.values, end.values, strict=True))
    return replace(end, values=values, share=share)

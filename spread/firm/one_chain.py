"""All buildings of a firm in one chain: what they teach one another, with nothing taken for normal.

A sweep of every building, then the firm's centres and spreads given what the buildings hold, and the
buildings' own rates anew, then again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np

from spread.firm.centres import DIFFER_LOG, Shared, shift
from spread.firm.house import House, Member, pick
from spread.firm.pooled import quantities_of
from spread.firm.pooling import Pooled, Quantity
from spread.posterior.fit import FitSettings
from spread.trade.priors import RATES

EACH = 4
"""Rounds for a draw of the firm that is kept; a round is a sweep of every building, then the firm.

Given the rates a sweep draws paths anew that hardly remember the last ones: to sweep several times under one
centre gains nothing, and what moves slowly is the centre with all paths."""
WARM, KEPT = 100, 600
"""Draws of the firm thrown away, and kept."""
TOLD, SURER = 0.5, 0.95
"""A quantity counts as taught where the logs leave at most this part of the variance of the firm's centre,
and its buildings, likelier than not, differ by less than the literature lets any one be off; or where one
more building is known to within this part of the literature's width."""


def together(
    members: Sequence[Member],
    on: dt.date,
    *,
    quantities: Sequence[Quantity] | None = None,
    settings: FitSettings | None = None,
    seed: int = 1,
    warm: int = WARM,
    kept: int = KEPT,
    tell: Callable[[float], None] | None = None,
) -> Pooled:
    """Fit buildings and their firm in one chain.

    Parameters
    ----------
    members
        The buildings; order changes nothing but the firm's own draws.
    on
        The day of the answers.
    quantities
        What they share; everything they have if None. What is not shared is believed as in general.
    settings
        Weeks of window and threads.
    seed
        Of the firm's draws.
    warm, kept
        Draws of the firm thrown away and kept, :data:`EACH` rounds apart.
    tell
        Called with the share that is done.
    """
    rng, settings = np.random.default_rng(seed), settings or FitSettings()
    houses = [House(one, on, replace(settings, weeks=one.building.settings.history_weeks)) for one in members]
    methods = sorted({method for house in houses for method in house.names.methods})
    shared = tuple(quantities_of(methods) if quantities is None else quantities)
    grids = [Shared(one) for one in shared]
    rates = [grid for grid in grids if grid.name in RATES]
    others = [grid for grid in grids if grid.name not in RATES]
    centre, spread = np.empty((2, kept, len(grids)))
    means, factor = np.zeros((len(houses), len(grids))), 0
    with ThreadPoolExecutor(max_workers=max(1, settings.workers)) as pool:
        for k in range(-warm, kept):
            for _ in range(EACH):
                list(pool.map(House.sweep, houses))
                for grid in rates:
                    grid.draw(houses, factor, rng)
                firm = {grid.name: grid.prior for grid in rates}
                for house in houses:
                    house.draw(firm)
                shift(houses, rates, rng)
                firm = {grid.name: grid.prior for grid in rates}
                for house in houses:
                    house.expect(firm)
            # What is no rate mixes well without more.
            list(pool.map(House.look_back, houses))
            for grid in others:
                grid.draw(houses, factor, rng)
            firm = {grid.name: grid.prior for grid in others}
            for house in houses:
                house.believe(firm)
            factor = pick(DIFFER_LOG + np.sum([grid.between[:, grid.at[1]] for grid in grids], axis=0), rng)
            if k >= 0:
                centre[k], spread[k] = np.array([(grid.centre, grid.spread) for grid in grids]).T
                means += np.array([[house.now(grid.name) for grid in grids] for house in houses]) / kept
            if tell is not None:
                tell((k + warm + 1) / (warm + kept))
    means = np.where(np.isfinite(means), means, centre.mean(axis=0))
    apart, width = (np.array([getattr(one, name) for one in shared]) for name in ("apart", "width"))
    left, between = centre.var(axis=0), (spread**2).mean(axis=0)
    alike = np.median(spread, axis=0) < width
    told = (left < TOLD * apart**2) & alike | (left + between < (SURER * width) ** 2)
    return Pooled(shared, tuple(one.key for one in members), centre, spread, means, told)

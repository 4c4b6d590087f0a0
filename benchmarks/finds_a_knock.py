"""Finds a knock of the list against the chance of a find alone, in the same worlds.

Run ``python -m benchmarks.finds_a_knock``. Worlds of the open benchmark, usual practice before: once doors
differ (shut with a chance from Beta(1, 4), three households in a hundred always; in the past and on the day),
once everybody opens.
"""

from __future__ import annotations

import argparse

import numpy as np

from benchmarks import rounds
from benchmarks.sight import Ground, Sight
from benchmarks.strategies import METHOD, by_score, our_benefit, our_find, our_knock
from benchmarks.worlds_of import MORNING, build_house
from spread.trade import detection
from spread.worlds.truth import World

ORDERS = {
    # As the list was before: the trade's sensitivities, each look a fresh one, whoever opens.
    "chance of a find by the trade": lambda view, lot: by_score(
        view, lot, view.posterior.levels @ detection.sensitivity(METHOD)
    ),
    "chance of a find": our_find,
    "finds a knock": our_knock,
    "benefit per minute": our_benefit,
}
USUAL = World.nobody_opens


def shut_of(number: int, unit: str) -> float:
    """Return how often a door of a world stays shut."""
    rng = np.random.default_rng([number, *unit.encode()])
    return 1.0 if rng.random() < 0.03 else float(rng.beta(1.0, 4.0))


def trial(number: int, *, differ: bool) -> list[float]:
    """Return expected finds in the first 15 doors of one world, by :data:`ORDERS`."""

    def nobody_opens(world: World, unit: str, chance: float) -> bool:
        return bool(world.luck("access", unit).random() < shut_of(number, unit))

    World.nobody_opens = nobody_opens if differ else USUAL  # type: ignore[method-assign]
    house = build_house(number, "usual", 1)
    fitted = rounds.fit_house(house, house.records, MORNING, "learned", rounds.FIRST_FIT)
    prior = rounds.dynamics_told(house, "learned")
    sight = Sight.of(
        Ground(house.graph, house.network), house.records, MORNING, posterior=fitted, prior=prior
    )
    chance, level = rounds.chance_by_level(), house.practice.world.level_of
    made = []
    for order in ORDERS.values():
        doors = order(sight, np.random.default_rng(number))[: rounds.DOORS]
        made.append(sum(chance[level(u)] * (1.0 - differ * shut_of(number, u)) for u in doors))
    return made


def main() -> None:
    """Print means and paired ratios with 95 % intervals from resampling worlds."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.finds_a_knock", description=__doc__)
    parser.add_argument("--worlds", type=int, default=60)
    worlds = parser.parse_args().worlds
    for differ in (True, False):
        found = np.array([trial(number, differ=differ) for number in range(worlds)])
        drawn = found[np.random.default_rng(1).integers(0, worlds, (4000, worlds))].sum(axis=1)
        print(f"doors {'differ' if differ else 'all open'}, {worlds} worlds")
        for k, name in enumerate(ORDERS):
            low, high = np.quantile(drawn[:, k] / drawn[:, 0], (0.025, 0.975))
            ratio = found[:, k].sum() / found[:, 0].sum()
            print(f"  {name}: {found[:, k].mean():.3f}, {ratio:.3f} ({low:.3f} to {high:.3f}) of the first")


if __name__ == "__main__":
    main()

"""A route that the drawing shows, as DEVELOPERS.md tells to write it; ``one_row_more.py`` names it."""

from itertools import combinations

from spread.contacts.measured import Measured

REACH = 6.0


def stairs(plan, settings):
    """Yield the units that lie within six metres of the same stairs on any floor, each pair once."""
    pairs = {
        pair
        for stair in plan.stairs
        for pair in combinations(
            [
                unit.id
                for unit in plan.units.values()
                if any(part.distance(stair.outline) < REACH for part in unit.parts.values())
            ],
            2,
        )
    }
    for a, b in sorted(pairs):
        yield Measured(a, b, 1.0)

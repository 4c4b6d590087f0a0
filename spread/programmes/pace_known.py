"""How fast the simulation spreads beside a published building: said wherever programmes are compared."""

from __future__ import annotations

from spread.programmes.told import PaceKnown

PUBLISHED = (6, 12)
"""Per cent of units infested at the beginning and after twelve months of usual service: Wang et al. 2019,
doi 10.1093/jipm/pmz031 (one building)."""
SIMULATED = {1.0: 22, 0.25: 10}
"""Per cent after twelve months of the same service here, by ``rate_scale``: measured and held by
``tests/test_programmes_published.py``, which says why."""


def pace_known(rate_scale: float) -> PaceKnown:
    """Return what an owner should know of the pace before trusting the cost of waiting.

    ``rate_scale``: as in the building's settings; 1 is the usual.
    """
    return PaceKnown(rate_scale, PUBLISHED, SIMULATED[1.0], SIMULATED[0.25])

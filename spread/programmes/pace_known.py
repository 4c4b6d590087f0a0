"""How fast the simulation spreads beside a published building: said wherever programmes are compared."""

from __future__ import annotations

PUBLISHED = (6, 12)
"""Per cent of units infested at the beginning and after twelve months of usual service: Wang et al. 2019,
doi 10.1093/jipm/pmz031 (one building)."""
SIMULATED = {1.0: 22, 0.25: 10}
"""Per cent after twelve months of the same service here, by ``rate_scale``: measured and held by
``tests/test_programmes_published.py``, which says why."""


def pace_words(rate_scale: float) -> str:
    """Return what an owner should know of the pace before trusting the cost of waiting.

    Parameters
    ----------
    rate_scale
        As in the building's settings; 1 is the usual.
    """
    begin, end = PUBLISHED
    own = {1.0: "the usual rates", 0.25: "a quarter of them"}.get(rate_scale, f"{rate_scale:g} times them")
    return (
        f"Bugs may spread more slowly than simulated: in a published building under usual service {begin} % "
        f"of units became {end} % in a year (Wang et al. 2019); simulated at the usual rates it becomes "
        f"{SIMULATED[1.0]} %, at a quarter of them {SIMULATED[0.25]} %. This building starts from {own}, "
        "moved by its own log. Where spread is slower, waiting costs less than is shown."
    )

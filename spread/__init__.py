"""Which door next: bed bug inspections in multifamily buildings, ranked on the floor plan.

``spread.open`` reads a building's folder, ``spread.simulate`` invents one and ``spread.rank`` orders
the doors; ``docs/api.md`` has every public name. They are loaded when they are first asked for, so that the
command line starts without the sampler.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spread.library import Building, Simulation, __version__, rank, simulate
    from spread.library import open_building as open  # noqa: A004 - read as spread.open
    from spread.report.exchange.draws import Draws

__all__ = ["Building", "Draws", "Simulation", "__version__", "open", "rank", "simulate"]

_ELSEWHERE = {"open": ("spread.library", "open_building"), "Draws": ("spread.report.exchange.draws", "Draws")}


def __getattr__(name: str) -> object:
    """Load a public name when it is first asked for (PEP 562)."""
    if name not in __all__:
        raise AttributeError(f"module 'spread' has no attribute {name!r}")
    module, own = _ELSEWHERE.get(name, ("spread.library", name))
    return getattr(import_module(module), own)


def __dir__() -> list[str]:
    """Return the public names beside what the module has already."""
    return sorted({*globals(), *__all__})

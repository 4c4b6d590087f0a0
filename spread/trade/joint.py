"""Joint draws of the trade's numbers given published figures: what is not known of them, together.

The numbers of this package stand at the centre of these draws (``docs/evidence.md``). A draw says by how much
all of them move together: faster growth goes with slower routes, worse looks with more brought in.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from spread.trade.arrays import FloatArray
from spread.trade.methods import looks, treatments

PLACE = Path(__file__).with_name("evidence_draws.json")
TREATED_BY = {
    treatments.SPRAY.key: treatments.SPRAY.key,
    treatments.COMBINED.key: treatments.COMBINED.key,
    treatments.STEAM.key: "non_chemical",
}
"""Which shift moves which treatment; others stay."""
SHIFTS = frozenset({"look", "traps", looks.INTERVIEW.key, *TREATED_BY.values()})
"""Numbers that are shifts of log odds; ``resists`` and ``between`` stand as they are, others are factors."""


@dataclass(frozen=True)
class Joint:
    """Draws by name."""

    values: Mapping[str, FloatArray]  #: Shape (draws,) each, as fitted
    centre: Mapping[str, float]  #: Where the package's numbers stand
    mix: tuple[float, ...]  #: Levels of infested units that the dynamics leave, trace first

    def moved(self, name: str) -> FloatArray:
        """Return by what each draw moves a number: a factor, or a shift of log odds; see :data:`SHIFTS`."""
        if name in SHIFTS:
            return self.values[name] - self.centre[name]
        return self.values[name] / self.centre[name]

    @property
    def size(self) -> int:
        """Number of draws."""
        return len(self.values["growth"])


@lru_cache(maxsize=1)
def joint() -> Joint:
    """Return the draws that come with the package."""
    told = json.loads(PLACE.read_text(encoding="utf-8"))
    columns = np.array(told["draws"], dtype=np.float64).T
    return Joint(dict(zip(told["names"], columns, strict=True)), told["centre"], tuple(told["mix"]))

"""What a change of the plan does to the chances, by two fits of one log."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from spread.changing import origins_of
from spread.session import Session

LEAST = 0.02
"""A chance that moved by less is not worth a word."""
SURE = 3.0
"""Standard errors of the two fits by which a chance has to move to be told."""
MOST = 12
"""Units that are told."""


@dataclass(frozen=True, slots=True)
class Move:
    """How a unit's chance moves. ``origins``: what it was before, with the chance of each."""

    unit: str
    origins: tuple[tuple[str, float], ...]
    after: float

    @property
    def by(self) -> float:
        """How far it moves, from the chance that any of the homes that it was had been infested."""
        clear = 1.0
        for _, chance in self.origins:
            clear *= 1.0 - chance
        return self.after - (1.0 - clear)


def moves_between(before: Session, after: Session) -> tuple[Move, ...]:
    """Return the units whose chance a change moves most, changed homes first.

    Two fits of one log differ a little by themselves: of the other units only what lies beyond :data:`SURE`
    standard errors of that is told.
    """
    old, new = before.chances(), after.chances()
    origins = origins_of(before.building, after.building)
    noise = {unit: _error(chance, before) + _error(chance, after) for unit, chance in new.items()}
    moves = [
        Move(unit, tuple((code, old[code]) for code in origins[unit]), chance) for unit, chance in new.items()
    ]
    shared = Counter(code for one in origins.values() for code in one)
    changed = [m for m in moves if len(m.origins) != 1 or shared[m.origins[0][0]] > 1]
    others = [m for m in moves if m not in changed and abs(m.by) >= max(LEAST, SURE * noise[m.unit])]
    others.sort(key=lambda move: -abs(move.by))
    return (*changed, *others)[:MOST]


def _error(chance: float, session: Session) -> float:
    """Return the standard error of a chance by the effective draws of its fit."""
    draws = max(float(session.view.posterior.diagnostics.ess_worst_unit), 1.0)
    return float((max(chance * (1.0 - chance), 1.0 / draws) / draws) ** 0.5)

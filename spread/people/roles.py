"""What each role may do: one table, read by every page, address and command."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

FIGURES, UNITS = "figures", "units"
RECORD, CORRECT = "record", "correct"
EXPORT, SIMULATE, ACCEPT, GUARD, SET_UP = "export", "simulate", "accept", "guard", "set-up"
PEOPLE, BUILDINGS, AUDIT = "people", "buildings", "audit"

RIGHTS: Mapping[str, str] = MappingProxyType(
    {
        FIGURES: "read figures and reports of a building as a whole",
        UNITS: "read the plan, the doors and the history of single units",
        RECORD: "record answers, and take back one's own of the same day",
        CORRECT: "correct any row",
        EXPORT: "take files of the log away",
        SIMULATE: "compare programmes",
        ACCEPT: "keep a programme as accepted",
        GUARD: "choose what becomes of a log whose file was changed",
        SET_UP: "draw a new building beside the open one",
        PEOPLE: "say who may sign in, and as what",
        BUILDINGS: "take buildings into the office",
        AUDIT: "read who did what",
    }
)
"""What each right is, in words."""

ROLES: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "administrator": frozenset({PEOPLE, BUILDINGS, AUDIT}),
        "manager": frozenset({FIGURES, UNITS, RECORD, CORRECT, EXPORT, SIMULATE, ACCEPT, GUARD, SET_UP}),
        "technician": frozenset({FIGURES, UNITS, RECORD}),
        "owner": frozenset({FIGURES, ACCEPT}),
    }
)
"""Rights by role. Somebody may have several roles: in a small firm one person manages and administers."""
EVERYTHING = frozenset(RIGHTS)
"""What somebody may who works alone on this machine, where nobody signs in."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may sign in.

    Parameters
    ----------
    code
        A short work code, never a name.
    hash
        Of the pass phrase.
    since
        The day on which the pass phrase was set, as ``2026-11-20``.
    roles
        Words of :data:`ROLES`.
    buildings
        Keys of the buildings of an office that the person works for; a building's own folder has no others.
    sees_units
        Whether an owner may also read the history of single units.
    """

    code: str
    hash: str
    since: str
    roles: tuple[str, ...] = ("technician",)
    buildings: tuple[str, ...] = ()
    sees_units: bool = False

    @property
    def rights(self) -> frozenset[str]:
        """What the person may do in the buildings that they work for."""
        given = frozenset().union(*(ROLES.get(role, frozenset()) for role in self.roles))
        return given | {UNITS} if self.sees_units and FIGURES in given else given

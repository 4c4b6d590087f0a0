"""What a look amounts to by the items that it names: a whole look, a brief one, or no look at all.

Bugs are first where people sleep, so a clean look says something only once every sleeping place was taken
apart: mattress, box spring and frame of each bed, and each sofa that somebody sleeps on. A row that names
no items is what its method says for the model, as old logs have it; it clears nothing
(:mod:`spread.decisions.case.clearance`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from spread.facts import Fact
from spread.records.kinds import Finding, Record
from spread.trade.registry import BY_EYE, LOOKING
from spread.trade.room import SEATS, SLEEPING, SLEEPING_ROWS

ALONE = ("bed", "sofa", "floor-bed", "hospital-bed")
"""Kinds that may be the only sleeping place of a home, where a row names the place. Beside a cot, a bunk bed
or a wheelchair somebody else sleeps somewhere: a bed is asked for until a row says what else there is."""
BED_ROWS = (*SLEEPING_ROWS["bed"], "headboard", "bedding", "bed-skirt", "encasement")
"""Items that only a bed has."""
_BEDS = {item for kind, rows in SLEEPING_ROWS.items() if kind not in SEATS for item in rows}
CHECKS = ("interceptors", "encasement")
"""Traps and covers: read and not looked through."""
GONE = "missing"
"""State of a mattress or sofa that is not there any more, and of a box spring that never was."""
FURTHER_ROWS = 6
"""Items beyond the sleeping places that a thorough look takes (judgement: its 25 to 75 minutes of
:mod:`spread.trade.methods.looks` are spent on them)."""


@dataclass(frozen=True, slots=True)
class Unseen(Fact):
    """An item that a look leaves out: of which sleeping place, or empty where there is one."""

    item: str
    place: str = ""


def sleeping_places(records: Iterable[Record]) -> tuple[tuple[str, str], ...]:
    """Return kind and name of every sleeping place that rows know of, one bed where they know of none.

    A sofa or wheelchair is one where a row says so (``sofa: nothing, at sofa 1``). What may be the only
    place (:data:`ALONE`) stays it as long as no row names an item of a bed. A place whose mattress, sofa,
    cot and so on is ``missing`` is gone.
    """
    known: dict[tuple[str, str], bool] = {}
    for record in sorted(records, key=lambda r: (r.when, r.id)):
        for one in record.items:
            kind = _kind(one)
            if kind:
                main = one.item == SLEEPING_ROWS[kind][0]
                known[kind, one.place] = not (main and one.state == GONE)
    named = {kind for kind, place in known if place}
    # What is told without a name is of one of the named ones, nobody knows which.
    there = tuple(at for at, stands in known.items() if stands and (at[1] or at[0] not in named))
    gone = any(kind == "bed" for kind, _ in known)  # or one of them that is not there any more
    if any(kind in ALONE and (place or kind == "bed") for kind, place in there) or (there and gone):
        return there
    return (("bed", ""), *there)


def _kind(one: Finding) -> str:
    """Return of which kind of sleeping place an item tells; empty where of none."""
    first = one.place.split(" ", 1)[0].lower()
    if one.item == CHECKS[0]:
        return ""  # where a trap stands, such as "bed leg 2", names no bed
    if first in SEATS:
        return first if one.item == first else ""
    if first in SLEEPING:
        return first
    if one.item in SLEEPING and one.item not in SEATS:
        return one.item
    return "bed" if one.item in BED_ROWS else ""


def unseen(
    record: Record, places: Collection[tuple[str, str]], sources: Collection[tuple[str, str]] = ()
) -> tuple[Unseen, ...]:
    """Return which items a look leaves out of the sleeping places, and of where bugs were seen before.

    Parameters
    ----------
    record
        A look.
    places
        Sleeping places of the unit (:func:`sleeping_places`).
    sources
        Item and place of what else has to be seen again.
    """
    seen = {(one.item, one.place) for one in record.items}
    of_kind = [kind for kind, _ in places]
    wanted = {
        (item, place): of_kind.count(kind) == 1 for kind, place in places for item in SLEEPING_ROWS[kind]
    }
    alone = len(places) == 1
    wanted |= {source: alone for source in sources if source not in wanted}
    return tuple(
        Unseen(item, place)
        for (item, place), only in wanted.items()
        if (item, place) not in seen and not (only and (item, "") in seen)
    )


def seen_as(record: Record) -> str:
    """Return the method that a look amounts to; empty where it is clean and left the sleeping places out.

    Only a clean look by eye that names items can amount to less than it says, and one of a part of the home.
    """
    if record.rests:
        return ""
    if record.found != "no" or not record.items or record.method not in BY_EYE:
        return record.method
    if unseen(record, sleeping_places([record])):
        return ""
    return looked_as(record.items, record.method)


def looked_as(items: Collection[Finding], method: str = "") -> str:
    """Return whether items make a thorough or a brief look; never more than ``method`` says, if given."""
    brief, thorough = (
        next(key for key in BY_EYE if LOOKING[key].thorough is whole) for whole in (False, True)
    )
    further = {one.item for one in items if one.item not in CHECKS and one.item not in _BEDS}
    return thorough if len(further) >= FURTHER_ROWS and method in ("", thorough) else brief

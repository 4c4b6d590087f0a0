"""The plan of one treatment visit: what to do at which item, with what, and what to have with you.

From the sleeping place outwards: cloth is bagged first, so that nothing carries bugs over what was done;
then the bed as it is taken apart, and ring by ring, within a ring the items with live bugs first; covers and
interceptors go on last. A plan says what is usual and never how much of a product: the label does.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from spread.decisions.case.failing import Failing, failing_of
from spread.decisions.case.materials import Home, Material, materials_for
from spread.decisions.standing import standing_of
from spread.errors import Problem, SettingsError, SpreadError
from spread.facts import Fact
from spread.records.kinds import LEVELS, Finding, Record
from spread.records.sense import guess
from spread.trade import treating
from spread.trade.biology import LEVEL_NAMES, level_of_count
from spread.trade.development import VisitDays, visit_days
from spread.trade.room import BED_IN_ORDER, SEATS, RoomItem, RoomItems
from spread.trade.sources import Line, Sourced

CLOTH = ("bedding", "bed-skirt")  #: Items that go into bags before anything else
RINGS_AT = {"trace": 1, "low": 1, "moderate": 2, "heavy": 4}
"""How far out items are treated without a sign of their own, by level (common practice, no source)."""
_STRONG = ("live", "eggs")


@dataclass(frozen=True, slots=True)
class Basis(Fact):
    """What the level of a plan rests on."""

    #: ``given`` by hand, the ``find`` of a day, a ``count`` of bugs on it, or ``none``: the find has no
    #: level, so that low is taken
    kind: str
    #: day, count: Of the find
    day: dt.date | None = None
    count: int | None = None


@dataclass(frozen=True, slots=True)
class SignsSeen(Fact):
    """A step that is done because of what was seen there."""

    seen: Finding


@dataclass(frozen=True, slots=True)
class UsualPlace(Fact):
    """A step that is done without a sign of its own."""

    #: group, level: Part of the room (:data:`spread.trade.room.GROUPS`) and level of the infestation
    group: str
    level: str
    looked: bool  #: Whether somebody looked there and saw nothing


@dataclass(frozen=True, slots=True)
class GoesOnLast(Fact):
    """A cover or trap; ``worn`` are those that were found other than intact, each with its state."""

    worn: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Unplanned(Fact):
    """What a plan could not know: ``items`` that are not on the sheet, ``no-items``, ``no-sizes``."""

    kind: str
    items: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Step(Fact):
    """What to do at one item."""

    row: RoomItem  #: Its row of the room sheet: the usual work, what of products, the care to take, the tools
    place: str  #: Which sleeping place or room; empty for any
    ring: int  #: Steps out from the sleeping place (:data:`spread.trade.room.RINGS`)
    why: SignsSeen | UsualPlace | GoesOnLast  #: What was seen there, or why it is done all the same

    @property
    def item(self) -> str:
        """Code of the item."""
        return self.row.code


@dataclass(frozen=True, slots=True)
class TreatmentPlan(Fact):
    """The plan of one visit."""

    #: unit, on, level: Unit code, the day, and the level that it is for
    unit: str
    on: dt.date
    level: str
    basis: Basis  #: What the level rests on
    minutes: Sourced  #: Minutes of the visit, with range and source
    #: product_added, product_source: Whether trials added a product at this level, and which did
    product_added: bool
    product_source: str
    steps: tuple[Step, ...]  #: In the order of work
    materials: tuple[Material, ...]  #: What to bring
    #: prepare, must_not: For the resident
    prepare: tuple[Line, ...]
    must_not: tuple[Line, ...]
    cautions: tuple[Line, ...]  #: By topic
    visit: VisitDays  #: Days after the treatment on which to come back
    notes: tuple[Unplanned, ...]  #: What the plan could not know
    #: What does not work in the treatment so far, which a plan that is like the last one would not mend
    failing: Failing | None = None


def plan_of(
    records: Sequence[Record], unit: str, on: dt.date, sheet: RoomItems, home: Home, *, level: str = ""
) -> TreatmentPlan:
    """Plan a treatment from what the log says of a unit.

    Raises SpreadError when no find is on record and no level is given: an alert alone is confirmed first.

    Parameters
    ----------
    records : The unit's current records
    on : The day; later records are left out
    sheet : The room sheet: what is usually done at each item
    home : Beds, sofas and warmth
    level : The technician's own level; else that of the last find
    """
    rows = [r for r in records if r.when <= on]
    find = standing_of(rows, on).last_find
    if find is None and not level:
        fix = "look first: an alert or a report alone is not treated; or give --level for a precaution"
        raise SpreadError(Problem(f"unit {unit}", "", "no find is on record", fix))
    treated = standing_of(rows, on).last_treatment
    if treated is not None and treated.job is not None and treated.job.celsius is not None:
        home = replace(home, room_celsius=treated.job.celsius)
    items = known_findings(rows, find.when if find else on)
    failing = failing_of(rows, on)
    if level or find is None:
        return replace(treatment_plan(unit, on, level, items, sheet, home), failing=failing)
    if find.level:
        level, basis = find.level, Basis("find", find.when)
    elif find.count:
        level = LEVEL_NAMES[level_of_count(find.count)]
        basis = Basis("count", find.when, find.count)
    else:
        level, basis = "low", Basis("none", find.when)
    return replace(treatment_plan(unit, on, level, items, sheet, home, basis), failing=failing)


def known_findings(records: Sequence[Record], since: dt.date) -> tuple[Finding, ...]:
    """Return the latest word on each item and place since a day."""
    latest: dict[tuple[str, str], Finding] = {}
    for row in sorted(records, key=lambda r: (r.when, r.id)):
        if row.is_look and row.when >= since:
            latest.update({(one.item, one.place): one for one in row.items})
    return tuple(latest.values())


def treatment_plan(
    unit: str,
    on: dt.date,
    level: str,
    items: Sequence[Finding],
    sheet: RoomItems,
    home: Home,
    basis: Basis = Basis("given"),
) -> TreatmentPlan:
    """Plan a treatment at a level (``trace``, ``low``, ``moderate`` or ``heavy``) from what was seen where.

    Raises SettingsError for an unknown level.
    """
    if level not in LEVELS:
        raise SettingsError(
            Problem("treatment plan", "level", f"{level[:40]!r} is not known", guess(level, LEVELS))
        )
    unknown = tuple(sorted({one.item for one in items if one.item not in sheet.by_code}))
    notes = [Unplanned("items", unknown)] if unknown else []
    notes += [] if items else [Unplanned("no-items")]
    notes += [] if home.beds else [Unplanned("no-sizes")]
    added = level not in ("trace", "low")
    return TreatmentPlan(
        unit=unit,
        on=on,
        level=level,
        basis=basis,
        minutes=treating.MINUTES[level],
        product_added=added,
        product_source=treating.PRODUCT_SOURCE[added],
        steps=_steps(level, items, sheet, home),
        materials=materials_for(home, level),
        prepare=treating.PREPARE + treating.PREPARE_ALSO,
        must_not=treating.MUST_NOT,
        cautions=(*treating.CAUTIONS, treating.VACUUM_BAG),
        visit=visit_days() if home.room_celsius is None else visit_days(home.room_celsius),
        notes=tuple(notes),
    )


def _steps(level: str, items: Sequence[Finding], sheet: RoomItems, home: Home) -> tuple[Step, ...]:
    """Return the steps in the order of work."""
    sleeping = home.sleeping
    seen: dict[str, list[Finding]] = {}
    for one in items:
        seen.setdefault(one.item, []).append(one)
    steps: list[tuple[tuple[int, int, int, int, float], Step]] = []
    for item in sheet.items:
        ring, there = sheet.ring(item, sleeping), seen.get(item.code, [])
        if not there and _not_there(item, home):
            continue
        signs = [one for one in there if one.evidence]
        always = item.group == "check" or ring <= RINGS_AT[level]
        told: Sequence[Finding | None] = signs or ([None] if always else [])
        for sign in told:
            why = SignsSeen(sign) if sign else _all_the_same(item, level, there)
            step = Step(item, sign.place if sign else "", ring, why)
            steps.append((_rank(item, ring, sign, sheet.weight(item, sleeping)), step))
    return tuple(step for _, step in sorted(steps, key=lambda pair: pair[0]))


def _not_there(item: RoomItem, home: Home) -> bool:
    """Whether a row is of furniture that this home has not, as far as told, or is not ours to treat."""
    if not item.ours and not item.furniture:
        return True
    others = item.furniture or (item.group in ("bed", "check") and bool(set(home.kinds) - set(SEATS)))
    return others and not set(item.at) & set(home.kinds)


def _rank(item: RoomItem, ring: int, one: Finding | None, weight: float) -> tuple[int, int, int, int, float]:
    """Return the place of a step: cloth, the bed, then outwards, live bugs first; covers and traps last."""
    stage = 0 if item.code in CLOTH else 2 if item.group == "check" else 1
    strength = 2 if one is None else 0 if one.evidence & set(_STRONG) else 1
    bed = BED_IN_ORDER.index(item.code) if item.code in BED_IN_ORDER else len(BED_IN_ORDER)
    return stage, ring, bed, strength, -weight


def _all_the_same(item: RoomItem, level: str, seen: Sequence[Finding]) -> UsualPlace | GoesOnLast:
    if item.group == "check":
        return GoesOnLast(tuple(one for one in seen if one.state not in ("", "intact")))
    return UsualPlace(item.group, level, looked=bool(seen))

"""The plan of one treatment visit: what to do at which item, with what, and what to have with you.

From the sleeping place outwards: cloth is bagged first, so that nothing carries bugs over what was done;
then ring by ring, within a ring the items with live bugs first; covers and interceptors go on last. A plan
says what is usual and never how much of a product: the label does.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from spread.decisions.case.materials import Material, materials_for
from spread.decisions.standing import standing_of
from spread.decisions.words import joined
from spread.errors import Problem, SettingsError, SpreadError
from spread.records.kinds import LEVELS, Finding, Record
from spread.records.sense import guess
from spread.records.words import EVIDENCE_WORDS
from spread.trade import treating
from spread.trade.biology import LEVEL_NAMES, level_of_count
from spread.trade.development import VisitDays, visit_days
from spread.trade.room import RoomItem, RoomItems
from spread.trade.sources import Line, Sourced
from spread.trade.treating import MattressSize

CLOTH = ("bedding", "bed-skirt")
"""Items that go into bags before anything else."""
RINGS_AT = {"trace": 1, "low": 1, "moderate": 2, "heavy": 4}
"""How far out items are treated without a sign of their own, by level (common practice, no source)."""
_STRONG = ("live", "eggs")


@dataclass(frozen=True, slots=True)
class Step:
    """What to do at one item.

    Parameters
    ----------
    item, name, place
        Code and name of the item, and which sleeping place or room; empty for any.
    ring
        Steps out from the sleeping place (:data:`spread.trade.room.RINGS`).
    why
        What was seen there, or why it is done all the same.
    do, product, caution
        The usual work, what of products, and the care to take.
    tools
        What to have in hand.
    source
        Where the work is from.
    """

    item: str
    name: str
    place: str
    ring: int
    why: str
    do: str
    product: str
    caution: str
    tools: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class TreatmentPlan:
    """The plan of one visit.

    Parameters
    ----------
    unit, on, level
        Unit code, the day, and the level that it is for.
    basis
        What the level rests on, in words.
    minutes
        Minutes of the visit, with range and source.
    product_words
        Whether trials added a product at this level.
    steps
        In the order of work.
    tools, materials
        What to bring.
    prepare, must_not
        For the resident.
    cautions
        By topic; ``label`` stands for itself.
    visit
        Days after the treatment on which to come back.
    notes
        What the plan could not know.
    """

    unit: str
    on: dt.date
    level: str
    basis: str
    minutes: Sourced
    product_words: Line
    steps: tuple[Step, ...]
    tools: tuple[str, ...]
    materials: tuple[Material, ...]
    prepare: tuple[Line, ...]
    must_not: tuple[Line, ...]
    cautions: tuple[Line, ...]
    label: Line
    visit: VisitDays
    notes: tuple[str, ...]


def plan_of(
    records: Sequence[Record],
    unit: str,
    on: dt.date,
    sheet: RoomItems,
    *,
    level: str = "",
    beds: Sequence[MattressSize] = (),
    places: int = 1,
    sleeping: str = "bed",
    sofas: int = 0,
    supports: int | None = None,
    room_celsius: float | None = None,
) -> TreatmentPlan:
    """Plan a treatment from what the log says of a unit.

    Parameters
    ----------
    records
        The unit's current records.
    unit
        Unit code.
    on
        The day; later records are left out.
    sheet
        The room sheet: what is usually done at each item.
    level
        The technician's own level; else that of the last find.
    beds, places, sleeping, sofas, supports, room_celsius
        As in :func:`treatment_plan`.

    Raises
    ------
    SpreadError
        When no find is on record and no level is given: an alert alone is confirmed first.
    """
    rows = [r for r in records if r.when <= on]
    find = standing_of(rows, on).last_find
    if find is None and not level:
        fix = "look first: an alert or a report alone is not treated; or give --level for a precaution"
        raise SpreadError(Problem(f"unit {unit}", "", "no find is on record", fix))
    if level:
        basis = "the level was given by hand"
    elif find is not None and find.level:
        level, basis = find.level, f"the find of {find.when.isoformat()}"
    elif find is not None and find.count:
        level = LEVEL_NAMES[level_of_count(find.count)]
        basis = f"{find.count} bugs counted on {find.when.isoformat()}"
    else:
        level, basis = "low", "the find has no level, so low is taken"
    return treatment_plan(
        unit,
        on,
        level,
        known_findings(rows, find.when if find else on),
        sheet,
        basis=basis,
        beds=beds,
        places=places,
        sleeping=sleeping,
        sofas=sofas,
        supports=supports,
        room_celsius=room_celsius,
    )


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
    *,
    basis: str = "",
    beds: Sequence[MattressSize] = (),
    places: int = 1,
    sleeping: str = "bed",
    sofas: int = 0,
    supports: int | None = None,
    room_celsius: float | None = None,
) -> TreatmentPlan:
    """Plan a treatment.

    Parameters
    ----------
    unit, on
        Unit code and day.
    level
        ``trace``, ``low``, ``moderate`` or ``heavy``.
    items
        What was seen at which item.
    sheet
        The room sheet.
    basis
        What the level rests on, in words.
    beds
        Sizes of the beds, where they are known.
    places
        Sleeping places of the unit where sizes are not known; at least one.
    sleeping
        ``bed`` or ``sofa``: where people sleep.
    sofas
        Sofas and chairs that get interceptors.
    supports
        Supports of all beds and sofas together, if they were counted; else as frames commonly have.
    room_celsius
        Warmth of the rooms; the default of :mod:`spread.trade.development` if None.

    Raises
    ------
    SettingsError
        For an unknown level.
    """
    if level not in LEVELS:
        raise SettingsError(
            Problem("treatment plan", "level", f"{level[:40]!r} is not known", guess(level, LEVELS))
        )
    steps = _steps(level, items, sheet, sleeping)
    notes = []
    unknown = sorted({one.item for one in items if one.item not in sheet.by_code})
    if unknown:
        notes.append(f"Not on the room sheet, so nothing is planned for it: {', '.join(unknown)}.")
    if not items:
        notes.append("No items are on record: usual places are planned; look at each before you treat it.")
    if not beds:
        notes.append("The sizes of the beds are not known: measure width, length and depth before ordering.")
    return TreatmentPlan(
        unit=unit,
        on=on,
        level=level,
        basis=basis,
        minutes=treating.MINUTES[level],
        product_words=_product_words(level),
        steps=steps,
        tools=tuple(dict.fromkeys(tool for step in steps for tool in step.tools)),
        materials=materials_for(beds, max(1, places), sofas, supports, level, sleeping),
        prepare=treating.PREPARE + treating.PREPARE_ALSO,
        must_not=treating.MUST_NOT,
        cautions=(*treating.CAUTIONS, treating.VACUUM_BAG),
        label=treating.LABEL,
        visit=visit_days() if room_celsius is None else visit_days(room_celsius),
        notes=tuple(notes),
    )


def _steps(level: str, items: Sequence[Finding], sheet: RoomItems, sleeping: str) -> tuple[Step, ...]:
    """Return the steps in the order of work."""
    seen: dict[str, list[Finding]] = {}
    for one in items:
        seen.setdefault(one.item, []).append(one)
    steps: list[tuple[tuple[int, int, int, float], Step]] = []
    for item in sheet.items:
        ring = sheet.ring(item, sleeping)
        signs = [one for one in seen.get(item.code, []) if one.evidence]
        always = item.group == "check" or ring <= RINGS_AT[level]
        told: Sequence[Finding | None] = signs or ([None] if always else [])
        for sign in told:
            step = _step(item, ring, sign, level, seen.get(item.code, []))
            steps.append((_rank(item, ring, sign, sheet.weight(item, sleeping)), step))
    return tuple(step for _, step in sorted(steps, key=lambda pair: pair[0]))


def _rank(item: RoomItem, ring: int, one: Finding | None, weight: float) -> tuple[int, int, int, float]:
    """Return the place of a step: cloth, then outwards, live bugs first, covers and traps last."""
    stage = 0 if item.code in CLOTH else 2 if item.group == "check" else 1
    strength = 2 if one is None else 0 if one.evidence & set(_STRONG) else 1
    return stage, ring, strength, -weight


def _step(item: RoomItem, ring: int, one: Finding | None, level: str, seen: Sequence[Finding]) -> Step:
    return Step(
        item=item.code,
        name=item.name,
        place=one.place if one else "",
        ring=ring,
        why=_seen_words(one) if one else _all_the_same(item, level, seen),
        do=item.treat,
        product=item.product,
        caution=item.caution,
        tools=item.tools,
        source=f"{item.source} ({item.confidence})" if item.confidence else item.source,
    )


def _seen_words(one: Finding) -> str:
    signs = " + ".join(word for key, word in EVIDENCE_WORDS.items() if key in one.evidence)
    words = f"Seen: {signs}" + (f", {one.count} counted" if one.count is not None else "")
    words += f", {one.stage}" if one.stage and one.stage not in one.evidence else ""
    return f"{words}{f', {one.metres:g} m from the bed' if one.metres is not None else ''}."


def _all_the_same(item: RoomItem, level: str, seen: Sequence[Finding]) -> str:
    if item.group == "check":
        worn = [one for one in seen if one.state not in ("", "intact")]
        said = [f"{one.state}{f' at {one.place}' if one.place else ''}" for one in worn]
        return f"Was {joined(said)}: replace or put right." if worn else "Goes on at the end."
    nothing = "Nothing seen there; " if seen else ""
    reason = "it is where bugs are first" if item.group == "bed" else f"usual at a {level} level"
    words = f"{nothing}{reason}."
    return words[0].upper() + words[1:]


def _product_words(level: str) -> Line:
    source = "Singh et al. 2017, doi 10.3390/insects8030076"
    if level in ("trace", "low"):
        return Line(
            f"Up to {treating.PRODUCT_FROM} bugs, steam, vacuum, encasements and interceptors alone were as "
            "fast in a trial; a product is not needed to begin with.",
            source,
        )
    return Line(
        f"Above {treating.PRODUCT_FROM} bugs the trial added a labelled product to the same work. Many bugs "
        "resist pyrethroids; as the label says.",
        f"{source}; resistance: Yu et al. 2023, doi 10.3390/insects14020133",
    )

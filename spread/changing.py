"""Changing the plan of a building that has a log: what a change would do, keeping it, and taking it back.

Nothing is written before :func:`keep`; it writes the list of changes whole, and the drawing and the log stay
as they are.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import networkx as nx

from spread.building import PLAN_FILE, Building, with_changes, with_drawing
from spread.errors import PlanError
from spread.files import write_together
from spread.plan.amending import apply
from spread.plan.changes import CHANGES_FILE, UNITS_CHANGE, Change, changes_text
from spread.records.following import Homes
from spread.records.kinds import Record

NOTICED = 0.1
"""Share by which the exposure of a contact has to differ to be told."""
Contact = tuple[str, str, str]
"""Two units and a route."""


@dataclass(frozen=True, slots=True)
class Difference:
    """What changes of a plan do, before any chance is worked out.

    ``gained``, ``lost``: contacts that there were not, or are no more; ``weighed``: those that weigh more or
    less than before by :data:`NOTICED`, with both exposures. ``units``: codes that there were not, and
    ``gone``: those that there are no more. ``following``: rows of the log by unit of today that stood
    elsewhere; ``resting``: how many rows clear nothing any more, because their home is of another extent;
    ``homeless``: rows of homes that are gone.
    """

    gained: tuple[Contact, ...]
    lost: tuple[Contact, ...]
    weighed: tuple[tuple[Contact, float, float], ...]
    units: tuple[str, ...]
    gone: tuple[str, ...]
    following: Mapping[str, int]
    resting: int
    homeless: int


def difference(before: Building, after: Building) -> Difference:
    """Return what distinguishes a building from itself with other changes.

    Contacts are compared home by home: of a home that was parted with its first part, of homes that were
    joined with the whole.
    """
    origins = origins_of(before, after)
    heirs = {
        old: next((unit for unit, one in origins.items() if old in one), old) for old in before.plan.units
    }
    old = _contacts(before.contacts, heirs)
    new = _contacts(after.contacts, {})
    known = {(row.id, row.unit) for row in before.log.current}
    follow = Counter(row.unit for row in after.log.current if (row.id, row.unit) not in known)
    was = {row.id for row in before.log.current if row.was}
    return Difference(
        gained=tuple(sorted(new.keys() - old.keys())),
        lost=tuple(sorted(old.keys() - new.keys())),
        weighed=tuple(
            (key, old[key], new[key])
            for key in sorted(new.keys() & old.keys())
            if abs(new[key] - old[key]) > NOTICED * max(old[key], new[key])
        ),
        units=tuple(unit for unit in after.plan.units if unit not in before.plan.units),
        gone=tuple(unit for unit in before.plan.units if unit not in after.plan.units),
        following=follow,
        resting=len({row.id for row in after.log.current if row.was} - was),
        homeless=len(after.homes.lost(after.store.log)),
    )


def origins_of(before: Building, after: Building) -> dict[str, tuple[str, ...]]:
    """Return of each unit of a changed building which units it was before, in the order of the plan.

    They are the same home, or share a part, when one code of the drawing became both.
    """
    codes = before.homes.codes | after.homes.codes
    first = [
        {h.unit for h in building.homes.of(code, dt.date.min)}
        for code in codes
        for building in (before, after)
    ]
    pairs = list(zip(first[::2], first[1::2], strict=True))
    return {
        unit: tuple(old for old in before.plan.units if any(old in b and unit in a for b, a in pairs))
        for unit in after.plan.units
    }


def _contacts(graph: nx.MultiGraph, heirs: Mapping[str, str]) -> dict[Contact, float]:
    found: dict[Contact, float] = {}
    for one, other, route, exposure in graph.edges(keys=True, data="exposure"):
        a, b = heirs.get(one, one), heirs.get(other, other)
        if a != b:  # what was between two homes that are joined is inside the whole
            key = (min(a, b), max(a, b), str(route))
            found[key] = found.get(key, 0.0) + float(exposure)
    return found


def with_more(building: Building, more: Sequence[Change], *, today: dt.date | None = None) -> Building:
    """Return a building with more changes after those that it has; nothing is kept.

    ``today``: a change of a later day is refused. Raises PlanError when a change does not fit the plan, is
    dated before an older one of the same home, or is of a day to come.
    """
    latest = max([today or dt.date.today(), *(row.when for row in building.store.log.current[-1:])])
    plan = building.plan
    changes = [*building.changes]
    for change in more:
        if change.on > latest:
            what = f"{change.on.isoformat()} is still to come"
            raise PlanError.at(CHANGES_FILE, change.step, what, "make the change when it has come about")
        _in_turn(building, changes, change)
        plan = apply(plan, change)
        changes.append(change)
    return _checked(building, with_changes(building, changes))


def without(building: Building, place: int) -> Building:
    """Return a building without one of its changes, counted from 0; nothing is kept.

    Raises PlanError when there is none, another one rests on it, or the log has rows of a home that came with
    it.
    """
    if not 0 <= place < len(building.changes):
        what = f"there is no change {place + 1}"
        raise PlanError.at(
            CHANGES_FILE, "", what, f"it has {len(building.changes)}; see spread plan BUILDING list"
        )
    change = building.changes[place]
    if told := _since(building, change.begins if change.step in UNITS_CHANGE else (), change.on):
        what = f"the log has {len(told)} rows of {told[0].unit!r} since then"
        fix = "make another change that says what became of it"
        raise PlanError.at(CHANGES_FILE, f"line {place + 1}", what, fix)
    rest = [one for number, one in enumerate(building.changes) if number != place]
    after = with_changes(building, rest)
    known = {problem.what for problem in building.warnings}
    if new := [p for p in after.warnings if p.file == CHANGES_FILE and p.what not in known]:
        what = f"a later change rests on it: {new[0].where}"
        raise PlanError.at(CHANGES_FILE, f"line {place + 1}", what, "take the later one back first")
    return _checked(building, after)


def _in_turn(building: Building, changes: Sequence[Change], change: Change) -> None:
    """Refuse a change of units that would say of rows that are there what nobody meant by them."""
    if change.step not in UNITS_CHANGE:
        return
    codes = {*change.begins, *change.ends}
    later = [
        c for c in changes if c.step in UNITS_CHANGE and c.on > change.on and codes & {*c.begins, *c.ends}
    ]
    if later:
        what = f"{change.on.isoformat()} is before a change of {later[0].on.isoformat()} of the same unit"
        raise PlanError.at(
            CHANGES_FILE, change.step, what, "give a later day, or take that change back first"
        )
    # A code that goes on meaning a home, but another one: what was recorded of the old is not of the new.
    both = building.homes.codes & {*change.begins}
    if told := _since(building, both, change.on):
        what = f"{told[0].unit!r} has {len(told)} rows from then on, the last of {told[-1].when.isoformat()}"
        raise PlanError.at(
            CHANGES_FILE, change.step, what, "give a later day, or another code for the new home"
        )


def _since(building: Building, codes: Collection[str], day: dt.date) -> list[Record]:
    return [row for row in building.store.log.current if row.unit in codes and row.when >= day]


def _checked(before: Building, after: Building) -> Building:
    """Refuse changes that would leave rows of the log without any meaning."""
    if strange := _strange(before, after.homes):
        codes = ", ".join(sorted(strange)[:5])
        what = f"the log has {sum(strange.values())} rows of {codes}, which nothing would be known of"
        raise PlanError.at(
            CHANGES_FILE, "", what, "keep the change, and make another one that says what became of it"
        )
    return after


def _strange(before: Building, homes: Homes) -> dict[str, int]:
    found: dict[str, int] = {}
    for row in before.store.log.rows:
        if row.unit not in homes.codes:
            found[row.unit] = found.get(row.unit, 0) + 1
    return found


def redrawn(building: Building, data: bytes, file: str) -> Building:
    """Return a building with another drawing under the changes that it has; nothing is kept.

    Changes that no longer fit are named in its warnings and stay in the list. Raises PlanError when the
    drawing cannot be read, or the log has rows of homes that neither it nor the changes know.
    """
    return _checked(building, with_drawing(building, data, file))


def keep(before: Building, after: Building) -> None:
    """Keep the changes of a building and its new drawing, if it has one, whole or not at all.

    The drawing that was there stays beside it under a name that says when.

    ``before``: the building that they were made on: if somebody has kept others meanwhile, nothing is
    written. Raises PlanError then, and SpreadError where it cannot be written.
    """
    if before.store.beside(CHANGES_FILE).decode("utf-8") != changes_text(before.changes):
        what = "somebody has changed the plan meanwhile, and nothing was written"
        raise PlanError.at(CHANGES_FILE, "", what, "open the building again and look at it once more")
    _checked(before, after)  # rows may have come in since it was shown
    files = {CHANGES_FILE: changes_text(after.changes)}
    if after.redrawn is not None:
        old = after.folder / PLAN_FILE
        if old.exists():
            aside = f"plan.before-{dt.datetime.now(dt.UTC):%Y%m%dT%H%M%SZ}.geojson"
            files = {aside: old.read_text(encoding="utf-8-sig"), **files}
        files[PLAN_FILE] = after.redrawn[0].decode("utf-8-sig")
    after.codes.update(after.homes.codes)
    for name, text in files.items():
        after.store.keep_beside(name, text)
    write_together({after.folder / name: text for name, text in files.items()})  # in an office it is a copy

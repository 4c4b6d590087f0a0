"""A file of outlines and what a person said of it: what must still be asked, or the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely

from spread.errors import PlanError, Problem
from spread.outlines.asking import NORTH, NORTH_SIDE, Asker
from spread.outlines.columns import metre_of, rooms_of_layer
from spread.outlines.found import Found
from spread.outlines.kinds import HOME, KINDS, LEFT_OUT, NO_WORD, words_of
from spread.outlines.placing import Floors, features_of
from spread.outlines.units import units_of
from spread.plan.drawing.floor_names import floor_height, floor_number
from spread.plan.geojson import parse_plan
from spread.plan.model import Plan
from spread.tables.answers import Answers, Question

MOST_FLOORS = 200


@dataclass(frozen=True, slots=True)
class Outlined:
    """What a file of outlines says: open questions, or a plan; ``notes`` say what was put or left."""

    questions: tuple[Question, ...]
    plan: Plan | None
    notes: tuple[Problem, ...] = ()


def read_outlines(found: Found, answers: Answers, *, name: str, file: str) -> Outlined:
    """Read what a file holds as a building.

    ``found``: see :func:`spread.outlines.opening.open_outlines`. ``name``: what the building is called.
    Raises SpreadError with every outline that is not closed, every code that two units have, and whatever the
    plan's own reader finds; overlaps are for :func:`spread.plan.checks.check_plan` to say.
    """
    if found.own is not None:
        return Outlined((), _own(found.own, name, file))
    asker = Asker(answers)
    if found.layers is None and not any(room.outline for room in found.rooms):
        what = f"it has no rooms on its storeys {', '.join(found.levels[:8])}"
        fix = "trace it on the page Trace or with spread trace, a page for each storey"
        raise PlanError.at(file, "", what, fix)
    scale = metre_of(found, asker)
    if found.layers is not None:
        found = rooms_of_layer(found, asker)
        if asker.open:
            return Outlined(tuple(asker.open), None)
    kinds = _kinds(found, asker)
    kept = [n for n, kind in kinds.items() if kind != LEFT_OUT]
    _check_outlines(found, kept, file)
    floors = _floors(found, kept, asker, file)
    turn = found.north
    if turn is None:
        turn = NORTH[asker.choose(NORTH_SIDE, list(NORTH), "up")]
    units = units_of(found, kinds, floors.names, asker, file)
    if asker.open:
        return Outlined(tuple(asker.open), None)
    features, notes = features_of(found, kinds, units, floors, scale=scale, turn=turn, file=file)
    collection = {"type": "FeatureCollection", "coordinates_in": "metres", "features": features}
    plan = parse_plan(collection, floors.in_order, name=name, file=file)
    bare = [level for n, level in enumerate(found.levels) if n not in floors.names]
    if bare and found.layers is None:
        what = f"no rooms are kept on {', '.join(bare[:8])}"
        fix = "trace the building on the page Trace, a page for each storey, if homes are there"
        notes.append(Problem(file, "", what, fix))
    return Outlined((), plan, tuple(notes))


def _own(drawing: Mapping[str, Any], name: str, file: str) -> Plan:
    """Return the plan of a drawing in our own words; its floors are ordered by their names."""
    said = [feature["properties"] for feature in drawing["features"]]
    lists = [of["floors"] if isinstance(of.get("floors"), list) else [of.get("floor")] for of in said]
    names = dict.fromkeys(str(floor) for floors in lists for floor in floors if isinstance(floor, str | int))
    return parse_plan(drawing, sorted(names, key=floor_height), name=name, file=file)


def _kinds(found: Found, asker: Asker) -> dict[int, str]:
    """Return what each room is: each distinct word is asked once."""
    words, may = words_of(found)
    if list(may) == [NO_WORD]:
        return dict.fromkeys(range(len(found.rooms)), HOME)
    told: dict[str, str] = {}
    for word, may_be in may.items():
        of = [room for room, other in zip(found.rooms, words, strict=True) if other == word]
        shown = [room.name or room.place for room in of]
        told[word] = asker.choose(word, KINDS, may_be, topic="rooms", times=len(of), examples=shown)
    return {n: told[word] for n, word in enumerate(words)}


def _check_outlines(found: Found, kept: Sequence[int], file: str) -> None:
    """Refuse rooms that are kept and have no outline, or one that is no area."""
    problems = []
    for room in (found.rooms[n] for n in kept):
        if room.outline is None:
            fix = "close it in the drawing, or leave its kind of room out"
            problems.append(Problem(file, room.place, room.fault, fix))
        elif not room.outline.is_valid or room.outline.is_empty:
            reason = shapely.is_valid_reason(room.outline).replace("[", " near ").rstrip("]").lower()
            what = f"its outline is no valid area ({reason})"
            problems.append(Problem(file, room.place, what, "draw it so that it never crosses itself"))
    if problems:
        raise PlanError(problems)


def _floors(found: Found, kept: Sequence[int], asker: Asker, file: str) -> Floors:
    """Return what the storeys with rooms are called."""
    levels = sorted({level for n in kept for level in found.rooms[n].levels})
    if len(levels) > MOST_FLOORS:
        what = f"it would have {len(levels)} floors"
        raise PlanError.at(file, "", what, "choose the column that says the floor")
    if found.layers is not None:
        return Floors({level: found.levels[level] or "1" for level in levels})
    names: dict[int, str] = {}
    numbers = [floor_number(found.levels[level]) for level in levels]
    for level, number in zip(levels, numbers, strict=True):
        written = found.levels[level]
        may_be = number if number and numbers.count(number) == 1 else written
        options = dict.fromkeys((may_be, written, "B", "G", *map(str, range(1, len(levels) + 2))))
        count = sum(level in found.rooms[n].levels for n in kept)
        names[level] = asker.choose(written, tuple(options), may_be, topic="storeys", times=count)
    return Floors(names)

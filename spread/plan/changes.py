"""Dated changes of a plan: what became of its units since it was drawn, and what was corrected in it.

The drawing stays as it is; :data:`CHANGES_FILE` beside it lists the changes, one a line, oldest first. They
are applied whenever the plan is read, so a drawing that is loaded over an older one loses none of them, and
taking the last line out takes the last change back to the byte. The log is never rewritten: what a code meant
on a day follows from the changes (:mod:`spread.records.following`).
"""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from spread.errors import PlanError, Problem
from spread.plain import unseen

CHANGES_FILE = "plan_changes.jsonl"
LARGEST = 2_000_000
"""Bytes of the file; a change takes some hundred."""
MOST = 5_000
"""Changes of one building."""
LONGEST = 60
"""Characters of a code or name."""
MOST_CORNERS = 200

UNITS_CHANGE = ("rename", "split", "merge", "gone", "new")
"""Changes of what a code means; the others move or mark what is drawn."""
THINGS = ("door", "bed", "outlet", "riser", "stair", "lift")
"""What can be added and taken out."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change of a plan.

    ``step``: what it does: a word of :data:`STEPS`. ``on``: the day from which it holds; of a correction of
    the drawing, which holds for all time, the day on which it was made. ``said``: what it needs, by name.
    """

    step: str
    on: dt.date
    said: Mapping[str, Any] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """Return a word of it; empty where it has none."""
        return str(self.said.get(name) or "")

    @property
    def begins(self) -> tuple[str, ...]:
        """Codes that mean a home from its day on which they did not mean before."""
        if self.step == "rename":
            return (self.text("to"),)
        if self.step == "split":
            return tuple(self.said["into"])
        if self.step == "merge":
            return (self.text("into"),)
        return (self.text("unit"),) if self.step == "new" else ()

    @property
    def ends(self) -> tuple[str, ...]:
        """Codes that mean no home, or another one, from its day on."""
        if self.step == "merge":
            return tuple(self.said["units"])
        return (self.text("unit"),) if self.step in ("rename", "split", "gone") else ()

    def line(self) -> str:
        """Return it as a line of the file."""
        told = {"step": self.step, "on": self.on.isoformat(), **self.said}
        return json.dumps(told, ensure_ascii=False, sort_keys=True) + "\n"


def change_of(told: object, *, file: str = CHANGES_FILE, where: str = "") -> Change:
    """Read one change.

    ``told``: a parsed object. Returns it with numbers as numbers and nothing that it does not need. Raises
    PlanError, a sentence for each thing that is wrong.
    """
    wrong: list[tuple[str, str, str]] = []
    step = told.get("step") if isinstance(told, Mapping) else None
    if not isinstance(told, Mapping) or not isinstance(step, str) or step not in STEPS:
        fix = f"write one of {', '.join(STEPS)}"
        raise PlanError.at(file, where, f"the step {str(step)[:20]!r} is not known", fix)
    try:
        on = dt.date.fromisoformat(str(told.get("on")))
    except ValueError:
        raise PlanError.at(
            file, where, f"{str(told.get('on'))[:20]!r} is not a day", "write it as 2026-11-25"
        ) from None
    said: dict[str, Any] = {}
    for name, (read, needed) in STEPS[step].items():
        value = told.get(name)
        if value is None or value in ("", []):
            if needed:
                wrong.append((name, "it is missing", "give it"))
            continue
        try:
            said[name] = read(value)
        except ValueError as error:
            wrong.append((name, str(error), "correct it"))
    wrong += [
        (str(name)[:40], "it is not known here", "take it out")
        for name in told
        if name not in {"step", "on", *STEPS[step]}
    ]
    if not wrong:
        wrong += _together(step, said)
    if wrong:
        start = f"{where}, " if where else ""
        raise PlanError([Problem(file, f"{start}{step}, {name}", what, fix) for name, what, fix in wrong])
    return Change(step, on, said)


def read_changes(data: bytes, *, file: str = CHANGES_FILE) -> tuple[Change, ...]:
    """Read the file of changes; raises PlanError with every problem of it."""
    if len(data) > LARGEST:
        raise PlanError.at(
            file, "", f"it has {len(data):,} bytes, more than {LARGEST:,}", "see that it is the right file"
        )
    try:
        lines = data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise PlanError.at(
            file, f"byte {error.start + 1}", "it is not UTF-8 text", "save it as UTF-8"
        ) from None
    found: list[Change] = []
    problems: list[Problem] = []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            found.append(change_of(json.loads(line), file=file, where=f"line {number}"))
        except PlanError as error:
            problems += error.problems
        except (ValueError, RecursionError):
            problems.append(
                Problem(file, f"line {number}", "it is not JSON", "put the line back as it was written")
            )
    if len(found) > MOST:
        problems.append(Problem(file, "", f"it has more than {MOST:,} changes", "draw the building anew"))
    if problems:
        raise PlanError(problems)
    return tuple(found)


def changes_text(changes: Sequence[Change]) -> str:
    """Return changes as the file has them."""
    return "".join(change.line() for change in changes)


def _code(value: object) -> str:
    text = " ".join(value.split()) if isinstance(value, str) else ""
    if not text or len(text) > LONGEST:
        raise ValueError(f"expected a code of 1 to {LONGEST} characters")
    if odd := unseen(text):
        raise ValueError(f"it holds a character that is not seen ({odd})")
    return text


def _two(value: object) -> list[str]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError("expected two codes")
    codes = [_code(one) for one in value]
    if codes[0] == codes[1]:
        raise ValueError("expected two different codes")
    return codes


def _floors(value: object) -> list[str]:
    if not isinstance(value, list) or not 1 <= len(value) <= MOST_CORNERS:
        raise ValueError("expected a list of floors")
    return [_code(one) for one in value]


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError("expected a number")
    return round(float(value), 4)


def _point(value: object) -> list[float]:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("expected a place as [x, y] in metres")
    return [_number(one) for one in value]


def _corners(least: int) -> Callable[[object], list[list[float]]]:
    def read(value: object) -> list[list[float]]:
        if not isinstance(value, list) or not least <= len(value) <= MOST_CORNERS:
            raise ValueError(f"expected {least} to {MOST_CORNERS} places as [x, y] in metres")
        return [_point(one) for one in value]

    return read


def _yes(value: object) -> bool:
    if value is not True and value is not False:
        raise ValueError("expected true or false")
    return value is True


def _thing(value: object) -> str:
    if value not in THINGS:
        raise ValueError(f"expected one of {', '.join(THINGS)}")
    return str(value)


_Reader = Callable[[object], Any]
STEPS: Mapping[str, Mapping[str, tuple[_Reader, bool]]] = {
    "rename": {"unit": (_code, True), "to": (_code, True)},
    "split": {"unit": (_code, True), "into": (_two, True), "floor": (_code, False), "line": (_corners(2),
    False)}, "merge": {"units": (_two, True), "into": (_code, True)}, "gone": {"unit": (_code, True), "room":
    (_code, False)}, "new": {"unit": (_code, True), "floor": (_code, True), "outline": (_corners(3), False),
    "room": (_code, False)}, "wall": {"a": (_code, True), "b": (_code, True), "floor": (_code, True),
    "metres": (_number, True), "every_floor": (_yes, False)}, "move-door": {"door": (_code, True), "metres":
    (_number, True)}, "add": {"kind": (_thing, True), "id": (_code, True), "unit": (_code, False), "floor":
    (_code, False), "floors": (_floors, False), "at": (_point, True)}, "remove": {"kind": (_thing, True),
    "id": (_code, True)}, "name-riser": {"riser": (_code, True), "name": (_code, True)}, "room": {"id":
    (_code, True), "floor": (_code, True), "name": (_code, True)}, "lift": {"id": (_code, True)}, "link":
    {"a": (_code, True), "b": (_code, True), "route": (_code, True), "words": (_code, True), "strength":
    (_number, False)}, "unlink": {"a": (_code, True), "b": (_code, True), "route": (_code, True)},
}  # fmt: skip
"""What can be done, and what each step takes: how it is read, and whether it is needed."""


def _together(step: str, said: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Return what of a step does not go with the rest of it."""
    shaft = said.get("kind") in ("riser", "stair", "lift")
    placed = {"unit", "floor"} <= said.keys()
    wrong = {
        ("rename", "to", "it has that code already"): said.get("unit") == said.get("to"),
        ("link", "b", "a link ties two units"): said.get("a") == said.get("b"),
        ("unlink", "b", "a link ties two units"): said.get("a") == said.get("b"),
        ("new", "outline", "a new unit has an outline or was a room"): ("outline" in said)
        == ("room" in said),
        ("split", "line", "a line that parts a unit needs its floor"): ("line" in said) != ("floor" in said),
        ("add", "floors", "the floors that it goes through are missing"): shaft and "floors" not in said,
        ("add", "unit", "its unit and floor are missing"): not shaft and not placed,
    }
    return [(name, what, "correct it") for (of, name, what), holds in wrong.items() if of == step and holds]

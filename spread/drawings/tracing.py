"""What a person has clicked on a drawing, as JSON says it: the seeds file, and each request of the page.

All places are pixels of the picture that is traced: straightened, and as ``spread trace --picture`` saves it.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from shapely import Point, Polygon

from spread.drawings.reader import At, Reader
from spread.errors import Problem, SpreadError

MOST_CLICKS = 2_000
MOST_FLOORS = 100
KINDS = ("unit", "hallway", "stair", "common", "left-out")
"""What a click may be of; ``left-out`` is a shaft, a courtyard or another owner's part."""


@dataclass(frozen=True, slots=True)
class Click:
    """One click: of what it is (see :data:`KINDS`), its code, and where."""

    kind: str
    id: str
    at: At


@dataclass(frozen=True, slots=True)
class Opening:
    """How a file becomes the picture that is clicked on: a page of a PDF, layers of a DXF, four corners.

    ``proportion``: width by height of the sheet between the corners; worked out if 0.
    """

    page: int = 1
    layers: tuple[str, ...] = ()
    corners: tuple[At, ...] = ()
    proportion: float = 0.0


@dataclass(frozen=True, slots=True)
class FloorTracing:
    """What was clicked on one floor.

    ``metre``: pixels of a metre; 0 where ``match`` gives the scale. ``match``: two points that are one above
    another on every floor. ``moved``: corners moved by hand, from and to. ``copies``: for each floor that is
    like this one its codes by the codes here.
    """

    floor: str
    opening: Opening
    outline: tuple[At, ...]
    metre: float
    clicks: tuple[Click, ...]
    dark: float = 0.7
    thin: int = 1
    match: tuple[At, ...] = ()
    moved: tuple[tuple[At, At], ...] = ()
    copies: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


def load_json(data: bytes, file: str) -> object:
    """Return what JSON says; SpreadError when it is none."""
    try:
        return json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise SpreadError.at(file, "", "it is not JSON in UTF-8", "write it as in docs/drawings.md") from None


def opening_of(sent: object, file: str) -> Opening:
    """Return how a file is opened; SpreadError when it is not understood."""
    reader = Reader(sent, file, "")
    made = _opening(reader)
    if reader.problems:
        raise SpreadError(reader.problems)
    return made


def tracings_of(sent: object, file: str) -> tuple[FloorTracing, ...]:
    """Return the floors of a seeds file, lowest first; SpreadError with every problem."""
    floors = sent.get("floors") if isinstance(sent, Mapping) else None
    if not isinstance(floors, list) or not 1 <= len(floors) <= MOST_FLOORS:
        what = "it is no list of floors"
        raise SpreadError.at(file, "floors", what, "write one entry a floor, lowest first")
    made: list[FloorTracing] = []
    problems: list[Problem] = []
    for number, one in enumerate(floors, start=1):
        reader = Reader(one, file, f"entry {number} of floors")
        made.append(_floor(reader, scaled=bool(made)))
        problems += reader.problems
    if not problems:
        problems += _repeated(made, file)
    if problems:
        raise SpreadError(problems)
    return tuple(made)


def _repeated(floors: list[FloorTracing], file: str) -> Iterator[Problem]:
    names = Counter(name for floor in floors for name in (floor.floor, *floor.copies))
    for name, times in names.items():
        if times > 1:
            yield Problem(file, f"floor {name!r}", "it is there twice", "give each floor a name of its own")
    codes = Counter(code for floor in floors for code in _codes(floor.clicks))
    codes += Counter(code for floor in floors for copy in floor.copies.values() for code in copy.values())
    for code, times in codes.items():
        if times > 1:
            what = f"it is there {times} times, on different floors"
            yield Problem(file, f"unit {code!r}", what, "give each home a code of its own")


def _codes(clicks: tuple[Click, ...]) -> list[str]:
    return list(dict.fromkeys(click.id for click in clicks if click.kind == "unit"))


def _opening(reader: Reader) -> Opening:
    corners = reader.places("corners", 0, 4)
    if corners and not (len(corners) == 4 and _turn_right(corners)):
        what = "they are not the four corners of a sheet, in turn"
        reader.fault("corners", what, "give upper left, upper right, lower right, lower left")
    proportion = reader.number("proportion", 0.0, 0.05, 20.0) if "proportion" in reader.sent else 0.0
    return Opening(reader.whole("page", 1, 1, 500), reader.names("layers"), corners, proportion)


def _turn_right(corners: tuple[At, ...]) -> bool:
    for k in range(4):
        (ax, ay), (bx, by), (cx, cy) = (corners[(k + step) % 4] for step in range(3))
        if (bx - ax) * (cy - by) - (by - ay) * (cx - bx) < 100:  # y runs down a picture
            return False
    return True


def _floor(reader: Reader, *, scaled: bool) -> FloorTracing:
    outline = reader.places("outline", 3, 500)
    if outline and not Polygon(outline).is_valid:
        reader.fault("outline", "it crosses itself", "give its corners in turn, once round")
        outline = ()
    match = reader.places("match", 0, 2)
    if match and (len(match) != 2 or math.dist(*match) < 10):
        reader.fault("match", "it is no two places apart", "give two places that are on every floor")
        match = ()
    clicks = tuple(_clicks(reader))
    codes = _codes(clicks)
    if not codes:
        reader.fault("clicks", "no unit is clicked", "click once inside each unit")
    for click in clicks if outline else ():
        if not Polygon(outline).contains(Point(click.at)):
            what = f"the click of {click.kind} {click.id!r} is outside the outline"
            reader.fault("clicks", what, "move the click or the outline")
    metre = reader.metre()
    if not metre and reader.sent.get("length") is None and not (scaled and match):
        reader.fault("length", "no length is known", "give one known length, in metres or feet")
    if scaled and not match:
        what = "nothing says how it stands over the floor below"
        reader.fault("match", what, "give two places that are on every floor")
    return FloorTracing(
        floor=reader.name("floor"),
        opening=_opening(reader),
        outline=outline,
        metre=metre,
        clicks=clicks,
        dark=reader.number("dark", 0.7, 0.05, 0.98),
        thin=reader.whole("thin", 1, 1, 15),
        match=match,
        moved=tuple(_moves(reader)),
        copies=dict(_copies(reader, codes)),
    )


def _clicks(reader: Reader) -> Iterator[Click]:
    for one in reader.lists("clicks", MOST_CLICKS):
        sub = Reader(one, reader.file, f"{reader.where}, clicks")
        kind = sub.sent.get("kind", "unit")
        if kind not in KINDS:
            sub.fault("kind", f"{str(kind)[:40]!r} is not known", f"write one of {', '.join(KINDS)}")
        name = sub.name("code") if kind in ("unit", "stair", "common") else kind
        yield Click(str(kind), name, sub.place("at", sub.sent.get("at")))
        reader.problems += sub.problems


def _moves(reader: Reader) -> Iterator[tuple[At, At]]:
    for one in reader.lists("moved", MOST_CLICKS):
        sub = Reader(one, reader.file, f"{reader.where}, moved")
        yield sub.place("from", sub.sent.get("from")), sub.place("to", sub.sent.get("to"))
        reader.problems += sub.problems


def _copies(reader: Reader, codes: list[str]) -> Iterator[tuple[str, dict[str, str]]]:
    for one in reader.lists("copies", MOST_FLOORS):
        sub = Reader(one, reader.file, f"{reader.where}, copies")
        given = sub.sent.get("codes")
        given = given if isinstance(given, Mapping) else {}
        missing = [code for code in codes if code not in given]
        if missing:
            what = f"it has no code for the unit over {missing[0]!r}"
            sub.fault("codes", what, 'give the code of each home, as {"101": "201"}')
        yield sub.name("floor"), {code: sub.name("codes", given[code]) for code in codes if code in given}
        reader.problems += sub.problems

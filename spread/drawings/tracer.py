"""Tracing in a process that may be ended: clicks and pictures in, regions of every floor out."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from shapely.geometry import mapping

from spread.drawings.extra import need_extra
from spread.drawings.opening import SECONDS, SMALLER, grey_of
from spread.drawings.tracing import FloorTracing, tracings_of
from spread.errors import SpreadError
from spread.worker import in_worker

OFF = 0.05
"""Share by which a floor's own length and its two matching places may differ in scale (no source)."""


def metres_of(floors: Sequence[FloorTracing], file: str) -> list[float]:
    """Return the pixels of a metre of each floor: from its length, or from its two matching places."""
    made = [floors[0].metre]
    for floor in floors[1:]:
        base = floors[0]
        if not base.match:
            where = f"floor {base.floor!r}, match"
            fix = "give the two places on the lowest floor too"
            raise SpreadError.at(file, where, "the other floors match it and it has no places", fix)
        metre = math.dist(*floor.match) / (math.dist(*base.match) / base.metre)
        if floor.metre and abs(floor.metre / metre - 1) > OFF:
            what = f"its length and its two places differ in scale by {abs(floor.metre / metre - 1):.0%}"
            fix = "mend the length or the places"
            raise SpreadError.at(file, f"floor {floor.floor!r}", what, fix)
        made.append(metre)
    return made


def trace(sent: object, pictures: Sequence[bytes], file: str) -> list[dict[str, Any]]:
    """Trace the floors of a seeds file.

    ``sent``: what was clicked, checked here. ``pictures``: the picture of each floor, as
    :func:`spread.drawings.opening.open_drawing` gives it. Returns for each floor its regions and doors in
    pixels and the moves that were lost. Raises SpreadError with every problem.
    """
    need_extra(file)
    floors = tracings_of(sent, file)
    metres_of(floors, file)
    head = json.dumps({"sent": sent, "sizes": [len(one) for one in pictures]}).encode()
    data = head + b"\n" + b"".join(pictures)
    seconds = SECONDS * len(floors)
    got: Any = in_worker("spread.drawings.tracer:traced", data, file, seconds=seconds, smaller=SMALLER)
    return list(got)


def traced(data: bytes, file: str) -> list[dict[str, Any]]:
    """Trace floors; runs in the worker."""
    from spread.drawings.floor import trace_floor  # noqa: PLC0415 - an extra

    line, _, pixels = data.partition(b"\n")
    head = json.loads(line)
    floors = tracings_of(head["sent"], file)
    made, begin = [], 0
    for floor, metre, size in zip(floors, metres_of(floors, file), head["sizes"], strict=True):
        got = trace_floor(grey_of(pixels[begin : begin + size], file), floor, metre, file)
        begin += size
        made.append(
            {
                "regions": [{"kind": r.kind, "id": r.id, "geometry": mapping(r.shape)} for r in got.regions],
                "doors": [{"unit": d.unit, "at": d.at, "seen": d.seen} for d in got.doors],
                "lost": got.lost,
            }
        )
    return made

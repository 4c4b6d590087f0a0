"""A firm's own experience: what its buildings taught one another, in place of the general figures.

It is made by ``spread portfolio pool`` and stays with the firm's buildings: in ``pooled.json`` of the folder
that holds them, or in the firm's own office. Nothing in it names a building, a unit or a person, but for what
is pooled about work codes where the firm turned that on (:mod:`spread.firm.persons`).
"""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from spread.errors import SettingsError

POOLED_FILE = "pooled.json"
FORMAT = 1
BY = "by:"
"""Before a work code: the name of what is believed of somebody's odds of a find."""
NARROWEST = 0.25
"""Least standard deviation of what is believed of somebody: neither the grid of odds, in steps of 0.4, nor
some hundred independent draws a building tell finer (judgement)."""
LARGEST_FILE = 20_000_000
FAR, MOST = 30.0, 1e6
"""Bounds of a mean on the logarithmic scale, and of widths and numbers of a Beta distribution."""
_MEND = "delete it, and make it anew with spread portfolio pool"


@dataclass(frozen=True, slots=True)
class Experience:
    """What a firm's buildings taught: the belief of one more building before its own log.

    Parameters
    ----------
    buildings
        How many buildings taught it.
    on
        The latest day of their fits.
    believed
        By name: of a rate and of odds (``odds:METHOD``, ``report:light``, ``report:heavy``) the mean and the
        standard deviation of the logarithm; of a share (``share:never``, ``share:resist``) the two numbers of
        a Beta distribution; of a work code (``by:CODE``, :data:`BY`) as of odds.
    """

    buildings: int
    on: dt.date
    believed: Mapping[str, tuple[float, float]]


def experience_beside(folder: Path) -> Experience | None:
    """Return the experience of the firm whose folder holds a building's folder; None where there is none.

    Raises SettingsError where the file cannot be read.
    """
    path = folder.resolve().parent / POOLED_FILE
    try:
        data = path.read_bytes() if path.stat().st_size <= LARGEST_FILE else b"{"
    except FileNotFoundError:
        return None
    except OSError as error:
        what = f"it cannot be read ({(error.strerror or 'unknown reason').lower()})"
        raise SettingsError.at(POOLED_FILE, "", what, "check it") from None
    return experience_of(data, folder.resolve().name)


def experience_of(data: bytes, building: str = "") -> Experience | None:
    """Return an experience from the bytes of its file; None where there are none.

    ``building``: key of the one that is to believe it; of those who look there it believes what the others
    showed, its own log left out. Without it nothing of work codes is believed.

    Raises SettingsError where they are none of ours.
    """
    if not data:
        return None
    try:
        told: dict[str, Any] = json.loads(data)
        believed = {str(name): (float(a), float(b)) for name, (a, b) in told["in_use"].items()}
        persons = persons_believed(told.get("persons"), building)
        believed |= persons if building else {}
        made = Experience(int(told["buildings"]), dt.date.fromisoformat(told["on"]), believed)
        good = told["format"] == FORMAT and all(_possible(name, *pair) for name, pair in believed.items())
    except (ArithmeticError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        good = False
    if not good:
        what = "it is not what a firm's buildings taught, expected the file of this version"
        raise SettingsError.at(POOLED_FILE, "", what, _MEND)
    return made


def persons_believed(persons: dict[str, Any] | None, building: str = "") -> dict[str, tuple[float, float]]:
    """Return what is believed of work codes by the buildings that showed it; ``building``: one left out.

    Mean and standard deviation of the log odds: everybody differs from the usual by the learned width, times
    the likelihoods of the buildings.
    """
    believed: dict[str, tuple[float, float]] = {}
    if not persons:
        return believed
    for code, one in persons["codes"].items():
        others = [logs for key, logs in one["shown"].items() if key != building]
        if others:
            at, width = persons["at"], float(persons["width"])
            logs = [-0.5 * (x / width) ** 2 + sum(of) for x, *of in zip(at, *others, strict=True)]
            share = [math.exp(log - max(logs)) for log in logs]
            mean = sum(x * s for x, s in zip(at, share, strict=True)) / sum(share)
            square = sum((x - mean) ** 2 * s for x, s in zip(at, share, strict=True)) / sum(share)
            believed[BY + code] = (mean, max(math.sqrt(square), NARROWEST))
    return believed


def _possible(name: str, a: float, b: float) -> bool:
    """Return whether two numbers can be what is believed: far from any belief the sampler would overflow."""
    within = (0.0 < a < MOST) if name.startswith("share:") else abs(a) < FAR
    return within and math.isfinite(b) and 0.0 < b < MOST

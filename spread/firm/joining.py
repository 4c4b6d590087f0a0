"""The chain over a firm's buildings in the night's work: who is in it, when it runs again, what is kept."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from spread.building import load_building
from spread.errors import SpreadError
from spread.firm.fitting import OLDEST, compiled_once, program_mark, seed_of
from spread.firm.house import Member
from spread.firm.keeping import of_bytes
from spread.firm.one_chain import together
from spread.firm.places import POSTERIOR_FILE, Places
from spread.firm.pooled import quantities_of
from spread.firm.pooling import Pooled
from spread.posterior.fit import FitSettings
from spread.trade.registry import LOOKING

DRAWS_FILE = "pooled-draws.json"
"""What is kept of the chain, beside the firm's buildings; unlike the beliefs it has the keys of buildings."""
MOST_TOGETHER = 200
"""Of more buildings so many are in the chain, the same ones every night; each costs as much as a fit."""
CHANGED = 0.1
"""Part of the buildings that are new, gone or changed before the chain runs again (judgement: one log of ten
moves a centre by less than what anybody sees)."""
FORMAT = 1
_ARRAYS = ("centre", "spread", "means", "taught")


def joined(
    places: Places, keys: Sequence[str], on: dt.date, draws: int, *, least: int, workers: int = 1
) -> Pooled:
    """Return what the buildings teach one another by one chain over all; what is kept if it is still good.

    ``keys``: of the buildings; ``on``: the day; ``draws``: of the firm; ``least``: so many are enough of a
    chain that is kept; ``workers``: threads.
    """
    chosen = sorted(sorted(keys, key=lambda key: seed_of(key, 0))[:MOST_TOGETHER])
    marks = {key: places.mark(key) for key in chosen}
    kept = _good(places.own(DRAWS_FILE), marks, on, least)
    if kept is not None:
        return kept
    members = [one for key in chosen if (one := _member(places, key)) is not None]
    compiled_once()
    made = together(members, on, settings=FitSettings(workers=workers), kept=draws, warm=max(draws // 6, 1))
    places.keep_own(DRAWS_FILE, _text_of(made, marks, on))
    return made


def _member(places: Places, key: str) -> Member | None:
    """Return a building as the chain takes it; None where it cannot be read, which its own fit says."""
    try:
        building = load_building(places.source(key))
    except SpreadError:
        return None
    kept = of_bytes(places.beside(key, POSTERIOR_FILE))
    warm = kept.warm if kept is not None and kept.units == tuple(building.contacts.nodes) else None
    return Member(key, building, seed_of(key, building.settings.seed), warm)


def _text_of(made: Pooled, marks: dict[str, str], on: dt.date) -> str:
    told: dict[str, Any] = {name: (1.0 * getattr(made, name)).round(4).tolist() for name in _ARRAYS}
    told |= {"format": FORMAT, "program": program_mark(), "on": on.isoformat(), "marks": marks}
    told |= {"keys": made.keys, "names": [one.name for one in made.quantities]}
    return json.dumps(told)


def _good(text: bytes, marks: dict[str, str], on: dt.date, least: int) -> Pooled | None:
    """Return what is kept where it is this program's, of nearly these logs, long enough and not too old."""
    if not text:
        return None
    try:
        told = json.loads(text)
        if (told["format"], told["program"]) != (FORMAT, program_mark()):
            return None
        changed = {key for key, _ in set(marks.items()) ^ set(told["marks"].items())}
        old = (on - dt.date.fromisoformat(told["on"])).days
        every = {one.name: one for one in quantities_of(tuple(LOOKING))}
        quantities = tuple(every[name] for name in told["names"])
        centre, spread, means, taught = (np.array(told[name]) for name in _ARRAYS)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    if len(changed) > CHANGED * len(marks) or not 0 <= old < OLDEST or len(centre) < least:
        return None
    return Pooled(quantities, tuple(told["keys"]), centre, spread, means, taught.astype(bool))

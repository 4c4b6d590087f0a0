"""A run over all of a firm's buildings, and how each of them stands."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from spread.firm import persons as work_codes
from spread.firm.cluster import each, workers
from spread.firm.fitting import Asked, Outcome, fit_one, is_fresh, mark_of
from spread.firm.joining import joined
from spread.firm.keeping import of_bytes
from spread.firm.one_chain import KEPT
from spread.firm.places import POSTERIOR_FILE, TAUGHT_FILE, Places
from spread.firm.pooled import beliefs_of, enough, file_of, has_moved, of_quantities, of_text, text_of
from spread.firm.pooling import Pooled, Taught
from spread.trade.experience import POOLED_FILE, experience_of, persons_believed


@dataclass(frozen=True)
class Workers:
    """Who works: local processes and the memory of each, or a scheduler's address."""

    number: int
    megabytes: int
    scheduler: str = ""


@dataclass(frozen=True)
class State:
    """How a building stands, without opening it.

    ``state``: ``fresh``, ``changed`` since its fit, ``never`` fitted, or ``unread``; ``on``: day of its fit;
    ``units``; ``settled``: whether its chains agree.
    """

    key: str
    state: str
    on: dt.date | None = None
    units: int = 0
    settled: bool = True


def run_all(
    places: Places,
    keys: Sequence[str],
    asked: Asked,
    crew: Workers,
    tell: Callable[[Outcome], None],
) -> tuple[Outcome, ...]:
    """Fit every building that needs it; ``tell`` hears of each as it is done.

    Raises SpreadError where there are no workers to be had, or they are lost.
    """
    done = []
    with workers(crew.number, crew.megabytes, crew.scheduler) as client:
        for outcome in each(client, fit_one, keys, _lost, asked, before=(places.address,)):
            done.append(outcome)
            tell(outcome)
    return tuple(sorted(done, key=lambda one: one.key))


@dataclass(frozen=True)
class Lesson:
    """What pooling gave.

    ``told``: as it is kept (:func:`spread.firm.pooled.file_of`); ``moved``: whether buildings are to be
    fitted anew, since what one more of them is believed has moved; ``pooled``, ``taught``: what it rests on.
    """

    told: dict[str, Any]
    moved: bool
    pooled: Pooled
    taught: dict[str, Taught]


def learn(
    places: Places, on: dt.date, *, keep: bool = True, draws: int | None = None, workers: int = 1
) -> Lesson:
    """Let all buildings of which a fit is kept teach one another, and keep what they taught.

    ``keep``: whether fits are to rest upon it; else it is only told, from a chain of any length that was run
    before. ``draws``: of the firm, the usual number if None; ``workers``: threads. Raises SpreadError where
    buildings are too few.
    """
    found = ((key, of_text(key, places.beside(key, TAUGHT_FILE))) for key in places.keys())  # noqa: SIM118
    each = {key: one for key, one in found if one is not None}
    draws = draws or KEPT
    pooled = joined(places, enough(each), on, draws, least=draws if keep else 1, workers=workers)
    taught = {key: of_quantities(one, pooled.quantities) for key, one in each.items()}
    before = places.own(POOLED_FILE)
    known = experience_of(before)
    new = beliefs_of(pooled)
    moved = known is None or has_moved(new, dict(known.believed))
    rounds = int(json.loads(before).get("rounds", 0)) if known else 0
    told = file_of(pooled, new if known is None or moved else dict(known.believed), on, rounds=rounds + moved)
    by_person = work_codes.pools_by_person(places)
    used = json.loads(before).get("persons") if known else None
    persons = work_codes.persons_of(places) if by_person else None
    if has_moved(persons_believed(persons), persons_believed(used)):
        moved = True
    else:
        persons = used
    if persons is not None:
        told["persons"] = persons
    if keep:
        places.keep_own(POOLED_FILE, text_of(told))
        if not by_person:
            work_codes.forget(places)
    return Lesson(told, moved, pooled, taught)


def _lost(key: str, why: str) -> Outcome:
    return Outcome(key, "failed", problem=f"{key}: {why}.")


def states_of(places: Places, asked: Asked) -> tuple[State, ...]:
    """Return how every building stands; nothing is fitted, and no log is read."""
    keys = places.keys()
    return tuple(_state(places, key, asked) for key in keys)


def _state(places: Places, key: str, asked: Asked) -> State:
    try:
        kept = of_bytes(places.beside(key, POSTERIOR_FILE))
        mark = mark_of(places, key, asked)
    except (OSError, ValueError):
        return State(key, "unread")
    if kept is None:
        return State(key, "never")
    state = "fresh" if is_fresh(kept.stamp, mark, asked) else "changed"
    return State(key, state, kept.stamp.on, len(kept.units), kept.diagnostics.good)

"""A run over all of a firm's buildings, and how each of them stands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from spread.firm.cluster import each, workers
from spread.firm.fitting import Asked, Outcome, fit_one, is_fresh, mark_of
from spread.firm.keeping import of_bytes
from spread.firm.places import Places


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


def _lost(key: str, why: str) -> Outcome:
    return Outcome(key, "failed", problem=f"{key}: {why}.")


def states_of(places: Places, asked: Asked) -> tuple[State, ...]:
    """Return how every building stands; nothing is fitted, and no log is read."""
    keys = places.keys()
    return tuple(_state(places, key, asked) for key in keys)


def _state(places: Places, key: str, asked: Asked) -> State:
    try:
        kept = of_bytes(places.kept(key))
        mark = mark_of(places, key, asked)
    except (OSError, ValueError):
        return State(key, "unread")
    if kept is None:
        return State(key, "never")
    state = "fresh" if is_fresh(kept, mark, asked) else "changed"
    return State(key, state, kept.stamp.on, len(kept.units), kept.diagnostics.good)

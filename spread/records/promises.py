"""Every list of doors that was made, with what it promised, kept to be held against what was then found.

A folder keeps them in ``records.csv.promises`` beside the log, in the form of the log's journal
(:mod:`spread.records.journal`): lines are only ever added, and each covers the one before it. Nobody is
named in it: units, chances, and which screen or command made the list.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import NamedTuple, Protocol

from spread.records.texts import FolderTexts, Text

SUFFIX = ".promises"
DIGITS = 4
"""Digits of a kept chance."""


class Promised(NamedTuple):
    """What a list said of one unit."""

    unit: str
    chance: float  #: Chance that it is infested
    find: float  #: Chance of a find by the list's method on the list's day, as the list shows it
    yes: float  #: The same with false finds: the chance that such a look is written down as a find


@dataclass(frozen=True)
class Promise:
    """One list of doors.

    Parameters
    ----------
    on
        Its day.
    made_by
        The screen or command that made it, such as ``doors`` or ``plan``; never a person.
    method
        How the list says to look.
    seed
        Seed of the posterior.
    log
        What the posterior knew: how many rows, and a digest of their ids.
    rows
        The units in the list's order.
    known
        Ids of rows of these units, of the list's day or later, that were on record when it was made: the list
        is never graded by them, whatever order the log is in.
    """

    on: dt.date
    made_by: str
    method: str
    seed: int
    log: str
    rows: tuple[Promised, ...]
    known: frozenset[str] = frozenset()

    @cached_property
    def id(self) -> str:
        """The same for lists of one day with the same facts, whoever makes them."""
        said = json.dumps([self.on.isoformat(), self.method, self.rows])
        return hashlib.blake2b(said.encode(), digest_size=10).hexdigest()

    @cached_property
    def by_unit(self) -> dict[str, Promised]:
        """What it says, by unit."""
        return {row.unit: row for row in self.rows}


class Promises(Protocol):
    """Where the lists of one building are kept."""

    def keep(self, promise: Promise) -> None:
        """Keep a list that is not kept yet. Raises RecordError where it cannot be."""

    def all(self) -> tuple[Promise, ...]:
        """Return every list that can be read, in the order in which they were made."""

    @property
    def can_keep(self) -> bool:
        """Whether lists can be kept here, as far as can be told without trying."""

    @property
    def broken(self) -> int:
        """How many lines cannot be read or do not follow from the line before."""


class FolderPromises:
    """The lists of a folder; safe in several threads and beside other programs.

    Parameters
    ----------
    log
        The building's ``records.csv``; writers of lists take turns with those of rows.
    """

    def __init__(self, log: Path) -> None:
        self._texts = FolderTexts(log, SUFFIX, "the list")
        self._read: dict[str, Promise | None] = {}

    def keep(self, promise: Promise) -> None:
        """Keep a list; it is on the disk when this returns."""
        self._texts.keep(Text(promise.id, text_of_promise(promise)))
        self._read[promise.id] = promise

    def all(self) -> tuple[Promise, ...]:
        """Return every list that can be read, in the order in which they were made."""
        texts = self._texts.all()
        for id_, body in texts:
            if id_ not in self._read:
                self._read[id_] = promise_of_text(body)
        return tuple(told for id_, _ in texts if (told := self._read[id_]) is not None)

    @property
    def can_keep(self) -> bool:
        """Whether the folder and the file can be written."""
        return self._texts.can_keep

    @property
    def broken(self) -> int:
        """How many lists cannot be read, and one more where somebody changed the file."""
        return sum(one is None for one in self._read.values()) + self._texts.broken


def text_of_promise(promise: Promise) -> str:
    """Return a list as JSON."""
    told = {
        "id": promise.id, "on": promise.on.isoformat(), "by": promise.made_by, "method": promise.method,
        "seed": promise.seed, "log": promise.log, "units": promise.rows, "known": sorted(promise.known),
    }  # fmt: skip
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"))


def promise_of_text(text: str) -> Promise | None:
    """Return a list from its JSON; None where it cannot be read: somebody else wrote in the file."""
    try:
        told = json.loads(text)
        rows = tuple(Promised(str(unit), *map(float, figures)) for unit, *figures in told["units"])
        promise = Promise(
            dt.date.fromisoformat(told["on"]),
            str(told["by"]),
            str(told["method"]),
            int(told["seed"]),
            str(told["log"]),
            rows,
            frozenset(map(str, told["known"])),
        )
    except (ValueError, TypeError, KeyError, OverflowError):
        return None
    chances = all(0.0 <= figure <= 1.0 for row in rows for figure in row[1:])
    return promise if chances else None

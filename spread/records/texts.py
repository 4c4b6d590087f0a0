"""Texts that are kept beside a log and never changed: the lists that were made, the programmes accepted.

A folder keeps them in a file beside the log, in the form of the log's journal
(:mod:`spread.records.journal`): lines are only ever added, and each covers the one before it. A text is a
JSON object with an ``id``.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple, Protocol

from spread.errors import RecordError
from spread.records.disk import turn
from spread.records.journal import Journal

PATIENCE = 2.0
"""Seconds that a text waits for another writer before it goes without being kept."""
PROGRAMMES = ".programmes"
"""End of the name of the file of accepted programmes."""


class Text(NamedTuple):
    """A text to keep: its id, and the JSON object that has it."""

    id: str
    body: str


class Texts(Protocol):
    """Where the texts of one kind of one building are kept."""

    def keep(self, text: Text) -> None:
        """Keep a text that is not kept yet. Raises RecordError where it cannot be."""

    def all(self) -> tuple[Text, ...]:
        """Return every text in the order in which they were kept."""

    @property
    def broken(self) -> bool:
        """Whether somebody changed what was kept."""


class FolderTexts:
    """The texts of one kind of a folder; safe in several threads and beside other programs.

    ``log``: the building's ``records.csv``; writers of texts take turns with those of rows. ``suffix``: end
    of the file's name. ``what``: what a text is called where it cannot be kept.
    """

    def __init__(self, log: Path, suffix: str, what: str) -> None:
        self._log, self._what = log, what
        self._journal = Journal(log.with_name(log.name + suffix))
        self._lock = threading.Lock()

    def keep(self, text: Text) -> None:
        """Keep a text; it is on the disk when this returns."""
        self.keep_all([text])

    def keep_all(self, texts: Iterable[Text]) -> None:
        """Keep texts, those that are kept already left out."""
        file = self._journal.path.name
        with self._lock:
            try:
                self._journal.catch_up()
                if not (new := self._new(texts)):
                    return
                with turn(self._log, file, PATIENCE):
                    self._journal.catch_up()
                    if new := self._new(new):
                        self._journal.add_texts([text.body for text in new])
            except OSError as error:
                what = f"{self._what} could not be kept ({error.strerror})"
                raise RecordError.at(file, "", what, "make the folder writable") from None

    def _new(self, texts: Iterable[Text]) -> list[Text]:
        return [text for text in texts if text.id not in self._journal.known]

    def all(self) -> tuple[Text, ...]:
        """Return every text in the order in which they were kept; empty where the file cannot be read."""
        with self._lock:
            try:
                self._journal.catch_up()
            except OSError:
                return ()
            return tuple(Text(id_, body) for id_, body in self._journal.known.items())

    @property
    def can_keep(self) -> bool:
        """Whether the folder and the file can be written."""
        path = self._journal.path
        return os.access(path.parent, os.W_OK) and (not path.exists() or os.access(path, os.W_OK))

    @property
    def broken(self) -> bool:
        """Whether somebody changed the file."""
        return self._journal.broken > 0


def folder_programmes(log: Path) -> FolderTexts:
    """Return the accepted programmes of a folder."""
    return FolderTexts(log, PROGRAMMES, "the programme")

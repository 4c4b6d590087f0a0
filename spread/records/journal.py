"""What is known of a log: every row that was ever taken in, beside the file that people edit.

``records.csv`` is open to everybody: a spreadsheet saves it late, a sync puts an older copy in its place.
The journal, ``records.csv.known``, is written by this program alone and only ever grows. Its lines are JSON
lists: a hash, a sign and a payload. ``+`` takes a row in, ``-`` lets rows go that somebody chose to let go.
The hash of a line covers the line before it, so that none can be taken out or changed without a trace.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from spread.records.cells import to_fields
from spread.records.disk import append_bytes
from spread.records.kinds import Record

SUFFIX = ".known"
_START = "0" * 32


def journal_of(path: Path) -> Path:
    """Return the journal beside a log."""
    return path.with_name(path.name + SUFFIX)


def text_of(record: Record) -> str:
    """Return a row in the one form in which rows are compared: its fields that are not empty, as JSON."""
    return text_of_fields(to_fields(record))


def text_of_fields(fields: Mapping[str, str]) -> str:
    """Return the same of a row's fields."""
    filled = {name: text for name, text in fields.items() if text}
    return json.dumps(filled, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


@dataclass
class Journal:
    """The rows known of one log, as far as the file beside it tells."""

    path: Path  #: The journal's file; missing where nothing is known yet
    #: Rows in the form of :func:`text_of`, by id, in the order in which they came in
    known: dict[str, str] = field(default_factory=dict)
    gone: set[str] = field(default_factory=set)  #: Ids that somebody chose to let go
    lines: int = 0  #: How many lines the journal has
    #: The first line whose hash does not follow from the line before it, or 0. Rows of it and after it are
    #: known all the same; that somebody changed the journal is told.
    broken: int = 0
    _head: str = _START
    _place: tuple[int, int] = (0, 0)
    _owed: dict[str, str] = field(default_factory=dict)

    def catch_up(self) -> None:
        """Read what other programs have added.

        A journal that was taken away or put back to an older copy makes nothing forgotten: what is known here
        is written to it again with the next row.
        """
        size, inode = _place_of(self.path)
        if (size, inode) == self._place:
            return
        if size < self._place[0] or inode != self._place[1]:
            other = Journal(self.path)
            if size:
                other._read_on(inode)
            owed = {
                id_: text for id_, text in self.known.items() if id_ not in other.gone | other.known.keys()
            }
            self.__dict__.update(other.__dict__, known={**other.known, **owed}, _owed=owed)
        else:
            self._read_on(inode)

    def add(self, rows: Iterable[Record]) -> None:
        """Take rows in and wait for the disk."""
        self.add_texts(map(text_of, rows))

    def add_texts(self, texts: Iterable[str]) -> None:
        """Take in what is kept as a JSON object with an ``id``, and wait for the disk."""
        self._write([("+", text) for text in texts])

    def let_go(self, ids: Collection[str], *, why: str, when: dt.datetime) -> None:
        """Let rows go because somebody chose so; that, too, stays written."""
        payload = {"ids": sorted(ids), "why": why, "when": when.isoformat(timespec="seconds")}
        self._write([("-", json.dumps(payload, ensure_ascii=False))])

    def verify(self) -> int:
        """Read the whole journal again from the disk; return the first line that does not follow, or 0."""
        again = Journal(self.path)
        again.catch_up()
        return again.broken

    def _read_on(self, inode: int) -> None:
        with self.path.open("rb") as stream:
            stream.seek(self._place[0])
            data = stream.read()
        whole = data[: data.rfind(b"\n") + 1]  # a line without its end was cut off by a kill; it was not said
        for line in whole.splitlines():
            self._take(line)
        self._place = (self._place[0] + len(whole), inode)

    def _write(self, entries: list[tuple[str, str]]) -> None:
        entries = [*(("+", text) for text in self._owed.values()), *entries]
        if not entries:
            return
        if _place_of(self.path)[0] > self._place[0]:
            os.truncate(self.path, self._place[0])  # the beginning of a line that a kill cut off
        heads, out = self._head, []
        for sign, payload in entries:
            heads = _hash(heads, sign, payload)
            out.append(json.dumps([heads, sign, payload], ensure_ascii=False).encode() + b"\n")
        append_bytes(self.path, b"".join(out), self._place[0], self.path.name)
        for line in out:
            self._take(line)
        self._owed, self._place = {}, _place_of(self.path)

    def _take(self, line: bytes) -> None:
        self.lines += 1
        try:
            head, sign, payload = json.loads(line)
            told = json.loads(payload)
            if sign == "+":
                id_ = str(told["id"])
                self.known[id_] = payload
                self.gone.discard(id_)
            else:
                for id_ in told["ids"]:
                    self.known.pop(id_, None)
                    self.gone.add(id_)
        except (ValueError, TypeError, KeyError):
            self.broken = self.broken or self.lines
            return
        if head != _hash(self._head, sign, payload):
            self.broken = self.broken or self.lines
        self._head = str(head)


def _place_of(path: Path) -> tuple[int, int]:
    try:
        stat = path.stat()
    except FileNotFoundError:
        return 0, 0
    return stat.st_size, stat.st_ino


def _hash(before: str, sign: str, payload: str) -> str:
    # A journal that somebody changed may hold half a character: it is told as broken and trips nothing.
    told = f"{before}{sign}{payload}".encode("utf-8", "surrogatepass")
    return hashlib.blake2b(told, digest_size=16).hexdigest()

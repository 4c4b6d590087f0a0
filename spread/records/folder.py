"""The log of a folder, guarded: what was known never disappears without a word.

People and programs may edit ``records.csv``; the journal beside it knows every row that was ever taken in.
Where the file lacks a known row, or says something else under its id, work goes on with what is known, the
rows are written to ``records.lost.csv``, and a person chooses: put them back, or take the file as it is.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import threading
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from spread.errors import Problem, RecordError
from spread.files import write_whole
from spread.records.cells import columns_for, header, to_fields, to_line
from spread.records.disk import append_bytes, read_bytes, replace_bytes, turn
from spread.records.identity import identity_of
from spread.records.items import finding_problems
from spread.records.jobs import job_problems
from spread.records.journal import Journal, journal_of, text_of
from spread.records.kinds import Record
from spread.records.log import Log, chain_problems
from spread.records.parse import as_problems, record_from_fields
from spread.records.photographs import is_name
from spread.records.promises import FolderPromises
from spread.records.sense import shown
from spread.records.table import SIZE_LIMIT, Form, TableRead, listed, read_rows, widened
from spread.records.texts import folder_programmes

LOST_SUFFIX = ".lost.csv"
Sign = tuple[int, int, int]
"""Size, time of change and inode: what differs when another program has written the file."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """What a log's file no longer holds, or can no longer be read."""

    file: str  #: Name of the log's file
    lost: tuple[Record, ...] = ()  #: Known rows that the file lacks
    #: Known rows under whose id the file says something else; these are the rows as known
    altered: tuple[Record, ...] = ()
    unread: tuple[Problem, ...] = ()  #: What of the file cannot be read, row by row, and is no known row
    misread: tuple[Problem, ...] = ()  #: Why altered rows cannot be read, row by row
    beside: str = ""  #: Name of the file that holds the lost and the altered rows
    journal_broken: int = 0  #: The first line of the journal that somebody changed, or 0


class Seen:
    """The bytes of a file as they were last read or written: how many, and their hash, which can go on."""

    def __init__(self, data: bytes = b"") -> None:
        self.size = len(data)
        self._hash = hashlib.blake2b(data)
        self._ends = data.endswith(b"\n")

    def add(self, data: bytes) -> None:
        """Take in bytes at the end."""
        self.size += len(data)
        self._hash.update(data)
        self._ends = data.endswith(b"\n")

    def tail(self, data: bytes) -> bytes | None:
        """Return what a file has more at its end; None where anything else is different."""
        same = self._ends and hashlib.blake2b(data[: self.size]).digest() == self._hash.digest()
        return data[self.size :] if same else None


class FolderStore:
    """The guarded log of one folder; safe in several threads and beside other programs.

    Parameters
    ----------
    path : The building's ``records.csv``; made with its header when the first row is added
    units : Unit codes of the plan
    shown_as : How messages name the file; its name if None

    Raises
    ------
    RecordError
        With every problem of the file where no known row is in danger: somebody has written rows that
        cannot be read. Where known rows are missing, work goes on and :attr:`trouble` tells all.
    """

    def __init__(self, path: str | Path, units: Collection[str], *, shown_as: str | None = None) -> None:
        self.path = Path(path)
        self.file = shown_as or self.path.name
        self.promises = FolderPromises(self.path)
        self.programmes = folder_programmes(self.path)
        self._units = units
        self._lock = threading.RLock()
        self._journal = Journal(journal_of(self.path))
        self._sign: Sign | None = None
        self._seen = Seen()
        self._form: Form | None = None
        self._log = Log(file=self.file)
        self._trouble: Trouble | None = None
        with self._turn_if_ours() as ours:
            self._sync(ours=ours, strict=True)

    @property
    def log(self) -> Log:
        """Everything known."""
        return self._log

    @property
    def trouble(self) -> Trouble | None:
        """What the file lacks or no longer says; None where all is well."""
        return self._trouble

    @cached_property
    def identity(self) -> str:
        """The id of the folder's building; see :mod:`spread.records.identity`."""
        return identity_of(self.path)

    def refresh(self) -> bool:
        """Take in what other programs did; return whether anything changed.

        Costs a look at the file's size and time where nothing has changed. Rows that cannot be read are no
        reason to stop: they come in :attr:`trouble`.
        """
        with self._lock:
            if self._sign == _sign_of(self.path):
                return False
            before = self._log, self._trouble
            with self._turn_if_ours() as ours:
                self._sync(ours=ours)
            return before != (self._log, self._trouble)

    def append(self, record: Record, *, today: dt.date | None = None) -> bool:
        """Add a row; it is on the disk when this returns.

        A row that is known already is not added again, so a caller who does not know whether an attempt went
        through repeats it with the same id.

        ``record``: the row, its id given by the caller; ``today``: a row dated more than a day after it is
        refused; None leaves that check out. Raises RecordError with every problem of the row; the file is
        then unchanged.

        Returned: whether the row was new.
        """
        if wrong := [*finding_problems(record.items), *job_problems(record.job)]:
            raise RecordError(as_problems(wrong, self.file, "new row"))
        # Through the same door as a row of the file: what is written can be read, and means the same.
        fields = to_fields(record)
        record = record_from_fields(fields, self._units, file=self.file, where="new row", today=today)
        with self._lock, turn(self.path, self.file):
            self._sync()
            longer = self._log.with_row(record)
            if longer is self._log:
                return False
            self._write([record])
            self._log = longer
            return True

    def extend(self, records: Sequence[Record]) -> None:
        """Add rows of elsewhere, all of them or none; they were weighed against :attr:`log` beforehand."""
        with self._lock, turn(self.path, self.file):
            self._sync()
            fresh = [row for row in records if row.id not in self._log.by_id]
            longer = self._log.longer(fresh)
            problems = chain_problems(
                longer.rows, longer.by_id.keys(), lambda row: f"row {shown(row.id)}", self.file
            )
            if problems:
                raise RecordError(problems)
            if fresh:
                self._write(fresh)
                self._log = longer

    def photograph(self, name: str) -> bytes | None:
        """Return a photograph by the name that a row has for it; None where none is kept."""
        path = self.path.parent / name
        return path.read_bytes() if is_name(name) and path.is_file() else None

    def keep_photograph(self, name: str, data: bytes) -> bool:
        """Keep a photograph once; return whether it was new. What is kept under a name stays."""
        path = self.path.parent / name
        with self._lock:
            if path.is_file():
                return False
            path.parent.mkdir(exist_ok=True)
            write_whole(path, data, error=RecordError)
            return True

    def put_back(self) -> int:
        """Write the file anew with every known row in it; return how many rows came back.

        The file as it was is kept beside it under a name that says when.
        """
        with self._lock, turn(self.path, self.file):
            self._sync()
            trouble = self._trouble
            if trouble is None:
                return 0
            self._keep_aside()
            data = as_file(self._log.rows)
            self.path.touch()
            replace_bytes(self.path, data, self.file)
            self._lost_file().unlink(missing_ok=True)
            self._sign = None
            self._sync()
            return len(trouble.lost) + len(trouble.altered)

    def accept(self, *, why: str = "the file was taken as it is") -> int:
        """Take the file as it is; return how many known rows are let go or changed by that.

        The journal keeps that this was chosen, and the rows stay beside the file under a name that says when.

        Raises RecordError when the file cannot be read, or corrects rows that it lacks.
        """
        with self._lock, turn(self.path, self.file):
            self._sign = None
            self._sync()
            trouble = self._trouble
            if trouble is None:
                return 0
            if trouble.unread:
                raise RecordError(list(trouble.unread))
            read = self._read_file()
            rows = read.rows
            problems = [fault.problem for fault in read.faults] or _chained(
                list(rows.values()), read, self.file
            )
            if problems:
                raise RecordError(listed(problems, self.file))
            gone = [row.id for row in (*trouble.lost, *trouble.altered)]
            now = dt.datetime.now(dt.UTC)
            self._journal.let_go(gone, why=why, when=now)
            self._journal.add(read.rows[row.id] for row in trouble.altered if row.id in read.rows)
            lost = self._lost_file()
            if lost.exists():
                lost.replace(lost.with_name(f"{self.path.stem}.let-go-{now:%Y%m%dT%H%M%SZ}.csv"))
            self._sign = None
            self._log = Log(file=self.file)
            self._sync()
            return len(gone)

    def beside(self, name: str) -> bytes:
        """Return a file of the log's folder; empty where there is none."""
        return read_bytes(self.path.with_name(name), name)

    def keep_beside(self, name: str, text: str | bytes) -> None:
        """Write a file of the log's folder, whole or not at all."""
        write_whole(self.path.with_name(name), text)

    def _sync(self, *, ours: bool = True, strict: bool = False) -> None:
        """Bring log, journal and trouble in line with the file; cheap where nothing has changed."""
        sign = _sign_of(self.path)
        if sign == self._sign:
            return
        self._journal.catch_up()
        data = read_bytes(self.path, self.file)
        tail = self._seen.tail(data) if ours and self._sign and self._form and not self._trouble else None
        self._seen = Seen(data)
        if tail is not None and self._grown(data, tail):
            self._sign = sign
            return
        read = read_rows(data, self._units, file=self.file)
        known = self._journal.known
        faults = {fault.id for fault in read.faults}
        altered = [id_ for id_, text in known.items() if id_ in faults or _differs(read.rows.get(id_), text)]
        lost = [id_ for id_ in known if id_ not in read.rows and id_ not in faults]
        recalled, unread = self._recall({id_: known[id_] for id_ in (*lost, *altered)})
        fresh = {id_: row for id_, row in read.rows.items() if id_ not in known}
        rows = {**read.rows, **recalled}
        unread += [fault.problem for fault in read.faults if fault.id not in known]
        if chained := _chained(list(rows.values()), read, self.file):
            unread += chained
            fresh = {id_: row for id_, row in fresh.items() if not row.supersedes}
            rows = {id_: row for id_, row in rows.items() if id_ in known or id_ in fresh}
        if unread and strict and not (lost or altered):
            raise RecordError(listed(unread, self.file))
        if ours:
            self._journal.add(fresh.values())
        self._log = Log(tuple(rows.values()), self.file)
        self._form, self._sign = read.form, sign
        gone = tuple(recalled[id_] for id_ in lost if id_ in recalled)
        changed = tuple(recalled[id_] for id_ in altered if id_ in recalled)
        if gone or changed or unread or self._journal.broken:
            beside = self._set_aside((*gone, *changed)) if ours else ""
            misread = tuple(fault.problem for fault in read.faults if fault.id in known)
            told = Trouble(self.file, gone, changed, tuple(unread), misread, beside, self._journal.broken)
            self._trouble = told
        else:
            self._trouble = None

    def _grown(self, data: bytes, tail: bytes) -> bool:
        """Take in rows that other programs have added at the end, and do not read the others again.

        Return False, with nothing done, where that is not all that happened: then the whole file is read.
        """
        head = data[: data.index(b"\n") + 1]
        read = read_rows(head + tail, self._units, file=self.file)
        log, known = self._log, self._journal.known
        try:
            for row in read.rows.values():
                log = log.with_row(row)
        except RecordError:
            return False
        more = [row for row in log.rows[len(self._log) :] if row.id not in known]
        told = all(not _differs(row, known.get(id_, text_of(row))) for id_, row in read.rows.items())
        whole = len(known) + len(more) == len(log) and not self._journal.broken
        if read.faults or read.form != self._form or not told or not whole:
            return False
        self._journal.add(more)
        self._log = log
        return True

    def _read_file(self) -> TableRead:
        return read_rows(read_bytes(self.path, self.file), self._units, file=self.file)

    def _recall(self, texts: Mapping[str, str]) -> tuple[dict[str, Record], list[Problem]]:
        """Return known rows as records, and what is wrong with those that the plan no longer takes."""
        rows: dict[str, Record] = {}
        wrong: list[Problem] = []
        for id_, text in texts.items():
            try:
                rows[id_] = record_from_fields(
                    json.loads(text), self._units, file=self.file, where=f"row {shown(id_)} as known"
                )
            except RecordError as error:
                wrong += error.problems
        return rows, wrong

    def _write(self, rows: Sequence[Record]) -> None:
        """Put rows on the disk: in the file where it can be read, and in the journal."""
        told = [to_fields(row) for row in rows]
        form, size = self._form, _sign_of(self.path)[0]
        whole = self._write_to_file(told) if form is not None else None
        try:
            self._journal.add(rows)
        except RecordError:
            self._form, self._sign = (
                form,
                None,
            )  # what is said not to be kept does not stand in the file either
            if whole is not None:
                replace_bytes(self.path, whole, self.file)
            elif form is not None:
                os.truncate(self.path, size)
            raise
        self._sign = _sign_of(self.path) if form is not None else None

    def _write_to_file(self, told: Sequence[Mapping[str, str]]) -> bytes | None:
        """Add rows to the file; return what it held where it had to be written anew."""
        form = self._form or Form()
        needed = {name: text for fields in told for name, text in fields.items() if text}
        columns = columns_for(needed, form.columns)
        size = self.path.stat().st_size if self.path.exists() else 0
        fresh = not form.columns
        wide = not fresh and columns != form.columns
        text = header(columns) if fresh else ""
        spare = max(0, form.spare - (len(columns) - len(form.columns))) if not fresh else 0
        text += "".join(to_line(fields, columns, form.separator, spare) for fields in told)
        data = text.encode()
        if size + len(data) > SIZE_LIMIT:
            raise RecordError(Problem(self.file, "", "the file is full", "start a new one and keep this"))
        before = None
        if wide:
            before = read_bytes(self.path, self.file)
            whole = widened(before, columns[len(form.columns) :])
            data = (whole if whole.endswith((b"\n", b"\r")) else whole + b"\n") + data
            replace_bytes(self.path, data, self.file)
            self._seen = Seen(data)
        else:
            if size and not fresh and not _ends_a_line(self.path):
                data = b"\n" + data
            append_bytes(self.path, data, size, self.file)
            self._seen.add(data)
        self._form = replace(form, columns=columns, spare=spare)
        return before

    def _set_aside(self, rows: Sequence[Record]) -> str:
        """Write lost rows beside the log, where they are not there already; return the file's name."""
        path = self._lost_file()
        if not rows:
            return ""
        data = as_file(rows)
        if not path.exists() or path.read_bytes() != data:
            write_whole(path, data.decode())
        return path.name

    def _lost_file(self) -> Path:
        return self.path.with_suffix(LOST_SUFFIX)

    @contextmanager
    def _turn_if_ours(self) -> Iterator[bool]:
        """Hold the log's lock where the folder can be written; say whether it is held."""
        with ExitStack() as held:
            try:
                held.enter_context(turn(self.path, self.file))
                ours = True
            except RecordError:
                ours = False
            yield ours

    def _keep_aside(self) -> None:
        """Keep the file as it is under a name that says when."""
        if self.path.exists():
            now = f"{dt.datetime.now(dt.UTC):%Y%m%dT%H%M%SZ}"
            aside = self.path.with_name(f"{self.path.stem}.before-{now}.csv")
            write_whole(aside, read_bytes(self.path, self.file))


def as_file(rows: Sequence[Record]) -> bytes:
    """Return rows as the bytes of a log of their own."""
    told = [to_fields(row) for row in rows]
    columns = columns_for({name: text for fields in told for name, text in fields.items() if text})
    return (header(columns) + "".join(to_line(fields, columns) for fields in told)).encode()


def _chained(rows: list[Record], read: TableRead, file: str) -> list[Problem]:
    ids = {row.id for row in rows} | read.where.keys()
    return chain_problems(
        rows,
        ids,
        lambda row: f"line {read.where[row.id]}" if row.id in read.where else f"row {shown(row.id)}",
        file,
    )


def _differs(row: Record | None, text: str) -> bool:
    return row is not None and text_of(row) != text


def _ends_a_line(path: Path) -> bool:
    with path.open("rb") as stream:
        stream.seek(-1, os.SEEK_END)
        return stream.read() in (b"\n", b"\r")


def _sign_of(path: Path) -> Sign:
    try:
        stat = path.stat()
    except FileNotFoundError:
        return 0, 0, 0
    return stat.st_size, stat.st_mtime_ns, stat.st_ino

"""The people of one building, in private files of its folder."""

from __future__ import annotations

import datetime as dt
import json
import os
import secrets
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.files import write_whole
from spread.people.kept import BY_COMMAND, LASTS, Deed, digest, new_token, said
from spread.people.roles import ROLES, Person
from spread.records.lock import hold

PEOPLE_FILE = "people.json"
SIGN_INS_FILE = "sign-ins.json"
AUDIT_FILE = "audit.jsonl"
KEY_BYTES = 32
_PATIENCE = 10.0
_BEFORE_ROLES = ("manager", "administrator")
"""What somebody is whom a file of an earlier version lists: everybody might do everything then."""


@dataclass(frozen=True, slots=True)
class Roll:
    """What the file says: the key that signs the cookies, and people by their code."""

    key: str
    people: Mapping[str, Person]


class FolderPeople:
    """The people of a building as its files say now; see :class:`spread.people.kept.People`.

    A people file that is gone or spoilt while the building is served lets nobody in.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.RLock()
        self._seen: dict[str, tuple[int, int, int]] = {}
        self._roll: Roll | None = None
        self._open: dict[str, tuple[str, str]] = {}

    def key(self) -> str | None:
        """Return the secret that signs cookies; None if nobody can sign in now."""
        roll = self._now()
        return roll.key if roll else None

    def everyone(self) -> Mapping[str, Person]:
        """Return everybody by code."""
        roll = self._now()
        return roll.people if roll else {}

    def keep(self, person: Person, *, by: str = BY_COMMAND) -> bool:
        """Keep somebody, new or changed; end their sign-ins if the hash is another. Return whether new."""

        def change(roll: Roll) -> Roll:
            return replace(roll, people={**roll.people, person.code: person})

        before = self._changed(change).people.get(person.code)
        if before and before.hash != person.hash:
            self._end(lambda code: code == person.code)
        self.note(by, "person kept", detail=f"{person.code}: {said(person)}")
        return before is None

    def take_out(self, code: str, *, by: str = BY_COMMAND) -> None:
        """Take somebody out; what they recorded stays, with their code.

        Raises
        ------
        SettingsError
            If there is nobody of this code.
        """

        def change(roll: Roll) -> Roll:
            if code not in roll.people:
                raise nobody_of(code, roll.people)
            return replace(roll, people={name: one for name, one in roll.people.items() if name != code})

        self._changed(change)
        self._end(lambda other: other == code)
        self.note(by, "person taken out", detail=code)

    def sign_in(self, code: str) -> str:
        """Open a sign-in and return its token."""
        token, now = new_token(), dt.datetime.now(dt.UTC)
        with self._lock, self._held(SIGN_INS_FILE):
            kept = {key: one for key, one in self._sign_ins().items() if one[1] > now.isoformat()}
            self._keep_sign_ins({**kept, digest(token): (code, (now + LASTS).isoformat())})
        return token

    def signed_in(self, token: str) -> Person | None:
        """Return who has this sign-in, as they are kept now; None if it has ended."""
        with self._lock:
            code, ends = self._sign_ins().get(digest(token), ("", ""))
        return self.everyone().get(code) if ends > dt.datetime.now(dt.UTC).isoformat() else None

    def sign_out(self, token: str) -> None:
        """End one sign-in."""
        with self._lock, self._held(SIGN_INS_FILE):
            kept = dict(self._sign_ins())
            if kept.pop(digest(token), None):
                self._keep_sign_ins(kept)

    def end_all(self, code: str, *, by: str = BY_COMMAND) -> None:
        """End every sign-in of somebody."""
        self._end(lambda other: other == code)
        self.note(by, "sign-ins ended", detail=code)

    def note(self, who: str, what: str, building: str = "", detail: str = "") -> None:
        """Add a line to the audit."""
        line = {"when": dt.datetime.now(dt.UTC).isoformat(), "who": who, "what": what}
        line |= {"building": building, "detail": detail}
        data = (json.dumps(line) + "\n").encode()
        handle = os.open(self._folder / AUDIT_FILE, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        try:
            os.write(handle, data)  # one write: lines of two programs do not run into one another
            os.fsync(handle)
        finally:
            os.close(handle)

    def deeds(self, most: int = 500) -> Sequence[Deed]:
        """Return the latest lines of the audit, the newest first."""
        try:
            lines = (self._folder / AUDIT_FILE).read_text(encoding="utf-8", errors="replace").splitlines()
        except FileNotFoundError:
            return ()
        found = []
        for line in reversed(lines[-most:]):
            try:
                one = json.loads(line)
                when = dt.datetime.fromisoformat(one["when"])
            except (ValueError, KeyError, TypeError):  # half a line, after a power cut
                continue
            found.append(Deed(when, *(str(one.get(k, "")) for k in ("who", "what", "building", "detail"))))
        return found

    def _now(self) -> Roll | None:
        with self._lock:
            if self._is_new(PEOPLE_FILE):
                try:
                    self._roll = read_roll(self._folder)
                except SettingsError:
                    self._roll = None
            return self._roll

    def _is_new(self, name: str) -> bool:
        """Say whether a file is another than when this was last asked."""
        try:
            stat = (self._folder / name).stat()
            seen = (stat.st_mtime_ns, stat.st_ino, stat.st_size)
        except OSError:
            seen = (0, 0, 0)
        before, self._seen[name] = self._seen.get(name), seen
        return seen != before

    def _sign_ins(self) -> dict[str, tuple[str, str]]:
        if self._is_new(SIGN_INS_FILE):
            try:
                told = json.loads((self._folder / SIGN_INS_FILE).read_bytes())
                self._open = {str(key): (str(code), str(ends)) for key, (code, ends) in told.items()}
            except (OSError, ValueError, TypeError, AttributeError):
                self._open = {}  # whoever was signed in signs in again
        return self._open

    def _keep_sign_ins(self, kept: Mapping[str, tuple[str, str]]) -> None:
        path = self._folder / SIGN_INS_FILE
        write_whole(path, json.dumps(kept, indent=1) + "\n", error=SettingsError, mode=0o600)

    def _end(self, ends: Callable[[str], bool]) -> None:
        with self._lock, self._held(SIGN_INS_FILE):
            kept = self._sign_ins()
            left = {key: one for key, one in kept.items() if not ends(one[0])}
            if len(left) < len(kept):
                self._keep_sign_ins(left)

    def _held(self, name: str) -> AbstractContextManager[None]:
        return hold(self._folder / f".{name}.lock", _PATIENCE)

    def _changed(self, change: Callable[[Roll], Roll]) -> Roll:
        """Change the file under a lock, whole or not at all; return what it said before."""
        path = self._folder / PEOPLE_FILE
        try:
            with self._held(PEOPLE_FILE):
                before = read_roll(self._folder) or Roll(secrets.token_hex(KEY_BYTES), {})
                after = change(before)
                people = {
                    code: {"hash": p.hash, "since": p.since, "roles": p.roles, "sees_units": p.sees_units}
                    for code, p in sorted(after.people.items())
                }
                text = json.dumps({"key": after.key, "people": people}, indent=1)
                write_whole(path, text + "\n", error=SettingsError, mode=0o600)
        except OSError as error:
            reason = (error.strerror or "another program is changing it").lower()
            raise _trouble(f"it cannot be written ({reason})", "check that the folder is yours") from None
        return before


def nobody_of(code: str, people: Mapping[str, Person]) -> SettingsError:
    """Return what is raised where there is nobody of a code."""
    known = ", ".join(sorted(people)) or "nobody"
    return SettingsError(Problem("spread people", code, f"there is no {code}", f"choose among: {known}"))


def read_roll(folder: Path) -> Roll | None:
    """Return who may sign in to a building; None if it has no people file.

    Raises
    ------
    SettingsError
        If the file cannot be read, is not what :class:`FolderPeople` writes, or is open to others.
    """
    path = folder / PEOPLE_FILE
    try:
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            data = file.read()
    except FileNotFoundError:
        return None
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise _trouble(f"it cannot be read ({reason})", "check whose file it is") from None
    if os.name == "posix" and mode & 0o077:
        raise _trouble("others on this machine may read or change it", f"run chmod 600 on {PEOPLE_FILE}")
    try:
        told = json.loads(data)
        people = {code: _person(code, one) for code, one in told["people"].items()}
        key = bytes.fromhex(told["key"])
    except (ValueError, TypeError, KeyError, AttributeError):
        key = b""
    if len(key) < KEY_BYTES:
        fix = "take it away and add everybody again with spread people BUILDING --add CODE"
        raise _trouble("it is not what spread people writes", fix)
    return Roll(key.hex(), people)


def _person(code: str, one: Mapping[str, object]) -> Person:
    roles = one.get("roles", _BEFORE_ROLES)
    if not isinstance(roles, (list, tuple)) or not set(roles) <= set(ROLES):
        raise ValueError(code)
    sees_units = one.get("sees_units", False) is True
    return Person(code, str(one["hash"]), str(one["since"]), tuple(map(str, roles)), sees_units=sees_units)


def _trouble(what: str, fix: str) -> SettingsError:
    return SettingsError(Problem(PEOPLE_FILE, "", what, fix))

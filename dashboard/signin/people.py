"""The people who may sign in: short work codes and the hashes of their pass phrases, in one private file."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import re
import secrets
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from werkzeug.security import check_password_hash, generate_password_hash

from spread.errors import Problem, SettingsError
from spread.files import write_whole
from spread.records.lock import hold

PEOPLE_FILE = "people.json"
SHORTEST = 15
"""Characters of a pass phrase that stands alone: NIST SP 800-63B-4 (2025), section 3.1.1.2, as reported by
secondary sources; so are that no mixture of kinds is asked for, that pasting works."""
LONGEST = 256
FEWEST_DIFFERENT = 6
"""Different characters; refuses ``aaaaaaaaaaaaaaa``. Common practice, no source."""
KEY_BYTES = 32
_CODE = re.compile(r"(?=[A-Z0-9-]*[0-9])[A-Z0-9][A-Z0-9-]{0,7}")
_PATIENCE = 10.0


@dataclass(frozen=True, slots=True)
class Person:
    """A work code with the hash of its pass phrase and the day on which that was set."""

    code: str
    hash: str
    since: str

    @property
    def mark(self) -> str:
        """A short print of the hash: a sign-in is good only while the pass phrase stays the same."""
        return hashlib.sha256(self.hash.encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class Roll:
    """What the file says: the key that signs the cookies, and people by their code."""

    key: str
    people: Mapping[str, Person]


def code_of(text: str) -> str:
    """Return a work code as it is kept: no spaces around it, capital letters."""
    return text.strip().upper()


def check_code(text: str) -> str:
    """Return the work code in a text.

    Raises
    ------
    SettingsError
        If it is none: up to 8 letters, digits and hyphens with a digit among them, which no name has.
    """
    code = code_of(text)
    if not _CODE.fullmatch(code):
        what = f"{text[:40]!r} is no work code"
        fix = "use up to 8 letters and digits with a digit among them, such as T1, and never a person's name"
        raise SettingsError(Problem("spread people", "", what, fix))
    return code


def plain(phrase: str) -> str:
    """Return a pass phrase in the form that is hashed, so that keyboards that compose alike agree."""
    return unicodedata.normalize("NFKC", phrase)


def check_phrase(phrase: str, code: str) -> str:
    """Return a pass phrase that is long enough and not one letter over and over.

    Raises
    ------
    SettingsError
        One sentence, which never repeats what was typed.
    """
    phrase = plain(phrase)
    what = ""
    if len(phrase) < SHORTEST:
        what = f"it is {len(phrase)} long, expected at least {SHORTEST} characters"
    elif len(phrase) > LONGEST:
        what = f"it is {len(phrase)} long, expected at most {LONGEST} characters"
    elif len(set(phrase.upper().replace(code, ""))) < FEWEST_DIFFERENT:
        what = "it repeats too few characters"
    if what:
        fix = "choose four or more words that do not belong together"
        raise SettingsError(Problem("spread people", f"pass phrase of {code}", what, fix))
    return phrase


def read_roll(folder: Path) -> Roll | None:
    """Return who may sign in to a building; None if it has no people file.

    Raises
    ------
    SettingsError
        If the file cannot be read, is not what :func:`add_person` writes, or is open to others.
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
        people = {
            code: Person(code, str(one["hash"]), str(one["since"])) for code, one in told["people"].items()
        }
        key = bytes.fromhex(told["key"])
    except (ValueError, TypeError, KeyError, AttributeError):
        key = b""
    if len(key) < KEY_BYTES:
        fix = "take it away and add everybody again with spread people BUILDING --add CODE"
        raise _trouble("it is not what spread people writes", fix)
    return Roll(key.hex(), people)


def add_person(folder: Path, code: str, phrase: str) -> bool:
    """Keep a person with a checked code and pass phrase; say whether the code is new.

    A code that is there gets the new pass phrase, and whoever is signed in by it has to sign in again.
    """
    person = Person(code, hashed(phrase), dt.date.today().isoformat())

    def change(roll: Roll) -> Roll:
        return replace(roll, people={**roll.people, code: person})

    return code not in _changed(folder, change).people


def remove_person(folder: Path, code: str) -> None:
    """Take a person out; what they recorded stays, with their code.

    Raises
    ------
    SettingsError
        If there is nobody of this code.
    """

    def change(roll: Roll) -> Roll:
        if code not in roll.people:
            known = ", ".join(sorted(roll.people)) or "nobody"
            raise SettingsError(
                Problem("spread people", "--remove", f"there is no {code}", f"choose among: {known}")
            )
        return replace(roll, people={name: one for name, one in roll.people.items() if name != code})

    _changed(folder, change)


def hashed(phrase: str) -> str:
    """Return the hash of a pass phrase: scrypt with a salt of its own, as Werkzeug makes it."""
    return generate_password_hash(phrase, method="scrypt")


def known_by(roll: Roll, code: str, phrase: str) -> Person | None:
    """Return the person of this code and pass phrase; None if there is none.

    An unknown code takes as long as a known one, so that the time of the answer tells nobody who is here.
    """
    person = roll.people.get(code)
    right = check_password_hash(person.hash if person else _nobody(), plain(phrase[:LONGEST]))
    return person if right and len(phrase) <= LONGEST else None


@cache
def _nobody() -> str:
    return hashed(secrets.token_hex(KEY_BYTES))


def _changed(folder: Path, change: Callable[[Roll], Roll]) -> Roll:
    """Change the file under a lock, whole or not at all; return what it said before."""
    path = folder / PEOPLE_FILE
    try:
        with hold(folder / f".{PEOPLE_FILE}.lock", _PATIENCE):
            before = read_roll(folder) or Roll(secrets.token_hex(KEY_BYTES), {})
            after = change(before)
            people = {code: {"hash": p.hash, "since": p.since} for code, p in sorted(after.people.items())}
            text = json.dumps({"key": after.key, "people": people}, indent=1)
            write_whole(path, text + "\n", error=SettingsError, mode=0o600)
    except OSError as error:
        reason = (error.strerror or "another program is changing it").lower()
        raise _trouble(f"it cannot be written ({reason})", "check that the folder is yours") from None
    return before


def _trouble(what: str, fix: str) -> SettingsError:
    return SettingsError(Problem(PEOPLE_FILE, "", what, fix))

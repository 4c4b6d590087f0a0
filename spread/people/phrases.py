"""Work codes and pass phrases: what is accepted, and how a phrase is hashed and checked (Argon2id)."""

from __future__ import annotations

import re
import secrets
import unicodedata
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from spread.errors import Problem, SettingsError
from spread.people.roles import Person

SHORTEST = 15
"""Characters of a pass phrase that stands alone: NIST SP 800-63B-4 (2025), section 3.1.1.2, as reported by
secondary sources; so are that no mixture of kinds is asked for, that pasting works."""
LONGEST = 256
FEWEST_DIFFERENT = 6
"""Different characters; refuses ``aaaaaaaaaaaaaaa``. Common practice, no source."""
HASHER = PasswordHasher()
"""Argon2id with argon2-cffi's own defaults, the second recommended set of RFC 9106, section 4: 64 MiB and
three passes."""
_CODE = re.compile(r"(?=[A-Z0-9-]*[0-9])[A-Z0-9][A-Z0-9-]{0,7}")


def code_of(text: str) -> str:
    """Return a work code as it is kept: no spaces around it, capital letters."""
    return text.strip().upper()


def is_code(text: str) -> bool:
    """Say whether a text is a work code: up to 8 letters, digits and hyphens with a digit among them."""
    return _CODE.fullmatch(text) is not None


def check_code(text: str) -> str:
    """Return the work code in a text.

    Raises
    ------
    SettingsError
        If it is none: up to 8 letters, digits and hyphens with a digit among them, which no name has.
    """
    code = code_of(text)
    if not is_code(code):
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


def hashed(phrase: str) -> str:
    """Return the hash of a pass phrase, with a salt of its own."""
    return HASHER.hash(plain(phrase))


def is_right(person: Person | None, phrase: str) -> bool:
    """Say whether a pass phrase is a person's.

    Where there is no such person it takes as long as where there is, so that the time of the answer tells
    nobody who is here.
    """
    kept, tried = person.hash if person else _nobody(), plain(phrase[:LONGEST])
    if kept.startswith("scrypt:"):  # of an earlier version; the next pass phrase is hashed anew
        from werkzeug.security import check_password_hash  # noqa: PLC0415 - for old files alone

        right = check_password_hash(kept, tried)
    else:
        try:
            right = HASHER.verify(kept, tried)
        except (VerificationError, InvalidHashError):
            right = False
    return person is not None and right and len(phrase) <= LONGEST


@cache
def _nobody() -> str:
    return hashed(secrets.token_hex(32))

"""What a store of people offers: the same for a building's folder and for an office."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from spread.people.roles import Person

LASTS = dt.timedelta(hours=12)
"""How long a sign-in lasts: a working day with its way home; common practice, no source."""
BY_COMMAND = "command line"
"""Who did what was done at the command line, where nobody signs in."""


@dataclass(frozen=True, slots=True)
class Deed:
    """One line of the audit.

    Parameters
    ----------
    when
        In UTC.
    who
        A work code, :data:`BY_COMMAND`, or empty where nobody is known.
    what
        A word of :data:`WHAT`.
    building
        The building's key in an office; empty for what concerns none.
    detail
        Codes, roles or row ids; never a pass phrase.
    """

    when: dt.datetime
    who: str
    what: str
    building: str = ""
    detail: str = ""


WHAT = (
    "sign-in", "failed sign-in", "sign-out", "sign-ins ended", "person kept", "person taken out",
    "pass phrase changed", "export", "correction", "building taken in", "log put back", "log accepted",
    "refused",
)  # fmt: skip
"""What the audit notes."""


class People(Protocol):
    """A store of people, their sign-ins, and what was done. Safe to use from several threads."""

    def key(self) -> str | None:
        """Return the secret that signs cookies; None if nobody can sign in now (a spoilt file)."""

    def everyone(self) -> Mapping[str, Person]:
        """Return everybody by code."""

    def keep(self, person: Person, *, by: str = BY_COMMAND) -> bool:
        """Keep somebody, new or changed; end their sign-ins if the hash is another. Return whether new."""

    def take_out(self, code: str, *, by: str = BY_COMMAND) -> None:
        """Take somebody out; raise SettingsError if there is nobody of this code."""

    def sign_in(self, code: str) -> str:
        """Open a sign-in and return its token, which is kept only as a digest."""

    def signed_in(self, token: str) -> Person | None:
        """Return who has this sign-in, as they are kept now; None if it has ended."""

    def sign_out(self, token: str) -> None:
        """End one sign-in."""

    def end_all(self, code: str, *, by: str = BY_COMMAND) -> None:
        """End every sign-in of somebody."""

    def note(self, who: str, what: str, building: str = "", detail: str = "") -> None:
        """Add a line to the audit."""

    def deeds(self, most: int = 500) -> Sequence[Deed]:
        """Return the latest lines of the audit, the newest first."""


def new_token() -> str:
    """Return a token that cannot be guessed."""
    return secrets.token_urlsafe(32)


def digest(token: str) -> str:
    """Return what is kept of a token: whoever reads the store cannot sign in with it."""
    return hashlib.sha256(token.encode()).hexdigest()


def said(person: Person) -> str:
    """Return what the audit notes of somebody who was kept: roles and buildings."""
    return "; ".join(filter(None, (", ".join(person.roles), ", ".join(person.buildings))))

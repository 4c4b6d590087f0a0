"""Somebody signed in, who sends odd requests to a building that people sign in to: its forms, its roles."""

from __future__ import annotations

import random
from pathlib import Path
from urllib.parse import urlencode

from flask import Flask

from proofs.fuzz.mutating import TEXTS
from spread.people.folder import FolderPeople
from spread.people.roles import Person

CODE = "M1"
FORMS = {
    "/sign-in": {"who": "T1", "phrase": "three lamps under oak", "next": "/week"},
    "/phrase": {"old": "three lamps", "new": "nine kettles by a door"},
    "/people/keep": {"code": "T2", "role": "technician", "building": "elm", "sees_units": "on"},
    "/people/take-out": {"code": "T2"},
    "/people/end": {"code": "T2"},
    "/sign-out": {},
}
"""Addresses that take a form, and an honest one."""


class Staff:
    """A manager and administrator in one, whose sign-in is renewed whenever a request has ended it."""

    def __init__(self, folder: Path) -> None:
        self.people = FolderPeople(folder)
        self.keep()

    def keep(self) -> None:
        """Put the person in the list, or back into it as before."""
        self.people.keep(Person(CODE, "x", "2026-11-20", ("administrator", "manager")))

    def cookie(self, server: Flask) -> str:
        """Return a cookie header of a fresh sign-in."""
        self.keep()
        with server.test_request_context():
            signer = server.session_interface.get_signing_serializer(server)  # type: ignore[attr-defined]
        told = {"_user_id": self.people.sign_in(CODE), "_fresh": True, "_permanent": True}
        return f"{server.config['SESSION_COOKIE_NAME']}={signer.dumps(told)}"


def form(path: str, rng: random.Random) -> bytes:
    """Return an odd form for an address."""
    fields = list(FORMS[path].items())
    for _ in range(rng.choice((0, 1, 1, 2))):
        way = rng.randrange(3)
        if way == 0 and fields:
            at = rng.randrange(len(fields))
            fields[at] = (fields[at][0], rng.choice(TEXTS))
        elif way == 1:
            name = rng.choice(("code", "role", "who", "next", "anew", rng.choice(TEXTS)))
            fields.append((name, rng.choice(TEXTS)))
        elif fields:
            del fields[rng.randrange(len(fields))]
    return urlencode(fields, errors="replace").encode()

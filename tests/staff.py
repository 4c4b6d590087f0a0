"""People for the tests of signing in, hashed cheaply where it is not the hash that is tested."""

import datetime as dt

from argon2 import PasswordHasher

from spread.people import phrases
from spread.people.folder import FolderPeople
from spread.people.phrases import hashed
from spread.people.roles import Person

CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


def a_person(code, phrase, roles=("manager",), buildings=(), *, sees_units=False):
    """Return somebody with a hashed pass phrase."""
    today = dt.date.today().isoformat()
    return Person(code, hashed(phrase), today, tuple(roles), tuple(buildings), sees_units)


def add_person(folder, code, phrase, roles=("manager",), **more):
    """Keep somebody among the people of a folder; return whether they are new."""
    return FolderPeople(folder).keep(a_person(code, phrase, roles, **more))


def hash_cheaply(monkeypatch):
    """Hash with little work from now on."""
    monkeypatch.setattr(phrases, "HASHER", CHEAP)
    phrases._nobody.cache_clear()

"""The people of an office, their sign-ins and the audit, in its database."""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, Engine, delete, insert, select, update

from spread.errors import Problem, SettingsError
from spread.office.connecting import writing
from spread.office.tables import audit, building, person, person_building, person_role, secret, sign_in
from spread.people.folder import KEY_BYTES, nobody_of
from spread.people.kept import BY_COMMAND, LASTS, Deed, digest, new_token, said
from spread.people.roles import Person

_COOKIES = "cookies"


class OfficePeople:
    """The people of an office; see :class:`spread.people.kept.People`."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        with writing(engine) as connection:
            key = connection.scalar(select(secret.c.value).where(secret.c.name == _COOKIES))
            if key is None:
                key = secrets.token_hex(KEY_BYTES)
                connection.execute(insert(secret).values(name=_COOKIES, value=key))
        self._key = str(key)

    def key(self) -> str | None:
        """Return the secret that signs cookies."""
        return self._key

    def everyone(self) -> Mapping[str, Person]:
        """Return everybody by code."""
        with self._engine.connect() as connection:
            return _people(connection)

    def keep(self, person_: Person, *, by: str = BY_COMMAND) -> bool:
        """Keep somebody, new or changed; end their sign-ins if the hash is another. Return whether new.

        Raises
        ------
        SettingsError
            If the office has no building of a key that is named.
        """
        code, since = person_.code, dt.date.fromisoformat(person_.since)
        values = {"hash": person_.hash, "since": since, "sees_units": person_.sees_units}
        with writing(self._engine) as connection:
            known = set(connection.scalars(select(building.c.key)))
            if missing := sorted(set(person_.buildings) - known):
                fix = f"the office has {', '.join(sorted(known)) or 'none yet'}"
                raise SettingsError(
                    Problem("spread people", code, f"there is no building {missing[0][:64]!r}", fix)
                )
            before = connection.scalar(select(person.c.hash).where(person.c.code == code))
            if before is None:
                connection.execute(insert(person).values(code=code, **values))
            else:
                connection.execute(update(person).where(person.c.code == code).values(**values))
                if before != person_.hash:
                    connection.execute(delete(sign_in).where(sign_in.c.code == code))
            for table in (person_role, person_building):
                connection.execute(delete(table).where(table.c.code == code))
            connection.execute(
                insert(person_role), [{"code": code, "role": role} for role in sorted(set(person_.roles))]
            )
            if person_.buildings:
                lines = [{"code": code, "building": key} for key in sorted(set(person_.buildings))]
                connection.execute(insert(person_building), lines)
            _note(connection, by, "person kept", detail=f"{code}: {said(person_)}")
        return before is None

    def take_out(self, code: str, *, by: str = BY_COMMAND) -> None:
        """Take somebody out; what they recorded stays, with their code."""
        with writing(self._engine) as connection:
            if not connection.execute(delete(person).where(person.c.code == code)).rowcount:
                raise nobody_of(code, _people(connection))
            _note(connection, by, "person taken out", detail=code)

    def sign_in(self, code: str) -> str:
        """Open a sign-in and return its token."""
        token, now = new_token(), dt.datetime.now(dt.UTC)
        with writing(self._engine) as connection:
            connection.execute(delete(sign_in).where(sign_in.c.ends < now))
            connection.execute(insert(sign_in).values(digest=digest(token), code=code, ends=now + LASTS))
        return token

    def signed_in(self, token: str) -> Person | None:
        """Return who has this sign-in, as they are kept now; None if it has ended."""
        now = dt.datetime.now(dt.UTC)
        with self._engine.connect() as connection:
            wanted = select(sign_in.c.code).where(sign_in.c.digest == digest(token), sign_in.c.ends > now)
            code = connection.scalar(wanted)
            return _people(connection, str(code)).get(str(code)) if code is not None else None

    def sign_out(self, token: str) -> None:
        """End one sign-in."""
        with writing(self._engine) as connection:
            connection.execute(delete(sign_in).where(sign_in.c.digest == digest(token)))

    def end_all(self, code: str, *, by: str = BY_COMMAND) -> None:
        """End every sign-in of somebody."""
        with writing(self._engine) as connection:
            connection.execute(delete(sign_in).where(sign_in.c.code == code))
            _note(connection, by, "sign-ins ended", detail=code)

    def note(self, who: str, what: str, building: str = "", detail: str = "") -> None:
        """Add a line to the audit."""
        with writing(self._engine) as connection:
            _note(connection, who, what, building, detail)

    def deeds(self, most: int = 500) -> Sequence[Deed]:
        """Return the latest lines of the audit, the newest first."""
        with self._engine.connect() as connection:
            rows = connection.execute(select(audit).order_by(audit.c.place.desc()).limit(most)).mappings()
            return [
                Deed(_in_utc(row["when"]), row["who"], row["what"], row["building"], row["detail"])
                for row in rows
            ]


def _note(connection: Connection, who: str, what: str, building: str = "", detail: str = "") -> None:
    line = {"when": dt.datetime.now(dt.UTC), "who": who, "what": what}
    connection.execute(insert(audit).values(**line, building=building, detail=detail))


def _people(connection: Connection, code: str | None = None) -> dict[str, Person]:
    wanted, roles, buildings = select(person), select(person_role), select(person_building)
    if code is not None:
        wanted = wanted.where(person.c.code == code)
        roles = roles.where(person_role.c.code == code)
        buildings = buildings.where(person_building.c.code == code)
    role_of: dict[str, list[str]] = {}
    for row in connection.execute(roles):
        role_of.setdefault(str(row.code), []).append(str(row.role))
    works_in: dict[str, list[str]] = {}
    for row in connection.execute(buildings):
        works_in.setdefault(str(row.code), []).append(str(row.building))
    return {
        str(row.code): Person(
            str(row.code),
            str(row.hash),
            row.since.isoformat(),
            tuple(sorted(role_of.get(str(row.code), ()))),
            tuple(sorted(works_in.get(str(row.code), ()))),
            bool(row.sees_units),
        )
        for row in connection.execute(wanted.order_by(person.c.code))
    }


def _in_utc(when: dt.datetime) -> dt.datetime:
    """Return a moment with its zone, which SQLite drops."""
    return when if when.tzinfo else when.replace(tzinfo=dt.UTC)

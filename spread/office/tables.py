"""The tables of an office, typed; what refuses changes to them stands in the migrations."""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from spread.people.roles import ROLES
from spread.records.kinds import FOUND, KINDS, LEVELS

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
    }
)
APPEND_ONLY = ("log_row", "promise", "programme", "photograph", "audit")
"""Tables of which no line is ever changed or taken out."""


def _one_of(column: str, words: tuple[str, ...]) -> CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in ("", *words))
    return CheckConstraint(f"{column} IN ({listed})", name=column)


building = Table(
    "building",
    metadata,
    Column("key", String(64), primary_key=True),
    Column("name", Text, nullable=False),
    Column("added", DateTime(timezone=True), nullable=False),
)
"""One line a building; writers of a building take turns at its line."""

building_file = Table(
    "building_file",
    metadata,
    Column("building", String(64), ForeignKey("building.key"), nullable=False),
    Column("name", String(255), nullable=False),
    Column("data", LargeBinary, nullable=False),
    PrimaryKeyConstraint("building", "name"),
)
"""Every file of a building's folder but its log: settings, plan, prices, words of its own; and the doors that
are taken, which stay in the office."""

firm_file = Table(
    "firm_file",
    metadata,
    Column("name", String(255), primary_key=True),
    Column("data", LargeBinary, nullable=False),
)
"""What belongs to the firm and to no building: what its buildings taught one another."""

log_row = Table(
    "log_row",
    metadata,
    Column("building", String(64), ForeignKey("building.key"), nullable=False),
    Column("place", Integer, nullable=False),
    Column("id", String(64), nullable=False),
    Column("day", Date, nullable=False),
    Column("unit", String(64), nullable=False),
    Column("kind", String(16), _one_of("kind", KINDS), nullable=False),
    Column("method", String(32), nullable=False),
    Column("found", String(8), _one_of("found", FOUND), nullable=False),
    Column("level", String(16), _one_of("level", LEVELS), nullable=False),
    Column("count", Integer, CheckConstraint("count >= 0", name="count")),
    Column("evidence", String(64), nullable=False),
    Column("days", Integer, CheckConstraint("days > 0", name="days")),
    Column("by_whom", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("supersedes", String(64), nullable=False),
    Column("items", Text, nullable=False),
    Column("job", Text, nullable=False, server_default=""),
    Column("written", DateTime(timezone=True), nullable=False),
    Column("hash", String(32), nullable=False),
    PrimaryKeyConstraint("building", "place"),
    UniqueConstraint("building", "id"),
)
"""The rows of every log. ``place`` counts from 1 within a building; ``hash`` covers the row and the hash of
the row before."""

promise_row = Table(
    "promise",
    metadata,
    Column("building", String(64), ForeignKey("building.key"), nullable=False),
    Column("place", Integer, nullable=False),
    Column("id", String(64), nullable=False),
    Column("day", Date, nullable=False),
    Column("made_by", String(16), nullable=False),
    Column("method", String(32), nullable=False),
    Column("body", Text, nullable=False),
    Column("written", DateTime(timezone=True), nullable=False),
    PrimaryKeyConstraint("building", "place"),
    UniqueConstraint("building", "id"),
)
"""Lists of doors in the order in which they were made; ``body`` as a folder keeps them
(:mod:`spread.records.promises`)."""

programme_row = Table(
    "programme",
    metadata,
    Column("building", String(64), ForeignKey("building.key"), nullable=False),
    Column("place", Integer, nullable=False),
    Column("id", String(64), nullable=False),
    Column("body", Text, nullable=False),
    Column("written", DateTime(timezone=True), nullable=False),
    PrimaryKeyConstraint("building", "place"),
    UniqueConstraint("building", "id"),
)
"""Accepted programmes in their order; ``body`` as a folder keeps them (:mod:`spread.records.texts`)."""

photograph = Table(
    "photograph",
    metadata,
    Column("building", String(64), ForeignKey("building.key"), nullable=False),
    Column("name", String(255), nullable=False),
    Column("data", LargeBinary, nullable=False),
    PrimaryKeyConstraint("building", "name"),
)

audit = Table(
    "audit",
    metadata,
    Column("place", Integer, primary_key=True, autoincrement=True),
    Column("when", DateTime(timezone=True), nullable=False),
    Column("who", String(64), nullable=False),
    Column("what", String(64), nullable=False),
    Column("building", String(64), nullable=False),
    Column("detail", Text, nullable=False),
)
"""Who did what besides recording: sign-ins, changes of people, exports, corrections."""

person = Table(
    "person",
    metadata,
    Column("code", String(8), primary_key=True),
    Column("hash", Text, nullable=False),
    Column("since", Date, nullable=False),
    Column("sees_units", Boolean, nullable=False),
)
"""Who may sign in. What becomes of these lines is noted in the audit, which nobody can change."""

person_role = Table(
    "person_role",
    metadata,
    Column("code", String(8), ForeignKey("person.code", ondelete="CASCADE"), nullable=False),
    Column("role", String(16), CheckConstraint(f"role IN {tuple(ROLES)}", name="role"), nullable=False),
    PrimaryKeyConstraint("code", "role"),
)

person_building = Table(
    "person_building",
    metadata,
    Column("code", String(8), ForeignKey("person.code", ondelete="CASCADE"), nullable=False),
    Column("building", String(64), ForeignKey("building.key"), nullable=False),
    PrimaryKeyConstraint("code", "building"),
)

sign_in = Table(
    "sign_in",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("code", String(8), ForeignKey("person.code", ondelete="CASCADE"), nullable=False),
    Column("ends", DateTime(timezone=True), nullable=False),
)
"""Who is signed in, and until when. Of the token itself only a digest is kept."""

secret = Table("secret", metadata, Column("name", String(16), primary_key=True), Column("value", Text))
"""The key that signs cookies."""

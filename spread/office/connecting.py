"""Engines of an office, and its tables made and brought up to date."""

from __future__ import annotations

import importlib.util
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, SQLAlchemyError

from spread.errors import Problem, SettingsError

PATIENCE = 30
"""Seconds to wait for another writer."""
_MIGRATIONS = Path(__file__).parent / "migrations"


def open_office(url: str, *, make: bool = False) -> Engine:
    """Open an office.

    Parameters
    ----------
    url
        A file for SQLite, or the URL of a database as SQLAlchemy writes it
        (``postgresql+psycopg://user@host/office``).
    make
        Whether to make the tables where there are none; otherwise a place without an office is refused.

    Raises
    ------
    SettingsError
        When there is no office, it cannot be reached, or it is of a later version than this program.
    """
    engine = _engine(url, make=make)
    try:
        with engine.begin() as connection:
            _bring_up_to_date(connection, url, make=make)
    except SQLAlchemyError as error:
        reason = str(getattr(error, "orig", None) or error).splitlines()[0][:200]
        raise SettingsError(
            Problem(shown(url), "", f"the office cannot be opened ({reason})", "check the address")
        ) from None
    return engine


def shown(url: str) -> str:
    """Return an address as messages name it: never with a password."""
    try:
        return make_url(url).render_as_string(hide_password=True) if "://" in url else Path(url).name
    except ArgumentError:
        return "the office's address"


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Hold a transaction that writes: on SQLite it takes its turn at once and not at the first write."""
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        else:
            connection.begin()
        try:
            yield connection
        except BaseException:
            connection.rollback()
            raise
        connection.commit()


def _engine(url: str, *, make: bool) -> Engine:
    if "://" not in url:
        path = Path(url)
        if not make and not path.is_file():
            fix = f"make one with: spread office init {path}"
            raise SettingsError(Problem(path.name, "", "there is no such office", fix))
        if not path.parent.is_dir():
            raise SettingsError(Problem(path.name, "", "its folder is not there", "make the folder first"))
        url = f"sqlite:///{path}"
    try:
        name = make_url(url).drivername
        if name.startswith("postgresql") and importlib.util.find_spec("psycopg") is None:
            fix = "install it: pip install 'spread[office]'"
            raise SettingsError(Problem(shown(url), "", "PostgreSQL needs the package psycopg", fix))
        engine = create_engine(url, pool_pre_ping=True)
    except (ArgumentError, ImportError, ValueError):
        fix = "give a file, or an address such as postgresql+psycopg://user@host/office"
        raise SettingsError(Problem(shown(url), "", "it is no address of a database", fix)) from None
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _careful)
    return engine


def _careful(connection: sqlite3.Connection, _record: object) -> None:
    """Set a SQLite connection so that what is acknowledged survives a power cut, beside other writers."""
    connection.isolation_level = None  # transactions begin where we say so
    cursor = connection.cursor()
    for pragma in (
        f"busy_timeout = {PATIENCE * 1000}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _bring_up_to_date(connection: Connection, url: str, *, make: bool) -> None:
    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS))
    config.attributes["connection"] = connection
    steps = ScriptDirectory.from_config(config)
    at = MigrationContext.configure(connection).get_current_revision()
    if at is None and not make:
        fix = f"make one with: spread office init {shown(url)}"
        raise SettingsError(Problem(shown(url), "", "there is no office in this database", fix))
    if at == steps.get_current_head():
        return
    if at is not None and at not in {step.revision for step in steps.walk_revisions()}:
        fix = "use that version, or a later one"
        raise SettingsError(Problem(shown(url), "", f"it was made by a later version (step {at})", fix))
    command.upgrade(config, "head")

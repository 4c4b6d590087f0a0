"""Buildings of an office: a folder taken in, and the same folder given out again."""

from __future__ import annotations

import atexit
import datetime as dt
import hashlib
import re
import shutil
import tempfile
from pathlib import Path

from sqlalchemy import Engine, delete, func, insert, select

from spread.errors import Problem, SettingsError
from spread.files import write_whole
from spread.office.connecting import shown, writing
from spread.office.promises import OfficePromises, insert_promises
from spread.office.rows import insert_rows, keep_photographs
from spread.office.tables import building, building_file, firm_file, log_row, photograph, programme_row
from spread.office.texts import insert_texts, office_programmes
from spread.people.folder import AUDIT_FILE, PEOPLE_FILE, SIGN_INS_FILE
from spread.records.folder import as_file
from spread.records.log import Log
from spread.records.photographs import PHOTOS, is_name
from spread.records.promises import SUFFIX as PROMISES
from spread.records.promises import FolderPromises
from spread.records.texts import PROGRAMMES, folder_programmes

LOG_FILE = "records.csv"
LARGEST = 20_000_000
"""Largest file of a folder that an office takes, in bytes."""
_KEY = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
_MADE = (".summary", ".posterior", ".taught")
"""Ends of the names of files that a fit makes: they say what the others say, and are made anew."""
_OURS = (
    ".lock",
    ".known",
    PROMISES,
    PROGRAMMES,
    ".new",
    ".id",
    ".claims",
    ".posterior",
    ".taught",
    PEOPLE_FILE,
    SIGN_INS_FILE,
    AUDIT_FILE,
)
"""Ends of the names of files that stay behind: an office has people of its own."""


def keys(engine: Engine) -> dict[str, str]:
    """Return the name of every building by its key."""
    with engine.connect() as connection:
        found = connection.execute(select(building.c.key, building.c.name).order_by(building.c.key))
        return {str(key): str(name) for key, name in found}


def file_of(engine: Engine, key: str, name: str) -> bytes:
    """Return a file of a building as the office holds it; empty where there is none, and of no building."""
    wanted = select(building_file.c.data).where(building_file.c.building == key, building_file.c.name == name)
    with engine.connect() as connection:
        return bytes(connection.scalar(wanted) or b"")


def mark_of(engine: Engine, key: str) -> str:
    """Return a mark of a building that changes with its files and with its log, not with what fits say."""
    files = select(building_file.c.name, building_file.c.data).where(building_file.c.building == key)
    last = select(func.max(log_row.c.place)).where(log_row.c.building == key)
    mark = hashlib.blake2b(digest_size=16)
    with engine.connect() as connection:
        mark.update(repr(connection.scalar(last)).encode())
        for name, data in connection.execute(files.order_by(building_file.c.name)):
            if not str(name).endswith(_MADE):
                mark.update(repr((name, bytes(data))).encode())
    return mark.hexdigest()


def file_in(engine: Engine, key: str, name: str) -> bytes:
    """Return a file of a building; empty where there is none."""
    wanted = select(building_file.c.data).where(building_file.c.building == key, building_file.c.name == name)
    with engine.connect() as connection:
        return bytes(connection.scalar(wanted) or b"")


def firm_file_in(engine: Engine, name: str) -> bytes:
    """Return a file of the firm's own; empty where there is none."""
    with engine.connect() as connection:
        return bytes(connection.scalar(select(firm_file.c.data).where(firm_file.c.name == name)) or b"")


def keep_firm_file(engine: Engine, name: str, text: str) -> None:
    """Keep a file of the firm's own, new or instead of the one of that name."""
    with writing(engine) as connection:
        connection.execute(delete(firm_file).where(firm_file.c.name == name))
        connection.execute(insert(firm_file).values(name=name, data=text.encode()))


def take_in(engine: Engine, folder: Path, key: str, name: str, log: Log | None = None) -> None:
    """Take a building in: its files but what we wrote beside them, its log and its lists, all or nothing.

    Raises
    ------
    SettingsError
        For a key that is no key or is taken, and for files that are too large.
    """
    if not _KEY.fullmatch(key):
        fix = "use small letters, digits and -, as elm-court"
        raise SettingsError(Problem(key[:40], "", "it is no key of a building", fix))
    files = []
    for path in sorted(folder.iterdir()):
        if not path.is_file() or path.name == LOG_FILE or path.name.endswith(_OURS) or path.name[0] == ".":
            continue
        if path.stat().st_size > LARGEST:
            what = f"it has more than {LARGEST:,} bytes"
            raise SettingsError(Problem(path.name, "", what, "keep it elsewhere"))
        files.append({"building": key, "name": path.name, "data": path.read_bytes()})
    with writing(engine) as connection:
        if connection.scalar(select(building.c.key).where(building.c.key == key)) is not None:
            what = f"it has a building {key!r} already"
            raise SettingsError(Problem(shown(str(engine.url)), "", what, "give another key with --key"))
        now = dt.datetime.now(dt.UTC)
        connection.execute(insert(building).values(key=key, name=name, added=now))
        if files:
            connection.execute(insert(building_file), files)
        insert_rows(connection, key, log.rows if log is not None else ())
        insert_promises(connection, key, FolderPromises(folder / LOG_FILE).all())
        agreed = folder_programmes(folder / LOG_FILE).all()
        insert_texts(connection, programme_row, key, [(text, {}) for text in agreed])
        pictures = {f"{PHOTOS}/{path.name}": path.read_bytes() for path in (folder / PHOTOS).glob("*.jpg")}
        keep_photographs(connection, key, {name: data for name, data in pictures.items() if is_name(name)})


def lay_out(engine: Engine, key: str) -> Path:
    """Write a building's files into a folder that is taken away when the program ends; return it.

    Raises
    ------
    SettingsError
        When the office has no such building.
    """
    known = keys(engine)
    if key not in known:
        fix = f"it has {', '.join(known) or 'none yet'}"
        raise SettingsError(Problem(shown(str(engine.url)), "", f"there is no building {key[:64]!r}", fix))
    home = Path(tempfile.mkdtemp(prefix="spread-office-"))
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    folder = home / key
    folder.mkdir()
    give_out(engine, key, folder)
    return folder


def give_out(engine: Engine, key: str, folder: Path, log: Log | None = None) -> None:
    """Write a building's files into a folder; with a log also its ``records.csv`` and its lists."""
    with engine.connect() as connection:
        wanted = select(building_file.c.name, building_file.c.data).where(building_file.c.building == key)
        for name, data in connection.execute(wanted):
            if str(name).endswith(_OURS):  # claimed doors, which a server keeps here too
                continue
            write_whole(folder / Path(str(name)).name, bytes(data))
        if log is None:
            return  # the log and its photographs stay in the office
        for name, data in connection.execute(
            select(photograph.c.name, photograph.c.data).where(photograph.c.building == key)
        ):
            (folder / PHOTOS).mkdir(exist_ok=True)
            write_whole(folder / PHOTOS / Path(str(name)).name, bytes(data))
    if len(log):
        write_whole(folder / LOG_FILE, as_file(log.rows))
    kept = FolderPromises(folder / LOG_FILE)
    for promise in OfficePromises(engine, key).all():
        kept.keep(promise)
    folder_programmes(folder / LOG_FILE).keep_all(office_programmes(engine, key).all())

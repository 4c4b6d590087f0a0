"""Where a firm's buildings are: a folder of folders, or an office; and what is kept beside each log."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from spread.errors import SettingsError
from spread.files import write_whole
from spread.plan.changes import CHANGES_FILE
from spread.portfolio.folders import LOG_FILE, SETTINGS_FILE, folders_in, is_many, read_many
from spread.portfolio.standing import Kept
from spread.records.disk import read_bytes

if TYPE_CHECKING:
    from sqlalchemy import Engine

POSTERIOR_FILE = f"{LOG_FILE}.posterior"
"""What a fit leaves beside a log: its draws, and where its chains ended."""
TAUGHT_FILE = f"{LOG_FILE}.taught"
"""What a building teaches the others: moments of a fit under the literature's figures."""
_READ = (".toml", ".csv", ".geojson")
"""Ends of the names of files that a building is read from."""


class Places(Protocol):
    """A firm's buildings; every process that is told the :attr:`address` finds the same."""

    @property
    def address(self) -> str:
        """What :func:`places_at` takes."""

    @property
    def name(self) -> str:
        """How messages name it: never with a password."""

    def keys(self) -> tuple[str, ...]:
        """Return the key of every building, in order."""

    def source(self, key: str) -> str:
        """Return what :func:`spread.building.load_building` takes for a building."""

    def mark(self, key: str) -> str:
        """Return a mark of a building that changes with its log, plan or settings."""

    def beside(self, key: str, name: str) -> bytes:
        """Return a file that is kept beside a building's log; empty where there is none."""

    def summaries(self) -> tuple[Kept, ...]:
        """Return what the last fits said of all buildings."""

    def own(self, name: str) -> bytes:
        """Return a file of the firm's own, beside its buildings; empty where there is none."""

    def keep_own(self, name: str, text: str) -> None:
        """Keep a file of the firm's own, whole or not at all."""


class FolderPlaces:
    """Buildings in folders of a folder, which every worker must be able to read under the same name."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder.resolve()
        folders_in(folder)  # says it where there is none

    @property
    def address(self) -> str:
        """See :class:`Places`."""
        return str(self._folder)

    @property
    def name(self) -> str:
        """See :class:`Places`."""
        return self._folder.name

    def keys(self) -> tuple[str, ...]:
        """See :class:`Places`."""
        return tuple(folders_in(self._folder))

    def source(self, key: str) -> str:
        """See :class:`Places`."""
        return str(self._folder / key)

    def mark(self, key: str) -> str:
        """See :class:`Places`."""
        mark = hashlib.blake2b(digest_size=16)
        for path in sorted((self._folder / key).iterdir()):
            if path.name[0] != "." and (path.suffix in _READ or path.name == CHANGES_FILE):
                mark.update(f"{path.name}\0{path.stat().st_size}\0".encode())
                mark.update(path.read_bytes())
        return mark.hexdigest()

    def beside(self, key: str, name: str) -> bytes:
        """See :class:`Places`."""
        return read_bytes(self._folder / key / name, name)

    def summaries(self) -> tuple[Kept, ...]:
        """See :class:`Places`."""
        return read_many(self._folder)

    def own(self, name: str) -> bytes:
        """See :class:`Places`."""
        return read_bytes(self._folder / name, name)

    def keep_own(self, name: str, text: str) -> None:
        """See :class:`Places`."""
        write_whole(self._folder / name, text)


class OfficePlaces:
    """Buildings in an office's database, which every worker must be able to reach."""

    def __init__(self, url: str) -> None:
        self._url = url if "://" in url else str(Path(url).resolve())
        self._engine = _engine_of(self._url)

    @property
    def address(self) -> str:
        """See :class:`Places`."""
        return self._url

    @property
    def name(self) -> str:
        """See :class:`Places`."""
        from spread.office.connecting import shown  # noqa: PLC0415 - most people have no office

        return shown(self._url)

    def keys(self) -> tuple[str, ...]:
        """See :class:`Places`."""
        from spread.office.buildings import keys  # noqa: PLC0415

        return tuple(keys(self._engine))

    def source(self, key: str) -> str:
        """See :class:`Places`."""
        return f"{self._url}#{key}"

    def mark(self, key: str) -> str:
        """See :class:`Places`."""
        from spread.office.buildings import mark_of  # noqa: PLC0415

        return mark_of(self._engine, key)

    def beside(self, key: str, name: str) -> bytes:
        """See :class:`Places`."""
        from spread.office.buildings import file_in  # noqa: PLC0415

        return file_in(self._engine, key, name)

    def summaries(self) -> tuple[Kept, ...]:
        """See :class:`Places`."""
        from spread.office.summaries import read_office  # noqa: PLC0415

        return read_office(self._engine, self.keys())

    def own(self, name: str) -> bytes:
        """See :class:`Places`."""
        from spread.office.buildings import firm_file_in  # noqa: PLC0415

        return firm_file_in(self._engine, name)

    def keep_own(self, name: str, text: str) -> None:
        """See :class:`Places`."""
        from spread.office.buildings import keep_firm_file  # noqa: PLC0415

        keep_firm_file(self._engine, name, text)


@lru_cache(maxsize=4)
def _engine_of(url: str) -> Engine:
    """Return the engine of an office, one a process."""
    from spread.office.connecting import open_office  # noqa: PLC0415

    return open_office(url)


def places_at(address: str) -> Places:
    """Return the buildings of a folder, of an office's file, or of the URL of its database.

    Raises SettingsError where there are none.
    """
    path = Path(address)
    if "://" not in address and (path.is_dir() or not path.exists()):
        if (path / SETTINGS_FILE).exists() and not is_many(path):
            fix = "name the folder that holds it and the others, or use spread fit for one building"
            raise SettingsError.at(path.name, "", "it is one building's folder", fix)
        return FolderPlaces(path)
    try:
        found = OfficePlaces(address)
    except ImportError:
        fix = "install them: pip install 'spread[office]'"
        raise SettingsError.at("office", "", "an office needs packages that are not here", fix) from None
    if not found.keys():
        raise SettingsError.at(found.name, "", "it has no building yet", "take one in: spread office add")
    return found

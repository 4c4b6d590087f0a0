"""A building's own programmes, kept beside its log in one file: ``programmes.toml``, a table each.

A table has what a programme's own file has (:mod:`spread.programmes.reading`) and its ``key``.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import asdict

from spread.errors import SettingsError
from spread.programmes.programme import Programme
from spread.programmes.reading import PRESETS, parse_programme
from spread.records.store import Store

OWN_FILE = "programmes.toml"
MOST = 12  #: Own programmes of a building
LONGEST = 80  #: Letters of a name
_KEY = re.compile(r"own-[a-z0-9-]{1,40}")
_PARTS = ("complaint", "ring", "ranked", "survey", "vacant", "watch", "treatment", "clearance")


def read_own(store: Store) -> tuple[Programme, ...]:
    """Return a building's own programmes. Raises SettingsError with every problem of the file."""
    return parse_own(store.beside(OWN_FILE))


def keep_own(store: Store, programmes: Iterable[Programme]) -> None:
    """Keep these as the building's own programmes, instead of all before."""
    store.keep_beside(OWN_FILE, own_toml(programmes))


def parse_own(data: bytes, file: str = OWN_FILE) -> tuple[Programme, ...]:
    """Turn the file's bytes into programmes; none where there is no file."""
    try:
        rows = tomllib.loads(data.decode()).get("programme", [])
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        what = f"it is no TOML ({str(error)[:80]})"
        raise SettingsError.at(file, "", what, "mend it, or take it away") from None
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        raise SettingsError.at(
            file, "setting 'programme'", "it is no list", "write [[programme]] before each"
        )
    found: dict[str, Programme] = {}
    for row in rows:
        key = row.get("key")
        if not isinstance(key, str) or not _KEY.fullmatch(key) or key in found:
            what = f"{str(key)[:40]!r} is no key of its own"
            raise SettingsError.at(file, "setting 'key'", what, "write another, as in own-monthly-look")
        rest = {name: value for name, value in row.items() if name != "key"}
        found[key] = parse_programme(rest, f"{file}, {key}", key=key)
    return tuple(found.values())


def own_toml(programmes: Iterable[Programme]) -> str:
    """Return programmes as the text of the file."""
    lines: list[str] = []
    for programme in programmes:
        lines += ["", "[[programme]]", f"key = {_toml(programme.key)}"]
        inner: list[str] = []
        for name, value in table_of(programme).items():
            if isinstance(value, Mapping):
                inner += ["", f"[programme.{name}]", *(f"{k} = {_toml(v)}" for k, v in value.items())]
            else:
                lines.append(f"{name} = {_toml(value)}")
        lines += inner
    return "\n".join(lines).lstrip() + "\n"


def table_of(programme: Programme) -> dict[str, object]:
    """Return a programme as the table of its file; what is as usual, or not done, is left out."""
    usual = Programme("", "", complaint=None)
    whole = asdict(programme)
    out: dict[str, object] = {"name": programme.name}
    for name in ("words", "confirm", "notice"):
        if whole[name] != getattr(usual, name):
            out[name] = whole[name]
    for name in _PARTS:
        if whole[name] is None:
            continue
        part = {key: value for key, value in whole[name].items() if value is not None}
        if name == "ranked":  # one of the two, and never both
            part.pop("minutes" if part["doors"] else "doors")
        out[name] = part
    return out


def key_for(name: str, taken: Iterable[str]) -> str:
    """Return a key for a new programme of this name."""
    bare = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:30] or "programme"
    known, number, key = {*taken, *PRESETS}, 1, f"own-{bare}"
    while key in known:
        number += 1
        key = f"own-{bare}-{number}"
    return key


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else f"{value:.10g}"

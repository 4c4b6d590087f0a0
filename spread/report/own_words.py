"""What only the building or the firm knows, in short texts: ``notices.toml`` and ``firm.toml``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.toml_file import near, read_toml
from spread.words.voice import NOTICE_LANGUAGES, Language

FIRM_FILE = "firm.toml"
OWN_WORDS_FILE = "notices.toml"
LONGEST = 400
"""Letters of one entry; more does not fit on a notice."""


@dataclass(frozen=True, slots=True)
class OwnWords:
    """What a building says of itself on a notice; each may be empty.

    ``firm``: who comes: the firm's or the crew's name. ``manager``: Whom residents ask: the office or the
    manager. ``phone``, ``email``, ``office_hours``: how and when to reach them. ``entry_law``: a sentence on
    the right to enter, as the building's lease or law has it.
    """

    firm: str = ""
    manager: str = ""
    phone: str = ""
    email: str = ""
    office_hours: str = ""
    entry_law: str = ""


@dataclass(frozen=True, slots=True)
class Firm:
    """Who makes the proposal; each may be empty.

    ``name``, ``contact``, ``phone``, ``email``, ``licence``: the firm, a person's role or office, how to
    reach them, and the licence as local law wants it shown. ``note``: a sentence of their own, such as how
    long the offer stands.
    """

    name: str = ""
    contact: str = ""
    phone: str = ""
    email: str = ""
    licence: str = ""
    note: str = ""


KEYS = tuple(field.name for field in fields(OwnWords))


def entry_problem(
    file: str, where: str, key: str, value: object, known: Sequence[str], near_to: Sequence[str] = ()
) -> Problem | None:
    """Return what is wrong with an entry, or None.

    ``file``, ``where``: as in a :class:`~spread.errors.Problem`. ``key``, ``value``: the entry. ``known``:
    Keys that it may have. ``near_to``: keys to guess at for an unknown one; ``known`` if empty.
    """
    if key not in known:
        return Problem(file, where, "it is not known", near(key, near_to or known))
    if not isinstance(value, str):
        return Problem(file, where, "it is not a text", f'put it in quotes, as in {key} = "..."')
    if len(value) > LONGEST:
        return Problem(file, where, f"it has {len(value)} letters", f"keep it to {LONGEST}")
    return None


def _take(
    table: Mapping[str, object], known: Sequence[str], file: str, problems: list[Problem], place: str = ""
) -> dict[str, str]:
    """Return the good entries with single spaces; what is wrong with the others goes to ``problems``."""
    near_to = (*KEYS, *NOTICE_LANGUAGES) if known is KEYS else known
    found = {}
    for key, value in table.items():
        problem = entry_problem(file, f"{place}field {key!r}", key, value, known, near_to)
        if problem is None:
            found[key] = " ".join(str(value).split())
        else:
            problems.append(problem)
    return found


def read_firm(path: Path) -> Firm:
    """Read ``firm.toml``; without such a file every entry is empty.

    Raises SettingsError with every problem of the file.
    """
    if not path.exists():
        return Firm()
    problems: list[Problem] = []
    found = _take(read_toml(path), [field.name for field in fields(Firm)], path.name, problems)
    if problems:
        raise SettingsError(problems)
    return Firm(**found)


def read_own_words(folder: Path, language: Language) -> OwnWords:
    """Read a building's own words in a language.

    Entries at the top are for every language; those under a language such as ``[es]`` go before them.

    ``folder``: the building's folder; without a ``notices.toml`` in it all entries are empty. ``language``:
    the language of the notice. Raises SettingsError with every problem of the file.
    """
    path = folder / OWN_WORDS_FILE
    if not path.exists():
        return OwnWords()
    problems: list[Problem] = []
    found: dict[str, str] = {}
    own: dict[str, str] = {}
    for key, value in read_toml(path).items():
        if key not in NOTICE_LANGUAGES:
            found |= _take({key: value}, KEYS, path.name, problems)
        elif isinstance(value, dict):
            inner = _take(value, KEYS, path.name, problems, f"[{key}], ")
            own = inner if key == language else own
        else:
            fix = f"start its entries with a line [{key}]"
            problems.append(Problem(path.name, f"field {key!r}", "it is not a table", fix))
    if problems:
        raise SettingsError(problems)
    return OwnWords(**{**found, **own})

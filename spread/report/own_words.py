"""``notices.toml`` of a building's folder: the words that only the building knows."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.report.entries import entry_problem, one_line
from spread.toml_file import read_toml
from spread.words.voice import LANGUAGES, Language

OWN_WORDS_FILE = "notices.toml"


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


KEYS = tuple(OwnWords.__dataclass_fields__)


def read_own_words(folder: Path, language: Language) -> OwnWords:
    """Read a building's own words in a language.

    Entries at the top are for every language; those under ``[en]`` or ``[es]`` go before them.

    ``folder``: the building's folder; without a ``notices.toml`` in it all entries are empty. ``language``:
    the language of the notice. Raises SettingsError with every problem of the file.
    """
    path = folder / OWN_WORDS_FILE
    if not path.exists():
        return OwnWords()
    table = read_toml(path)
    problems: list[Problem] = []
    found: dict[str, dict[str, str]] = {"": {}, **{known: {} for known in LANGUAGES}}
    for key, value in table.items():
        if key in LANGUAGES:
            if isinstance(value, dict):
                for inner, words in value.items():
                    _take(found[key], inner, words, f"[{key}], field {inner!r}", problems)
            else:
                fix = f"start its entries with a line [{key}]"
                problems.append(Problem(path.name, f"field {key!r}", "it is not a table", fix))
        else:
            _take(found[""], key, value, f"field {key!r}", problems)
    if problems:
        raise SettingsError(problems)
    return OwnWords(**{**found[""], **found[language]})


def _take(into: dict[str, str], key: str, value: object, where: str, problems: list[Problem]) -> None:
    problem = entry_problem(OWN_WORDS_FILE, where, key, value, KEYS, (*KEYS, *LANGUAGES))
    if problem is None:
        into[key] = one_line(value)
    else:
        problems.append(problem)

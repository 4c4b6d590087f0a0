"""What a wording of somebody's notes may mean: a suggestion, and a person confirms each wording once.

On a list of wordings written after the rules, one in twelve came out as yes for no ("zero activity", "no
longer active"), so nothing becomes a find or a clear look by these rules alone.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.records.kinds import FOUND, KINDS, LEVELS, LOOKS, METHODS_OF, MONITORS
from spread.records.sense import guess
from spread.tables.meanings import LEAVE_OUT, plain
from spread.toml_file import read_toml


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a wording stands for: fields of a record, or nothing that is read."""

    kind: str = ""
    method: str = ""
    found: str = ""
    level: str = ""

    @property
    def words(self) -> str:
        """As it is written in a file of answers: ``inspection, brief-visual, yes, heavy``."""
        return ", ".join(filter(None, (self.kind, self.method, self.found, self.level))) or LEAVE_OUT


NOTHING = Meaning()
_METHODS = {method for methods in METHODS_OF.values() for method in methods}

_SORTS: Mapping[str, Collection[str]] = {"kind": KINDS, "method": _METHODS, "found": FOUND, "level": LEVELS}


def read_meaning(text: str, file: str, where: str) -> Meaning:
    """Return the meaning that somebody wrote.

    Parameters
    ----------
    text
        Words of the log separated by commas in any order, such as ``inspection, dog, yes``; or ``leave out``.
    file, where
        How messages name the place.

    Raises
    ------
    SettingsError
        For a word that is none of the log's, two of one sort, or words that do not go together.
    """
    if plain(text) == LEAVE_OUT:
        return NOTHING
    given: dict[str, str] = {}
    for word in (part.strip().casefold() for part in text.split(",")):
        sort = next((name for name, known in _SORTS.items() if word in known), "")
        if not sort:
            every = [*KINDS, *sorted(_METHODS), *FOUND, *LEVELS]
            fix = guess(word, every, f"use words of the log, or {LEAVE_OUT!r}")
            raise SettingsError(Problem(file, where, f"{word[:40]!r} is no word of the log", fix))
        if sort in given:
            what = f"{given[sort]!r} and {word!r} are both a {sort}"
            raise SettingsError(Problem(file, where, what, "keep one"))
        given[sort] = word
    if method := given.get("method"):
        kinds = [kind for kind, methods in METHODS_OF.items() if method in methods]
        if given.setdefault("kind", kinds[0]) not in kinds:
            what = f"{method!r} is no method of {given['kind']!r}"
            raise SettingsError(Problem(file, where, what, f"use {kinds[0]!r}"))
    return Meaning(**given)


_NOT = r"\b(no|not|none|zero|nothing|negative|neg|clear|cleared|clean|nil|without|0|free of|inactive|never)\b"
_UNSURE = r"\b(unsure|unclear|possible|possibly|maybe|suspect\w*|unconfirmed|inconclusive)\b|\?"
_RULES_FILE = "wordings.toml"


@cache
def _rules() -> tuple[tuple[tuple[str, Mapping[str, str]], ...], Mapping[str, str]]:
    """Return patterns with what they may mean, the first that fits first; and patterns by level."""
    told = read_toml(Path(__file__).parent / _RULES_FILE)
    rules = [dict(one) for one in told["meanings"]]
    return tuple((one.pop("pattern"), one) for one in rules), told["levels"]


_QUIET = ("no-access", "turnover")
_NO_ENTRY = (
    r"\b(no (access|answer|entry|show|one home|key)|(nobody|not) (home|ready)|not (at )?home|not let in"
    r"|unable to (service|treat|inspect))\b"
)
_SIGNS = r"bugs?\b|eggs?\b|nymph|skins?\b|cast|blood|stain|spot|fec|bit(e|ten)|infest|eviden|sign"


def _level(text: str) -> str:
    return next((name for name, words in _rules()[1].items() if re.search(words, text)), "")


def suggested_meaning(wording: str) -> Meaning:
    """Return what a wording may mean: a suggestion for a person to confirm or correct."""
    text = plain(wording)
    fields = next((of for pattern, of in _rules()[0] if re.search(pattern, text)), None)
    if fields is None:
        return NOTHING
    found = level = ""
    if fields["kind"] in ("inspection", "monitor"):
        found = "no" if re.search(_NOT, text) else "unsure" if re.search(_UNSURE, text) else "yes"
        if found == "yes":
            level = _level(text)
    return Meaning(**{"found": found, "level": level, **fields})


def may_be_a_look(wording: str, meaning: Meaning) -> bool:
    """Say whether a wording could stand for a find, a clear look or a treatment, whatever is suggested.

    Such a wording takes a person's word of its own: it is never confirmed together with others.
    """
    if meaning.kind not in _QUIET:
        return True
    text = re.sub(_NO_ENTRY, " ", plain(wording))
    others = (pattern for pattern, of in _rules()[0] if of["kind"] not in _QUIET)
    return any(re.search(pattern, text) for pattern in (*others, _NOT, _UNSURE, _SIGNS))


def suggested_word(wording: str, sort: str) -> str:
    """Return what a wording of a column of methods or levels may mean; empty if nothing is near."""
    text = plain(wording)
    if sort == "level":
        return _level(text)
    method = suggested_meaning(wording).method
    return method if method in (*LOOKS, *MONITORS) else ""

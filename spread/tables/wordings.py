"""What a wording of somebody's notes may mean: a suggestion, and a person confirms each wording once.

On a list of wordings written after the rules, one in twelve came out as yes for no ("zero activity", "no
longer active"), so nothing becomes a find or a clear look by these rules alone.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from spread.errors import Problem, SettingsError
from spread.records.kinds import FOUND, KINDS, LEVELS, LOOKS, METHODS_OF, MONITORS
from spread.records.sense import guess
from spread.tables.meanings import LEAVE_OUT, plain


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
_RULES: tuple[tuple[str, Mapping[str, str]], ...] = (
    (r"refus", {"kind": "no-access", "method": "refused"}),
    (r"no access|not home|nobody|no answer|no entry|not ready|no show|lock",
     {"kind": "no-access", "method": "nobody-home"}),
    (r"move(d)?[- ]?out|vacated", {"kind": "turnover", "method": "moved-out"}),
    (r"move(d)?[- ]?in\b", {"kind": "turnover", "method": "moved-in"}),
    (r"complain|called in|reported|request|bites", {"kind": "report", "found": "yes"}),
    (r"heat(ed)?\b", {"kind": "treatment", "method": "whole-room-heat"}),
    (r"steam|dust|encase", {"kind": "treatment", "method": "steam-dust-encase"}),
    (r"spray|treat|service(d)?\b|chemical|applied", {"kind": "treatment", "method": "spray"}),
    (r"intercept|cups?\b", {"kind": "monitor", "method": "interceptors"}),
    (r"trap|monitor", {"kind": "monitor", "method": "monitors-few"}),
    (r"\b(k-?9|dog|canine)\b", {"kind": "inspection", "method": "dog"}),
    (r"thorough|full inspection|detailed", {"kind": "inspection", "method": "thorough-visual"}),
    (r"bed ?bug|\bbb\b|inspect|activ|live|found|seen|evidence|alert|positive|negative|"
     r"\bpos\b|heavy|light|clear|"
     r"clean|none",
     {"kind": "inspection", "method": "brief-visual"}),
)  # fmt: skip
_LEVELS = (
    (r"heavy|severe|high|bad", "heavy"), (r"moderate|medium|mod\b", "moderate"),
    (r"light|low|minor|few", "low"), (r"trace|single|one bug|1 bug", "trace"),
)  # fmt: skip


def suggested_meaning(wording: str) -> Meaning:
    """Return what a wording may mean: a suggestion for a person to confirm or correct."""
    text = plain(wording)
    fields = next((of for pattern, of in _RULES if re.search(pattern, text)), None)
    if fields is None:
        return NOTHING
    found = level = ""
    if fields["kind"] in ("inspection", "monitor"):
        unsure = re.search(r"unsure|possible|maybe|\?", wording.casefold())
        found = "no" if re.search(_NOT, text) else "unsure" if unsure else "yes"
        if found == "yes":
            level = next((name for words, name in _LEVELS if re.search(words, text)), "")
    return Meaning(**{"found": found, "level": level, **fields})


def suggested_word(wording: str, sort: str) -> str:
    """Return what a wording of a column of methods or levels may mean; empty if nothing is near."""
    text = plain(wording)
    if sort == "level":
        return next((name for words, name in _LEVELS if re.search(words, text)), "")
    method = suggested_meaning(wording).method
    return method if method in (*LOOKS, *MONITORS) else ""

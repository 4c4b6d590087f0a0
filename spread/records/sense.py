"""What the words, numbers and dates of a row mean, and whether they can stand together."""

from __future__ import annotations

import datetime as dt
import difflib
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from spread.errors import told
from spread.records.kinds import EVIDENCE, FOUND, KINDS, LEVELS, METHODS_OF

COUNT_LIMIT = 100_000  #: Largest count of bugs that is taken for a count and not for a slip of the keyboard
DAYS_LIMIT = 365  #: Longest monitor period, in days
EARLIEST = dt.date(1990, 1, 1)
LATEST = dt.date(2100, 12, 31)

NEEDS_METHOD = ("inspection", "monitor", "treatment")
LOOKS_FOR = ("inspection", "monitor")  #: Kinds that must say what was found
SAYS_FOUND = ("report", "inspection", "monitor")
"""Kinds that may say what was found; on any other row it would be read by nothing."""

_ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_SLASHED = re.compile(r"([0-9]{1,2})[/.-]([0-9]{1,2})[/.-][0-9]{2,4}")
_WHOLE = re.compile(r"[0-9]{1,9}")

Wrong = tuple[str, str, str]  #: A field, what is wrong with it, what to do


@dataclass(frozen=True, slots=True)
class Sense:
    """The numbers and signs of a row whose words fit together."""

    count: int | None
    days: int | None
    evidence: frozenset[str]


def shown(value: str, length: int = 40) -> str:
    """Return a value as a message quotes it: on one line, not too long, odd characters escaped."""
    return repr(value if len(value) <= length else value[: length - 1] + "…")


def guess(word: str, known: Collection[str], otherwise: str = "") -> str:
    """Return an instruction that names the nearest known words; if none is near, ``otherwise`` or all."""
    same = sorted(one for one in known if one.casefold() == word.casefold())
    near = same or difflib.get_close_matches(word, sorted(known), n=2, cutoff=0.6)
    return meant(near) if near else otherwise or f"use {_or_list(known)}"


def meant(near: Sequence[str]) -> str:
    """Return an instruction that names one word or two."""
    if len(near) == 1:
        return told("write {word} if that is meant", word=shown(near[0]))
    return told("write {word} or {other} if that is meant", word=shown(near[0]), other=shown(near[1]))


def read_day(text: str, today: dt.date | None) -> dt.date | Wrong:
    """Return the day of an ISO date, or what is wrong; no other way of writing a day is guessed at."""
    if not text:
        return ("when", "no date is given", "write the day it happened as 2026-11-25")
    if not _ISO_DAY.fullmatch(text):
        return ("when", _why_no_day(text), "write the year first, as 2026-11-25")
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        return ("when", f"the calendar has no day {shown(text)}", "check month and day")
    if day < EARLIEST:
        return ("when", f"{text} is before {EARLIEST.year}", "check the year")
    if day > LATEST or (today is not None and day > today + dt.timedelta(days=1)):
        return (
            "when",
            told("{day} is still to come", day=text),
            told("write the day it happened, not a planned one"),
        )
    return day


def _why_no_day(text: str) -> str:
    parts = _SLASHED.fullmatch(text)
    if parts and int(parts[1]) != int(parts[2]) and max(int(parts[1]), int(parts[2])) <= 12:
        return f"{shown(text)} could be two different days"
    return f"{shown(text)} is not a date of the form 2026-11-25"


def read_sense(
    *, kind: str, method: str, found: str, level: str, count: str, evidence: str, days: str
) -> Sense | list[Wrong]:
    """Return what the fields from ``kind`` to ``days`` mean together, or all that is wrong.

    ``kind``, ``method``, ``found``, ``level``, ``count``, ``evidence``, ``days``: text of the fields, without
    spaces around it.
    """
    signs = frozenset(part.strip() for part in evidence.split("+")) if evidence else frozenset[str]()
    number = _read_whole("count", count, 0, COUNT_LIMIT)
    period = _read_whole("days", days, 1, DAYS_LIMIT)
    wrong: list[Wrong] = [] if kind in KINDS else [_unknown("kind", kind, KINDS)]
    if kind in KINDS:
        wrong += _bad_method(kind, method)
        wrong += _misplaced(
            kind, {"found": found, "level": level, "count": count, "evidence": evidence}, days
        )
    if found and found not in FOUND:
        wrong.append(_unknown("found", found, FOUND))
    if level and level not in LEVELS:
        wrong.append(_unknown("level", level, LEVELS))
    wrong += [_unknown("evidence", sign, EVIDENCE) for sign in sorted(signs.difference(EVIDENCE))]
    wrong += [value for value in (number, period) if isinstance(value, tuple)]
    if kind in SAYS_FOUND and found == "no":
        wrong += _contradictions(level, number if isinstance(number, int) else 0, signs)
    if wrong or isinstance(number, tuple) or isinstance(period, tuple):
        return wrong
    return Sense(number, period, signs)


def _unknown(name: str, word: str, known: Collection[str]) -> Wrong:
    if not word:
        return (name, f"a word is missing where {name} is given", f"use {_or_list(known)}")
    return (name, f"unknown {name} {shown(word)}", guess(word, known))


def _bad_method(kind: str, method: str) -> list[Wrong]:
    known = METHODS_OF[kind]
    if not method:
        if kind in NEEDS_METHOD:
            return [("method", f"a row of kind {kind} must name its method", f"use {_or_list(known)}")]
        return []
    if method in known:
        return []
    owners = [other for other, methods in METHODS_OF.items() if method in methods]
    if owners:
        fix = f"use {_or_list(known)}" if known else "leave it empty"
        return [("method", f"{method} is a method of {owners[0]}, not of {kind}", f"{fix}, or mend the kind")]
    if not known:
        return [("method", f"a row of kind {kind} has no method", "leave it empty")]
    return [_unknown("method", method, known)]


def _misplaced(kind: str, said: dict[str, str], days: str) -> list[Wrong]:
    """Return what a kind says that is not its to say, or leaves out that it must say."""
    wrong: list[Wrong] = []
    if kind not in SAYS_FOUND:
        wrong += [
            (
                name,
                f"a row of kind {kind} does not say what was found",
                "put it in an inspection row of its own",
            )
            for name, text in said.items()
            if text
        ]
    if kind in LOOKS_FOR and not said["found"]:
        wrong.append(("found", f"a row of kind {kind} must say what was found", f"use {_or_list(FOUND)}"))
    if days and kind != "monitor":
        wrong.append(
            ("days", f"a row of kind {kind} has no days", "leave it empty; only a monitor period has them")
        )
    return wrong


def _contradictions(level: str, count: int, signs: frozenset[str]) -> list[Wrong]:
    wrong: list[Wrong] = []
    mend = told("leave it empty or mend found")
    if level:
        wrong.append(("level", told("a level is given though found is no"), mend))
    if count:
        wrong.append(("count", told("{number} bugs are counted though found is no", number=count), mend))
    if "live" in signs:
        wrong.append(
            ("evidence", told("live bugs are named though found is no"), told("leave them out or mend found"))
        )
    return wrong


def _read_whole(name: str, text: str, least: int, most: int) -> int | Wrong | None:
    if not text:
        return None
    if not _WHOLE.fullmatch(text) or not least <= int(text) <= most:
        what = told(
            "{number} is not a whole number from {least} to {most}",
            number=shown(text),
            least=least,
            most=most,
        )
        return (name, what, told("write one in digits, or leave it empty"))
    return int(text)


def _or_list(words: Collection[str]) -> str:
    *others, last = words
    return f"{', '.join(others)} or {last}" if others else last

"""Programmes of one's own, made in a form on the programme page and kept with the building."""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, jsonify

from dashboard.web.sent import sent_json
from spread.errors import SettingsError, SpreadError
from spread.programmes.columns import METHODS
from spread.programmes.own import LONGEST, MOST, keep_own, key_for, read_own, table_of
from spread.programmes.programme import (
    Complaint,
    Programme,
    Ranked,
    Ring,
    Survey,
    Treatment,
    Vacant,
    Watch,
)
from spread.programmes.reading import CONFIRMING, parse_programme
from spread.session import Session
from spread.trade.registry import TREATMENTS
from spread.words import ENGLISH
from spread.words.programmes import part_of
from spread.words.voice import upper

_WHERE = re.compile(r"(?:\[(\w+)\], )?setting '(\w+)'")
_FILE = re.compile(r"quotes|=")  #: What is written into files, and no field asks for
_LOCK = threading.Lock()


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the form, named as the file has it: ``survey.every_weeks``."""

    name: str
    words: str
    usual: str
    choices: tuple[tuple[str, str], ...] = ()  #: Of a list; without, it is a whole number


def _methods(keys: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    return tuple((key, upper(part_of(key, ENGLISH))) for key in keys)


def groups() -> tuple[tuple[str, str, bool, tuple[Field, ...]], ...]:
    """Return the form: a part's name, what it is called, whether it can be left out, and its fields."""
    looks, plain = _methods(METHODS), _methods(CONFIRMING)
    cures = tuple((key, row.short) for key, row in TREATMENTS.items())
    tries, confirm = "Knocks before a shut door is given up", Programme("", "").confirm
    return (
        ("complaint", "Look where a resident reports", True, (
            Field("complaint.method", "How", Complaint().method, looks),
            Field("complaint.within_weeks", "Within weeks", "1"), Field("complaint.tries", tries, "3"),
        )),
        ("ring", "Look around every find", True, (
            Field("ring.method", "How", Ring().method, looks),
            Field("ring.within_weeks", "Within weeks", "2"), Field("ring.tries", tries, "3"),
        )),
        ("ranked", "Look at the likeliest doors", True, (
            Field("ranked.method", "How", Ranked().method, looks),
            Field("ranked.doors", "Doors each time", "10"),
            Field("ranked.every_weeks", "Every so many weeks", "1"), Field("ranked.tries", tries, "1"),
        )),
        ("survey", "Look at every unit (traps and dogs too)", True, (
            Field("survey.method", "How", Survey().method, looks),
            Field("survey.every_weeks", "Every so many weeks", "52"),
            Field("survey.times", "How many times; 0 without end", "0"),
            Field("survey.from_week", "First week", "0"),
            Field("survey.over_weeks", "Weeks that one is spread over", "1"),
            Field("survey.tries", tries, "3"),
        )),
        ("vacant", "Look when people have left", True, (
            Field("vacant.method", "How", Vacant().method, plain),
        )),
        ("watch", "Look again after a course has ended", True, (
            Field("watch.method", "How", Watch().method, looks),
            Field("watch.every_weeks", "Every so many weeks", "13"),
            Field("watch.weeks", "For so many weeks", "52"), Field("watch.tries", tries, "2"),
        )),
        ("treatment", "Treat what is found", False, (
            Field("treatment.method", "How", Treatment().method, cures),
            Field("treatment.within_weeks", "First visit within weeks", "1"),
            Field("treatment.every_weeks", "Weeks from visit to visit", "2"),
            Field("treatment.heat_after", "By heat after so many that did not end it; 0 never", "0"),
            Field("treatment.encase", "Encasements on the beds at the first visit", "no",
                  (("yes", "Put on"), ("no", "None"))),
        )),
        ("", "Besides", False, (
            Field("confirm", "A dog's alert or an unsure look is confirmed by", confirm, plain),
            Field("notice", "Entry notices, with how to prepare", "yes",
                  (("yes", "Written"), ("no", "None"))),
            Field("clearance.monitors", "Traps between treatment visits", "yes",
                  (("yes", "Stand"), ("no", "None"))),
        )),
    )  # fmt: skip


def add_own(pages: Blueprint, session: Session) -> None:
    """Put the address of the form on the page's."""

    @pages.post("/programmes/own")
    def own() -> Response:
        """Keep a programme of one's own, or take it away where ``remove`` says so."""
        sent = sent_json()
        try:
            told = removed(session, sent) if sent.get("remove") == "yes" else saved(session, sent)
            return jsonify(problem="", **told, own=shown_own(read_own(session.building.store)))
        except SpreadError as error:
            return jsonify(problem=str(error), key="", bad={}, own=[])


def saved(session: Session, sent: Mapping[str, object]) -> dict[str, Any]:
    """Keep a programme as typed, new or instead of the one of its ``key``; return its key, or what is wrong.

    ``sent``: texts by field; a part is done where a field of its name is ``yes``.
    """
    table, name = _table(sent), " ".join(str(sent.get("name", "")).split())
    with _LOCK:
        known = {programme.key: programme for programme in read_own(session.building.store)}
        asked = str(sent.get("key", ""))
        problems = {}
        if not name or len(name) > LONGEST:
            problems["name"] = f"Give it a name of at most {LONGEST} letters."
        elif any(one.name.casefold() == name.casefold() and one.key != asked for one in known.values()):
            problems["name"] = "Another programme of this building has that name; give another."
        if asked and asked not in known:
            problems["name"] = "It was removed meanwhile; load the page again."
        if not asked and len(known) >= MOST:
            problems["name"] = f"A building keeps {MOST} of its own at most; remove one first."
        key = asked or key_for(name, known)
        try:
            programme = parse_programme({"name": name or "-", **table}, "form", key=key)
        except SettingsError as error:
            problems |= _by_field(error)
        if problems:
            return {"key": "", "bad": problems}
        keep_own(session.building.store, {**known, key: programme}.values())
    return {"key": key, "bad": {}}


def removed(session: Session, sent: Mapping[str, object]) -> dict[str, Any]:
    """Take one of the building's own programmes away; one that is gone already is no mistake."""
    with _LOCK:
        known = read_own(session.building.store)
        left = [programme for programme in known if programme.key != sent.get("key")]
        if len(left) < len(known):
            keep_own(session.building.store, left)
    return {"key": "", "bad": {}}


def shown_own(programmes: tuple[Programme, ...]) -> list[dict[str, Any]]:
    """Return the building's own programmes as the page lists them and fills its form with them."""
    return [
        {"key": one.key, "name": one.name, "words": one.words, "fields": _flat(table_of(one))}
        for one in programmes
    ]


def _table(sent: Mapping[str, object]) -> dict[str, Any]:
    """Return the table of a file from what was typed; a number that is none stays a text, which is told."""
    out: dict[str, Any] = {}
    for part, _, may_miss, fields in groups():
        if may_miss and sent.get(part) != "yes":
            continue
        if part:
            out[part] = {}
        for each in fields:
            text = str(sent.get(each.name, "")).strip() or each.usual
            value: object = text
            if not each.choices and re.fullmatch(r"\d{1,6}", text):
                value = int(text)
            elif each.choices and text in ("yes", "no"):
                value = text == "yes"
            place, _, inner = each.name.rpartition(".")
            (out.setdefault(place, {}) if place else out)[inner] = value
    return out


def _by_field(error: SettingsError) -> dict[str, str]:
    """Return the problems of a file by the field of the form that each is about."""
    found = {}
    for problem in error.problems:
        match = _WHERE.fullmatch(problem.where)
        part, key = (match[1] or "", match[2]) if match else ("", "name")
        fix = f"; {problem.fix}" if problem.fix and not _FILE.search(problem.fix) else ""
        sentence = problem.what.replace("it is text, expected", "it is no number; expected")
        name = f"{part}.{key}" if part else key
        found[name] = f"{upper(sentence)}{fix}."
    if "complaint" in found:  # nothing makes anybody look
        found["name"] = "Nobody looks anywhere; tick reports, likeliest doors, every unit or empty units."
        del found["complaint"]
    return found


def _flat(table: Mapping[str, object]) -> dict[str, str]:
    out: dict[str, str] = {}
    for name, value in table.items():
        if isinstance(value, Mapping):
            out[name] = "yes"
            out |= {f"{name}.{key}": text for key, text in _flat(value).items()}
        else:
            out[name] = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return out

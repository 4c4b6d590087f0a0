"""Reading a rule set: TOML in, a checked :class:`~spread.trade.rule_set.RuleSet` out, or every problem."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Mapping
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.toml_file import parse_toml, read_toml
from spread.trade.rule_set import (
    CONFIDENCES,
    COUNTED_IN,
    EVENTS,
    NEIGHBOUR_SETS,
    READ,
    STEPS,
    Applies,
    Calendar,
    Deadline,
    EntryNotice,
    Keep,
    Neighbours,
    Origin,
    RuleSet,
    Span,
)

LARGEST_FILE = 200_000  #: Bytes of a rule set; a longer file is something else
LONGEST = {"hours": 24 * 365, "calendar days": 3660, "business days": 2600}


def read_rules(path: Path, *, shown_as: str | None = None) -> RuleSet:
    """Read a rule set from a file.

    Raises SettingsError with every problem of the file.
    """
    file = shown_as or path.name
    return _checked(
        read_toml(path, largest=LARGEST_FILE, too_large="name a rule set in TOML", shown_as=file), file
    )


def parse_rules(text: str, file: str) -> RuleSet:
    """Turn the text of a rule set into one; see :func:`read_rules`."""
    return _checked(parse_toml(text, file), file)


def _checked(table: Mapping[str, object], file: str) -> RuleSet:
    problems: list[Problem] = []
    rules = _rule_set(_Table(file, "", table, problems))
    if problems:
        raise SettingsError(problems)
    return rules


def _rule_set(top: _Table) -> RuleSet:
    id_ = top.text("id")
    if id_ and not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", id_):
        top.fail("id", f"it is {id_[:40]!r}", 'use small letters, digits and hyphens, as in id = "our-town"')
    neighbours = _neighbours(top.table("neighbours"))
    calendar = top.table("calendar")
    deadlines = tuple(_deadline(row) for row in top.tables("deadlines"))
    rules = RuleSet(
        id=id_,
        title=top.text("title"),
        authority=top.text("authority"),
        place=top.text("place"),
        text=top.text("text"),
        text_date=top.text("text_date"),
        deadlines=deadlines,
        notices=tuple(_notice(row) for row in top.tables("notices")),
        keep=tuple(_keep(row) for row in top.tables("records")),
        neighbours=neighbours,
        applies=_applies(top.table("applies")),
        dogs=_dogs(top.table("dogs")),
        calendar=Calendar(calendar.text("country"), calendar.text("subdivision", "")) if calendar else None,
        notes=top.texts("notes"),
        left_out=top.texts("left_out"),
    )
    if calendar:
        calendar.finish()
    if neighbours is None and any(deadline.of == "neighbours" for deadline in deadlines):
        top.fail("neighbours", "it is missing, though a deadline asks for neighbours", "add [neighbours]")
    twice = {d.key for d in deadlines if d.step and d.event and [e.key for e in deadlines].count(d.key) > 1}
    for key in sorted(twice):
        top.fail("deadlines", f"two of them are {key.replace('/', ', ')}", "keep the stricter one")
    top.finish()
    return rules


def _origin(row: _Table) -> Origin:
    source = row.text("source", fix='say where it stands, as in source = "City Code 9-48"')
    return Origin(source, row.word("read", READ), row.word("confidence", CONFIDENCES))


def _span(row: _Table) -> Span | None:
    """Read ``amount`` and ``in`` together; None where both are left out."""
    amount, counted_in = row.value("amount"), row.value("in")
    if amount is None and counted_in is None:
        return None
    if counted_in is None:
        fix = f"write in = one of {_quoted(COUNTED_IN)}"
        row.fail("in", f"it is missing beside amount = {str(amount)[:20]}", fix)
    elif counted_in not in COUNTED_IN:
        bare = str(counted_in).lower() in ("days", "day", "d")
        what = "does not say which days" if bare else "is not known"
        fix = f"write one of {_quoted(COUNTED_IN[1:] if bare else COUNTED_IN)}"
        row.fail("in", f"{str(counted_in)[:40]!r} {what}", fix)
        counted_in = None
    most = LONGEST[counted_in] if isinstance(counted_in, str) else max(LONGEST.values())
    if isinstance(amount, bool) or not isinstance(amount, int) or not 0 <= amount <= most:
        found = "it is missing" if amount is None else f"it is {str(amount)[:20]!r}"
        row.fail("amount", f"{found}, expected a whole number from 0 to {most}", "write it without quotes")
        return None
    return Span(amount, counted_in) if isinstance(counted_in, str) else None


def _deadline(row: _Table) -> Deadline:
    timed = row.values.keys() & {"amount", "in"}
    deadline = Deadline(
        step=row.word("step", STEPS),
        of=row.word("of", ("source", "neighbours"), "source"),
        event=row.word("from", EVENTS),
        origin=_origin(row),
        within=_span(row),
        with_treatment=row.flag("with_treatment"),
        words=row.text("words", ""),
        who=row.text("who", ""),
        by_service=row.flag("by_service"),
    )
    said = [bool(timed), deadline.with_treatment, bool(deadline.words)]
    if sum(said) != 1:
        fix = "give amount and in, or with_treatment = true, or words such as 'as soon as practical'"
        row.fail("amount", f"it says {'nothing' if not any(said) else 'two things'} about time", fix)
    row.finish()
    return deadline


def _notice(row: _Table) -> EntryNotice:
    before = row.texts("before") or ("inspect", "begin-treatment")
    for step in before:
        if step not in STEPS:
            row.fail("before", f"{step[:40]!r} is not known", _guess(step, STEPS))
    lead = _span(row)
    if lead is None and not row.values.keys() & {"amount", "in"}:
        row.fail("amount", "it is missing", 'give the time ahead, as in amount = 48 and in = "hours"')
    of = row.word("of", ("source", "neighbours", "all"), "all")
    notice = EntryNotice(before, lead or Span(0, "hours"), _origin(row), of)
    row.finish()
    return notice


def _keep(row: _Table) -> Keep:
    keep = Keep(row.text("what"), _origin(row), row.whole("years", None, 0, 100))
    row.finish()
    return keep


def _neighbours(row: _Table | None) -> Neighbours | None:
    if row is None:
        return None
    around = Neighbours(
        set=row.word("set", NEIGHBOUR_SETS),
        origin=_origin(row),
        across=row.flag("across"),
        least_units=row.whole("least_units", 1, 1, 10_000) or 1,
    )
    row.finish()
    return around


def _applies(row: _Table | None) -> Applies | None:
    if row is None:
        return None
    units, storeys = row.whole("least_units", 1, 1, 10_000), row.whole("least_storeys", 1, 1, 200)
    applies = Applies(units or 1, storeys or 1, _origin(row))
    row.finish()
    return applies


def _dogs(row: _Table | None) -> tuple[bool, Origin] | None:
    if row is None:
        return None
    dogs = row.flag("count"), _origin(row)
    row.finish()
    return dogs


class _Table:
    """One table of the file: gives values, notes what is wrong, knows which keys were asked for."""

    def __init__(self, file: str, place: str, values: Mapping[str, object], problems: list[Problem]) -> None:
        self.file = file
        self.place = place
        self.values = dict(values)
        self.asked: list[str] = []
        self.problems = problems

    def fail(self, key: str, what: str, fix: str) -> None:
        where = f"{self.place}, field {key!r}" if self.place else f"field {key!r}"
        self.problems.append(Problem(self.file, where, what, fix))

    def finish(self) -> None:
        """Note every key that nobody asked for."""
        for key in self.values:
            if key not in self.asked:
                self.fail(key, "it is not known", _guess(key, self.asked))

    def value(self, key: str) -> object:
        self.asked.append(key)
        return self.values.get(key)

    def text(self, key: str, default: str | None = None, *, fix: str = "") -> str:
        value = self.value(key)
        if value is None and default is not None:
            return default
        if not isinstance(value, str) or not value.strip():
            what = "it is missing" if value is None else "it is not a text"
            self.fail(key, what, fix or f'write {key} = "..." with text in the quotes')
            return ""
        return " ".join(value.split())

    def word(self, key: str, known: Collection[str], default: str | None = None) -> str:
        given = key in self.values
        word = self.text(key, default, fix=f"write {key} = one of {_quoted(known)}")
        if given and word and word not in known:
            self.fail(key, f"{word[:40]!r} is not known", _guess(word, known))
        return word

    def flag(self, key: str) -> bool:
        value = self.value(key)
        if value is not None and not isinstance(value, bool):
            self.fail(key, f"it is {str(value)[:20]!r}", f"write {key} = true or false, without quotes")
        return value is True

    def whole(self, key: str, default: int | None, least: int, most: int) -> int | None:
        value = self.value(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            what = f"it is {str(value)[:20]!r}, expected a whole number from {least} to {most}"
            self.fail(key, what, "write it without quotes")
            return default
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.value(key)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(one, str) and one.strip() for one in value):
            self.fail(key, "it is not a list of texts", f'write {key} = ["...", "..."]')
            return ()
        return tuple(" ".join(one.split()) for one in value)

    def table(self, key: str) -> _Table | None:
        value = self.value(key)
        if value is None:
            return None
        if not isinstance(value, Mapping):
            self.fail(key, "it is not a table", f"start its fields with a line [{key}]")
            return None
        return _Table(self.file, f"[{key}]", value, self.problems)

    def tables(self, key: str) -> list[_Table]:
        value = self.value(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(row, Mapping) for row in value):
            self.fail(key, "it is not a list of tables", f"start each of them with a line [[{key}]]")
            return []
        return [_Table(self.file, f"{key} {n}", row, self.problems) for n, row in enumerate(value, start=1)]


def _quoted(words: Collection[str]) -> str:
    return ", ".join(f'"{word}"' for word in words)


def _guess(word: str, known: Collection[str]) -> str:
    near = difflib.get_close_matches(word.lower(), sorted(known), n=1, cutoff=0.6)
    return f"did you mean {near[0]!r}" if near else f"use one of {', '.join(known)}"

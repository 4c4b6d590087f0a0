"""Reading a rule set: TOML in, a checked :class:`~spread.trade.rule_set.RuleSet` out, or every problem."""

from __future__ import annotations

import re
from collections.abc import Collection
from pathlib import Path

from spread.toml_file import parse_toml, read_toml
from spread.toml_table import TomlTable
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
    """Read a rule set from a file; raises SettingsError with every problem of the file."""
    file = shown_as or path.name
    table = read_toml(path, largest=LARGEST_FILE, too_large="name a rule set in TOML", shown_as=file)
    return _rule_set(TomlTable(file, "", table, "field"))


def parse_rules(text: str, file: str) -> RuleSet:
    """Turn the text of a rule set into one; see :func:`read_rules`."""
    return _rule_set(TomlTable(file, "", parse_toml(text, file), "field"))


def _rule_set(top: TomlTable) -> RuleSet:
    id_ = top.text("id", None)
    if id_ and not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", id_):
        top.fail("id", f"it is {id_[:40]!r}", 'use small letters, digits and hyphens, as in id = "our-town"')
    neighbours = _neighbours(top.part("neighbours"))
    deadlines = tuple(_deadline(row) for row in top.tables("deadlines"))
    rules = RuleSet(
        id=id_,
        title=top.text("title", None),
        authority=top.text("authority", None),
        place=top.text("place", None),
        text=top.text("text", None),
        text_date=top.text("text_date", None),
        deadlines=deadlines,
        notices=tuple(_notice(row) for row in top.tables("notices")),
        keep=tuple(_keep(row) for row in top.tables("records")),
        neighbours=neighbours,
        applies=_applies(top.part("applies")),
        dogs=_dogs(top.part("dogs")),
        calendar=_calendar(top.part("calendar")),
        notes=top.texts("notes"),
        left_out=top.texts("left_out"),
    )
    if neighbours is None and any(deadline.of == "neighbours" for deadline in deadlines):
        top.fail("neighbours", "it is missing, though a deadline asks for neighbours", "add [neighbours]")
    twice = {d.key for d in deadlines if d.step and d.event and [e.key for e in deadlines].count(d.key) > 1}
    for key in sorted(twice):
        top.fail("deadlines", f"two of them are {key.replace('/', ', ')}", "keep the stricter one")
    top.settle()
    return rules


def _origin(row: TomlTable) -> Origin:
    source = row.text("source", None, fix='say where it stands, as in source = "City Code 9-48"')
    return Origin(source, row.word("read", None, READ), row.word("confidence", None, CONFIDENCES))


def _span(row: TomlTable) -> Span | None:
    """Read ``amount`` and ``in`` together; None where both are left out."""
    amount, counted_in = row.take("amount"), row.take("in")
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


def _deadline(row: TomlTable) -> Deadline:
    timed = row.values.keys() & {"amount", "in"}
    deadline = Deadline(
        step=row.word("step", None, STEPS),
        of=row.word("of", "source", ("source", "neighbours")),
        event=row.word("from", None, EVENTS),
        origin=_origin(row),
        within=_span(row),
        with_treatment=row.flag("with_treatment", False),
        words=row.text("words", ""),
        who=row.text("who", ""),
        by_service=row.flag("by_service", False),
    )
    said = [bool(timed), deadline.with_treatment, bool(deadline.words)]
    if sum(said) != 1:
        fix = "give amount and in, or with_treatment = true, or words such as 'as soon as practical'"
        row.fail("amount", f"it says {'nothing' if not any(said) else 'two things'} about time", fix)
    return deadline


def _notice(row: TomlTable) -> EntryNotice:
    before = row.texts("before") or ("inspect", "begin-treatment")
    for step in before:
        if step not in STEPS:
            row.fail("before", f"{step[:40]!r} is not known", f"use some of {', '.join(STEPS)}")
    lead = _span(row)
    if lead is None and not row.values.keys() & {"amount", "in"}:
        row.fail("amount", "it is missing", 'give the time ahead, as in amount = 48 and in = "hours"')
    of = row.word("of", "all", ("source", "neighbours", "all"))
    return EntryNotice(before, lead or Span(0, "hours"), _origin(row), of)


def _keep(row: TomlTable) -> Keep:
    years = row.whole("years", 0, 0, 100)
    return Keep(row.text("what", None), _origin(row), years if "years" in row.values else None)


def _neighbours(row: TomlTable | None) -> Neighbours | None:
    if row is None:
        return None
    return Neighbours(
        set=row.word("set", None, NEIGHBOUR_SETS),
        origin=_origin(row),
        across=row.flag("across", False),
        least_units=row.whole("least_units", 1, 1, 10_000),
    )


def _applies(row: TomlTable | None) -> Applies | None:
    if row is None:
        return None
    units, storeys = row.whole("least_units", 1, 1, 10_000), row.whole("least_storeys", 1, 1, 200)
    return Applies(units, storeys, _origin(row))


def _calendar(row: TomlTable | None) -> Calendar | None:
    if row is None:
        return None
    days = row.dates("days")
    return Calendar(row.text("country", "" if days else None), row.text("subdivision", ""), days)


def _dogs(row: TomlTable | None) -> tuple[bool, Origin] | None:
    if row is None:
        return None
    return row.flag("count", False), _origin(row)


def _quoted(words: Collection[str]) -> str:
    return ", ".join(f'"{word}"' for word in words)

"""Who moved in or out by a list of units: turnovers for the log, and nothing about people.

A unit that stands empty is not one without bugs: a vacancy clears nothing.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from spread.errors import RecordError
from spread.records.kinds import FROM_A_LIST
from spread.records.log import Log
from spread.records.parse import record_from_fields
from spread.tables.answers import Answers, Question
from spread.tables.codes import by_bare_code, home_of
from spread.tables.dates import MONTH_FIRST, ORDERS, day_in, read_day
from spread.tables.grid import Grid
from spread.tables.meanings import LEAVE_OUT, plain
from spread.tables.notes import Notes, ReadRow, batch_of, digest, marked, orders_of
from spread.tables.roll import table_of_units
from spread.tables.table import Line, Table

VACANT, LIVED_IN = "vacant", "lived in"
THE_TITLE, THE_DAY_OF_READING = "the day in the list's title", "the day it is read"
"""Since when a unit stands empty of which a list does not say when it was left."""
OF_THE_TITLE = "the list's title"
"""What is asked where the day in it may be read in two orders."""
_YEAR = dt.timedelta(days=366)
_WAYS = ("moved in", "moved out")
_YES_OR_NO = ("yes", "no", "y", "n", "true", "false", "x", "1", "0")
_EMPTY = re.compile(r"\b(vac\w*|vcnt|empty|unoccupied|not occupied|unrented ready|down)\b|^v[ur]?$")
_LIVED = re.compile(r"\b(occ\w*|current|leased|rented|notice|ntv|lived in|resident|tenant)\b|^o$")


def read_moves(grid: Grid, answers: Answers, units: Collection[str], log: Log, today: dt.date) -> Notes:
    """Read who moved in or out from a list of units, as rows for the log.

    Parameters
    ----------
    grid, answers
        The file, and what was said of it.
    units
        Unit codes of the plan; a row of another unit is left out, and told. Those of the list if empty.
    log
        What the building has: what it knows already is left out.
    today
        Nothing that lies after it is read.

    Raises
    ------
    SpreadError
        When the file has no table, or an answer cannot be understood.
    """
    table = table_of_units(grid, answers)
    questions = [*table.questions]
    units = units or {table.unit(line) for line in table.lines} - {""}
    lived_in, known = _lived_in(table, answers, questions), by_bare_code(units)
    homes = {line.number: home_of(table.unit(line), units, known) for line in table.lines}
    states: dict[str, set[str]] = defaultdict(set)
    for line in table.lines:
        if not table.elsewhere(line):
            states[homes[line.number]].add(lived_in.get(plain(table.value(line, "occupancy")), ""))
    reader = _Moves(
        table,
        # A move may be planned: days ahead decide no order, and are left out later.
        orders_of(table, _WAYS, answers, today + _YEAR, questions),
        lived_in,
        _list_day(table, answers, today, questions),
        homes,
        {home for home, of in states.items() if of >= {VACANT, LIVED_IN}} - {""},
    )
    batch = batch_of(grid, answers)
    rows = [row for line in table.lines for row in reader.rows(line, batch, units, today)]
    return Notes(tuple(questions), marked(rows, table, log), batch, table)


def _key(table: Table, text: str) -> str:
    """Return how a wording is asked: "yes" says nothing without its heading."""
    head = next(iter(table.heads("occupancy")), "")
    return f"{head}: {text}" if plain(text) in _YES_OR_NO else text


def _lived_in(table: Table, answers: Answers, questions: list[Question]) -> Mapping[str, str]:
    """Return whether a unit is lived in by the wording for it; asked once each."""
    rows: dict[str, tuple[str, list[int]]] = {}
    for line in table.lines:
        if text := table.value(line, "occupancy"):
            rows.setdefault(plain(text), (text, []))[1].append(line.number)
    said = {}
    options = (VACANT, LIVED_IN, LEAVE_OUT)
    for wording, (text, of) in rows.items():
        key = _key(table, text)
        told = answers.get("occupancy", key)
        said[wording] = told if told in options else LEAVE_OUT
        if told not in options:
            suggestion = suggested_occupancy(key)
            questions.append(
                Question("occupancy", key, suggestion, options, len(of), tuple(of[:3]), bool(suggestion))
            )
    return said


def suggested_occupancy(key: str) -> str:
    """Return what a wording for how a unit is lived in may mean; empty if nothing is near."""
    head, _, text = (key if ": " in key else f": {key}").rpartition(": ")
    if plain(text) in _YES_OR_NO:
        yes = plain(text) in ("yes", "y", "true", "x", "1")
        if _EMPTY.search(plain(head)):
            return VACANT if yes else LIVED_IN
        return (LIVED_IN if yes else VACANT) if _LIVED.search(plain(head)) else ""
    if _EMPTY.search(plain(text)):
        return VACANT
    return LIVED_IN if _LIVED.search(plain(text)) else ""


def _list_day(table: Table, answers: Answers, today: dt.date, questions: list[Question]) -> dt.date:
    """Return the day that a list is of; asked where a unit stands empty and its title has a day."""
    empty = [
        line.number
        for line in table.lines
        if (text := table.value(line, "occupancy"))
        and (answers.get("occupancy", key := _key(table, text)) or suggested_occupancy(key)) == VACANT
    ]
    days = {order: day for order in ORDERS if (day := day_in(table.title, order, today)) and day <= today}
    if not empty or not days:
        return today
    told = answers.get("list", "vacant since")
    options = (THE_TITLE, THE_DAY_OF_READING)
    if told not in options:
        questions.append(Question("list", "vacant since", THE_TITLE, options, len(empty), tuple(empty[:3])))
    if told == THE_DAY_OF_READING:
        return today
    order = answers.get("days", OF_THE_TITLE)
    if len(set(days.values())) > 1 and order not in ORDERS:
        questions.append(Question("days", OF_THE_TITLE, MONTH_FIRST, ORDERS, len(empty), tuple(empty[:3])))
    return days.get(order or "", next(iter(days.values())))


@dataclass(frozen=True, slots=True)
class _Moves:
    """What was said of a list, by how it is written there."""

    table: Table
    orders: Mapping[str, str]
    lived_in: Mapping[str, str]
    day: dt.date
    homes: Mapping[int, str]
    torn: Collection[str]

    def rows(self, line: Line, batch: str, units: Collection[str], today: dt.date) -> Iterator[ReadRow]:
        """Return what becomes of a row: a move out, a move in, or why nothing is read of it."""
        table, home = self.table, self.homes[line.number]
        told = [text for sort in ("occupancy", *_WAYS) if (text := table.value(line, sort))]
        if not told:
            return
        original = f"{table.unit(line)}: {' | '.join(told)}"[:120]
        moves: list[tuple[str, dt.date]] = []
        if table.elsewhere(line):
            why = "another building"
        elif not home:
            why = "no unit of the plan"
        elif home in self.torn:
            why = "two rows of the unit say different things"
        else:
            why, moves = self._moves(line, today)
        if not moves:
            yield ReadRow(line.number, original, why=why)
        for method, day in moves:
            mark = digest(home, method, day.isoformat())[:16]
            fields = {
                "id": f"t-{batch}-{mark}", "when": day.isoformat(), "unit": home, "kind": "turnover",
                "method": method, "by": FROM_A_LIST, "note": table.value(line, "occupancy")[:100],
            }  # fmt: skip
            try:
                record = record_from_fields(fields, units, file="", where=f"row {line.number}", today=today)
            except RecordError as error:
                yield ReadRow(line.number, original, why=error.problems[0].what)
            else:
                yield ReadRow(line.number, original, record)

    def _moves(self, line: Line, today: dt.date) -> tuple[str, list[tuple[str, dt.date]]]:
        """Return why nothing is read of a row of the plan, or the moves that it tells, the earlier first."""
        wording = self.table.value(line, "occupancy")
        state = self.lived_in.get(plain(wording), "") if wording else ""
        read = {way: self._day(line, way, today) for way in _WAYS}
        came, left = (day if day and day <= today else None for day in read.values())
        if state == VACANT:
            if came and (left is None or came > left):
                return "it is empty and somebody moved in: which is right?", []
            return "", [("moved-out", left or self.day)]
        if state == LIVED_IN and left and (came is None or came < left):
            return "it is lived in and was left since: which is right?", []
        moves = [
            (method, day) for method, day in (("moved-out", left), ("moved-in", came)) if day is not None
        ]
        unread = any(self.table.value(line, way) and day is None for way, day in read.items())
        ahead = any(day is not None and day > today for day in read.values())
        why = "no day" if unread else "lies ahead" if ahead else "no move"
        return ("said so" if state == LEAVE_OUT else why), moves

    def _day(self, line: Line, meaning: str, today: dt.date) -> dt.date | None:
        days = (
            read_day(line.cells.get(head, ""), self.orders[head], today + _YEAR)
            for head in self.table.heads(meaning)
        )
        return next(filter(None, days), None)

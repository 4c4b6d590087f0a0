"""A table with its headings, and what each column means: the part that notes and lists of units share."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from spread.errors import Problem, SettingsError, SpreadError
from spread.tables.answers import Answers, Question
from spread.tables.grid import Grid
from spread.tables.meanings import LEAVE_OUT, heading_row, plain, suggested

HEADINGS_AGAIN, A_TOTAL, A_TITLE = "the headings again", "a total", "a title"
"""Why a row below the headings is no row of the table."""
OURS, IN_THE_CODE = "this building", "before the code of its units"
"""What may be said of a name in a column of buildings, besides that its rows are left out."""
_TOTAL = re.compile(
    r"(grand |sub[- ]?)?totals?\b|average\b|sum\b|count\b|\d+ units\b|end of report\b|page \d"
)
_SECTION = re.compile(r"(floor|level|building|bldg|block|tower|page|section)\b")


@dataclass(frozen=True, slots=True)
class Line:
    """A row of the table: its number in the file, and its cells by heading."""

    number: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """A table as a person's answers, and suggestions where they are missing, have it.

    Parameters
    ----------
    meanings
        What each column means, by heading.
    lines
        The rows below the headings.
    questions
        Columns whose meaning nobody has confirmed, and buildings that nobody has said to be ours or not.
    title
        What stands above the headings.
    buildings
        What was said of the names in a column of buildings.
    others
        Rows below the headings that are none of the table, and why.
    """

    meanings: Mapping[str, str]
    lines: tuple[Line, ...]
    questions: tuple[Question, ...]
    title: str
    buildings: Mapping[str, str]
    others: tuple[tuple[Line, str], ...]

    def heads(self, meaning: str) -> list[str]:
        """Return the headings of the columns of a meaning."""
        return [head for head, of in self.meanings.items() if of == meaning]

    def value(self, line: Line, meaning: str) -> str:
        """Return what a row says under the first column of a meaning that is not empty there."""
        return next((text for head in self.heads(meaning) if (text := line.cells.get(head, ""))), "")

    def unit(self, line: Line) -> str:
        """Return the unit of a row as it is written, with its building where that is part of the code."""
        unit, building = self.value(line, "unit"), self.value(line, "building")
        return f"{building}-{unit}" if unit and self.buildings.get(building) == IN_THE_CODE else unit

    def elsewhere(self, line: Line) -> bool:
        """Say whether a row is of a building that was said to be none of ours."""
        return self.buildings.get(self.value(line, "building")) == LEAVE_OUT

    def shown(self, line: Line) -> str:
        """Return a row as it stands, without the columns that are left out: they may speak of people."""
        return " | ".join(t for head, t in line.cells.items() if self.meanings.get(head) != LEAVE_OUT)


def read_table(
    grid: Grid,
    answers: Answers,
    meanings: Mapping[str, Sequence[str]],
    topic: str = "columns",
    known: Mapping[str, str] | None = None,
) -> Table:
    """Find the headings and what each column means.

    Parameters
    ----------
    grid, answers, meanings
        The file, what was said, and what a column may mean.
    topic
        Where the meanings of its columns stand among the answers.
    known
        Headings that need no answer, with their meaning.

    Raises
    ------
    SpreadError
        If there are no headings, or an answer names a meaning that there is not.
    """
    at = heading_row(grid.rows, meanings)
    cells, below = _headings(grid, at, meanings)
    heads: list[str] = []
    for place, cell in enumerate(cells):
        name = cell or f"column {place + 1}"
        heads.append(name if name not in heads else f"{name} ({place + 1})")
    lines, others = _lines(grid, at, below, heads)
    if not lines:
        what = f"there are no rows below the headings of row {grid.rows[at][0]}"
        raise SpreadError(Problem(grid.file, "", what, "choose the file or sheet with the rows in it"))
    said: dict[str, str] = {}
    questions = []
    for head in heads:
        rows = tuple(line.number for line in lines if head in line.cells)
        told = (known or {}).get(head) or answers.get(topic, head)
        if told is not None and told not in meanings and told != LEAVE_OUT:
            fix = f"use {', '.join(meanings)} or {LEAVE_OUT!r}"
            raise SettingsError(Problem(answers.file, f"[{topic}] {head}", f"{told!r} is no meaning", fix))
        if told is None and not rows:
            told = LEAVE_OUT  # an empty column asks nobody anything
        said[head] = told if told is not None else suggested(head, meanings)
        if told is None:
            options = (*meanings, LEAVE_OUT)
            questions.append(Question(topic, head, said[head], options, len(rows), rows[:3], quiet=True))
    title = " ".join(cell for _, above in grid.rows[:at] for cell in above if cell)
    table = Table(said, tuple(lines), (), title, {}, tuple(others))
    buildings = _buildings(table, answers, questions, always=topic == "columns")
    return Table(said, tuple(lines), tuple(questions), title, buildings, tuple(others))


def _headings(
    grid: Grid, at: int, meanings: Mapping[str, Sequence[str]]
) -> tuple[Sequence[str], Sequence[tuple[int, Sequence[str]]]]:
    """Return the headings, which may stand in two rows ("Move" above "In"), and the rows below them.

    A second row of headings has words in two columns or more, no number, and nothing where units stand.
    """
    (number, cells), below = grid.rows[at], grid.rows[at + 1 :]
    if below and below[0][0] == number + 1:
        second = (*below[0][1], *("",) * (len(cells) - len(below[0][1])))
        words = [cell for cell in second if cell]
        of_units = [at for at, cell in enumerate(cells) if suggested(cell, meanings) == "unit"]
        if (
            len(words) > 1
            and not any(re.search(r"\d", word) for word in words)
            and of_units
            and not second[of_units[0]]
        ):
            upper = (*cells, *("",) * (len(second) - len(cells)))
            return [" ".join(filter(None, pair)) for pair in zip(upper, second, strict=True)], below[1:]
    return cells, below


def _lines(
    grid: Grid, at: int, below: Sequence[tuple[int, Sequence[str]]], heads: Sequence[str]
) -> tuple[list[Line], list[tuple[Line, str]]]:
    """Return the rows of the table, and the rows among them that are none: headings, titles, totals."""
    lines, others = [], []
    # A printed page begins with the headings again, which may stand in two rows.
    named = [_plain_cells(of) for _, of in grid.rows[at : len(grid.rows) - len(below)]]
    for row, of in below:
        line = Line(row, {head: cell for head, cell in zip(heads, of, strict=False) if cell})
        if not line.cells:
            continue
        first = plain(next(iter(line.cells.values())))
        alone = len(line.cells) == 1 and len(named[0]) > 2
        if len(line.cells) > 1 and _plain_cells(of) in named:
            others.append((line, HEADINGS_AGAIN))
        elif _TOTAL.match(first):
            others.append((line, A_TOTAL))
        elif alone and (_SECTION.match(first) or not re.search(r"\d", first)):
            others.append((line, A_TITLE))
        else:
            lines.append(line)
    return lines, others


def _plain_cells(cells: Sequence[str]) -> list[str]:
    return [plain(cell) for cell in cells if cell]


def _buildings(
    table: Table, answers: Answers, questions: list[Question], *, always: bool
) -> Mapping[str, str]:
    """Return what was said of the buildings of a table; a list of one building alone asks nothing."""
    rows: dict[str, list[int]] = {}
    for line in table.lines:
        if building := table.value(line, "building"):
            rows.setdefault(building, []).append(line.number)
    if len(rows) < 2 and not always:
        return dict.fromkeys(rows, OURS)
    options = (OURS, IN_THE_CODE, LEAVE_OUT)
    said = {}
    for building, of in rows.items():
        told = answers.get("building", building)
        said[building] = told if told in options else LEAVE_OUT
        if told not in options:
            questions.append(Question("building", building, "", options, len(of), tuple(of[:3])))
    return said

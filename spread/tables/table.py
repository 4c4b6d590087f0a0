"""A table with its headings, and what each column means: the part that notes and lists of units share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from spread.errors import Problem, SettingsError, SpreadError
from spread.tables.answers import Answers, Question
from spread.tables.grid import Grid
from spread.tables.meanings import LEAVE_OUT, heading_row, suggested


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
        Columns whose meaning nobody has confirmed.
    above
        How many rows of titles stand above the headings.
    """

    meanings: Mapping[str, str]
    lines: tuple[Line, ...]
    questions: tuple[Question, ...]
    above: int

    def heads(self, meaning: str) -> list[str]:
        """Return the headings of the columns of a meaning."""
        return [head for head, of in self.meanings.items() if of == meaning]

    def value(self, line: Line, meaning: str) -> str:
        """Return what a row says under the first column of a meaning that is not empty there."""
        return next((text for head in self.heads(meaning) if (text := line.cells.get(head, ""))), "")


def read_table(grid: Grid, answers: Answers, meanings: Mapping[str, Sequence[str]]) -> Table:
    """Find the headings and what each column means.

    Raises
    ------
    SpreadError
        If there are no headings, or an answer names a meaning that there is not.
    """
    at = heading_row(grid.rows, meanings)
    number, cells = grid.rows[at]
    heads: list[str] = []
    for place, cell in enumerate(cells):
        name = cell or f"column {place + 1}"
        heads.append(name if name not in heads else f"{name} ({place + 1})")
    body = [
        Line(row, {head: cell for head, cell in zip(heads, of, strict=False) if cell})
        for row, of in grid.rows[at + 1 :]
    ]
    body = [line for line in body if line.cells]
    if not body:
        what = f"there are no rows below the headings of row {number}"
        raise SpreadError(Problem(grid.file, "", what, "choose the file or sheet with the rows in it"))
    said: dict[str, str] = {}
    questions = []
    for head in heads:
        rows = tuple(line.number for line in body if head in line.cells)
        told = answers.get("columns", head)
        if told is not None and told not in meanings and told != LEAVE_OUT:
            fix = f"use {', '.join(meanings)} or {LEAVE_OUT!r}"
            raise SettingsError(Problem(answers.file, f"[columns] {head}", f"{told!r} is no meaning", fix))
        if told is None and not rows:
            told = LEAVE_OUT  # an empty column asks nobody anything
        said[head] = told if told is not None else suggested(head, meanings)
        if told is None:
            options = (*meanings, LEAVE_OUT)
            questions.append(Question("columns", head, said[head], options, len(rows), rows[:3]))
    return Table(said, tuple(body), tuple(questions), at)

"""What a person said about a firm's tables: kept as TOML, so that no question is asked twice."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from spread.errors import Problem, SettingsError
from spread.tables.meanings import LEAVE_OUT, plain
from spread.toml_file import read_toml

TOPICS = (
    *("columns", "roll", "days", "words", "method", "level", "occupancy", "rooms"),
    *("units", "building", "list", "outlines", "storeys"),
)
"""Tables of the file: meanings of columns of notes and of lists of units by heading, the order of days by
heading, meanings of wordings, of methods, of levels, of how a unit is lived in and of rooms, units by how
they are written, which building is ours, choices about a list of units and about a file of outlines, and
floors by the names of its storeys."""
OF_A_BUILDING = ("units", "building", "list", "outlines", "storeys")
"""Topics whose answers hold for one building only; the others hold for a firm."""


@dataclass(frozen=True, slots=True)
class Question:
    """Something that only a person can say.

    Parameters
    ----------
    topic, key
        A word of :data:`TOPICS`, and the heading or wording as it is written.
    suggestion
        What it may be; empty if nothing can be suggested.
    options
        What may be said; empty for a meaning of a wording (see :func:`spread.tables.wordings.read_meaning`).
    times
        How many rows it stands in.
    rows
        The first of them, as the file counts.
    quiet
        Whether its suggestion may be confirmed together with others, by one who has read them all. Never
        where it could make a find or a clear look, or say which unit is meant: such a one is asked alone.
    examples
        What stands there, where it is no rows of a table.
    """

    topic: str
    key: str
    suggestion: str = ""
    options: tuple[str, ...] = ()
    times: int = 0
    rows: tuple[int, ...] = ()
    quiet: bool = False
    examples: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answers:
    """Answers by topic and by the plain form of what was asked."""

    told: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    file: str = "answers"

    def __post_init__(self) -> None:
        told = {topic: {plain(key): said for key, said in of.items()} for topic, of in self.told.items()}
        object.__setattr__(self, "told", told)

    def get(self, topic: str, key: str) -> str | None:
        """Return what was said; None if it was not."""
        return self.told.get(topic, {}).get(plain(key))

    def having(self, topic: str, key: str, said: str) -> Answers:
        """Return these answers with one more, or another."""
        told = {name: dict(of) for name, of in self.told.items()}
        told.setdefault(topic, {})[plain(key)] = said
        return replace(self, told=told)

    def of_a_firm(self) -> Answers:
        """Return what holds for every building of a firm."""
        return replace(
            self, told={topic: of for topic, of in self.told.items() if topic not in OF_A_BUILDING}
        )

    def text(self, open_questions: Iterable[Question] = ()) -> str:
        """Return the file: what was said, and what is open as comments, each with its suggestion."""
        asked: dict[str, list[Question]] = {}
        for one in open_questions:
            asked.setdefault(one.topic, []).append(one)
        lines = [
            "# What columns and wordings of our tables mean. Take the # off where it is right, or mend it.",
            f'# Wordings: words of the log, as "inspection, dog, yes, heavy", or "{LEAVE_OUT}".',
        ]
        for topic in TOPICS:
            told, more = self.told.get(topic, {}), asked.get(topic, [])
            if not told and not more:
                continue
            lines += ["", f"[{topic}]"]
            lines += [f"{_quoted(key)} = {_quoted(said)}" for key, said in told.items()]
            for one in more:
                options = f"  one of: {', '.join(one.options)}" if one.options else ""
                where = f"in {one.times} rows, as row {', '.join(map(str, one.rows))}" if one.rows else ""
                parts = [where or "; ".join(one.examples), options.strip()]
                lines += [f"# {'  '.join(filter(None, parts))}"] if any(parts) else []
                lines.append(f"# {_quoted(plain(one.key))} = {_quoted(one.suggestion or LEAVE_OUT)}")
        return "\n".join(lines) + "\n"


def read_answers(path: Path) -> Answers:
    """Read a file of answers; raises SettingsError as :func:`answers_of` does."""
    return answers_of(read_toml(path), path.name)


def answers_of(data: Mapping[str, Any], file: str) -> Answers:
    """Return the answers in the tables of a file.

    Raises
    ------
    SettingsError
        For a table or a value that is none.
    """
    told: dict[str, dict[str, str]] = {}
    problems = []
    for topic, of in data.items():
        if topic not in TOPICS:
            fix = f"use {', '.join(TOPICS)}"
            problems.append(Problem(file, f"[{topic}]", "there is no such table", fix))
            continue
        for key, said in of.items() if isinstance(of, dict) else ():
            if not isinstance(said, str):
                what = f"{said!r} is no text"
                problems.append(Problem(file, f"[{topic}] {key}", what, "put it in quotes"))
                continue
            told.setdefault(topic, {})[plain(key)] = said.strip()
    if problems:
        raise SettingsError(problems)
    return Answers(told, file)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)

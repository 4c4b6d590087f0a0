"""What can be wrong with what a person gave us, said in one sentence each.

A reader collects every :class:`Problem` of an input and raises once, so that a
file is mended in one go and not line by line.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self


class Told(str):
    """A sentence in English that knows what it was made of, so that it can be said in another language."""

    __slots__ = ("message", "values")
    message: str
    values: dict[str, object]


def told(message: str, /, **values: object) -> Told:
    """Return a message with ``{names}`` of values filled in; ``message`` is a literal, for the catalogues."""
    made = Told(message.format(**values) if values else message)
    made.message, made.values = message, values
    return made


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with an input.

    ``file``: the file as the user named it (never an absolute path of ours). ``where``: the feature, row and
    field, such as ``"row 4, field 'when'"``; may be empty. ``what``: what was found and what was expected.
    ``fix``: what to do about it, as an instruction; may be empty.
    """

    file: str
    where: str
    what: str
    fix: str = ""

    def __str__(self) -> str:
        place = f"{self.file}, {self.where}" if self.where else self.file
        sentence = f"{place}: {self.what}"
        if self.fix:
            sentence += f"; {self.fix}"
        return sentence if sentence.endswith((".", "?")) else sentence + "."


class SpreadError(ValueError):
    """Bad input. Its text is one sentence a problem; the command line exits with 2.

    ``problems``: a sentence, a :class:`Problem`, or several of them.
    """

    def __init__(self, problems: str | Problem | Iterable[Problem]) -> None:
        if isinstance(problems, str):
            self.problems: tuple[Problem, ...] = ()
            text = problems
        else:
            self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
            text = "\n".join(str(problem) for problem in self.problems)
        self.sentence = text
        super().__init__(text)

    @classmethod
    def at(cls, file: str, where: str, what: str, fix: str = "") -> Self:
        """Return the error of one :class:`Problem`."""
        return cls(Problem(file, where, what, fix))


class PlanError(SpreadError):
    """A plan or a unit list that cannot be read as a building."""


class RecordError(SpreadError):
    """A record that cannot be kept."""


class SettingsError(SpreadError):
    """A setting in ``building.toml`` or on the command line that cannot be used."""

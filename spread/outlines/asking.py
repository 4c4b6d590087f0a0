"""Asking a person about a file of outlines: what was said before, and what is still open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from spread.errors import Problem, SettingsError
from spread.tables.answers import Answers, Question

UNIT_OF_LENGTH, LAYER, NORTH_SIDE = "unit of length", "layer", "side where north is"
CODES, LEVELS, SORTS = "column of codes", "column of floors", "column of kinds"
UNITS, NO_CODE = "units", "units without a code"
TWICE, ABOVE = "codes that stand twice on a floor", "codes that stand on several floors"
"""What may be asked under ``outlines``; the columns first, for they decide what else is asked."""
FIRST = (LAYER, CODES, LEVELS, SORTS)
METRES: Mapping[str, float] = {
    "metre": 1.0,
    "centimetre": 0.01,
    "millimetre": 0.001,
    "foot": 0.3048,
    "inch": 0.0254,
}
NORTH: Mapping[str, float] = {
    "up": 0.0,
    "up and right": 45.0,
    "right": 90.0,
    "down and right": 135.0,
    "down": 180.0,
    "down and left": 225.0,
    "left": 270.0,
    "up and left": 315.0,
}
"""Where north lies on the drawing, and the degrees by which it is turned anticlockwise."""
LONGEST_NAME = 40
_EXAMPLES = 3


@dataclass
class Asker:
    """Reads answers, and gathers the questions that are ``open``."""

    answers: Answers
    open: list[Question] = field(default_factory=list)

    def choose(
        self,
        key: str,
        options: Sequence[str],
        suggestion: str,
        *,
        topic: str = "outlines",
        times: int = 0,
        examples: Sequence[str] = (),
        quiet: bool = True,
    ) -> str:
        """Return what was said; else ask, and return what is suggested.

        Raises SettingsError for an answer that is none of the options; a floor may have any name.
        """
        told = self.answers.get(topic, key)
        if told is None:
            shown = tuple(dict.fromkeys(examples))[:_EXAMPLES]
            quiet = quiet and bool(suggestion)
            self.open.append(Question(topic, key, suggestion, tuple(options), times, (), quiet, shown))
            return suggestion
        if topic == "storeys":
            if not 0 < len(told) <= LONGEST_NAME:
                fix = f"write 1 to {LONGEST_NAME} letters"
                raise SettingsError(Problem(self.answers.file, f"[{topic}] {key}", "it is no name", fix))
        elif told not in options:
            fix = f"use one of: {', '.join(options[:12])}"
            raise SettingsError(
                Problem(self.answers.file, f"[{topic}] {key}", f"{told[:40]!r} is none of them", fix)
            )
        return told

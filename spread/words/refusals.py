"""Why an input was not taken, in the language of whoever gave it."""

from __future__ import annotations

from spread.errors import Problem, SpreadError, Told
from spread.words.catalogue import catalogue
from spread.words.voice import Voice


def refusal(error: SpreadError, voice: Voice) -> str:
    """Return an error in words; what nobody has put into the language stays in English."""
    if error.problems:
        return "\n".join(_problem(one, voice) for one in error.problems)
    return str(_said(error.sentence, voice))


def _problem(one: Problem, voice: Voice) -> str:
    return str(Problem(*(str(_said(part, voice)) for part in (one.file, one.where, one.what, one.fix))))


def _said(value: object, voice: Voice) -> object:
    if not isinstance(value, Told):
        return value
    values = {name: _said(part, voice) for name, part in value.values.items()}
    message = catalogue(voice.language).gettext(value.message)
    return message.format(**values) if values else message

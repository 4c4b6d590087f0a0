"""What a browser has sent as JSON; nothing of it is trusted."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any, NoReturn

from flask import Flask, abort, request
from flask.json.provider import DefaultJSONProvider
from werkzeug.exceptions import UnsupportedMediaType

from dashboard.web.voice import asked_voice
from spread.words.voice import Voice

DEEPEST = 40
"""Brackets in brackets; our own pages send seven."""
MOST_DIGITS = 40
"""Digits of a number; JavaScript itself writes twenty-five at most."""
_TEXT = re.compile(r'"(?:[^"\\]|\\.)*"?')
_BRACKET = re.compile(r"[\[\]{}]")


class _Strict(DefaultJSONProvider):
    """Reads JSON as the standard has it, and no deeper and longer than anybody means."""

    def loads(self, s: str | bytes, **_more: object) -> Any:  # noqa: ANN401 - JSON may be anything
        return read_json(s.decode("utf-8") if isinstance(s, bytes) else s)


def be_strict(server: Flask) -> None:
    """Make a server read JSON by :func:`read_json`, Dash's calls too."""
    server.json = _Strict(server)


def read_json(text: str) -> Any:  # noqa: ANN401 - JSON may be anything
    """Return JSON data.

    Raises
    ------
    ValueError
        For text that is no JSON, is nested over :data:`DEEPEST`, holds a number of more than
        :data:`MOST_DIGITS` digits or none at all (``NaN``), or half a character.
    """
    depth = 0
    for found in _BRACKET.finditer(_TEXT.sub("", text)):
        depth += 1 if found[0] in "[{" else -1
        if depth > DEEPEST:
            raise ValueError("nested too deep")
    data = json.loads(text, parse_int=_whole, parse_float=_number, parse_constant=_none)
    if "\\ud" in text.lower():
        json.dumps(data, ensure_ascii=False).encode()  # half a character cannot be written
    return data


def _whole(digits: str) -> int:
    if len(digits) > MOST_DIGITS:
        raise ValueError("a number of too many digits")
    return int(digits)


def _number(digits: str) -> float:
    value = float(digits)
    if len(digits) > MOST_DIGITS or not math.isfinite(value):
        raise ValueError("a number that is too large")
    return value


def _none(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def sent_json() -> Mapping[str, Any]:
    """Return the JSON object of a request; anything else is answered with 400 and a sentence."""
    voice: Voice = asked_voice()
    try:
        sent = request.get_json()
    except UnsupportedMediaType:
        abort(400, voice.text("The message is not marked as JSON; load the page again."))
    if not isinstance(sent, Mapping):
        abort(400, voice.text("The message is no JSON object; load the page again."))
    return sent

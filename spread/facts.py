"""What a decision knows, as frozen values: kind and quantities, never prose.

``spread/words`` says a fact in a language and a measure; nothing ever reads a sentence to learn one.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum

_HUMP = re.compile(r"(?<!^)(?=[A-Z])")


class Fact:
    """Base of every fact: subclasses are frozen dataclasses whose fields name their units."""

    __slots__ = ()

    @property
    def fact(self) -> str:
        """The kind of fact: its class in words, such as ``beside-find``."""
        return _HUMP.sub("-", type(self).__name__).lower()


def as_json(value: object) -> object:
    """Return a fact, or anything made of facts, as JSON data; every fact carries its kind as ``fact``."""
    if is_dataclass(value) and not isinstance(value, type):
        told = {field.name: as_json(getattr(value, field.name)) for field in fields(value)}
        return {"fact": value.fact, **told} if isinstance(value, Fact) else told
    if isinstance(value, Mapping):
        return {str(key): as_json(part) for key, part in value.items()}
    if isinstance(value, list | tuple | frozenset | set):
        parts = [as_json(part) for part in value]
        return sorted(parts, key=str) if isinstance(value, frozenset | set) else parts
    if isinstance(value, dt.date):
        return value.isoformat()
    return value.value if isinstance(value, Enum) else value

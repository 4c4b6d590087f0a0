"""Characters that are not seen but do something: they are refused in codes and names, and shown in notes.

Control characters and the escape sequences of terminals, line separators, marks that turn the direction of
writing, and everything else that has no width. The joiners of Persian and Indic scripts stay in names.
"""

from __future__ import annotations

import re
import unicodedata

_JOINERS = "\u200c\u200d"
_UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")
_MAYBE = re.compile(r"[^ -~]")
"""What is worth a look: everything but the printed characters of ASCII."""


def unseen(text: str, *, joiners: bool = False) -> str:
    """Return how the first such character of a text is called, as ``U+202E``; empty if it has none.

    Parameters
    ----------
    text
        A code or a name.
    joiners
        Whether the joiners of some scripts are let through.
    """
    for found in _MAYBE.finditer(text):
        if _is_unseen(found[0]) and not (joiners and found[0] in _JOINERS):
            return _name(found[0])
    return ""


def harmless(text: str) -> str:
    """Return a text in which such characters are told and do nothing; line ends and tabs stay."""
    return _MAYBE.sub(_shown, text)


def _shown(found: re.Match[str]) -> str:
    char = found[0]
    return f"<{_name(char)}>" if _is_unseen(char) and char not in f"{_JOINERS}\n\t" else char


def _is_unseen(char: str) -> bool:
    return unicodedata.category(char) in _UNSEEN


def _name(char: str) -> str:
    return f"U+{ord(char):04X}"

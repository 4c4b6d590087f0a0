"""One function says every fact; a module of this package registers the facts that it says."""

from __future__ import annotations

from functools import singledispatch

from spread.words.voice import Voice


@singledispatch
def say(fact: object, voice: Voice) -> str:
    """Return a fact in words.

    Parameters
    ----------
    fact
        A value of a class that a module of ``spread/words`` has registered.
    voice
        The language and measure.

    Raises
    ------
    TypeError
        For a fact that nobody says: a mistake of ours, found by ``tests/test_words.py``.
    """
    raise TypeError(f"no words for {type(fact).__name__}")

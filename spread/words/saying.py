"""One function says every fact; a module of this package registers the facts that it says."""

from __future__ import annotations

from functools import cache, singledispatch
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

from spread.words.voice import Voice


@singledispatch
def say(fact: object, voice: Voice) -> str:
    """Return a fact in words.

    ``fact``: a value of a class that a module of ``spread/words`` has registered. Raises TypeError for a fact
    that nobody says: a mistake of ours, found by ``tests/test_words.py``.
    """
    load_words()
    if say.dispatch(type(fact)) is say.dispatch(object):
        raise TypeError(f"no words for {type(fact).__name__}")
    return say(fact, voice)


@cache
def load_words() -> None:
    """Load every module of this package, so that all facts are registered.

    It happens with the first fact that is not known yet: a start of the program without one does not wait
    for the decisions that these modules speak of.
    """
    for module in iter_modules([str(Path(__file__).parent)]):
        import_module(f"spread.words.{module.name}")

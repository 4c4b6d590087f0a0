"""A policy of anyone's in the open benchmark: a function ``rank(view) -> units``, named ``module:function``.

``view`` is a :class:`~benchmarks.sight.Sight`: ``view.candidates`` (units not known infested), ``view.rows``
(the log), ``view.on``, ``view.standings``, ``view.ground`` (contacts) and ``view.posterior`` (the model's
answer with learned rates); never the truth. The answer is every candidate once, best first.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from importlib import import_module
from pathlib import Path

import numpy as np

from benchmarks.sight import Sight
from benchmarks.strategies import STRATEGIES, Strategy
from spread.errors import Problem, SettingsError

Rank = Callable[[Sight], Iterable[str]]


def policy(name: str, *, adapts: bool = False) -> Strategy:
    """Return a policy as a strategy of the benchmark.

    Parameters
    ----------
    name
        ``module:function``; the module is looked for in the working folder too.
    adapts
        Whether it orders anew after each answer of a round.

    Raises
    ------
    SettingsError
        Where there is no such function; and from the strategy, where it returns no order of the candidates.
    """
    rank = _load(name)

    def order(view: Sight, scratch: np.random.Generator) -> list[str]:
        return _checked(name, view, rank(view))

    return Strategy(name, order, "learned", adapts=adapts)


def _load(name: str) -> Rank:
    module, colon, function = name.partition(":")
    if not (module and colon and function):
        raise _problem(name, "it is no module:function", "write it as in my_module:rank")
    here = str(Path.cwd())
    if here not in sys.path:
        sys.path.insert(0, here)
    try:
        found = import_module(module)
    except ModuleNotFoundError as error:
        if error.name is None or not f"{module}.".startswith(f"{error.name}."):
            raise
        fix = "run it from the folder that holds the module, or install it"
        raise _problem(name, f"there is no module {module!r}", fix) from None
    rank = getattr(found, function, None)
    if not callable(rank):
        raise _problem(name, f"module {module!r} has no function {function!r}", "check its spelling")
    return rank


def _checked(name: str, view: Sight, answer: object) -> list[str]:
    fix = "return every unit of view.candidates once, best first"
    if isinstance(answer, str) or not isinstance(answer, Iterable):
        raise _problem(name, f"it returned {type(answer).__name__}, expected a list of unit codes", fix)
    order = list(answer)
    strange = [unit for unit in order if unit not in set(view.candidates)]
    if strange:
        raise _problem(name, f"it returned {strange[0]!r}, which is no candidate on {view.on}", fix)
    if len(order) != len(set(order)):
        raise _problem(name, "it returned a unit twice", fix)
    missing = [unit for unit in view.candidates if unit not in set(order)]
    if missing:
        what = f"it left out {len(missing)} of {len(view.candidates)} candidates, {missing[0]!r} among them"
        raise _problem(name, what, fix)
    return order


def _problem(name: str, what: str, fix: str) -> SettingsError:
    return SettingsError(Problem("--policy", name[:60], what, fix))


def all_strategies(names: Iterable[str], *, adapts: bool = False) -> tuple[Strategy, ...]:
    """Return the benchmark's own strategies and then the policies."""
    return (*STRATEGIES, *(policy(name, adapts=adapts) for name in names))

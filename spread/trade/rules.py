"""Rule sets by name: one TOML file an authority in ``spread/trade/rules``, or one that a user wrote.

What a rule set holds is said in :mod:`spread.trade.rule_set`, and how a file is read and checked in
:mod:`spread.trade.rule_reading`. Only what is known well enough is here: fields of confidence C are left
out and named in ``left_out``; the default's own suggestions, marked as judgement, are the exception.
"""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable, Sequence
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.trade.rule_reading import parse_rules, read_rules
from spread.trade.rule_set import ALWAYS_SAY, RuleSet

__all__ = ["ALWAYS_SAY", "DEFAULT", "LEFT_OUT", "RuleSet", "load_rules", "read_rules", "rule_ids"]

DEFAULT = "good-practice"
LEFT_OUT = {
    "hud-multifamily": "HUD Notice H 2012-5: which numbers it kept of its forerunner was not verified",
    "hud-inspectors": "HUD Inspector Notice 2016-01: it binds inspectors, not owners, and was superseded",
    "san-francisco": "S.F. Health Code Art. 11A: the Director's Rules with the neighbour rule were not seen",
    "new-jersey": "N.J.A.C. 5:10: no deadline for bed bugs confirmed",
    "australia": "Code of Best Practice, 5th edition: only its opening pages were read",
    "europe": "European Code of Practice, 2011: only its opening pages were read",
    "united-kingdom": "no duty for neighbouring homes known",
}
"""Authorities without a rule set here, because what is known of them is too weak, and why."""


def rule_ids() -> tuple[str, ...]:
    """Return the ids of the rule sets that come with Spread, the default first."""
    names = sorted(
        entry.name.removesuffix(".toml") for entry in _folder().iterdir() if entry.name.endswith(".toml")
    )
    return (DEFAULT, *(name for name in names if name != DEFAULT))


def load_rules(name: str = DEFAULT, folder: Path | None = None, holidays: Iterable[dt.date] = ()) -> RuleSet:
    """Return a rule set by its id, or read one from a TOML file.

    ``name``: an id of :func:`rule_ids`, or a path that ends in ``.toml``; ``folder``: where a relative path
    starts: the building's folder for a path in ``building.toml``; ``holidays``: days that are no business
    days besides those of the rule set. Raises SettingsError for an unknown id, or
    with every problem of the file.
    """
    if name.lower().endswith(".toml"):
        path = Path(name).expanduser()
        return read_rules(folder / path if folder else path, shown_as=name).off_on(holidays)
    known = rule_ids()
    if name not in known:
        raise SettingsError(_unknown(name, known))
    text = (_folder() / f"{name}.toml").read_text(encoding="utf-8")
    return parse_rules(text, f"{name}.toml").off_on(holidays)


def _unknown(name: str, known: Sequence[str]) -> Problem:
    what = f"there is no rule set {name[:40]!r}"
    if name in LEFT_OUT:
        return Problem(
            "rules", "", f"{what} ({LEFT_OUT[name]})", f"use {DEFAULT!r} or write a TOML file of your own"
        )
    close = difflib.get_close_matches(name.lower(), known, n=1)
    listed = f"use one of {', '.join(known)}, or the path of a TOML file of your own"
    return Problem("rules", "", what, f"write {close[0]!r} if that is meant" if close else listed)


def _folder() -> Traversable:
    return files("spread.trade") / "rules"

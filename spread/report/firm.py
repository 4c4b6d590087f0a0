"""``firm.toml``: who makes a proposal and how to reach them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.report.entries import entry_problem, one_line
from spread.toml_file import read_toml

FIRM_FILE = "firm.toml"


@dataclass(frozen=True, slots=True)
class Firm:
    """Who makes the proposal; each may be empty.

    ``name``, ``contact``, ``phone``, ``email``, ``licence``: the firm, a person's role or office, how to
    reach them, and the licence as local law wants it shown. ``note``: a sentence of their own, such as how
    long the offer stands.
    """

    name: str = ""
    contact: str = ""
    phone: str = ""
    email: str = ""
    licence: str = ""
    note: str = ""


KEYS = tuple(Firm.__dataclass_fields__)


def read_firm(path: Path) -> Firm:
    """Read ``firm.toml``; without such a file every entry is empty.

    Raises SettingsError with every problem of the file.
    """
    if not path.exists():
        return Firm()
    problems: list[Problem] = []
    found: dict[str, str] = {}
    for key, value in read_toml(path).items():
        problem = entry_problem(path.name, f"field {key!r}", key, value, KEYS)
        if problem is None:
            found[key] = one_line(value)
        else:
            problems.append(problem)
    if problems:
        raise SettingsError(problems)
    return Firm(**found)
